"""The desk: the editor of the open document, through which every change of it is made.

Everything on the screen is derived from the document here, and every edit is made here, by path and
with the same checks as a file. A refused edit changes nothing.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from materials.shelf import Shelf, ShelfProblem
from materials.thread import Thread
from render.editor import own_threads
from render.editor.pending import PendingValue
from render.editor.pin import Pin, pinned_with_present_variants
from render.editor.recovery import Slot
from render.editor.shelf_edits import ShelfEdit, shelf_with_own
from render.editor.wrap_session import WrapSession
from scenes.customer.reply import with_agreement
from scenes.design.changes import changed_in_units, with_usual_layer_name
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.threads import check_all_threads
from scenes.design.variants import variants, with_new_variants_only
from scenes.editing import layer_defaults, list_edits, variant_edits
from scenes.files import file_import, own_shelf
from scenes.files.companion_files import CompanionFiles
from scenes.parts.order import Agreement
from scenes.problems import DESIGN_REFUSALS, DesignProblem, UnreadableFile, printable
from scenes.quantities import Units, plain_number

__all__ = ["Desk"]


class Desk(WrapSession):
    """An open document that can be edited.

    Parameters
    ----------
    text : str
        Text of a design file, with comments.
    path : Path or None
        Its file; None while it has none.
    name : str
        Name of a document without a file.
    shelf : Path, optional
        A shelf of the builder's own, in place of the one that the design names.
    within : Path, optional
        Folder that documents may be opened from and saved to; anywhere by default.
    slot : Slot, optional
        Recovery file for unsaved work; none by default.

    Attributes
    ----------
    document_number : int
        Number of the open document; another one is opened, or it is read anew, under another.

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
        self.document_number = 0
        super().__init__(text, path, name=name, shelf=shelf, within=within, slot=slot)

    @property
    def shelf_of_new(self) -> Shelf:
        """The shelf of a new document: the open one goes with it."""
        return self.shelf

    def open_text(self, text: str, name: str) -> None:
        """Replace the document by a new one that is in no file yet: unsaved work.

        Parameters
        ----------
        text : str
            Text of a design file.
        name : str
            Name of the document.

        Raises
        ------
        DesignProblem, ShelfProblem
            If it is not valid; then the document stays.
        """
        self._begin(text, name)
        self._saved, self._saved_document = "", {}
        self._autosave()
        self._notify()

    # --- changes ----------------------------------------------------------------------------

    def change(self, path: str, value: object, **given: Any) -> None:
        """Change one field.

        Parameters
        ----------
        path : str
            Path of the field, such as ``relief.gap``.
        value : object
            Its new value.
        **given
            Passed on to `changes`.
        """
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
            Identifier of a gesture, such as one drag of a slider. Its changes are undone together.
        units : Units, optional
            Units of the lengths; the file's own by default.

        Raises
        ------
        DesignProblem, ShelfProblem
            If the changed design is not valid; then nothing has changed.
        """
        made = changed_in_units(self.design, lambda design: with_changes(design, changes), units)
        with self.superseding(changes):
            self._put(made, gesture)

    def use_file(self, path: str, name: str) -> None:
        """Set a field to a file that is beside the design, or came with Turnlight.

        Parameters
        ----------
        path : str
            Path of the field.
        name : str
            Name of the file.

        Raises
        ------
        DesignProblem
            If the field takes no file.
        UnreadableFile
            If no design could use the file.
        ValuePending
            If the design cannot use it yet.
        """
        self._refuse_unreadable(path, name, self.beside)
        self.type_in(PendingValue(path, name, name, self.design.units))

    def check_use_file(self, path: str, name: str) -> None:
        """Check what `use_file` would do and change nothing. It may run in any thread.

        Parameters
        ----------
        path : str
            Path of the field.
        name : str
            Name of the file.
        """
        self._check_file(path, name, self.beside)

    def _refuse_unreadable(self, path: str, name: str, beside: CompanionFiles) -> None:
        """Refuse a file that cannot be read; whether it fits the design is not asked here."""
        file_import.file_marker(self.design, path)
        try:
            self._check_file(path, name, beside)
        except UnreadableFile:
            raise
        except DESIGN_REFUSALS:
            pass

    def _check_file(self, path: str, name: str, beside: CompanionFiles) -> None:
        file_import.file_marker(self.design, path)
        changes = file_import.changes_for(self.design, path, name, beside, self.shelf)
        self._check(with_changes(self.design, changes), self.shelf, beside)

    def import_file(self, path: str, name: str, data: bytes) -> None:
        """Write a file beside the design and set a field to it.

        Parameters
        ----------
        path : str
            Path of the field.
        name : str
            Original name of the file.
        data : bytes
            Content of the file.

        Raises
        ------
        DesignProblem
            If it is not a file of the kind needed, or cannot be read; then nothing is written.
        ValuePending
            If the design cannot use it yet; then it is beside the design, and waits.
        """
        plain, is_there = self._name_of_import(path, name, data)
        self._refuse_unreadable(path, plain, self.beside.with_file(plain, data))
        if not is_there:
            file_import.write_file(self.folder, plain, data)
        self.type_in(PendingValue(path, plain, plain, self.design.units))

    def check_import_file(self, path: str, name: str, data: bytes) -> None:
        """Check what `import_file` would do and change nothing. It may run in any thread.

        Parameters
        ----------
        path : str
            Path of the field.
        name : str
            Original name of the file.
        data : bytes
            Content of the file.
        """
        plain, _ = self._name_of_import(path, name, data)
        self._check_file(path, plain, self.beside.with_file(plain, data))

    def _name_of_import(self, path: str, name: str, data: bytes) -> tuple[str, bool]:
        """Name under which a file is kept beside the design, and whether it is there already."""
        marker = file_import.file_marker(self.design, path)
        if self.path is None:
            raise DesignProblem("save the design first: its files are kept beside it.", field=path)
        plain = file_import.checked_name(data, name, path, marker)
        return file_import.free_name(self.path.absolute().parent, plain, data)

    def insert(
        self, path: str, entry: object, at: int | None = None, *, units: Units | None = None
    ) -> None:
        """Insert an entry into a list (see `scenes.editing.list_edits`).

        Parameters
        ----------
        path : str
            Path of the list, such as ``blank.stations``.
        entry : object
            The entry as in a design file.
        at : int, optional
            Index before which it is inserted; the end by default.
        units : Units, optional
            Units of the lengths in `entry`; the file's own by default.
        """
        self._edit_list(
            lambda design: list_edits.inserted(design, path, entry, at), f"{path}, one more", units
        )

    def add_layer(self, kind: str, at: int | None = None) -> None:
        """Add a layer with defaults that suit this design (`scenes.editing.layer_defaults`).

        Parameters
        ----------
        kind : str
            Kind of layer, such as ``rings``.
        at : int, optional
            Index in the layer stack; where the kind belongs by default.
        """
        shelf = self.shelf_to_choose_from
        made = layer_defaults.added(self.design, kind, shelf, self.beside, at)
        with_cover = len(made.layers) - len(self.design.layers) > 1
        addition = ", with a cover over it" if with_cover else ""
        self._put(made, description=f"{kind} added{addition}")

    def set_kind(self, path: str, kind: str) -> None:
        """Replace a layer by one of another kind with the same role.

        Parameters
        ----------
        path : str
            Path of the layer.
        kind : str
            The new kind.
        """
        shelf = self.shelf_to_choose_from
        made = layer_defaults.converted(self.design, path, kind, shelf, self.beside)
        self._put(made, description=f"{path} made a {kind}")

    def remove(self, path: str) -> None:
        """Remove an entry from a list.

        Parameters
        ----------
        path : str
            Path of the entry.
        """
        self._edit_list(
            lambda design: list_edits.removed(design, path),
            f"{with_usual_layer_name(self.design, path)} removed",
        )

    def clear(self, path: str) -> None:
        """Remove a field from the document, so that its default applies.

        Parameters
        ----------
        path : str
            Path of the field.
        """
        with self.superseding([path]):
            self._edit_list(lambda design: list_edits.cleared(design, path))

    def move(self, path: str, to: int) -> None:
        """Move an entry within its list.

        Parameters
        ----------
        path : str
            Path of the entry.
        to : int
            Its new index.
        """
        self._edit_list(
            lambda design: list_edits.moved(design, path, to),
            f"{with_usual_layer_name(self.design, path)} moved",
        )

    def duplicate(self, path: str) -> None:
        """Insert a copy of an entry after it.

        Parameters
        ----------
        path : str
            Path of the entry.
        """
        self._edit_list(
            lambda design: list_edits.duplicated(design, path),
            f"{with_usual_layer_name(self.design, path)} copied",
        )

    def agree(self, text: str, day: date) -> Agreement:
        """Enter the customer's answer (`scenes.customer.reply`).

        Parameters
        ----------
        text : str
            The answer as it came.
        day : date
            When it came.

        Raises
        ------
        DesignProblem
            If the text is no answer to this design; then nothing has changed.
        """
        made = with_agreement(self.design, text, self.shelf, self.beside, day)
        self._put(made, description=f"agreed: {made.agreed[-1].scheme}")
        return made.agreed[-1]

    def pin(self) -> Pin:
        """Pin the current design as A of a comparison; the open design is B from now on."""
        return Pin(self.subject, self.design, self.document_number)

    def keep_variant(self, name: str, pin: Pin | None) -> None:
        """Store the changes since a pin as a variant of the pinned design, which is opened again.

        Under the name of the variant that `edit_variant` has opened it takes that one's place.

        Parameters
        ----------
        name : str
            Name of the variant.
        pin : Pin or None

        Raises
        ------
        DesignProblem
            If nothing is pinned, or the pinned design has other layers.
        """
        base = self._pinned_with_present_variants(pin)
        replacing = name if pin is not None and name == pin.variant else ""
        self._put(variant_edits.with_variant(base, self.design, name, replacing))

    def keep_pinned(self, name: str, pin: Pin | None) -> None:
        """Store a pinned design as a variant of the open one, which stays the design.

        Parameters
        ----------
        name : str
            Name of the new variant.
        pin : Pin or None

        Raises
        ------
        DesignProblem
            If nothing is pinned, or the pinned design has other layers.
        """
        base = self._pinned_with_present_variants(pin)
        self._put(
            variant_edits.with_former_design_kept(base, self.design, name),
            description=f"{name} kept as a variant",
        )

    def edit_variant(self, name: str) -> tuple[Pin, list[str]]:
        """Open a variant, to look at it and change it beside the design.

        Parameters
        ----------
        name : str
            Name of the variant.

        Returns
        -------
        pin : Pin
            The design.
        left_out : list of str
            Paths of the variant's changes that do not fit the design and are left out.
        """
        made, left_out = variant_edits.fitting_part(self.design, name)
        document = document_of(self.design)
        whole = design_from({**document_of(made), "variants": document["variants"]})
        pin = replace(self.pin(), variant=name)
        self._put(whole, description=f"{name} opened")
        return pin, left_out

    def rename_variant(self, name: str, new: str) -> None:
        """Give a variant another name.

        Parameters
        ----------
        name : str
            Name of the variant.
        new : str
        """
        self._put(variant_edits.renamed(self.design, name, new), description=f"{name} is {new} now")

    def make_variant_the_design(self, name: str) -> None:
        """Make a variant the design; the former design takes its place among the variants.

        Parameters
        ----------
        name : str
            Name of the variant.
        """
        made = variant_edits.made_the_design(self.design, name)
        self._put(made, description=f"{name} made the design")

    def _pinned_with_present_variants(self, pin: Pin | None) -> Design:
        return pinned_with_present_variants(pin, self.design, self.document_number)

    @property
    def can_undo_design(self) -> bool:
        """Whether `undo` would leave the builder's own shelf as it is."""
        return self.can_undo and self._history.now.shelf is None

    @property
    def can_redo_design(self) -> bool:
        """Whether `redo` would leave the builder's own shelf as it is."""
        return self.can_redo and self._history.steps[self._history.at + 1].shelf is None

    # --- the shelf --------------------------------------------------------------------------

    @property
    def own_threads(self) -> tuple[Thread, ...]:
        """Threads of the shelf that did not come with Turnlight."""
        return own_threads.own_threads(self.shelf)

    @property
    def private_threads(self) -> tuple[Thread, ...]:
        """The builder's own threads that the open design does not name."""
        return own_threads.private_threads(self.shelf, [self.design])

    @property
    def shelf_to_choose_from(self) -> Shelf:
        """The shelf of new threads: the whole one, and for guests one without private threads.

        Guests (`files_protected`) may also use the threads of the design's variants and of what
        they have pinned, because they may go back to those.
        """
        if not self._files_protected:
            return self.shelf
        designs = [made for _, made in variants(self.design)]
        return own_threads.without_private(self.shelf, [*designs, *self._known_designs])

    def put_thread(self, thread: Thread) -> None:
        """Put a thread on the builder's own shelf; it replaces a thread of the same name.

        Parameters
        ----------
        thread : Thread

        Raises
        ------
        DesignProblem
            If the document has no file and so no shelf yet, or the design cannot be wound with the
            thread.
        ShelfProblem
            If it cannot be written.
        """
        path = self._own_shelf()
        text = own_shelf.text_of(path)
        previous = None if text is None else Shelf.parse(text, path).get(thread.name)
        edit = ShelfEdit(path, text, own_shelf.with_thread(text, thread, path))
        design = self.design
        if self._given_shelf is None and design.shelf is None:
            design = design_from({**document_of(design), "shelf": path.name})
        try:
            self._put(design, description=_describe(thread, previous), edit=edit)
        except DesignProblem as problem:
            raise DesignProblem(f"the design cannot be wound with that: {problem}") from None

    def drop_thread(self, name: str) -> None:
        """Remove a thread from the builder's own shelf.

        Parameters
        ----------
        name : str
            Name of the thread.

        Raises
        ------
        DesignProblem
            If the design, or one saved beside it, uses the thread, and no shipped thread has its
            name.
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
        remaining = shelf_with_own(edit.after, path)
        try:
            check_all_threads(self.design, remaining)
        except DesignProblem as problem:
            raise DesignProblem(
                f'"{printable(name)}" is in use; change {problem.field} first.', field=problem.field
            ) from None
        if user := own_shelf.design_missing_thread(path, shelf_with_own(text, path), remaining):
            mine = self.path is not None and user == self.path.name
            raise DesignProblem(
                f'"{printable(name)}" is in use in "{printable(user)}"'
                + (
                    " as it is saved; save the design first."
                    if mine
                    else "; change it there first."
                )
            )
        removed = Shelf.parse(text, path).thread(name)
        self._put(self.design, description=f"{removed.name} taken off your shelf", edit=edit)

    def _own_shelf(self) -> Path:
        if self.shelf_path is None:
            raise DesignProblem(
                "your own shelf is a file beside the design; save the design first."
            )
        return self.shelf_path

    # --- inside ------------------------------------------------------------------------------

    def _edit_list(
        self, make: Callable[[Design], Design], description: str = "", units: Units | None = None
    ) -> None:
        self._put(changed_in_units(self.design, make, units), description=description)

    def _refuse_other_files(self, design: Design, edit: ShelfEdit | None) -> None:
        super()._refuse_other_files(design, edit)
        given = with_new_variants_only(design, self.design)
        check_all_threads(given, self.shelf_to_choose_from)

    def _document_replaced(self) -> None:
        super()._document_replaced()
        self.document_number += 1


def _describe(thread: Thread, previous: Thread | None) -> str:
    """Describe in a few words how a thread differs from the previous one of its name."""
    if previous is None:
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
    changed = [
        value for name, value in words.items() if getattr(thread, name) != getattr(previous, name)
    ]
    return f"{thread.name} on your shelf: {', '.join(changed[:2]) or 'its name'}"
