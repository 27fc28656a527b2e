"""A thread's colour, measured in a photograph beside a card, and described in sentences."""

from collections.abc import Sequence
from math import ceil, sqrt

from materials.colour import luminance
from materials.lamps import Lamp
from materials.photographed import GREY_CARD, Reading, read_thread
from materials.thread import Thread, ThreadKind
from render.colour.colour_sheet import MeasuredPhotograph
from render.colour.photograph import Box, box_of
from render.common.problems import RequestProblem
from render.request.subject import Pixels

__all__ = ["UNNAMED", "describe_reading", "nearest_on_shelf", "read_beside_card"]

UNNAMED = "the thread"
"""Name of a thread that has none yet."""

_MAX_NEAREST = 3

_JUST_SEEN = 1.0
"""ΔE00 that can just be seen side by side (from memory; `scenes.legibility` uses it too)."""

_MAX_PIXELS = 400_000
"""Maximum pixels of an area that are used; of a larger area, every nth in both directions. More
pixels take seconds, and for a whole photograph gigabytes, without a better result."""


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
) -> MeasuredPhotograph:
    """Measure the colour of a thread in a photograph.

    Parameters
    ----------
    pixels : (height, width, 3) uint8
        The photograph, sRGB.
    thread, card : str
        Their areas in the photograph, pixels: left,top,width,height.
    reflectance : float
        Of the card: 0 black to 1 white.
    kind : ThreadKind
    lamp : Lamp, optional
        The light of the photograph.
    kelvin : float, optional
        Colour temperature printed on the lamp, K.
    like : Thread, optional
        A thread of the same lightness, which is used for metallic thread.

    Returns
    -------
    MeasuredPhotograph

    Raises
    ------
    RequestProblem, MaterialProblem
        If an area is wrong, or no colour can be measured in it.
    """
    on_thread, on_card = box_of("thread", thread, pixels), box_of("card", card, pixels)
    if on_thread.meets(on_card):
        raise RequestProblem(
            f"card: {card} lies over the thread's {thread}; mark two places that do not touch."
        )
    reading = read_thread(
        _sampled(on_thread, pixels) / 255,
        _sampled(on_card, pixels) / 255,
        reflectance=reflectance,
        kind=kind,
        lamp=lamp,
        kelvin=kelvin,
        light=None if like is None else float(luminance(like.linear_rgb)),
    )
    return MeasuredPhotograph(pixels, on_thread, on_card, reading)


def describe_reading(reading: Reading, name: str) -> list[str]:
    """Describe a measured colour and its uncertainty, in one sentence each.

    Parameters
    ----------
    reading : Reading
    name : str
        Of the thread.
    """
    return [
        f"{name}: {reading.colour}, within ΔE00 {reading.uncertainty:.1f}; "
        f"as photographed {reading.colour_before}",
        _explain(reading.uncertainty),
    ]


def nearest_on_shelf(reading: Reading, name: str, threads: Sequence[Thread]) -> str:
    """Name the threads of the same kind with the nearest colours; empty if there are none.

    Parameters
    ----------
    reading : Reading
    name : str
        Of the thread, which is left out if it is on the shelf.
    threads : sequence of Thread
        On the shelf.
    """
    others = [thread for thread in threads if thread.kind is reading.kind and thread.name != name]
    nearest = sorted(others, key=reading.apart)[:_MAX_NEAREST]
    named = [f"{thread.name} (ΔE00 {reading.apart(thread):.1f})" for thread in nearest]
    return f"nearest on the shelf: {', '.join(named)}" if named else ""


def _explain(uncertainty: float) -> str:
    """Explain an uncertainty by what can be seen."""
    times = round(uncertainty / _JUST_SEEN)
    seen = f"by up to about {times} times that" if times > 1 else "by hardly more than that"
    return (
        f"A difference of ΔE00 {_JUST_SEEN:g} can just be seen side by side: the thread itself may "
        f"differ from this {seen}."
    )


def _sampled(box: Box, pixels: Pixels) -> Pixels:
    step = ceil(sqrt(max(1.0, box.width * box.height / _MAX_PIXELS)))
    # A long and thin area keeps at least 64 pixels of its short side.
    across, along = min(step, max(1, box.width // 64)), min(step, max(1, box.height // 64))
    return box.of(pixels)[::along, ::across]
