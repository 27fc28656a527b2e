"""Registry entry of woven panels."""

from scenes.kinds.kind import Kind
from scenes.kinds.woven.bench import bench_warnings, entries
from scenes.kinds.woven.builder import WovenBuilder
from scenes.kinds.woven.defaults import changes_for_file, defaults
from scenes.kinds.woven.lines import lines
from scenes.kinds.woven.model import WovenPanel
from scenes.kinds.woven.summary import summary

__all__ = ["KIND"]

KIND = Kind(
    model=WovenPanel,
    builder=WovenBuilder,
    summary=summary,
    entries=entries,
    bench_warnings=bench_warnings,
    lines=lines,
    defaults=defaults,
    changes_for_file=changes_for_file,
)
