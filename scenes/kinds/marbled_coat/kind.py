"""Registry entry of marbled coats."""

from scenes.kinds.kind import Kind
from scenes.kinds.marbled_coat.bench import entries
from scenes.kinds.marbled_coat.builder import MarbledBuilder
from scenes.kinds.marbled_coat.defaults import defaults
from scenes.kinds.marbled_coat.lines import lines, marks
from scenes.kinds.marbled_coat.model import MarbledCoat
from scenes.kinds.marbled_coat.refit import refits
from scenes.kinds.marbled_coat.summary import summary
from scenes.kinds.marbled_coat.words import WORDS

__all__ = ["KIND"]

KIND = Kind(
    model=MarbledCoat,
    builder=MarbledBuilder,
    summary=summary,
    entries=entries,
    lines=lines,
    marks=marks,
    words=WORDS,
    headline=("pigments",),
    defaults=defaults,
    refits=refits,
)
