"""Mass along a rod: its total, its balance point, its inertia and its swing as a pendulum.

Every part is reduced to the integrals of its mass along the rod. Those of several parts add up, so
that a blank, its wraps, grips and guides make a rod. A part has rotational symmetry about the rod's
axis; inertia is about an axis across the rod.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.errors import GeometryError

__all__ = [
    "STANDARD_GRAVITY",
    "MassIntegrals",
    "hollow_frusta",
    "power_law",
    "power_law_bounds",
    "uniform",
]

STANDARD_GRAVITY = 9806.65
"""Standard acceleration of free fall, mm/s², exact [CODATA2018]."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(3)
"""Exact up to the fifth power; a frustum's inertia is of the fourth."""


@dataclass(frozen=True, slots=True)
class MassIntegrals:
    """Mass of a part of a rod, and its first and second moments about the butt.

    Parameters
    ----------
    mass : float
        g.
    first : float
        Integral of the distance from the butt over the mass, g mm.
    second : float
        Moment of inertia about an axis across the rod at the butt, g mm².
    """

    mass: float = 0.0
    first: float = 0.0
    second: float = 0.0

    def __add__(self, other: Self) -> "MassIntegrals":
        """Both parts together."""
        return MassIntegrals(
            self.mass + other.mass, self.first + other.first, self.second + other.second
        )

    @classmethod
    def total(cls, parts: Iterable["MassIntegrals"]) -> "MassIntegrals":
        """All parts together.

        Parameters
        ----------
        parts : iterable of MassIntegrals
            In any order.
        """
        return sum(parts, start=MassIntegrals())

    @property
    def balance(self) -> float:
        """Distance of the centre of mass from the butt, mm (lever rule)."""
        return self.first / self.mass

    def moment_about(self, pivot: float) -> float:
        """Moment of the weight about a place, mass times distance; positive towards the tip, g mm.

        Parameters
        ----------
        pivot : float
            Distance from the butt, mm.
        """
        return self.first - pivot * self.mass

    def inertia_about(self, pivot: float) -> float:
        """Moment of inertia about an axis across the rod, g mm² (parallel axes, Steiner).

        Parameters
        ----------
        pivot : float
            Distance of the axis from the butt, mm.
        """
        return self.second - 2 * pivot * self.first + pivot**2 * self.mass

    def period_about(self, pivot: float) -> float:
        """Period of small swings as a physical pendulum, s: 2 pi sqrt(I / (m g d)).

        Parameters
        ----------
        pivot : float
            Distance of the axis, about which it swings, from the butt, mm.

        Returns
        -------
        float
            Infinite where the axis goes through the balance point.
        """
        pull = STANDARD_GRAVITY * abs(self.moment_about(pivot))
        return 2 * math.pi * math.sqrt(self.inertia_about(pivot) / pull) if pull else math.inf

    def as_weighed(self, mass: float, balance: float) -> "MassIntegrals":
        """The same shape with another mass and balance point; its radius of gyration stays.

        Parameters
        ----------
        mass : float
            g.
        balance : float
            mm from the butt.
        """
        gyration = self.inertia_about(self.balance) / self.mass
        return MassIntegrals(mass, mass * balance, mass * (gyration + balance**2))


def uniform(mass: float, start: float, end: float) -> MassIntegrals:
    """A thin part whose mass is spread evenly over a length; a point where it has none.

    Parameters
    ----------
    mass : float
        g.
    start, end : float
        Its ends, mm from the butt.
    """
    middle, length = (start + end) / 2, end - start
    return MassIntegrals(mass, mass * middle, mass * (middle**2 + length**2 / 12))


def hollow_frusta(
    at: ArrayLike, outer: ArrayLike, inner: ArrayLike, density: float
) -> MassIntegrals:
    """A tapering tube: straight cones between stations, exact by Gauss's rule.

    Two stations at one place are a step, as at a ferrule.

    Parameters
    ----------
    at : (n,) float
        Distances from the butt, mm, not decreasing.
    outer, inner : (n,) float
        Radii, mm; an inner radius of 0 is solid.
    density : float
        g/cm³.

    Raises
    ------
    GeometryError
        If stations are out of order, or an inner radius is below 0 or above the outer one.
    """
    at, outer, inner = (np.asarray(one, dtype=np.float64) for one in (at, outer, inner))
    step = np.diff(at)
    if (step < 0).any():
        raise GeometryError("at", "distances must grow from butt to tip")
    if (inner < 0).any() or (inner > outer).any():
        raise GeometryError("inner", "an inner radius is not between 0 and the outer one")
    share = (1 + _NODES) / 2
    z, outside, inside = (_between(one, share) for one in (at, outer, inner))
    weight = np.outer(step / 2, _WEIGHTS) * density * 1e-3
    ring = weight * np.pi * (outside**2 - inside**2)
    # A slice's own inertia about a diameter.
    own = weight * np.pi / 4 * (outside**4 - inside**4)
    return MassIntegrals(
        float(ring.sum()), float((ring * z).sum()), float((ring * z**2 + own).sum())
    )


def _between(values: NDArray[np.float64], share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values at some shares of the way from each station to the next, (n - 1, shares)."""
    return values[:-1, None] + np.diff(values)[:, None] * share


def power_law(mass: float, balance: float, length: float) -> MassIntegrals:
    """A thin blank whose mass per length falls as a power of the distance from the tip.

    Mass per length (1 - z / L)^p balances at L / (p + 2); p is 0 for an even rod, 1 for one that
    thins straight to the tip, 2 for a solid cone. Its inertia about the butt is
    2 m L² / ((p + 2) (p + 3)) = 2 m L b² / (L + b).

    Parameters
    ----------
    mass : float
        g.
    balance : float
        mm from the butt.
    length : float
        mm, at least twice `balance`.
    """
    return MassIntegrals(mass, mass * balance, 2 * mass * length * balance**2 / (length + balance))


def power_law_bounds(
    mass: float, balance: float, length: float
) -> tuple[MassIntegrals, MassIntegrals]:
    """Least and greatest inertia of any thin blank that nowhere gets heavier towards the tip.

    Such a distribution is a mixture of even ones from the butt to t, whose means t / 2 and mean
    squares t² / 3 mix too. With the mean b given, the mean square is least where all t are 2 b, and
    greatest where t is 0 or L: between 4 b² / 3 and 2 b L / 3.

    Parameters
    ----------
    mass : float
        g.
    balance : float
        mm from the butt.
    length : float
        mm, at least twice `balance`.
    """
    first = mass * balance
    return (
        MassIntegrals(mass, first, mass * 4 * balance**2 / 3),
        MassIntegrals(mass, first, mass * 2 * balance * length / 3),
    )
