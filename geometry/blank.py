"""The bare blank: a tapering tube through the builder's measured diameters."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.errors import GeometryError
from geometry.monotone import MonotoneCubic
from geometry.quadrature import simpson
from geometry.tolerances import LEAST_RADIUS_MM

__all__ = ["Blank"]


@dataclass(frozen=True, slots=True)
class Blank:
    """A blank as measured with a caliper at two or more stations.

    The radius between stations is the monotone cubic of [Fritsch1980]: it never
    overshoots a measurement, so a blank that only thins from butt to tip is drawn so. Beyond the
    first and last station the end slope is continued as a straight cone.

    Parameters
    ----------
    at : (n,) float
        Distance of each station from the butt, mm, strictly increasing.
    diameter : (n,) float
        Outside diameter there, mm.

    Raises
    ------
    GeometryError
        If there are fewer than two stations, a value is not finite, stations are out of order, or
        a diameter is thinner than a blank can be.
    """

    at: NDArray[np.float64]
    diameter: NDArray[np.float64]
    _curve: MonotoneCubic = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        at = np.array(self.at, dtype=np.float64).reshape(-1)
        diameter = np.array(self.diameter, dtype=np.float64).reshape(-1)
        if at.size < 2 or at.size != diameter.size:
            raise GeometryError(
                "at",
                f"{at.size} distances and {diameter.size} diameters; measure at two places or more",
            )
        if not (np.isfinite(at).all() and np.isfinite(diameter).all()):
            quantity = "diameter" if np.isfinite(at).all() else "at"
            raise GeometryError(quantity, "a value is not a finite number; measure it anew")
        if (np.diff(at) <= 0).any():
            raise GeometryError("at", "distances must grow from butt to tip, no two at one place")
        if (diameter < 2 * LEAST_RADIUS_MM).any():
            raise GeometryError(
                "diameter",
                f"{diameter.min():g} mm is thinner than {2 * LEAST_RADIUS_MM:g} mm; "
                "give the outside diameter",
            )
        at.setflags(write=False)
        diameter.setflags(write=False)
        object.__setattr__(self, "at", at)
        object.__setattr__(self, "diameter", diameter)
        object.__setattr__(self, "_curve", MonotoneCubic.through(at, diameter / 2))

    def radius(self, z: ArrayLike) -> NDArray[np.float64]:
        """Bare radius at `z`.

        Parameters
        ----------
        z : (...) float
            Distance from the butt, mm.

        Returns
        -------
        (...) float
            Radius, mm, never below `LEAST_RADIUS_MM`.
        """
        z = np.asarray(z, dtype=np.float64)
        inside = np.clip(z, self.at[0], self.at[-1])
        radius = self._curve(inside)
        if (z != inside).any():
            radius = radius + (z - inside) * self._curve.slope(inside)
        return np.maximum(radius, LEAST_RADIUS_MM)

    def slope(self, z: ArrayLike) -> NDArray[np.float64]:
        """Rate of change of the radius, dr/dz.

        Parameters
        ----------
        z : (...) float
            Distance from the butt, mm.

        Returns
        -------
        (...) float
            Dimensionless, below 0 where the blank thins towards the tip.
        """
        inside = np.clip(np.asarray(z, dtype=np.float64), self.at[0], self.at[-1])
        return self._curve.slope(inside)

    def volume(self, start: float, end: float, steps: int = 2001) -> float:
        """Volume of the solid outline between two distances, mm³ (Simpson on pi r²).

        Parameters
        ----------
        start, end : float
            Distance from the butt, mm.
        steps : int
            Points of the integration; an even number is raised by 1.
        """
        if start == end:
            return 0.0
        z = np.linspace(start, end, steps | 1)
        return simpson(np.pi * self.radius(z) ** 2, z)

    def lateral_area(self, start: float, end: float, steps: int = 2001) -> float:
        """Outside area between two distances, mm² (Simpson on 2 pi r sqrt(1 + r'²)).

        Parameters
        ----------
        start, end : float
            Distance from the butt, mm.
        steps : int
            Points of the integration; an even number is raised by 1.
        """
        if start == end:
            return 0.0
        z = np.linspace(start, end, steps | 1)
        ring = 2 * np.pi * self.radius(z) * np.sqrt(1 + self.slope(z) ** 2)
        return simpson(ring, z)
