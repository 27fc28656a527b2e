"""The desk: the one place where the open document is changed.

Whatever the screen shows is made from the document here, and whatever it changes is changed here,
by path and through the same checks as a file. A change that is refused changes nothing.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from materials.shelf import Shelf
from materials.thread import Thread
from render.page.opened import Opened
from render.page.recovery import Slot
from render.subject import Subject
from scenes import arranging, own_shelf
from scenes.changes import called, changes_between, made_in
from scenes.differences import differences
from scenes.document import Design, design_from, document_of, with_changes
from scenes.problems import DesignProblem, printable
from scenes.quantities import Units
from scenes.threads import check_threads
from scenes.variants import variant

__all__ = ["Desk"]

OWN_SHELF = "my-shelf.toml"
"""What the builder's own shelf is called if the design names none."""


class Desk(Opened):
    """An open document that is worked on.

    Parameters
    ----------
    text : str
        As in a file, comments and all.
    path : Path or None
        Its file; None while it has none.
    name : str
        What it is called while it has no file.
    shelf : Path, optional
        A shelf of the builder's own, in place of the one that the design names.
    within : Path, optional
        The folder that documents may be opened from and saved to; anywhere if not given.
    slot : Slot, optional
        Where unsaved work is written down; nowhere if not given.

    Raises
    ------
    DesignProblem, ShelfProblem, GeometryError
    """

    def __init__(
        self,
        text: str,
        path: Path | None = None,
        *,
        name: str = "",
        shelf: Path | None = None,
        within: Path | None = None,
        slot: Slot | None = None,
    ) -> None:
        self.pinned: Subject | None = None
        self._pinned_whole: Design | None = None
        super().__init__(text, path, name=name, shelf=shelf, within=within, slot=slot)

    # --- changes ----------------------------------------------------------------------------

    def change(self, path: str, value: object, **given: Any) -> None:
        """Change one field. See `changes`."""
        self.changes({path: value}, **given)

    def changes(
        self, changes: Mapping[str, object], *, gesture: str = "", units: Units | None = None
    ) -> None:
        """Change fields by path, all of them or none.

        Parameters
        ----------
        changes : dict
            New value by path (see `scenes.paths`).
        gesture : str
            Changes with the same one, such as a slider's while it is dragged, are taken back
            together.
        units : Units, optional
            What the lengths are given in; the file's own units if not given.

        Raises
        ------
        DesignProblem, ShelfProblem, GeometryError
            If the changed design is not right; then nothing has changed.
        """
        self._put(made_in(self.design, lambda one: with_changes(one, changes), units), gesture)

    def insert(
        self, path: str, entry: object, at: int | None = None, *, units: Units | None = None
    ) -> None:
        """Put an entry into a list (see `scenes.arranging`)."""
        self._arrange(
            lambda one: arranging.inserted(one, path, entry, at), f"{path}, one more", units
        )

    def add_layer(self, kind: str) -> None:
        """Add a layer of a kind, as it is in the samples."""
        entry = arranging.starter(kind, self.design.units)
        self._arrange(lambda one: arranging.inserted(one, "layers", entry), f"{kind} added")

    def set_kind(self, path: str, kind: str) -> None:
        """Make a layer another of its role."""
        self._arrange(lambda one: arranging.of_kind(one, path, kind), f"{path} made a {kind}")

    def remove(self, path: str) -> None:
        """Take an entry out of a list."""
        self._arrange(
            lambda one: arranging.removed(one, path), f"{called(self.design, path)} removed"
        )

    def clear(self, path: str) -> None:
        """Leave a field out again, so that what it had by default holds."""
        self._arrange(lambda one: arranging.cleared(one, path))

    def move(self, path: str, to: int) -> None:
        """Move an entry within its list."""
        self._arrange(
            lambda one: arranging.moved(one, path, to), f"{called(self.design, path)} moved"
        )

    def duplicate(self, path: str) -> None:
        """Put a copy of an entry behind it."""
        self._arrange(
            lambda one: arranging.duplicated(one, path), f"{called(self.design, path)} copied"
        )

    def keep_variant(self, name: str) -> None:
        """Keep what has changed since the pin as a variant.

        Raises
        ------
        DesignProblem
            If nothing is pinned, or the pinned design has other layers.
        """
        if self._pinned_whole is None:
            raise DesignProblem("nothing is pinned; pin a design as A before you change it.")
        changes = changes_between(self._pinned_whole, self.design)
        document = document_of(self._pinned_whole)
        kept = [*document.get("variants", []), {"name": name, "changes": changes}]
        self._put(design_from({**document, "variants": kept}))

    def take_variant(self, name: str) -> None:
        """Make the design one of its variants; the variants stay."""
        made = document_of(variant(self.design, name))
        kept = document_of(self.design).get("variants", [])
        self._put(design_from({**made, "variants": kept}))

    # --- comparing --------------------------------------------------------------------------

    def pin(self) -> None:
        """Pin the design as A; what is changed from now on is B."""
        self.pinned, self._pinned_whole = self.subject, self.design
        self._tell()

    def unpin(self) -> None:
        """Take the pin away."""
        self.pinned = self._pinned_whole = None
        self._tell()

    def differences(self) -> list[str]:
        """Say in words what the design has that the pinned one has otherwise."""
        return differences(self.pinned.design, self.design) if self.pinned else []

    # --- the shelf --------------------------------------------------------------------------

    @property
    def shelf_path(self) -> Path | None:
        """The builder's own shelf file; None if there is none and no place for one."""
        if self._given_shelf is not None:
            return self._given_shelf
        if self.path is None:
            return None
        return self.path.absolute().parent / (self.design.shelf or OWN_SHELF)

    def put_thread(self, thread: Thread) -> None:
        """Put a thread on the builder's own shelf, in place of one of the same name.

        Raises
        ------
        DesignProblem
            If there is no place for a shelf yet.
        ShelfProblem
            If it cannot be written.
        """
        path = self._own_shelf()
        own_shelf.put(path, thread)
        self._shelf_changed(path)

    def drop_thread(self, name: str) -> None:
        """Take a thread off the builder's own shelf.

        Raises
        ------
        DesignProblem
            If the design uses it, and no shipped thread has its name.
        ShelfProblem
            If it is not on the builder's own shelf.
        """
        path = self._own_shelf()
        left = own_shelf.without(path, name)
        try:
            check_threads(self.design, Shelf.shipped().with_own(left))
        except DesignProblem as problem:
            raise DesignProblem(
                f'"{printable(name)}" is in use; change {problem.field} first.', field=problem.field
            ) from None
        own_shelf.drop(path, name)
        self._shelf_changed(path)

    def _own_shelf(self) -> Path:
        if self.shelf_path is None:
            raise DesignProblem(
                "your own shelf is a file beside the design; save the design first."
            )
        return self.shelf_path

    def _shelf_changed(self, path: Path) -> None:
        """Read the shelf anew, and let the design name it if it does not yet."""
        self.shelf = Shelf.shipped().with_own(Shelf.load(path))
        self.revision += 1
        if self._given_shelf is None and self.design.shelf is None:
            self._put(design_from({**document_of(self.design), "shelf": path.name}))
        else:
            self._tell()

    # --- inside ------------------------------------------------------------------------------

    def _arrange(
        self, make: Callable[[Design], Design], told: str = "", units: Units | None = None
    ) -> None:
        self._put(made_in(self.design, make, units), told=told)

    def _forget(self) -> None:
        self.pinned = self._pinned_whole = None
