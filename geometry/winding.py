"""How a strip, a cord or a thread is wound round a tapering blank.

Closed forms hold on a cylinder of the local radius; `Winding` integrates them up the taper.
Unrolling the cylinder turns the strip's edge into a straight line at the angle `alpha` to the
axis, from which every formula here follows by right triangles.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.blank import Blank
from geometry.errors import GeometryError
from geometry.quadrature import cumulative_simpson

__all__ = [
    "Hand",
    "Winding",
    "constant_gap",
    "constant_gap_angle",
    "even_marks",
    "fixed_angle",
    "gap_from_width",
    "gaps_along",
    "interpolate",
    "pitch",
    "share_from_width",
    "unsteered",
    "width_from_gap",
    "width_from_share",
]

Array = NDArray[np.float64]

_TABLE_STEP = 0.05
"""Spacing of the winding table, mm. A straight line between two entries is off by at most
step²/8 · d²(theta)/dz², 2e-6 rad where a blank of 10 mm tapers by 1 in 50; Simpson's rule
integrates far closer than that."""

_RULINGS = 2
"""Corrections of a constant gap by ruler readings: on a taper of 1 in 50 at 45 degrees each gains
an order of magnitude, and the second leaves hundredths of a millimetre."""


class Hand(StrEnum):
    """Which way the strip climbs, looking along the blank from the butt."""

    RIGHT = "right"
    LEFT = "left"

    @property
    def sign(self) -> int:
        """+1 if theta grows with z, -1 if it falls."""
        return 1 if self is Hand.RIGHT else -1


def pitch(radius: ArrayLike, angle: ArrayLike) -> Array:
    """Advance along the axis in one whole turn, p = 2 pi r / tan(alpha).

    Parameters
    ----------
    radius : (...) float
        Bare radius, mm.
    angle : (...) float
        Angle between the run and the axis, rad, in (0, pi/2).

    Returns
    -------
    (...) float
        mm.
    """
    return 2 * np.pi * np.asarray(radius, dtype=np.float64) / np.tan(angle)


def gap_from_width(radius: ArrayLike, angle: ArrayLike, width: ArrayLike, starts: int = 1) -> Array:
    """Gap along the axis between neighbouring strips, g = p/n - w/sin(alpha), mm.

    Parameters
    ----------
    radius : (...) float
        Bare radius, mm.
    angle : (...) float
        Angle between the run and the axis, rad, in (0, pi/2).
    width : (...) float
        Strip width across its run, mm.
    starts : int
        Strips side by side.
    """
    return pitch(radius, angle) / starts - np.asarray(width) / np.sin(angle)


def width_from_gap(radius: ArrayLike, angle: ArrayLike, gap: ArrayLike, starts: int = 1) -> Array:
    """Strip width that leaves a gap, w = (p/n - g) sin(alpha), mm.

    Parameters
    ----------
    radius : (...) float
        Bare radius, mm.
    angle : (...) float
        Angle between the run and the axis, rad, in (0, pi/2).
    gap : (...) float
        Gap along the axis, mm.
    starts : int
        Strips side by side.
    """
    return (pitch(radius, angle) / starts - np.asarray(gap)) * np.sin(angle)


def width_from_share(
    radius: ArrayLike, angle: ArrayLike, share: ArrayLike, starts: int = 1
) -> Array:
    """Strip width that covers a share of the blank, w = s p sin(alpha) / n, mm.

    Parameters
    ----------
    radius : (...) float
        Bare radius, mm.
    angle : (...) float
        Angle between the run and the axis, rad, in (0, pi/2).
    share : (...) float
        Share of the blank under the strips, 0 to 1.
    starts : int
        Strips side by side.
    """
    return np.asarray(share) * pitch(radius, angle) * np.sin(angle) / starts


def share_from_width(
    radius: ArrayLike, angle: ArrayLike, width: ArrayLike, starts: int = 1
) -> Array:
    """Share of the blank under the strips, n w / (p sin(alpha)), dimensionless.

    Parameters
    ----------
    radius : (...) float
        Bare radius, mm.
    angle : (...) float
        Angle between the run and the axis, rad, in (0, pi/2).
    width : (...) float
        Strip width across its run, mm.
    starts : int
        Strips side by side.
    """
    return starts * np.asarray(width) / (pitch(radius, angle) * np.sin(angle))


def constant_gap_angle(radius: ArrayLike, width: float, gap: ArrayLike, starts: int = 1) -> Array:
    """Angle at which a strip of `width` leaves the axial `gap` on a blank of `radius`.

    From A cos(alpha) - g sin(alpha) = w with A = 2 pi r / n:
    alpha = arccos(w / sqrt(A² + g²)) - atan2(g, A).

    Parameters
    ----------
    radius : (...) float
        Bare radius, mm.
    width : float
        Strip width across its run, mm.
    gap : (...) float
        Gap along the axis, mm.
    starts : int
        Strips side by side.

    Returns
    -------
    (...) float
        alpha, rad.

    Raises
    ------
    GeometryError
        If the strip is too wide to leave that gap anywhere on the blank.
    """
    around = 2 * np.pi * np.asarray(radius, dtype=np.float64) / starts
    reach = np.hypot(around, gap)
    if np.any(width >= around):
        thinnest = float(np.min(np.asarray(radius))) * 2
        raise GeometryError(
            "width",
            f"{width:.4g} mm does not fit round the blank where it is {thinnest:.4g} mm thick; "
            f"give less than {float(np.min(around)):.4g} mm",
        )
    return np.arccos(width / reach) - np.arctan2(gap, around)


@dataclass(frozen=True, slots=True)
class Winding:
    """A run wound up the blank, tabulated along the axis.

    Parameters
    ----------
    z : (m,) float
        Distance from the butt, mm, increasing.
    phase : (m,) float
        Angle through which the run has turned since the winding's origin, rad, increasing.
        The run's centre line is theta = sign(hand) * phase, and every 2 pi / starts beside it.
    angle : (m,) float
        Local angle to the axis, rad.
    length : (m,) float
        Length along the run, mm.
    starts : int
        Runs side by side.
    hand : Hand
        Which way they climb.
    """

    z: Array
    phase: Array
    angle: Array
    length: Array
    starts: int
    hand: Hand

    def crossings(self, theta: ArrayLike, reach: float = 0.0) -> Array:
        """Where the centre lines cross the generators at `theta`.

        Parameters
        ----------
        theta : (k,) float
            Angles round the blank, rad.
        reach : float
            How far beyond the table, in starts, crossings are counted too (they are extrapolated).

        Returns
        -------
        (k, n) float
            z of each crossing, mm, increasing along the second axis. The same column holds the
            same start's same turn at every theta in [0, 2 pi); the next column is the next one up.
        """
        first, last = self._numbers(reach)
        number = np.arange(first, last + 1)
        turned = self.hand.sign * np.asarray(theta, dtype=np.float64)[:, None]
        return self.z_at(turned + 2 * np.pi / self.starts * number[None, :])

    def first_number(self, reach: float = 0.0) -> int:
        """Number of the first column of `crossings`: its phase is theta + 2 pi number / starts.

        Parameters
        ----------
        reach : float
            As for `crossings`.
        """
        return self._numbers(reach)[0]

    def _numbers(self, reach: float) -> tuple[int, int]:
        step = 2 * np.pi / self.starts
        first = int(np.floor((self.phase[0] - 2 * np.pi) / step - reach))
        last = int(np.ceil((self.phase[-1] + 2 * np.pi) / step + reach))
        return first, last

    def z_at(self, phase: ArrayLike) -> Array:
        """Find where the run has turned through a phase.

        Parameters
        ----------
        phase : (...) float
            rad; beyond the table the end slopes are continued.

        Returns
        -------
        (...) float
            Distance from the butt, mm.
        """
        return interpolate(np.asarray(phase, dtype=np.float64), self.phase, self.z)

    def phase_at(self, z: ArrayLike) -> Array:
        """Find the phase; beyond the table the end slopes are continued.

        Parameters
        ----------
        z : (...) float
            Distance from the butt, mm.

        Returns
        -------
        (...) float
            rad.
        """
        return interpolate(np.asarray(z, dtype=np.float64), self.z, self.phase)

    def angle_at(self, z: ArrayLike) -> Array:
        """Find the local angle to the axis; beyond the table it is that of the table's end.

        Parameters
        ----------
        z : (...) float
            Distance from the butt, mm.

        Returns
        -------
        (...) float
            rad.
        """
        return np.interp(np.asarray(z, dtype=np.float64), self.z, self.angle)

    def length_at(self, z: ArrayLike) -> Array:
        """Find the length along the run; beyond the table the end slopes are continued.

        Parameters
        ----------
        z : (...) float
            Distance from the butt, mm.

        Returns
        -------
        (...) float
            mm.
        """
        return interpolate(np.asarray(z, dtype=np.float64), self.z, self.length)

    def turns(self, start: float, end: float) -> float:
        """Count the turns of one start, whole and part, between two distances.

        Parameters
        ----------
        start, end : float
            Distance from the butt, mm.
        """
        phase = self.phase_at(np.array([start, end]))
        return float(phase[1] - phase[0]) / (2 * np.pi)


def fixed_angle(
    blank: Blank,
    span: tuple[float, float],
    angle: float,
    *,
    starts: int = 1,
    hand: Hand = Hand.RIGHT,
    origin: float | None = None,
    start_angle: float = 0.0,
) -> Winding:
    """Wind at one angle to the axis all the way: the pitch shrinks as the blank thins.

    Parameters
    ----------
    blank : Blank
        Blank that is wound on.
    span : (float, float)
        First and last distance of the table, mm.
    angle : float
        Angle between the run and the axis, rad, in (0, pi/2).
    starts : int
        Runs side by side.
    hand : Hand
        Which way they climb.
    origin : float, optional
        Distance at which the run crosses `start_angle`, mm; the span's start if not given.
    start_angle : float
        Angle from the guide line at which it crosses `origin`, rad.

    Raises
    ------
    GeometryError
        If the angle is not between 0 and 90 degrees.
    """
    line = _BlankLine.along(blank, span)
    return _tabulate(line, np.full(line.z.size, angle), starts, hand, origin, start_angle)


def constant_gap(
    blank: Blank,
    span: tuple[float, float],
    width: float,
    gap: float,
    *,
    starts: int = 1,
    hand: Hand = Hand.RIGHT,
    origin: float | None = None,
    start_angle: float = 0.0,
) -> Winding:
    """Wind so that a ruler along the axis reads the same gap every turn.

    The strip is described by its centre line. The closed form at the radius of the place holds
    exactly on a cylinder; on a taper the strip's two half widths and the half turns before and
    after stand symmetrically about the middle of each gap, so what is left is of second order in
    the taper. Every gap is then read off as with a ruler, and the error is taken off the gap asked
    for there (`tests/geometry/test_winding.py` measures what remains).

    Parameters
    ----------
    blank : Blank
        Blank that is wound on.
    span : (float, float)
        First and last distance of the table, mm.
    width : float
        Strip width across its run, mm.
    gap : float
        Gap along the axis, mm.
    starts : int
        Runs side by side.
    hand : Hand
        Which way they climb.
    origin : float, optional
        Distance at which the run crosses `start_angle`, mm; the span's start if not given.
    start_angle : float
        Angle from the guide line at which it crosses `origin`, rad.

    Raises
    ------
    GeometryError
        If no strip of this width leaves that gap all the way.
    """
    line = _BlankLine.along(blank, span)
    asked = np.full(line.z.size, float(gap))
    angle = constant_gap_angle(line.radius, width, asked, starts)
    laid = _tabulate(line, angle, starts, hand, origin, start_angle)
    at, read = gaps_along(laid, width)
    for _ in range(_RULINGS):
        if not read.size:
            break
        asked = asked + np.interp(line.z, at, gap - read)
        angle = constant_gap_angle(line.radius, width, asked, starts)
        if np.any(angle <= 0):
            break
        nearer = _tabulate(line, angle, starts, hand, origin, start_angle)
        before, (at, read) = read, gaps_along(nearer, width)
        # A strip that runs almost along the blank meets too much taper in a turn to be corrected.
        if not read.size or np.abs(read - gap).max() >= np.abs(before - gap).max():
            break
        laid = nearer
    return laid


def unsteered(
    blank: Blank,
    span: tuple[float, float],
    angle: float,
    at: float,
    *,
    starts: int = 1,
    hand: Hand = Hand.RIGHT,
    origin: float | None = None,
    start_angle: float = 0.0,
) -> Winding:
    """Let the strip find its own way: a geodesic, r sin(alpha) = const.

    Clairaut's relation ([DoCarmo], section 4-4).

    Parameters
    ----------
    blank : Blank
        Blank that is wound on.
    span : (float, float)
        First and last distance of the table, mm.
    angle : float
        Angle to the axis at `at`, rad, in (0, pi/2).
    at : float
        Distance from the butt, mm.
    starts : int
        Runs side by side.
    hand : Hand
        Which way they climb.
    origin : float, optional
        Distance at which the run crosses `start_angle`, mm; the span's start if not given.
    start_angle : float
        Angle from the guide line at which it crosses `origin`, rad.

    Raises
    ------
    GeometryError
        If the strip would turn back inside the span (where r falls to r0 sin(alpha0)).
    """
    line = _BlankLine.along(blank, span)
    sine = blank.radius(at) * np.sin(angle) / line.radius
    if np.any(sine >= np.sin(np.deg2rad(89.0))):
        turns_back = float(line.z[np.argmax(sine >= np.sin(np.deg2rad(89.0)))])
        raise GeometryError(
            "angle",
            f"at {float(np.rad2deg(angle)):.4g} degrees an unsteered strip stops climbing at "
            f"{turns_back:.4g} mm from the butt; give a smaller angle or hold a constant gap",
        )
    return _tabulate(line, np.arcsin(sine), starts, hand, origin, start_angle)


def even_marks(
    blank: Blank,
    span: tuple[float, float],
    spacing: float,
    *,
    starts: int = 1,
    hand: Hand = Hand.RIGHT,
    origin: float | None = None,
    start_angle: float = 0.0,
) -> Winding:
    """Wind so that neighbouring starts cross a line along the blank every `spacing` mm.

    The run turns evenly along the axis, dtheta/dz = 2 pi / (n s), so the angle to the axis follows
    the taper: tan(alpha) = 2 pi r / (n s sqrt(1 + r'²)).

    Parameters
    ----------
    blank : Blank
        Blank that is wound on.
    span : (float, float)
        First and last distance of the table, mm.
    spacing : float
        Distance along the blank from crossing to crossing, mm.
    starts : int
        Runs side by side.
    hand : Hand
        Which way they climb.
    origin : float, optional
        Distance at which the run crosses `start_angle`, mm; the span's start if not given.
    start_angle : float
        Angle from the guide line at which it crosses `origin`, rad.
    """
    line = _BlankLine.along(blank, span)
    angle = np.arctan(2 * np.pi * line.radius / (starts * spacing * line.slant))
    return _tabulate(line, angle, starts, hand, origin, start_angle)


def gaps_along(winding: Winding, width: float) -> tuple[Array, Array]:
    """Every whole gap along the axis, as a ruler reads it: one for each entry of the table.

    Parameters
    ----------
    winding : Winding
        Centre line of the strip.
    width : float
        Strip width across its run, mm.

    Returns
    -------
    middle, gap : (k,) float
        Distance of the gap's middle from the butt, increasing, and length of the gap, mm.
    """
    above = winding.z_at(winding.phase + 2 * np.pi / winding.starts)
    half = width / (2 * np.sin(winding.angle))
    lower, upper = winding.z + half, above - np.interp(above, winding.z, half)
    whole = above <= winding.z[-1]
    return (lower + upper)[whole] / 2, (upper - lower)[whole]


def interpolate(at: ArrayLike, x: Array, y: Array) -> Array:
    """Interpolate linearly; beyond the table the end slopes are continued.

    Parameters
    ----------
    at : (...) float
        Where the value is wanted, in the unit of `x`.
    x : (m,) float
        Places of the table, increasing.
    y : (m,) float
        Values of the table, in any unit.

    Returns
    -------
    (...) float
        In the unit of `y`.
    """
    at = np.asarray(at, dtype=np.float64)
    inside = np.interp(at, x, y)
    before = y[0] + (at - x[0]) * ((y[1] - y[0]) / (x[1] - x[0]))
    after = y[-1] + (at - x[-1]) * ((y[-1] - y[-2]) / (x[-1] - x[-2]))
    return np.where(at < x[0], before, np.where(at > x[-1], after, inside))


@dataclass(frozen=True, slots=True)
class _BlankLine:
    """The blank at the entries of a table, read once however many runs are laid over it."""

    z: Array  # distance from the butt, mm, increasing
    radius: Array  # bare, mm
    slant: Array  # length of the outline for each length along the axis, sqrt(1 + r'²)

    @classmethod
    def along(cls, blank: Blank, span: tuple[float, float]) -> Self:
        start, end = span
        z = np.linspace(start, end, max(64, int(np.ceil((end - start) / _TABLE_STEP)) + 1))
        return cls(z, blank.radius(z), np.sqrt(1 + blank.slope(z) ** 2))


def _tabulate(
    line: _BlankLine,
    angle: Array,
    starts: int,
    hand: Hand,
    origin: float | None,
    start_angle: float,
) -> Winding:
    """Integrate d(theta)/dz = tan(alpha) sqrt(1 + r'²) / r and the run's own length."""
    first = int(np.argmax(~((angle > 0) & (angle < np.pi / 2))))
    if not 0 < angle[first] < np.pi / 2:
        raise GeometryError(
            "angle",
            f"{np.rad2deg(angle[first]):.4g} degrees, which it would take "
            f"{line.z[first]:.4g} mm from the butt, cannot be wound; "
            "the angle to the axis must stay between 0 and 90 degrees all the way up",
        )
    z = line.z
    phase = cumulative_simpson(np.tan(angle) * line.slant / line.radius, z)
    length = cumulative_simpson(line.slant / np.cos(angle), z)
    start = z[0] if origin is None else origin
    phase = phase - np.interp(start, z, phase) + hand.sign * start_angle
    length = length - np.interp(start, z, length)
    return Winding(z, phase, angle, length, starts, hand)
