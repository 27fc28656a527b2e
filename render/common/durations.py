"""Durations in words."""

import math

__all__ = ["duration_text", "seconds_left"]

_SHARE_TO_JUDGE, _TIME_TO_JUDGE = 0.15, 4.0
"""Share of some work, and seconds of it, from which the time that it still takes is estimated."""


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


def seconds_left(spent: float, share: float, expected: float | None = None) -> float | None:
    """Estimate the time that some work still takes; None if that cannot be told yet.

    It follows from what is expected. Where nothing is, or it has taken longer already, it follows
    from the share that is done, once that is enough to judge by.

    Parameters
    ----------
    spent : float
        Seconds of work so far.
    share : float
        Part of it that is done, from 0 to 1.
    expected : float, optional
        Seconds that all of it was expected to take.
    """
    if expected is not None and spent < expected:
        return expected - spent
    if share >= _SHARE_TO_JUDGE and spent >= _TIME_TO_JUDGE:
        return spent * (1 - share) / share
    return None
