"""Registry entry of overlays."""

from scenes.kinds.kind import Kind
from scenes.kinds.overlay.bench import entries
from scenes.kinds.overlay.builder import OverlayBuilder
from scenes.kinds.overlay.defaults import defaults
from scenes.kinds.overlay.lines import lines
from scenes.kinds.overlay.model import Overlay
from scenes.kinds.overlay.refit import refits
from scenes.kinds.overlay.summary import summary
from scenes.kinds.overlay.words import WORDS

__all__ = ["KIND"]

KIND = Kind(
    model=Overlay,
    builder=OverlayBuilder,
    summary=summary,
    entries=entries,
    lines=lines,
    words=WORDS,
    defaults=defaults,
    refits=refits,
)
