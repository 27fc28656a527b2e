"""Cord lattices on another blank: as many cords as make diamonds of the same size."""

from collections.abc import Iterator

from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.refit import Changes, Refit

__all__ = ["refits"]

_FEWEST = 3
"""Cords each way below which the diamonds are longer than most wraps (from memory)."""

_THINNER = (1.0, 0.75, 0.5)
"""Width of a cord over that of the sample, the likeliest first."""


def refits(layer: CordLattice, refit: Refit) -> Iterator[Changes]:
    """Yield lattices of cords as far apart as before, or thinner and closer.

    Parameters
    ----------
    layer : CordLattice
    refit : Refit
    """
    for thinner in _THINNER:
        count = round(layer.count * refit.thickness_ratio / thinner)
        yield {
            "cord_diameter": round(layer.cord_diameter * thinner, 2),
            "count": min(60, max(_FEWEST, count)),
        }
