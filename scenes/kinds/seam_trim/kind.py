"""Registry entry of seam trims."""

from scenes.kinds.kind import Kind
from scenes.kinds.seam_trim.bench import bench_warnings, entries
from scenes.kinds.seam_trim.builder import TrimBuilder
from scenes.kinds.seam_trim.defaults import alternative_entry, defaults
from scenes.kinds.seam_trim.lines import lines
from scenes.kinds.seam_trim.model import SeamTrimModel
from scenes.kinds.seam_trim.numbers import NUMBERS
from scenes.kinds.seam_trim.refit import refits
from scenes.kinds.seam_trim.summary import summary
from scenes.kinds.seam_trim.words import WORDS

__all__ = ["KIND"]

KIND = Kind(
    model=SeamTrimModel,
    builder=TrimBuilder,
    summary=summary,
    entries=entries,
    bench_warnings=bench_warnings,
    lines=lines,
    words=WORDS,
    defaults=defaults,
    alternative_entry=alternative_entry,
    headline=("threads", "grade"),
    numbers=NUMBERS,
    refits=refits,
)
