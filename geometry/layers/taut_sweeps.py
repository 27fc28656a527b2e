"""The taut path of threads by sweeps of NumPy, where the compiled walk could not be built.

A point is inside the chord of its neighbours when its own u is larger (`geometry.layers.taut`).
Such a point is never on the hull, and neither is any other found so in the same sweep, because both
ends of its chord are points of the ground. Sweeps end when every point left is convex, which for a
section seen whole from the axis is the hull itself. Each sweep looks only at points beside those
just dropped, so the cost is one pass over the points and a few over their concave parts.
"""

import numpy as np
from numpy.typing import NDArray

from geometry.tolerances import HALF_TURN, HULL_SLACK

__all__ = ["sweep"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]

_CHORDS = (1, 2, 4, 8, 14, 20, 28)
"""Half lengths, in grid steps, of the chords tried first; more of them cost more than they save."""


def sweep(path: Array, turn: float, held: Flags | None, closed: bool) -> None:
    """Stretch rows of threads in place.

    Parameters
    ----------
    path : (n, m) float
        Distance of the ground from the axis along each thread, mm, m at least 3; C-contiguous.
    turn : float
        One step, rad.
    held : (n, m) bool, optional
        Where something holds the thread down on its ground.
    closed : bool
        Whether each thread closes after its m steps. Otherwise it is held at both ends.
    """
    size = path.shape[1]
    u = 1.0 / path
    fixed = np.zeros(u.shape, dtype=bool) if held is None else held.copy()
    if not closed:
        fixed[:, [0, -1]] = True
    kept = _outside_short_chords(u, turn, None if held is None else fixed, closed)
    at = np.flatnonzero(kept)
    if at.size == u.size:
        return
    sine = np.sin(np.arange(size + 1) * turn)
    at = at[_corners(at, u.ravel(), sine, turn, fixed.ravel()[at], size)]
    _fill_chords(path, at, u.ravel(), sine, closed)


def _outside_short_chords(u: Array, turn: float, held: Flags | None, closed: bool) -> Flags:
    """Points that no chord of a few given lengths, centred on them, has beneath it.

    Any such chord is sound evidence, so a handful of lengths clears most of what lies between
    ridges before the sweeps, which drop only what lies beside a gap, begin. Nothing spans a place
    where the thread is held.
    """
    size = u.shape[1]
    reach = max(1, min(_CHORDS[-1], int(np.pi / 4 / turn), (size - 1) // 2))
    wide = ((0, 0), (reach, reach))
    # An end of an open thread has no chord over it: beyond it lies nothing.
    padded = np.pad(u, wide, mode="wrap") if closed else np.pad(u, wide, constant_values=np.inf)
    holds = None
    if held is not None:
        beyond = np.pad(held, wide, mode="wrap") if closed else np.pad(held, wide)
        holds = np.cumsum(beyond, axis=1)
    keep = np.ones(u.shape, dtype=bool)
    both = np.empty_like(u)
    for k in _CHORDS:
        if k > reach:
            break
        back, on = reach - k, reach + k
        np.add(padded[:, back : back + size], padded[:, on : on + size], both)
        both *= (1 + HULL_SLACK) / (2 * np.cos(k * turn))
        outside = u <= both
        if holds is not None:
            outside |= holds[:, back : back + size] != holds[:, on - 1 : on - 1 + size]
        keep &= outside
    return keep


def _corners(at: Index, u: Array, sine: Array, turn: float, fixed: Flags, size: int) -> Flags:
    """Which of the points `at` (flat indices, ascending) are corners of their thread's hull.

    Those that are `fixed` always are, among them the ends of a thread that does not close.
    """
    count = at.size
    before, after = np.arange(-1, count - 1), np.arange(1, count + 1)
    first = np.searchsorted(at, np.arange(u.size // size) * size)
    last = np.append(first[1:], count) - 1
    before[first], after[last] = last, first
    kept = np.ones(count, dtype=bool)
    gap = np.diff(at) > 1
    wrap = (at[first] + size - at[last]) > 1
    beside = np.zeros(count, dtype=bool)
    beside[:-1] |= gap
    beside[1:] |= gap
    beside[first] |= wrap
    beside[last] |= wrap
    look = np.flatnonzero(beside & ~fixed)
    while look.size:
        here, back, on = at[look], at[before[look]], at[after[look]]
        a, b = here - back, on - here
        a[a <= 0] += size
        b[b <= 0] += size
        span = np.minimum(a + b, size)
        chord = u[back] * sine[b] + u[on] * sine[a]
        # A point whose neighbours are half a turn apart holds the axis inside: always a corner.
        inside = (u[here] * sine[span] > chord * (1 + HULL_SLACK)) & (span * turn < HALF_TURN)
        dropped = look[inside]
        kept[dropped] = False
        look = _relink(dropped, kept, before, after)
        look = look[~fixed[look]]
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


def _fill_chords(path: Array, corners: Index, u: Array, sine: Array, closed: bool) -> None:
    """Raise every point between two corners to their chord, in place."""
    size = path.shape[1]
    following = np.append(corners[1:], corners[0])
    first = np.searchsorted(corners, np.arange(path.shape[0]) * size)
    last = np.append(first[1:], corners.size) - 1
    following[last] = corners[first]
    length = following - corners
    length[last] += size
    if not closed:
        length[last] = 0
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
    section_end = np.repeat((start // size + 1) * size, inner)
    at[at >= section_end] -= size
    path.reshape(-1)[at] = 1.0 / chord
