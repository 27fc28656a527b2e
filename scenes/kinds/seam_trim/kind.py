"""Seam trims, as the rest of Turnlight knows them."""

from scenes.kinds.kind import Kind
from scenes.kinds.seam_trim.bench import entries
from scenes.kinds.seam_trim.defaults import defaults, given_instead
from scenes.kinds.seam_trim.laying import TrimBuilder
from scenes.kinds.seam_trim.lines import lines
from scenes.kinds.seam_trim.model import SeamTrimModel
from scenes.kinds.seam_trim.numbers import NUMBERS
from scenes.kinds.seam_trim.words import WORDS

__all__ = ["KIND"]

KIND = Kind(
    model=SeamTrimModel,
    laying=TrimBuilder,
    entries=entries,
    lines=lines,
    words=WORDS,
    defaults=defaults,
    given_instead=given_instead,
    headline=("threads", "grade"),
    numbers=NUMBERS,
)
