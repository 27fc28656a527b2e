"""The desk: the one place where the open document is changed.

Whatever the screen shows is made from the document here, and whatever it changes is changed here,
by path and through the same checks as a file. A change that is refused changes nothing.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from materials.shelf import Shelf, ShelfProblem
from materials.thread import Thread
from render.editor.document_session import Opened
from render.editor.recovery import Slot
from render.editor.shelf_edits import ShelfEdit, shelf_with
from render.request.subject import Subject
from scenes.design.changes import called, changes_between, made_in
from scenes.design.differences import differences
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.threads import check_threads
from scenes.design.variants import variant
from scenes.editing import layer_defaults, list_edits
from scenes.files import file_import, own_shelf
from scenes.files.companion_files import Beside
from scenes.problems import DesignProblem, printable
from scenes.quantities import Units, plain_number

__all__ = ["Desk"]


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
    DesignProblem, ShelfProblem
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
            New value by path (see `scenes.design.paths`).
        gesture : str
            Changes with the same one, such as a slider's while it is dragged, are taken back
            together.
        units : Units, optional
            What the lengths are given in; the file's own units if not given.

        Raises
        ------
        DesignProblem, ShelfProblem
            If the changed design is not right; then nothing has changed.
        """
        self._put(made_in(self.design, lambda one: with_changes(one, changes), units), gesture)

    def name_file(self, path: str, name: str) -> None:
        """Let a field name a file that is beside the design, or came with Turnlight."""
        self.changes(self._changes_for(path, name, self.beside))

    def try_named(self, path: str, name: str) -> None:
        """Check what `name_file` would do, from any thread, and change nothing."""
        changes = self._changes_for(path, name, self.beside)
        self._check(with_changes(self.design, changes), self.shelf, self.beside)

    def _changes_for(self, path: str, name: str, beside: Beside) -> dict[str, Any]:
        file_import.wanted(self.design, path)
        return file_import.changes_for(self.design, path, name, beside, self.shelf)

    def bring_file(self, path: str, name: str, data: bytes) -> None:
        """Put a file beside the design, and let a field name it.

        Parameters
        ----------
        path : str
            Of the field.
        name : str
            What the file is called where it comes from.
        data : bytes

        Raises
        ------
        DesignProblem
            If it is no such file, or the design cannot use it; then nothing is written.
        """
        made, put = self._brought(path, name, data)
        put()
        self._put(made)

    def try_brought(self, path: str, name: str, data: bytes) -> None:
        """Check what `bring_file` would do, from any thread, and change nothing."""
        self._brought(path, name, data)

    def _brought(self, path: str, name: str, data: bytes) -> tuple[Design, Callable[[], None]]:
        """The design that names a file, and what is still to be done: to put the file there."""
        marker = file_import.wanted(self.design, path)
        if self.path is None:
            raise DesignProblem("save the design first: its files are kept beside it.", field=path)
        plain = file_import.look(data, name, path, marker)
        folder = self.path.absolute().parent
        plain, is_there = file_import.free_name(folder, plain, data)
        held = self.beside.holding(plain, data)
        made = with_changes(self.design, self._changes_for(path, plain, held))
        self._check(made, self.shelf, held)
        return made, lambda: None if is_there else file_import.put(folder, plain, data)

    def insert(
        self, path: str, entry: object, at: int | None = None, *, units: Units | None = None
    ) -> None:
        """Put an entry into a list (see `scenes.editing.list_edits`)."""
        self._arrange(
            lambda one: list_edits.inserted(one, path, entry, at), f"{path}, one more", units
        )

    def add_layer(self, kind: str, at: int | None = None) -> None:
        """Add a layer of a kind, as it goes with this design (`scenes.editing.layer_defaults`)."""
        made = layer_defaults.added(self.design, kind, self.shelf, self.beside, at)
        both = len(made.layers) - len(self.design.layers) > 1
        self._put(made, told=f"{kind} added{', with a cover over it' if both else ''}")

    def set_kind(self, path: str, kind: str) -> None:
        """Make a layer another of its role."""
        made = layer_defaults.turned_into(self.design, path, kind, self.shelf, self.beside)
        self._put(made, told=f"{path} made a {kind}")

    def remove(self, path: str) -> None:
        """Take an entry out of a list."""
        self._arrange(
            lambda one: list_edits.removed(one, path), f"{called(self.design, path)} removed"
        )

    def clear(self, path: str) -> None:
        """Leave a field out again, so that what it had by default holds."""
        self._arrange(lambda one: list_edits.cleared(one, path))

    def move(self, path: str, to: int) -> None:
        """Move an entry within its list."""
        self._arrange(
            lambda one: list_edits.moved(one, path, to), f"{called(self.design, path)} moved"
        )

    def duplicate(self, path: str) -> None:
        """Put a copy of an entry behind it."""
        self._arrange(
            lambda one: list_edits.duplicated(one, path), f"{called(self.design, path)} copied"
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

    def put_thread(self, thread: Thread) -> None:
        """Put a thread on the builder's own shelf, in place of one of the same name.

        Raises
        ------
        DesignProblem
            If there is no place for a shelf yet, or the design could not be wound with it.
        ShelfProblem
            If it cannot be written.
        """
        path = self._own_shelf()
        text = own_shelf.text_of(path)
        known = None if text is None else Shelf.parse(text, path).get(thread.name)
        edit = ShelfEdit(path, text, own_shelf.with_thread(text, thread, path))
        design = self.design
        if self._given_shelf is None and design.shelf is None:
            design = design_from({**document_of(design), "shelf": path.name})
        try:
            self._put(design, told=_told(thread, known), edit=edit)
        except DesignProblem as problem:
            raise DesignProblem(f"the design cannot be wound with that: {problem}") from None

    def drop_thread(self, name: str) -> None:
        """Take a thread off the builder's own shelf.

        Raises
        ------
        DesignProblem
            If the design, or one saved beside it, uses it, and no shipped thread has its name.
        ShelfProblem
            If it is not on the builder's own shelf.
        """
        path = self._own_shelf()
        text = own_shelf.text_of(path)
        if text is None:
            raise ShelfProblem(
                f'"{printable(name)}" is not on your own shelf, which is not there yet.'
            )
        edit = ShelfEdit(path, text, own_shelf.without_thread(text, name, path))
        left = shelf_with(edit.after, path)
        try:
            check_threads(self.design, left)
        except DesignProblem as problem:
            raise DesignProblem(
                f'"{printable(name)}" is in use; change {problem.field} first.', field=problem.field
            ) from None
        if user := own_shelf.missed_by(path, shelf_with(text, path), left):
            mine = self.path is not None and user == self.path.name
            raise DesignProblem(
                f'"{printable(name)}" is in use in "{printable(user)}"'
                + (
                    " as it is saved; save the design first."
                    if mine
                    else "; change it there first."
                )
            )
        gone = Shelf.parse(text, path).thread(name)
        self._put(self.design, told=f"{gone.name} taken off your shelf", edit=edit)

    def _own_shelf(self) -> Path:
        if self.shelf_path is None:
            raise DesignProblem(
                "your own shelf is a file beside the design; save the design first."
            )
        return self.shelf_path

    # --- inside ------------------------------------------------------------------------------

    def _arrange(
        self, make: Callable[[Design], Design], told: str = "", units: Units | None = None
    ) -> None:
        self._put(made_in(self.design, make, units), told=told)

    def _forget(self) -> None:
        self.pinned = self._pinned_whole = None


def _told(thread: Thread, known: Thread | None) -> str:
    """Say in a few words what putting a thread on the shelf has changed there."""
    if known is None:
        return f"{thread.name} added to your shelf"
    words = {
        "kind": thread.kind.value,
        "size": f"size {thread.size}",
        "colour": f"colour {thread.colour}",
        "diameter_mm": f"diameter {plain_number(thread.diameter_mm)} mm",
        "tex": f"{plain_number(thread.tex)} tex",
        "spool_m": f"spool {plain_number(thread.spool_m)} m",
        "price": f"price {plain_number(thread.price)}",
    }
    new = [told for name, told in words.items() if getattr(thread, name) != getattr(known, name)]
    return f"{thread.name} on your shelf: {', '.join(new[:2]) or 'its name'}"
