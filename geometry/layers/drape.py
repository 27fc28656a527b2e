"""Thread under tension: each cross-section becomes its own convex hull.

A hoop-wound thread touches only the hull of what lies beneath; between two ridges it spans as a
straight chord. Those chords are the flat facets that flash.

In polar coordinates with u = 1/r a straight line is u = a cos(theta) + b sin(theta), so the chord
between neighbours at the angles -a and +b has, at 0,

    u = (u_before sin b + u_after sin a) / sin(a + b).

A point is inside the chord of its neighbours when its own u is larger. Such a point is never on
the hull, and neither is any other found so in the same sweep, because both ends of its chord are
points of the section. Sweeps end when every point left is convex, which for a section seen whole
from the axis is the hull itself. Each sweep looks only at points beside those just dropped, so
the cost is one pass over the grid and a few over its concave parts.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.surface import Surface
from geometry.tolerances import HULL_SLACK

__all__ = ["Drape", "hull_radius", "section_perimeter"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_CHORDS = (1, 2, 4, 8, 14, 20, 28)
"""Half lengths, in grid steps, of the chords tried first; more of them cost more than they save."""

_BLOCK = 1 << 19
"""Sweeps cost a fixed time each, so blocks are larger here than for plain arithmetic."""


@dataclass(frozen=True, slots=True)
class Drape:
    """The taut skin over a surface between two distances, as a layer of no thickness.

    Parameters
    ----------
    start, end : float
        Ends of the stretch, mm from the butt.
    """

    start: float
    end: float

    def apply(self, surface: Surface) -> Surface:
        """Replace each cross-section from `start` to `end` by its hull.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the hulls as its radius.
        """
        radius = surface.radius.copy()
        stations = surface.between(self.start, self.end)

        def work(part: slice) -> None:
            radius[part] = hull_radius(surface.radius[part])

        over_blocks(work, stations, surface.theta.size, points=_BLOCK)
        return surface.with_arrays(radius=radius)


def hull_radius(radius: Array) -> Array:
    """Radius of the convex hull of each cross-section.

    Parameters
    ----------
    radius : (m, nt) float
        Distance from the axis at nt even angles (8 or more), mm, all positive.

    Returns
    -------
    (m, nt) float
        Distance of the hull from the axis at the same angles, mm; equal to `radius` at the hull's
        own corners.
    """
    nt = radius.shape[1]
    sine = np.sin(np.arange(nt + 1) * (2 * np.pi / nt))
    u = 1.0 / radius
    at = np.flatnonzero(_outside_short_chords(u))
    if at.size == u.size:
        return radius.copy()
    at = at[_corners(at, u.ravel(), sine, nt)]
    hull = radius.copy()
    _fill_chords(hull, at, u.ravel(), sine)
    return hull


def section_perimeter(radius: Array) -> Array:
    """Perimeter of each section of even angles, as a polygon.

    Parameters
    ----------
    radius : (m, nt) float
        Distance from the axis at nt even angles, mm.

    Returns
    -------
    (m,) float
        mm.
    """
    nt = radius.shape[1]
    step = 2 * np.pi / nt
    following = np.roll(radius, -1, axis=1)
    side = radius**2 + following**2 - 2 * np.cos(step) * radius * following
    return np.asarray(np.sqrt(side).sum(axis=1))


def _outside_short_chords(u: Array) -> NDArray[np.bool_]:
    """Points that no chord of a few given lengths, centred on them, has beneath it.

    Any such chord is sound evidence, so a handful of lengths clears most of what lies between
    ridges before the sweeps, which drop only what lies beside a gap, begin.
    """
    nt = u.shape[1]
    reach = min(_CHORDS[-1], nt // 8)
    padded = np.concatenate((u[:, -reach:], u, u[:, :reach]), axis=1)
    keep = np.ones(u.shape, dtype=bool)
    both = np.empty_like(u)
    for k in _CHORDS:
        if k > reach:
            break
        np.add(padded[:, reach - k : reach - k + nt], padded[:, reach + k : reach + k + nt], both)
        both *= (1 + HULL_SLACK) / (2 * np.cos(k * 2 * np.pi / nt))
        keep &= u <= both
    return keep


def _corners(at: Index, u: Array, sine: Array, nt: int) -> NDArray[np.bool_]:
    """Which of the points `at` (flat indices, ascending) are corners of their section's hull."""
    count = at.size
    before, after = np.arange(-1, count - 1), np.arange(1, count + 1)
    first = np.searchsorted(at, np.arange(u.size // nt) * nt)
    last = np.append(first[1:], count) - 1
    before[first], after[last] = last, first
    kept = np.ones(count, dtype=bool)
    gap = np.diff(at) > 1
    wrap = (at[first] + nt - at[last]) > 1
    beside = np.zeros(count, dtype=bool)
    beside[:-1] |= gap
    beside[1:] |= gap
    beside[first] |= wrap
    beside[last] |= wrap
    look = np.flatnonzero(beside)
    while look.size:
        here, back, on = at[look], at[before[look]], at[after[look]]
        a, b = here - back, on - here
        a[a <= 0] += nt
        b[b <= 0] += nt
        span = np.minimum(a + b, nt)
        chord = u[back] * sine[b] + u[on] * sine[a]
        # A point whose neighbours are half a turn apart holds the axis inside: always a corner.
        inside = (u[here] * sine[span] > chord * (1 + HULL_SLACK)) & (2 * span < nt)
        dropped = look[inside]
        kept[dropped] = False
        look = _relink(dropped, kept, before, after)
    return kept


def _relink(dropped: Index, kept: NDArray[np.bool_], before: Index, after: Index) -> Index:
    """Join the neighbours left on both sides of each dropped point, and return them."""
    for link in (before, after):
        pending = dropped
        while pending.size:
            pending = pending[~kept[link[pending]]]
            link[pending] = link[link[pending]]
    back, on = before[dropped], after[dropped]
    after[back] = on
    before[on] = back
    beside = np.concatenate((back, on))
    beside.sort(kind="stable")  # two runs already in order: merged, not sorted
    return beside[np.append(True, np.diff(beside) > 0)] if beside.size else beside


def _fill_chords(hull: Array, corners: Index, u: Array, sine: Array) -> None:
    """Raise every point between two corners to their chord, in place."""
    nt = hull.shape[1]
    following = np.append(corners[1:], corners[0])
    first = np.searchsorted(corners, np.arange(hull.shape[0]) * nt)
    last = np.append(first[1:], corners.size) - 1
    following[last] = corners[first]
    length = following - corners
    length[last] += nt
    open_ = np.flatnonzero(length > 1)
    start, end, length = corners[open_], following[open_], length[open_]
    inner = length - 1
    offset = np.cumsum(inner) - inner
    k = np.arange(1, int(inner.sum()) + 1) - np.repeat(offset, inner)
    span = np.repeat(length, inner)
    scale = sine[length]
    chord = np.repeat(u[start] / scale, inner) * sine[span - k]
    chord += np.repeat(u[end] / scale, inner) * sine[k]
    at = np.repeat(start, inner) + k
    section_end = np.repeat((start // nt + 1) * nt, inner)
    at[at >= section_end] -= nt
    hull.ravel()[at] = 1.0 / chord
