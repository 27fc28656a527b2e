"""Readings of a blank's diameter that no tapering blank has, beyond what a caliper is off by."""

from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from scenes.figures.trust import CALIPER_MM

__all__ = ["off_readings"]

_SIGMAS = 2.0
"""Standard deviations in the error that is stated for a caliper: 19 of 20 readings lie within."""

_UNSURE = 0.05
"""Chance that a whole set of good readings has one that is called off."""


def off_readings(diameters: Sequence[float]) -> list[tuple[int, float]]:
    """Find the readings that are off.

    The blank is the nearest one that never thickens towards the tip (isotonic regression,
    [Barlow1972]). The reading farthest from it is set aside while it is farther than the worst of
    so many good readings is likely to be; then the rest is fitted anew, so that a wrong reading
    does not blame its neighbours.

    Parameters
    ----------
    diameters : sequence of float
        From butt to tip, mm.

    Returns
    -------
    list of (int, float)
        Index of each reading that is off, in order, and by how much, mm: above 0 if it is thicker
        than the other readings allow.
    """
    read: NDArray[np.float64] = np.array(diameters, dtype=np.float64)
    good = np.ones(read.size, dtype=bool)
    worst = CALIPER_MM / _SIGMAS * NormalDist().inv_cdf(1 - _UNSURE / 2 / max(read.size, 1))
    while good.sum() > 1:
        kept = np.flatnonzero(good)
        off = np.abs(read[kept] - _falling(read[kept]))
        if off.max() <= worst:
            break
        # Of those that contradict each other, the one without which the blank is most even, or
        # else the one nearest the tip, is measured again.
        tied = np.flatnonzero(np.isclose(off, off.max()))[::-1]
        spreads = [np.round(np.ptp(np.delete(read[kept], at)), 9) for at in tied]
        good[kept[tied[int(np.argmin(spreads))]]] = False
    kept = np.flatnonzero(good)
    fitted = _falling(read[kept])
    found = []
    for index in np.flatnonzero(~good).tolist():
        before = int(np.searchsorted(kept, index))
        most = fitted[before - 1] if before else np.inf
        least = fitted[before] if before < kept.size else -np.inf
        found.append((index, float(read[index] - np.clip(read[index], least, most))))
    return found


def _falling(diameters: NDArray[np.float64]) -> NDArray[np.float64]:
    """The nearest diameters, by least squares, of which none is larger than one before it."""
    if (np.diff(diameters) <= 0).all():
        return diameters
    # Only readings that contradict each other wait for it to load.
    from scipy.optimize import isotonic_regression

    return np.asarray(isotonic_regression(diameters, increasing=False).x)
