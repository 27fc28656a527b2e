"""What a browser is sent of a picture that the render worker has drawn."""

import math
from typing import Any

from render.page.workers.render_messages import Frame, slot_of

__all__ = ["TOPIC", "frame_message"]

TOPIC = "turnlight.frame"
"""Topic of published pictures, to which the browser subscribes."""


def frame_message(frame: Frame) -> dict[str, Any]:
    """The message of a picture.

    Parameters
    ----------
    frame : Frame

    Returns
    -------
    dict
        The fields of the frame, its turn in degrees, and its ``slot`` in the ring, -1 if none.
    """
    slot = slot_of(frame.turn)
    return {
        "number": frame.number,
        "epoch": frame.epoch,
        "side": frame.side,
        "turn": math.degrees(frame.turn),
        "slot": -1 if slot is None else slot,
        "grade": frame.grade,
        "jpeg": frame.jpeg,
    }
