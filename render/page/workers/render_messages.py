"""What the page and the render worker send each other: requests, pictures and problems.

The page sends what is wanted now: one request for each view that is looked at, in one tuple, the
view that was used last first. Only the newest tuple counts.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from render.request.subject import Size, Subject

__all__ = [
    "FINE",
    "GRADES",
    "PLAIN",
    "PREVIEW",
    "RING",
    "Frame",
    "RenderProblem",
    "RenderRequest",
    "slot_of",
    "turn_of",
]

RING = 120
"""Pictures of one turn: steps of 3 degrees, which the eye about accepts as one movement."""

PREVIEW, PLAIN, FINE = "preview", "plain", "fine"
"""Grades of a picture: half size; full size with one sample a pixel; full size with four."""

GRADES = (PREVIEW, PLAIN, FINE)
"""All grades, the coarsest first."""


@dataclass(frozen=True, slots=True)
class RenderRequest:
    """What is to be drawn for one view.

    Parameters
    ----------
    view : int
        Number of the view.
    epoch : int
        Number that changes with `sides` and `size`: pictures of different epochs of a view do not
        belong together.
    sides : dict of str to Subject
        Designs to draw: "B" the open design, and "A" the pinned one, if they are compared.
    size : (int, int)
        Width and height of each side's picture, pixels.
    turn : float
        Turn of the rod, rad.
    moving : bool
        Whether somebody is turning the rod and waits for each picture.
    ahead : bool
        Whether the rod spins: the pictures ahead are drawn next, not the nearest.
    seen : int
        Number of the newest picture that the view's browser has acknowledged since the process
        started.
    fill : bool
        Whether to fill the ring; False while something else needs the processor.
    held : bool
        Whether somebody holds a slider: the next preview must not wait for a finer picture, or for
        one of another turn.
    guest : bool
        Whether a guest looks at it: owner and guests are served in turn.
    drawn : dict of (str, float) to str
        Grade of the pictures that have been drawn of this epoch, by side and turn, rad.
    """

    view: int
    epoch: int
    sides: Mapping[str, Subject]
    size: Size
    turn: float = 0.0
    moving: bool = False
    ahead: bool = False
    seen: int = 0
    fill: bool = True
    held: bool = False
    guest: bool = False
    drawn: Mapping[tuple[str, float], str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Frame:
    """A picture.

    Parameters
    ----------
    number : int
        Serial number of the picture among those of all views, from 1.
    view : int
        Number of the view.
    epoch : int
        Of its request.
    side : str
        "A" or "B".
    turn : float
        Turn of the rod, rad.
    grade : str
        "preview", "plain" or "fine".
    jpeg : bytes
    """

    number: int
    view: int
    epoch: int
    side: str
    turn: float
    grade: str
    jpeg: bytes


@dataclass(frozen=True, slots=True)
class RenderProblem:
    """Reason why there is no picture.

    Parameters
    ----------
    view : int
        Number of the view.
    epoch : int
        Of the request.
    sentence : str
    """

    view: int
    epoch: int
    sentence: str


def turn_of(slot: int) -> float:
    """Turn of a slot of the ring, rad.

    Parameters
    ----------
    slot : int
        0 to `RING` - 1.
    """
    return 2 * np.pi * slot / RING


def slot_of(turn: float) -> int | None:
    """Slot of the ring that has a turn; None between two slots.

    Parameters
    ----------
    turn : float
        Turn of the rod, rad.
    """
    place = turn / (2 * np.pi) * RING
    nearest = round(place)
    return nearest % RING if abs(place - nearest) < 1e-6 * RING else None
