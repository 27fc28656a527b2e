"""Registry entry of rings."""

from scenes.kinds.kind import Kind
from scenes.kinds.rings.bench import entries
from scenes.kinds.rings.builder import RingsBuilder
from scenes.kinds.rings.defaults import defaults
from scenes.kinds.rings.lines import lines
from scenes.kinds.rings.model import Rings
from scenes.kinds.rings.refit import refits
from scenes.kinds.rings.summary import summary
from scenes.kinds.rings.words import WORDS

__all__ = ["KIND"]

KIND = Kind(
    model=Rings,
    builder=RingsBuilder,
    summary=summary,
    entries=entries,
    lines=lines,
    words=WORDS,
    defaults=defaults,
    headline=("threads",),
    refits=refits,
)
