"""The pictures that are kept: what a page opened later is sent, and what is not drawn again."""

from collections.abc import Iterator

from render.page.workers.render_worker import FINE, Frame, slot_of

__all__ = ["KeptFrames", "place_of"]


def place_of(frame: Frame) -> tuple[str, int]:
    """What a newer picture takes the place of: side and place in the ring, -1 between two.

    Of the turns between two places of the ring only the last one drawn counts.
    """
    slot = slot_of(frame.turn)
    return frame.side, -1 if slot is None else slot


class KeptFrames:
    """Pictures of one epoch: for each side one at each place in the ring, and one between two.

    So there are never more than `RING` + 1 of a side, however the rod is turned.
    """

    def __init__(self) -> None:
        self._frames: dict[tuple[str, int], Frame] = {}

    def __len__(self) -> int:
        return len(self._frames)

    def __iter__(self) -> Iterator[Frame]:
        """Yield the one drawn last first."""
        return reversed(self._frames.values())

    def put(self, frame: Frame) -> None:
        """Keep a picture in place of the one there."""
        place = place_of(frame)
        self._frames.pop(place, None)
        self._frames[place] = frame

    def clear(self) -> None:
        """Keep none: another epoch has begun."""
        self._frames.clear()

    @property
    def grades(self) -> dict[tuple[str, float], str]:
        """Grade by side and turn, rad to six decimals."""
        return {(frame.side, round(frame.turn, 6)): frame.grade for frame in self._frames.values()}

    def has_fine(self, side: str, turn: float) -> bool:
        """Tell whether the finest picture of a side at a turn, rad, is there."""
        slot = slot_of(turn)
        frame = self._frames.get((side, -1 if slot is None else slot))
        return frame is not None and frame.grade == FINE and abs(frame.turn - turn) < 1e-4
