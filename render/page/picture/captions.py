"""Captions of a comparison: what of each design is another than in the design beside it."""

from collections.abc import Sequence

from scenes.design.differences import paired_differences
from scenes.design.document import Design
from scenes.problems import one_of
from scenes.quantities import Units

__all__ = ["captions"]

_MOST = 2
"""Differences that a caption names; how many more there are is said as a number."""


def captions(pinned: Design, present: Design, units: Units) -> dict[str, str]:
    """Caption the pictures of two designs by what differs between them.

    Parameters
    ----------
    pinned, present : Design
        As they are shown: with the same light and camera, and both dry or both finished.
    units : Units
        Units of the lengths.

    Returns
    -------
    dict of str to str
        By side: "A" the pinned design, and "B" the present one.
    """
    first, second = paired_differences(pinned, present, units)
    return {"A": _caption(first) or "as kept", "B": _caption(second) or "the same"}


def _caption(words: Sequence[str]) -> str:
    more = len(words) - _MOST
    if more <= 0:
        return one_of(words, "and")
    return one_of([*words[:_MOST], f"{more} more"], "and")
