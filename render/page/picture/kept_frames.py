"""Pictures kept by the program: sent to a page that opens later, and not drawn again."""

from collections.abc import Iterator

from render.page.workers.render_worker import FINE, Frame, slot_of

__all__ = ["KeptFrames", "place_of"]


def place_of(frame: Frame) -> tuple[str, int]:
    """Key under which a newer picture replaces an older one: its side and slot of the ring.

    Parameters
    ----------
    frame : Frame

    Returns
    -------
    side : str
    slot : int
        -1 for a turn between two slots, of which only the last picture is kept.
    """
    slot = slot_of(frame.turn)
    return frame.side, -1 if slot is None else slot


class KeptFrames:
    """Pictures of one epoch: for each side one in each slot of the ring, and one between slots.

    There are never more than `RING` + 1 for a side.
    """

    def __init__(self) -> None:
        self._frames: dict[tuple[str, int], Frame] = {}

    def __len__(self) -> int:
        return len(self._frames)

    def __iter__(self) -> Iterator[Frame]:
        """Iterate over the pictures, the last drawn first."""
        return reversed(self._frames.values())

    def put(self, frame: Frame) -> None:
        """Keep a picture; it replaces the one with the same key.

        Parameters
        ----------
        frame : Frame
        """
        place = place_of(frame)
        self._frames.pop(place, None)
        self._frames[place] = frame

    def clear(self) -> None:
        """Discard all pictures, at the start of another epoch."""
        self._frames.clear()

    @property
    def grades(self) -> dict[tuple[str, float], str]:
        """Grade by side and turn, rad to six decimals."""
        return {(frame.side, round(frame.turn, 6)): frame.grade for frame in self._frames.values()}

    def has_fine(self, side: str, turn: float) -> bool:
        """Return whether there is a fine picture of a side at a turn.

        Parameters
        ----------
        side : str
        turn : float
            Turn of the rod, rad.
        """
        slot = slot_of(turn)
        frame = self._frames.get((side, -1 if slot is None else slot))
        return frame is not None and frame.grade == FINE and abs(frame.turn - turn) < 1e-4
