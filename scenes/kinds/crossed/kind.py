"""Registry entry of crossed patterns."""

from scenes.kinds.crossed.bench import entries
from scenes.kinds.crossed.builder import CrossedBuilder
from scenes.kinds.crossed.defaults import defaults
from scenes.kinds.crossed.lines import lines, marks
from scenes.kinds.crossed.model import CrossedPattern
from scenes.kinds.crossed.numbers import NUMBERS
from scenes.kinds.crossed.refit import refits
from scenes.kinds.crossed.summary import summary
from scenes.kinds.crossed.words import WORDS
from scenes.kinds.kind import Kind

__all__ = ["KIND"]

KIND = Kind(
    model=CrossedPattern,
    builder=CrossedBuilder,
    summary=summary,
    entries=entries,
    lines=lines,
    marks=marks,
    words=WORDS,
    defaults=defaults,
    headline=("pattern", "courses"),
    numbers=NUMBERS,
    refits=refits,
)
