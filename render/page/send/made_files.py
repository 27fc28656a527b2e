"""The files that were made: kept for download, each with the design that it was made of.

A file outlives the state of the design that it shows. An old bench sheet must not be printed by
mistake, so each file says whether the open design would still give it.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

from render.common.file_size import megabytes
from render.page.send.order import Order, Origin
from render.page.server.proof import is_same, unguessable
from scenes.problems import printable

__all__ = ["MadeFile", "MadeFiles"]

_MOST_KEPT, _MOST_BYTES_KEPT = 12, 500_000_000
"""Number and total bytes of files kept for download; the newest file is always kept."""


@dataclass(frozen=True, slots=True)
class MadeFile:
    """A file that was made and can be downloaded.

    Parameters
    ----------
    path : Path
    order : Order
    notes : tuple of str
        Remarks about it.
    size : int
        Bytes.
    place : str
        Unguessable part of its address.
    """

    path: Path
    order: Order
    notes: tuple[str, ...]
    size: int
    place: str = field(default_factory=unguessable)

    def state(self, number: int, now: Origin) -> dict[str, Any]:
        """What the page shows of it.

        Parameters
        ----------
        number : int
            Of the job that made it.
        now : Origin
            What is open.
        """
        return {
            "number": number,
            "name": self.order.name,
            "title": printable(self.order.origin.design.title, 100),
            "designs": [printable(one, 100) for one in self.order.designs],
            "age": self.order.age(now).value,
            "weight": megabytes(self.size),
            "url": f"sent/{self.place}/{quote(self.order.name)}",
            "notes": list(self.notes),
        }


class MadeFiles:
    """The newest files that were made, by the number of their job."""

    def __init__(self) -> None:
        self._files: dict[int, MadeFile] = {}

    @property
    def paths(self) -> set[Path]:
        """The files on disk."""
        return {made.path for made in self._files.values()}

    def __bool__(self) -> bool:
        """Whether there is any."""
        return bool(self._files)

    @property
    def names(self) -> set[str]:
        """Names of the files, as they are saved."""
        return {made.order.name for made in self._files.values()}

    def order(self, number: int) -> Order | None:
        """What was asked for when the file of a job was made; None if no such file is kept.

        Parameters
        ----------
        number : int
        """
        made = self._files.get(number)
        return None if made is None else made.order

    def keep(self, number: int, made: MadeFile) -> None:
        """Keep a file, and delete the oldest files when there are too many.

        Parameters
        ----------
        number : int
            Of its job.
        made : MadeFile
        """
        self._files[number] = made
        while len(self._files) > 1 and (
            len(self._files) > _MOST_KEPT
            or sum(each.size for each in self._files.values()) > _MOST_BYTES_KEPT
        ):
            self.delete(next(iter(self._files)))

    def delete(self, number: int) -> None:
        """Delete a file, if it is kept.

        Parameters
        ----------
        number : int
            Of its job.
        """
        made = self._files.pop(number, None)
        if made is not None:
            made.path.unlink(missing_ok=True)

    def at(self, place: str, name: str) -> Path | None:
        """The file at an address; None if there is none.

        Parameters
        ----------
        place : str
            Unguessable part of the address.
        name : str
            File name for the customer.
        """
        made = next((made for made in self._files.values() if is_same(place, made.place)), None)
        if made is None or made.order.name != name or not made.path.is_file():
            return None
        return made.path

    def state(self, now: Origin) -> list[dict[str, Any]]:
        """What the page shows of the files, newest first.

        Parameters
        ----------
        now : Origin
            What is open.
        """
        return [made.state(number, now) for number, made in reversed(self._files.items())]
