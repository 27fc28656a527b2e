"""The rod as a solid of revolution, as it stands between the light and the card."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from scenes.building.build import Plan
from scenes.stage.fittings import grip_profiles, rod_span

__all__ = ["Outline", "rod_outline"]

Array = NDArray[np.float64]

_WRAP_MM = 0.65
"""Thickness of a wrap under its finish, mm: the median of the samples, which are 0.5 to 1.6."""

_STEP_MM = 2.0
"""Distance of samples along the rod, mm, or more where they would be too many."""

_MOST_SAMPLES = 600


@dataclass(frozen=True, slots=True)
class Outline:
    """Radius along the rod: even samples, straight between them; the first and the last are 0.

    Parameters
    ----------
    start : float
        Place of the first sample, mm from the middle of the wrap towards the tip.
    step : float
        Distance between samples, mm.
    radius : tuple of float
        mm.
    """

    start: float
    step: float
    radius: tuple[float, ...]

    @classmethod
    def tube(cls, radius: float, start: float, end: float) -> Self:
        """A cylinder.

        Parameters
        ----------
        radius, start, end : float
            mm.
        """
        count = int((end - start) / _STEP_MM) + 1
        return cls(start, (end - start) / (count - 1), (0.0, *(radius,) * (count - 2), 0.0))

    @property
    def places(self) -> Array:
        """Place of each sample, (n,) mm."""
        return np.asarray(self.start + self.step * np.arange(len(self.radius)), np.float64)

    def silhouettes(self, tangents: Array) -> Array:
        """Radius of the rod as slanted light sees it.

        Light that is slanted by an angle e along the rod travels tan(e) along it for 1 across. Seen
        in the plane across the rod, it is blocked if it passes the axis within the largest height
        above a parabola: the square of the radius at a distance u along the rod counts for less
        by (u / tan(e))², since there the light is so much farther from where it is nearest.

        Parameters
        ----------
        tangents : (k,) float
            tan(e), not 0; its sign does not matter.

        Returns
        -------
        (k, n) float
            mm, for light that is nearest to the axis at each sample.
        """
        squares = np.square(self.radius)
        found = np.tile(squares, (len(tangents), 1))
        for row, tangent in zip(found, np.abs(tangents), strict=True):
            last = min(int(np.sqrt(squares.max()) * tangent / self.step), len(squares) - 1)
            for away in range(1, last + 1):
                less = (away * self.step / tangent) ** 2
                np.maximum(row[away:], squares[:-away] - less, out=row[away:])
                np.maximum(row[:-away], squares[away:] - less, out=row[:-away])
        return np.sqrt(np.maximum(found, 0))


def rod_outline(plan: Plan) -> Outline:
    """Outline of blank, wraps and grips. Guides are left out: they are thin, and not round.

    It depends on the blank and on where the wrap stands, not on the layers: while these are edited,
    the light stays as it is.

    Parameters
    ----------
    plan : Plan
    """
    start, end = plan.start, plan.end
    first, last = rod_span(plan, (start, end))
    count = min(int((last - first) / _STEP_MM) + 1, _MOST_SAMPLES)
    z = np.linspace(first, last, count)
    radius = plan.blank.radius(z)
    for wrap in (plan, *plan.others):
        radius += _WRAP_MM * ((z >= wrap.start) & (z <= wrap.end))
    for profile in grip_profiles(plan):
        radius = np.maximum(radius, np.interp(z, profile[:, 0], profile[:, 1], 0.0, 0.0))
    step = float(z[1] - z[0])
    rounded = np.round(np.concatenate(([0.0], radius, [0.0])), 3)
    return Outline(first - step - plan.middle, step, tuple(rounded.tolist()))
