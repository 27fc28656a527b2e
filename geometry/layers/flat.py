"""A part of the blank laid flat along a run, for what is printed or woven flat.

`s` is the distance along the run towards the tip, `t` the distance to its left as it is seen from
outside. Whatever is drawn in them reads the right way round on both hands.
"""

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.blank import Blank
from geometry.quadrature import cumulative_trapezoid
from geometry.strip_frame import StripFrame
from geometry.surface import Surface
from geometry.winding import Winding

__all__ = ["BandRun", "BlankRun", "Flat", "band_between", "raised"]

Array = NDArray[np.float64]


class Flat(Protocol):
    """A run on the blank, with the blank laid flat beside it."""

    def coordinates(self, surface: Surface, part: slice) -> tuple[Array, Array]:
        """Measure distances along the run and to its left.

        Parameters
        ----------
        surface : Surface
            Grid.
        part : slice
            Stations.

        Returns
        -------
        s, t : (n, nt) float
            mm.
        """
        ...

    def lay(self, surface: Surface, part: slice) -> Array:
        """Direction of the run.

        Parameters
        ----------
        surface : Surface
            Grid.
        part : slice
            Stations.

        Returns
        -------
        (n, nt), (n, 1) or (1, 1) float
            Direction of the run from the hoop, rad.
        """
        ...

    def on_blank(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """Find places of the flat on the blank.

        Parameters
        ----------
        s, t : (...) float
            Distance along the run from the origin, and to its left, mm.

        Returns
        -------
        theta, z : (...) float
            Angle from the guide line, counted on from turn to turn, rad, and distance from the
            butt, mm.
        """
        ...

    def reach(self, length: float, width: float) -> tuple[float, float]:
        """Stretch of the blank that a rectangle about the origin takes.

        Parameters
        ----------
        length, width : float
            Size of the rectangle along the run and across it, mm.

        Returns
        -------
        start, end : float
            mm from the butt.
        """
        ...


@dataclass(frozen=True, slots=True)
class BlankRun:
    """Straight up the blank.

    Parameters
    ----------
    blank : Blank
        Blank that is laid flat.
    lift : float
        Thickness of what lies on it there, mm.
    at : float
        z of the origin, mm.
    around : float
        Angle of the run, rad.
    """

    blank: Blank
    lift: float
    at: float
    around: float

    def coordinates(self, surface: Surface, part: slice) -> tuple[Array, Array]:
        """Measure distances along the blank and to the left of the run.

        Parameters
        ----------
        surface : Surface
            Grid.
        part : slice
            Stations.

        Returns
        -------
        s, t : (n, nt) float
            mm.
        """
        z = surface.z[part]
        away = (surface.theta - self.around + np.pi) % (2 * np.pi) - np.pi
        t = -(self.blank.radius(z) + self.lift)[:, None] * away[None, :]
        return np.broadcast_to((z - self.at)[:, None], t.shape), t

    def lay(self, surface: Surface, part: slice) -> Array:
        """Direction of the run: a quarter turn from the hoop.

        Parameters
        ----------
        surface : Surface
            Grid.
        part : slice
            Stations.

        Returns
        -------
        (n, nt), (n, 1) or (1, 1) float
            Direction of the run from the hoop, rad.
        """
        return np.full((1, 1), np.pi / 2)

    def on_blank(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """Find places of the flat on the blank.

        Parameters
        ----------
        s, t : (...) float
            Distance along the run from the origin, and to its left, mm.

        Returns
        -------
        theta, z : (...) float
            Angle from the guide line, counted on from turn to turn, rad, and distance from the
            butt, mm.
        """
        z = self.at + np.asarray(s, dtype=np.float64)
        return self.around - np.asarray(t) / (self.blank.radius(z) + self.lift), z

    def reach(self, length: float, width: float) -> tuple[float, float]:
        """Stretch of the blank that a rectangle takes: half of its length to both sides.

        Parameters
        ----------
        length, width : float
            Size of the rectangle along the run and across it, mm.

        Returns
        -------
        start, end : float
            mm from the butt.
        """
        return self.at - length / 2, self.at + length / 2


@dataclass(frozen=True, slots=True)
class BandRun:
    """Along a helix.

    Parameters
    ----------
    winding : Winding
        With the origin on its centre line; of one start, and at the radius of what is laid
        (`raised`).
    at : float
        z of the origin, mm.
    """

    winding: Winding
    at: float

    @property
    def _sign(self) -> int:
        return self.winding.hand.sign

    def coordinates(self, surface: Surface, part: slice) -> tuple[Array, Array]:
        """Measure distances along the nearest turn and to its left.

        Parameters
        ----------
        surface : Surface
            Grid.
        part : slice
            Stations.

        Returns
        -------
        s, t : (n, nt) float
            mm.
        """
        along, across = StripFrame(self.winding, surface.theta).coordinates(surface.z[part])
        return along - self.winding.length_at(self.at), self._sign * across

    def lay(self, surface: Surface, part: slice) -> Array:
        """Direction of the run: pi/2 - alpha, with the sign of the hand.

        Parameters
        ----------
        surface : Surface
            Grid.
        part : slice
            Stations.

        Returns
        -------
        (n, nt), (n, 1) or (1, 1) float
            Direction of the run from the hoop, rad.
        """
        return self._sign * (np.pi / 2 - self.winding.angle_at(surface.z[part]))[:, None]

    def on_blank(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """Find places of the flat on the blank.

        A place beside the run lies straight up the blank from the centre line, as in
        `geometry.strip_frame.StripFrame`: t = a sin(alpha), s = length + a cos(alpha).

        Parameters
        ----------
        s, t : (...) float
            Distance along the run from the origin, and to its left, mm.

        Returns
        -------
        theta, z : (...) float
            Angle from the guide line, counted on from turn to turn, rad, and distance from the
            butt, mm.
        """
        winding, sign = self.winding, self._sign
        s, t = np.asarray(s, dtype=np.float64), sign * np.asarray(t, dtype=np.float64)
        from_origin = s + winding.length_at(self.at)
        centre = np.interp(from_origin, winding.length, winding.z)
        for _ in range(3):
            angle = winding.angle_at(centre)
            centre = np.interp(from_origin - t / np.tan(angle), winding.length, winding.z)
        return sign * winding.phase_at(centre), centre + t / np.sin(winding.angle_at(centre))

    def reach(self, length: float, width: float) -> tuple[float, float]:
        """Stretch of the blank that a rectangle takes: from the lowest corner to the highest.

        Parameters
        ----------
        length, width : float
            Size of the rectangle along the run and across it, mm.

        Returns
        -------
        start, end : float
            mm from the butt.
        """
        s, t = np.meshgrid((-length / 2, length / 2), (-width / 2, width / 2))
        z = self.on_blank(s, t)[1]
        return float(z.min()), float(z.max())


def raised(winding: Winding, blank: Blank, lift: float, at: float, around: float) -> Winding:
    """A single run as it lies on what is wound on the blank.

    The turns are the same, but `lift` mm further out each is longer: tan(alpha) = R d(phase)/dz.

    Parameters
    ----------
    winding : Winding
        Run on the bare blank; only its turns count.
    blank : Blank
        Blank that it is wound on.
    lift : float
        Thickness of what lies between, mm.
    at, around : float
        The run passes z = `at`, mm, at the angle `around`, rad.
    """
    radius = blank.radius(winding.z) + lift
    slant = np.sqrt(1 + blank.slope(winding.z) ** 2)
    angle = np.arctan(radius * np.gradient(winding.phase, winding.z) / slant)
    length = cumulative_trapezoid(slant / np.cos(angle), winding.z)
    phase = winding.phase - winding.phase_at(at) + winding.hand.sign * around
    return replace(winding, phase=phase, angle=angle, length=length, starts=1)


def band_between(winding: Winding, below: float, above: float) -> tuple[Winding, Array]:
    """The middle of the band between neighbouring strips.

    On a taper it is not half-way in phase.

    Parameters
    ----------
    winding : Winding
        Centre lines of the strips.
    below, above : float
        Distance across the run from the centre line of the strip nearer the butt to where the band
        begins, and from the band's end to the centre line of the next strip, mm.

    Returns
    -------
    winding : Winding
        The turns of the middle; angle and length are still those of the strip (`raised`).
    width : (m,) float
        Width of the band along the blank at each z of the winding, mm.
    """
    step = 2 * np.pi / winding.starts
    phase = np.concatenate((winding.phase[0] - np.linspace(step, 0, 64, False), winding.phase))
    lower, upper = winding.z_at(phase), winding.z_at(phase + step)
    begin = lower + below / np.sin(winding.angle_at(lower))
    end = upper - above / np.sin(winding.angle_at(upper))
    middle = (begin + end) / 2
    turned = np.interp(winding.z, middle, phase)
    # Past the last whole band the turns go on as they were.
    last = winding.z > middle[-1]
    slope = (phase[-1] - phase[-2]) / (middle[-1] - middle[-2])
    turned[last] = phase[-1] + slope * (winding.z[last] - middle[-1])
    return replace(winding, phase=turned), np.interp(winding.z, middle, end - begin)
