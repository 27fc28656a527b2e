"""A thread's colour read off a photograph beside a card, and told in sentences."""

from collections.abc import Sequence
from math import ceil, sqrt

from materials.colour import luminance
from materials.lamps import Lamp
from materials.photographed import GREY_CARD, Reading, read_thread
from materials.thread import Thread, ThreadKind
from render.colour.colour_sheet import Photographed
from render.colour.photograph import Box, box_of
from render.common.problems import RequestProblem
from render.request.subject import Pixels

__all__ = ["UNNAMED", "near", "read_beside_card", "told"]

UNNAMED = "the thread"
"""What a thread is called that has no name yet."""

_MOST_NEAR = 3

_JUST_SEEN = 1.0
"""ΔE00 that can just be seen side by side (from memory; so does `scenes.legibility`)."""

_MOST_COUNTED = 400_000
"""Pixels of a place that are looked at; of a larger one every other, or third, in both directions.
More take seconds, and of a whole photograph gigabytes, and tell no more."""


def read_beside_card(
    pixels: Pixels,
    thread: str,
    card: str,
    *,
    reflectance: float = GREY_CARD,
    kind: ThreadKind = ThreadKind.NCP_NYLON,
    lamp: Lamp | None = None,
    kelvin: float | None = None,
    like: Thread | None = None,
) -> Photographed:
    """Read a thread's colour where it is marked.

    Parameters
    ----------
    pixels : (h, w, 3) uint8
        The photograph.
    thread, card : str
        Where they are in it, in pixels: left,top,width,height.
    reflectance : float
        Of the card: 0 black to 1 white.
    kind : ThreadKind
    lamp : Lamp, optional
        What light it was.
    kelvin : float, optional
        The colour temperature that is printed on the lamp.
    like : Thread, optional
        One that is as light, which counts for metallic thread.

    Raises
    ------
    RequestProblem, MaterialProblem
        If a place is none, or does not tell a colour.
    """
    on_thread, on_card = box_of("thread", thread, pixels), box_of("card", card, pixels)
    if on_thread.meets(on_card):
        raise RequestProblem(
            f"card: {card} lies over the thread's {thread}; mark two places that do not touch."
        )
    reading = read_thread(
        _counted(on_thread, pixels) / 255,
        _counted(on_card, pixels) / 255,
        reflectance=reflectance,
        kind=kind,
        lamp=lamp,
        kelvin=kelvin,
        light=None if like is None else float(luminance(like.linear_rgb)),
    )
    return Photographed(pixels, on_thread, on_card, reading)


def told(reading: Reading, name: str) -> list[str]:
    """Say what was read and how certain it is, a sentence each.

    Parameters
    ----------
    reading : Reading
    name : str
        What the thread is called.
    """
    return [
        f"{name}: {reading.colour}, within ΔE00 {reading.uncertainty:.1f}; "
        f"as photographed {reading.colour_before}",
        _plainly(reading.uncertainty),
    ]


def near(reading: Reading, name: str, threads: Sequence[Thread]) -> str:
    """Name the threads of a shelf that are nearest to it in colour; nothing if there are none.

    Parameters
    ----------
    reading : Reading
    name : str
        What the thread is called, should it be on the shelf already.
    threads : sequence of Thread
    """
    others = [one for one in threads if one.kind is reading.kind and one.name != name]
    nearest = sorted(others, key=reading.apart)[:_MOST_NEAR]
    named = [f"{one.name} (ΔE00 {reading.apart(one):.1f})" for one in nearest]
    return f"nearest on the shelf: {', '.join(named)}" if named else ""


def _plainly(uncertainty: float) -> str:
    """Say what an uncertainty is to the eye."""
    times = round(uncertainty / _JUST_SEEN)
    seen = f"by up to about {times} times that" if times > 1 else "by hardly more than that"
    return (
        f"A difference of ΔE00 {_JUST_SEEN:g} can just be seen side by side: the thread itself may "
        f"differ from this {seen}."
    )


def _counted(box: Box, pixels: Pixels) -> Pixels:
    step = ceil(sqrt(max(1.0, box.width * box.height / _MOST_COUNTED)))
    # A place that is long and thin must not lose its short side.
    across, along = min(step, max(1, box.width // 64)), min(step, max(1, box.height // 64))
    return box.of(pixels)[::along, ::across]
