"""Crossed patterns on another blank: crosses of the same shape."""

from collections.abc import Iterator
from typing import Any

from scenes.kinds.crossed.model import CrossedPattern
from scenes.kinds.refit import Changes, Refit, fewer_threads

__all__ = ["refits"]

_FEWER = (1.0, 0.75, 0.5, 0.34, 0.2)
"""Threads of a bundle over those of the sample."""

_WIDER = (1.0, 1.3)
"""Spacing of the crosses over one of the same shape as the sample's."""


def refits(layer: CrossedPattern, refit: Refit) -> Iterator[Changes]:
    """Yield patterns whose threads run at the same angle, with narrower bundles on a thin blank.

    Parameters
    ----------
    layer : CrossedPattern
    refit : Refit
    """
    likely = min(refit.thickness_ratio, 1.0)
    shares = sorted(_FEWER, key=lambda share: (share > likely, abs(share - likely)))
    for share in shares:
        for marks in _marks(layer, refit):
            yield {**marks, **_narrower(layer, share)}


def _marks(layer: CrossedPattern, refit: Refit) -> Iterator[Changes]:
    """Yield spacings as wide as the blank is thick, then wider ones."""
    if layer.spacing is not None:
        for wider in _WIDER:
            yield {"spacing": round(layer.spacing * refit.thickness_ratio * wider, 2)}
    elif layer.repeats is not None:
        repeats = layer.repeats * refit.length_ratio / refit.thickness_ratio
        yield from ({"repeats": max(1, round(repeats / wider))} for wider in _WIDER)
    else:
        yield {}


def _narrower(layer: CrossedPattern, share: float) -> Changes:
    if layer.pattern is None or share == 1:
        return {}
    given: dict[str, Any] = layer.pattern.model_dump(mode="json", exclude_unset=True)
    return {"pattern": {**given, "threads": fewer_threads(layer.pattern.threads, share)}}
