"""Durations in words."""

import math

__all__ = ["duration_text"]


def duration_text(seconds: float) -> str:
    """Write a duration in words, rounded up.

    Parameters
    ----------
    seconds : float

    Returns
    -------
    str
        Such as ``40 seconds``, ``3 minutes`` or ``1.5 hours``.
    """
    for unit, length, most in (("second", 1, 100), ("minute", 60, 5400)):
        if seconds <= most:
            count = max(1, math.ceil(seconds / length))
            return f"{count} {unit}" if count == 1 else f"{count} {unit}s"
    return f"{seconds / 3600:.1f} hours"
