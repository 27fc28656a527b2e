"""The folder of a catalogue: results by content, the pages, and a list of what belongs to it.

Results have names of their content and are never changed, and pages name the results that they
show. So a new page takes the place of an old one in one step, and a run that is stopped leaves the
old pages whole, with the results so far beside them for the next run.
"""

import json
import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from materials.toml_text import named
from render.common.files import check_output
from render.common.problems import DrawingProblem, RequestProblem
from scenes.files.atomic import PlaceProblem, writing

__all__ = ["DESIGNS", "FILES", "INDEX", "Card", "SiteFolder"]

FILES = "files"
"""Folder of results."""

DESIGNS = "designs"
"""Folder of the designs' pages."""

INDEX = "index.html"
LIST = "catalogue.json"

_FORMAT = 1
_RESULT = re.compile(r"[0-9a-f]{24}[.a-z0-9-]{1,20}")
_PAGE = re.compile(r"[\w-]{1,60}\.html")
_UNFINISHED = ".turnlight-"
_MOST_BYTES = 100_000_000


@dataclass(frozen=True, slots=True)
class Card:
    """What the index shows of a design.

    Parameters
    ----------
    name : str
        Name of its page, without an ending.
    title : str
    price : str
        In words; empty if there is none.
    line : str
        A few words about it.
    picture : str
        Name of its small picture.
    width, height : int
        Of that picture, pixels.
    files : tuple of str
        Names of all results that its page shows.
    """

    name: str
    title: str
    price: str
    line: str
    picture: str
    width: int
    height: int
    files: tuple[str, ...]


class SiteFolder:
    """The folder of a catalogue, which may not be there yet.

    Parameters
    ----------
    path : Path

    Raises
    ------
    RequestProblem
        If it is a file, holds something else, or cannot be made.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.cards: dict[str, Card] = {}
        if self._is_used():
            self.cards = {card.name: card for card in self._listed()}
        else:
            check_output(path, folder=True)

    def _is_used(self) -> bool:
        try:
            return any(not entry.name.startswith(_UNFINISHED) for entry in self.path.iterdir())
        except OSError:
            return False

    def _listed(self) -> list[Card]:
        problem = RequestProblem(
            f"output: {named(self.path)} is a folder with something in it that is no catalogue of "
            "Turnlight; give a new folder, or that of a catalogue."
        )
        try:
            listing = self.path / LIST
            if not listing.is_file() or listing.stat().st_size > _MOST_BYTES:
                raise problem
            found = json.loads(listing.read_text(encoding="utf-8"))
            if found["made_by"] != "Turnlight" or found["format"] != _FORMAT:
                raise problem
            cards = [Card(**{**card, "files": tuple(card["files"])}) for card in found["designs"]]
        except (OSError, ValueError, TypeError, KeyError, RecursionError):
            raise problem from None
        for card in cards:
            plain = [_RESULT.fullmatch(name) for name in (card.picture, *card.files)]
            if not all(plain) or not _PAGE.fullmatch(f"{card.name}.html"):
                raise problem
        return cards

    def prepare(self) -> None:
        """Make the folders, and the list, so that a later run knows the folder.

        Raises
        ------
        DrawingProblem
        """
        try:
            for folder in (self.path, self.path / FILES, self.path / DESIGNS):
                folder.mkdir(exist_ok=True)
        except OSError as error:
            raise DrawingProblem(
                f"output: {named(self.path)} cannot be made ({error.strerror})."
            ) from None
        if not (self.path / LIST).exists():
            self.write_list(())

    def has(self, names: Iterable[str]) -> bool:
        """Whether all of some results are there.

        Parameters
        ----------
        names : iterable of str
        """
        return all((self.path / FILES / name).is_file() for name in names)

    def read(self, name: str) -> bytes:
        """Read a result.

        Parameters
        ----------
        name : str

        Raises
        ------
        OSError
        """
        return (self.path / FILES / name).read_bytes()

    def put(self, name: str, data: bytes) -> None:
        """Write a result, whole or not at all.

        Parameters
        ----------
        name : str
        data : bytes

        Raises
        ------
        DrawingProblem
        """
        self._write(self.path / FILES / name, data)

    def write_page(self, name: str, text: str) -> bool:
        """Write the page of a design, or the index, if it is not as it should be already.

        Parameters
        ----------
        name : str
            Name of the design's page without an ending; empty for the index.
        text : str

        Returns
        -------
        bool
            Whether it has changed.

        Raises
        ------
        DrawingProblem
        """
        path = self.path / DESIGNS / f"{name}.html" if name else self.path / INDEX
        return self._write_changed(path, text)

    def write_list(self, cards: Iterable[Card]) -> None:
        """Write the list of what belongs to the catalogue.

        Parameters
        ----------
        cards : iterable of Card

        Raises
        ------
        DrawingProblem
        """
        content = {
            "made_by": "Turnlight",
            "format": _FORMAT,
            "designs": [asdict(card) for card in cards],
        }
        self._write_changed(self.path / LIST, json.dumps(content, indent=1) + "\n")

    def sweep(self, cards: Iterable[Card], also: Iterable[str]) -> int:
        """Remove results and pages that no longer belong to the catalogue.

        Parameters
        ----------
        cards : iterable of Card
            What belongs to it.
        also : iterable of str
            Results to keep for a later run.

        Returns
        -------
        int
            Number of pages that were removed.
        """
        cards = list(cards)
        results = {*also, *(name for card in cards for name in card.files)}
        pages = {f"{card.name}.html" for card in cards}
        removed = 0
        for path in [*(self.path / FILES).iterdir(), *(self.path / DESIGNS).iterdir()]:
            of_files = path.parent.name == FILES
            mine = (_RESULT if of_files else _PAGE).fullmatch(path.name)
            if mine and path.name not in (results if of_files else pages):
                with suppress(OSError):
                    path.unlink()
                    removed += not of_files
        return removed

    def _write_changed(self, path: Path, text: str) -> bool:
        data = text.encode("utf-8")
        with suppress(OSError):
            if path.read_bytes() == data:
                return False
        self._write(path, data)
        return True

    def _write(self, path: Path, data: bytes) -> None:
        try:
            with writing(path, suffix=path.suffix) as unfinished:
                unfinished.write(data)
                unfinished.put()
        except PlaceProblem as problem:
            raise DrawingProblem(f"output: {named(path)} {problem}.") from None
