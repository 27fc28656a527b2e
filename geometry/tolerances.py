"""Every numerical tolerance of the geometry, each with its reason."""

import math

__all__ = [
    "CONTACT_MM",
    "HALF_TURN",
    "HULL_SLACK",
    "LEAST_RADIUS_MM",
    "MEMORY_LIMIT_BYTES",
    "PAPER_FIT_MM",
]

CONTACT_MM = 1e-9
"""Two heights closer than this touch: far below a wavelength, far above rounding at 30 mm."""

HALF_TURN = math.pi * (1 - 1e-12)
"""Below this angle two points have a chord that passes outside the axis, rad."""

HULL_SLACK = 1e-13
"""Relative slack of the hull's convexity test.

A point of a bare circle stands proud of the chord of its neighbours by 1 - cos(2 pi / nt), which
is 1e-7 even on a grid of 16,384 angles; rounding of a reciprocal is 1e-16. The slack lies between.
"""

LEAST_RADIUS_MM = 0.25
"""Thinnest blank that is built: the tip of the finest solid tips is about twice as thick."""

MEMORY_LIMIT_BYTES = 4 * 1024**3
"""A design that would need more than this is refused before anything is allocated."""

PAPER_FIT_MM = 0.03
"""How far a paper pattern's radius may be from the blank's: it puts the pattern wrong by 0.2 mm
round the blank, the width of a pencil line, and a sheet of paper is itself 0.1 mm thick (from
memory)."""
