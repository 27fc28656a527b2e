"""The builder's own shelf as a part of a document's history.

The shelf is one file for all designs beside it and is written at once, while history is of one
document. So a step keeps the file's text before and after it, and is taken back on the shelf only
while the file still holds what this document wrote, and no saved design would miss a thread.
Otherwise the shelf stays as it is and one sentence says why; the design goes its way all the same,
so that history is never stuck behind what somebody else did.
"""

from dataclasses import dataclass
from pathlib import Path

from materials.shelf import Shelf
from scenes.design.document import Design
from scenes.files import own_shelf
from scenes.problems import printable

__all__ = ["ShelfEdit", "shelf_with"]


@dataclass(frozen=True, slots=True)
class ShelfEdit:
    """A change of the builder's own shelf file.

    Parameters
    ----------
    path : Path
        The file.
    before, after : str or None
        Its text, comments and all; None where there is no file.
    """

    path: Path
    before: str | None
    after: str | None

    @property
    def back(self) -> "ShelfEdit":
        """The change that takes this one back."""
        return ShelfEdit(self.path, self.after, self.before)

    def hindered(self, design: Design) -> str:
        """Say why the shelf must stay as it is; empty if it may be changed so.

        Parameters
        ----------
        design : Design
            The open design as it will be then.

        Raises
        ------
        ShelfProblem
            If the file cannot be read.
        """
        now, called = own_shelf.text_of(self.path), f'"{printable(self.path.name)}"'
        # A file that has gone is written again, as a design's is.
        if now in (None, self.after):
            return ""
        if now != self.before:
            return f"{called} was changed by another program meanwhile, and stays as it is."
        if self.after is None and design.shelf == self.path.name:
            return f"{called} stays as it is: the design names it."
        left = None if self.after is None else shelf_with(self.after, self.path)
        user = own_shelf.missed_by(self.path, shelf_with(now, self.path), left)
        if user:
            return f'{called} stays as it is: "{printable(user)}", as it is saved, needs it.'
        return ""

    def make(self) -> None:
        """Write it.

        Raises
        ------
        ShelfProblem
            If it holds something else by now, or cannot be written; then the file is as it was.
        """
        if self.before != self.after:
            own_shelf.write(self.path, self.before, self.after)


def shelf_with(own: str | None, path: Path) -> Shelf:
    """Lay the text of the builder's own shelf file, if there is one, over the shipped shelf.

    Raises
    ------
    ShelfProblem
    """
    shipped = Shelf.shipped()
    return shipped if own is None else shipped.with_own(Shelf.parse(own, path))
