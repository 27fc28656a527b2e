"""Overlays on another blank."""

from collections.abc import Iterator

from scenes.kinds.overlay.model import Overlay
from scenes.kinds.refit import Changes, Refit

__all__ = ["refits"]


def refits(layer: Overlay, refit: Refit) -> Iterator[Changes]:
    """Yield the overlay, no longer than the blank is measured.

    Parameters
    ----------
    layer : Overlay
    refit : Refit
    """
    yield {"margin": min(layer.margin, refit.margin)}
