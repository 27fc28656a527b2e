"""Pictures kept by the program: sent to a page that is opened anew, and not drawn again."""

from collections.abc import Iterator

from render.page.workers.render_messages import FINE, Frame, slot_of

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
    """Pictures of one epoch of a view: for each side one in each slot of the ring, and one between.

    There are never more than `RING` + 1 for a side. A picture may be given up to save memory; its
    grade stays known, because the browser of the view has it.
    """

    def __init__(self) -> None:
        self._frames: dict[tuple[str, int], Frame] = {}
        self._grades: dict[tuple[str, int], tuple[float, str]] = {}
        self.bytes = 0

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
        before = self._frames.pop(place, None)
        self.bytes += len(frame.jpeg) - (0 if before is None else len(before.jpeg))
        self._frames[place] = frame
        self._grades[place] = frame.turn, frame.grade

    def give_up_oldest(self) -> None:
        """Discard the picture that was drawn first; there must be one."""
        self.bytes -= len(self._frames.pop(next(iter(self._frames))).jpeg)

    def clear(self) -> None:
        """Discard all pictures, at the start of another epoch."""
        self._frames.clear()
        self._grades.clear()
        self.bytes = 0

    @property
    def is_whole(self) -> bool:
        """Whether no picture was given up."""
        return len(self._frames) == len(self._grades)

    @property
    def grades(self) -> dict[tuple[str, float], str]:
        """Grade by side and turn, rad to six decimals."""
        return {(side, round(turn, 6)): grade for (side, _), (turn, grade) in self._grades.items()}

    def has_fine(self, side: str, turn: float) -> bool:
        """Return whether a fine picture of a side at a turn has been drawn.

        Parameters
        ----------
        side : str
        turn : float
            Turn of the rod, rad.
        """
        slot = slot_of(turn)
        drawn = self._grades.get((side, -1 if slot is None else slot))
        return drawn is not None and drawn[1] == FINE and abs(drawn[0] - turn) < 1e-4
