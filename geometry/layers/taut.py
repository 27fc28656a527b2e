"""The taut path of a thread that is led over uneven ground on a round blank.

A stretched thread is straight in space wherever it touches nothing. Seen along the axis a straight
line stays straight, whatever its angle to the axis, so the same rule holds for hoops, helices and
the edges of strips: in polar coordinates with u = 1/r a straight line is u = a cos(theta) +
b sin(theta), and the chord between neighbours at the angles -a and +b has, at 0,

    u = (u_before sin b + u_after sin a) / sin(a + b).

The taut path is the convex hull of the ground along the run in this frame, which bends with the
blank. The rule is exact for the radius. Along the blank the thread is taken to keep to its run: a
chord of a helix strays from it by a few hundredths of its rise.

A compiled walk along each thread finds the hull in time that is linear in its points
([Graham1972]; `taut_walk.c`). It is built when the program is installed, if there is a C compiler;
otherwise sweeps of NumPy find the same hull several times slower (`geometry.layers.taut_sweeps`).
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from geometry.layers.taut_sweeps import sweep
from geometry.tolerances import HALF_TURN, HULL_SLACK

__all__ = ["compiled_walk", "stretch", "taut"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


def _compiled() -> Callable[[Array, Flags | None, Array, float, bool], None] | None:
    try:
        from geometry.layers.taut_walk import stretch as walk
    except ImportError:
        return None
    return walk


compiled_walk = _compiled()
"""The walk in C, None if not built: rows, where held, sine of whole steps, slack, closed."""


def taut(ground: Array, turn: float, held: Flags | None = None, *, closed: bool = False) -> Array:
    """Stretch threads over the ground beneath them.

    Parameters
    ----------
    ground : (..., m) float
        Distance from the axis along each thread at even steps of angle, mm, all positive.
    turn : float
        One step, rad, an eighth of a turn at most.
    held : (..., m) bool, optional
        Where something laid later holds the thread down on its ground.
    closed : bool
        Whether each thread closes after its m steps, which are a whole turn. Otherwise it is held
        on its ground at both ends.

    Returns
    -------
    (..., m) float
        Distance of the taut thread from the axis, mm; equal to `ground` where it is touched.
    """
    path = np.array(ground, dtype=np.float64, order="C")
    stretch(path, turn, held, closed=closed)
    return path


def stretch(path: Array, turn: float, held: Flags | None = None, *, closed: bool = False) -> None:
    """Stretch threads over the ground beneath them, in place, as `taut` does.

    Parameters
    ----------
    path : (..., m) float64
        Ground before, taut threads after, mm; C-contiguous.
    turn : float
        As for `taut`.
    held : (..., m) bool, optional
        As for `taut`.
    closed : bool
        As for `taut`.

    Raises
    ------
    ValueError
        If `path` is not C-contiguous.
    """
    size = path.shape[-1]
    if path.size == 0 or size < 3:
        return
    if not path.flags.c_contiguous:
        raise ValueError("threads are stretched in place in an array that is C-contiguous")
    rows = path.reshape(-1, size)
    if held is not None:
        held = np.ascontiguousarray(held).reshape(rows.shape)
    if compiled_walk is None:
        sweep(rows, turn, held, closed)
    else:
        widest = min(int(np.ceil(HALF_TURN / turn)) - 1, size)
        compiled_walk(rows, held, np.sin(np.arange(widest + 1) * turn), HULL_SLACK, closed)
