"""Registry entry of decals."""

from scenes.kinds.decal.bench import bench_warnings, entries
from scenes.kinds.decal.builder import DecalBuilder
from scenes.kinds.decal.defaults import defaults
from scenes.kinds.decal.lines import lines
from scenes.kinds.decal.model import Decal
from scenes.kinds.decal.summary import summary
from scenes.kinds.kind import Kind

__all__ = ["KIND"]

KIND = Kind(
    model=Decal,
    builder=DecalBuilder,
    summary=summary,
    entries=entries,
    bench_warnings=bench_warnings,
    lines=lines,
    defaults=defaults,
)
