"""Registry entry of mesh strips."""

from scenes.kinds.kind import Kind
from scenes.kinds.mesh_strip.bench import bench_warnings, entries
from scenes.kinds.mesh_strip.builder import StripBuilder
from scenes.kinds.mesh_strip.defaults import defaults
from scenes.kinds.mesh_strip.lines import lines, marks, notes
from scenes.kinds.mesh_strip.model import MeshStripModel
from scenes.kinds.mesh_strip.numbers import NUMBERS
from scenes.kinds.mesh_strip.refit import refits
from scenes.kinds.mesh_strip.summary import summary
from scenes.kinds.mesh_strip.words import WORDS

__all__ = ["KIND"]

KIND = Kind(
    model=MeshStripModel,
    builder=StripBuilder,
    summary=summary,
    entries=entries,
    bench_warnings=bench_warnings,
    lines=lines,
    marks=marks,
    words=WORDS,
    defaults=defaults,
    notes=notes,
    numbers=NUMBERS,
    refits=refits,
)
