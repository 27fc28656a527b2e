"""Covers on another blank."""

from collections.abc import Iterator

from scenes.kinds.cover.model import CoverModel
from scenes.kinds.refit import Changes, Refit

__all__ = ["refits"]


def refits(layer: CoverModel, refit: Refit) -> Iterator[Changes]:
    """Yield the cover, no longer than the blank is measured.

    Parameters
    ----------
    layer : CoverModel
    refit : Refit
    """
    yield {"margin": min(layer.margin, refit.margin)}
