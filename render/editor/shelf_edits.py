"""Changes of the builder's own shelf as part of a document's undo history.

The shelf is one file for all designs in its folder and is written immediately, while the history
belongs to one document. A step therefore keeps the file's text before and after it. It is undone on
the shelf only while the file still holds what this document wrote, and while no saved design would
miss a thread. Otherwise the shelf stays as it is and one sentence says why. The design is undone in
either case, so that a change by another program never blocks the history.
"""

from dataclasses import dataclass
from pathlib import Path

from materials.shelf import Shelf
from scenes.design.document import Design
from scenes.files import own_shelf
from scenes.problems import printable

__all__ = ["ShelfEdit", "shelf_with_own"]


@dataclass(frozen=True, slots=True)
class ShelfEdit:
    """A change of the builder's own shelf file.

    Parameters
    ----------
    path : Path
        The file.
    before, after : str or None
        Its text, with comments; None where there is no file.
    """

    path: Path
    before: str | None
    after: str | None

    @property
    def inverse(self) -> "ShelfEdit":
        """The change that undoes this one."""
        return ShelfEdit(self.path, self.after, self.before)

    def obstacle(self, design: Design) -> str:
        """Return why the change must not be applied to the shelf; empty if it may be.

        Parameters
        ----------
        design : Design
            The open design after the change.

        Raises
        ------
        ShelfProblem
            If the file cannot be read.
        """
        now, name = own_shelf.text_of(self.path), f'"{printable(self.path.name)}"'
        # A file that was removed is written again, like a design's file.
        if now in (None, self.after):
            return ""
        if now != self.before:
            return f"{name} was changed by another program meanwhile, and stays as it is."
        if self.after is None and design.shelf == self.path.name:
            return f"{name} stays as it is: the design names it."
        remaining = None if self.after is None else shelf_with_own(self.after, self.path)
        user = own_shelf.design_missing_thread(self.path, shelf_with_own(now, self.path), remaining)
        if user:
            return f'{name} stays as it is: "{printable(user)}", as it is saved, needs it.'
        return ""

    def apply(self) -> None:
        """Write the shelf file.

        Raises
        ------
        ShelfProblem
            If the file has changed meanwhile or cannot be written; then it is left unchanged.
        """
        if self.before != self.after:
            own_shelf.write(self.path, self.before, self.after)


def shelf_with_own(own: str | None, path: Path) -> Shelf:
    """Combine the shipped shelf with the builder's own, whose threads take precedence.

    Parameters
    ----------
    own : str or None
        Text of the builder's own shelf file; None if there is none.
    path : Path
        That file, for the sentences of errors.

    Raises
    ------
    ShelfProblem
        If the text is not a valid shelf.
    """
    shipped = Shelf.shipped()
    return shipped if own is None else shipped.with_own(Shelf.parse(own, path))
