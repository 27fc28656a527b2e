"""Registry entry of covers."""

from scenes.kinds.cover.bench import bench_warnings, entries
from scenes.kinds.cover.builder import CoverBuilder
from scenes.kinds.cover.defaults import defaults
from scenes.kinds.cover.lines import lines
from scenes.kinds.cover.model import CoverModel
from scenes.kinds.cover.numbers import NUMBERS
from scenes.kinds.cover.refit import refits
from scenes.kinds.cover.summary import summary
from scenes.kinds.cover.words import WORDS
from scenes.kinds.kind import Kind

__all__ = ["KIND"]

KIND = Kind(
    model=CoverModel,
    builder=CoverBuilder,
    summary=summary,
    entries=entries,
    bench_warnings=bench_warnings,
    lines=lines,
    words=WORDS,
    defaults=defaults,
    numbers=NUMBERS,
    refits=refits,
)
