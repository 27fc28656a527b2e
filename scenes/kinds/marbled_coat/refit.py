"""Marbled coats on another blank: as many drops for the same area."""

from collections.abc import Iterator

from scenes.kinds.marbled_coat.model import MarbledCoat
from scenes.kinds.refit import Changes, Refit

__all__ = ["refits"]

_FEWEST, _MOST = 4, 160


def refits(layer: MarbledCoat, refit: Refit) -> Iterator[Changes]:
    """Yield a coat on the same part of the wrap.

    Parameters
    ----------
    layer : MarbledCoat
    refit : Refit
    """
    ends = {
        name: refit.moved(at)
        for name, at in (("from", layer.start), ("to", layer.end))
        if at is not None
    }
    drops = round(layer.drops * refit.thickness_ratio * refit.length_ratio)
    yield {**ends, "drops": min(_MOST, max(_FEWEST, drops))}
