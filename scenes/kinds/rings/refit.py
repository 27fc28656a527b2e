"""Rings on another blank."""

from collections.abc import Iterator

from scenes.kinds.refit import Changes, Refit, fewer_threads
from scenes.kinds.rings.model import Rings

__all__ = ["refits"]

_SHARES = (1.0, 0.5, 0.25)


def refits(layer: Rings, refit: Refit) -> Iterator[Changes]:
    """Yield rings as they are, or on a short wrap fewer and nearer its ends.

    Parameters
    ----------
    layer : Rings
    refit : Refit
    """
    inset = layer.inset * min(1.0, refit.length_ratio)
    for share in _SHARES:
        yield {
            "inset": round(inset * share, 2),
            "threads": fewer_threads(layer.threads, share),
        }
