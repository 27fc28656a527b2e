"""The open document: its file, its undo history and its unsaved work.

A document is replaced as a whole or not at all. Its file is never overwritten without confirmation.
Unsaved work is written to a recovery file at every change.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

from materials.shelf import Shelf, ShelfProblem
from render.editor import designs, saving
from render.editor.disk import DiskState, WatchedFile
from render.editor.history import History, Step, Text
from render.editor.listeners import Listeners
from render.editor.pending import PendingValue, from_plain, to_plain
from render.editor.recovery import LostWork, Slot, Snapshot
from render.editor.shelf_edits import ShelfEdit, shelf_with_own
from render.editor.shelf_of_new import naming_shelf
from render.request.options import SAMPLE
from render.request.subject import Subject
from scenes.building.build import Plan
from scenes.design.document import Design, document_of
from scenes.design.threads import check_threads
from scenes.design.variants import with_new_variants_only
from scenes.files import companion_files, own_shelf, samples, storage
from scenes.files.companion_files import SHIPPED, CompanionFiles
from scenes.problems import DesignProblem, printable

__all__ = ["DocumentSession"]

_ENDING = ".toml"

OWN_SHELF = "my-shelf.toml"
"""File name of the builder's own shelf if the design names none."""


class DocumentSession(Listeners):
    """An open document, its file and its history.

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
        super().__init__()
        self.revision = 0
        self.autosave_problem = ""
        self.pending: dict[str, PendingValue] = {}
        self._given_shelf = shelf
        self._within = within
        self._slot = slot
        self._files_protected = False
        self._known_designs: tuple[Design, ...] = ()
        self._saved = ""
        self._saved_document: dict[str, Any] = {}
        self._shelf_folder_of_new: Path | None = None
        self._watched: WatchedFile | None = None
        self._load(text, path, name)

    @classmethod
    def open(
        cls,
        file: str,
        shelf: Path | None = None,
        *,
        within: Path | None = None,
        slot: Slot | None = None,
    ) -> Self:
        """Open a design file or a sample.

        Parameters
        ----------
        file : str
            Path of a file, or ``sample:`` and the name of a sample.
        shelf, within, slot : optional
            As for the class.

        Raises
        ------
        DesignProblem, ShelfProblem
        """
        if file.startswith(SAMPLE):
            name = file.removeprefix(SAMPLE)
            return cls(samples.text(name), name=name, shelf=shelf, within=within, slot=slot)
        path = Path(file)
        text = storage.read(path)
        return cls(text, path, shelf=shelf, within=within, slot=slot)

    @property
    def design(self) -> Design:
        """The current design, seen from the wrap that is worked at."""
        return self._history.now.design

    @property
    def subject(self) -> Subject:
        """What is drawn: the design without its variants, its threads and companion files."""
        return Subject(self.design.without_variants(), self.shelf, self.beside)

    @property
    def beside(self) -> CompanionFiles:
        """Access to the design's pictures, charts and fonts."""
        return _beside(self.path)

    @property
    def text(self) -> str:
        """The document as it would be saved."""
        return self._history.text.text

    @property
    def title(self) -> str:
        """The design's own title."""
        return self.design.title

    @property
    def called(self) -> str:
        """Name of the document: of its file, or of the sample that it was made from."""
        return self.path.name if self.path is not None else self._name

    @property
    def folder(self) -> Path:
        """Folder in which relative paths are resolved."""
        if self.path is not None:
            return self.path.absolute().parent
        return (self._within or Path()).absolute()

    @property
    def shelf_path(self) -> Path | None:
        """The builder's own shelf file, existing or not; None while the document has no file."""
        return self._shelf_file(self.design)

    def can_reach(self, path: str) -> bool:
        """Return whether a file may be opened by this session.

        Parameters
        ----------
        path : str
            Path of the file; empty for a document without a file, which may always be opened.
        """
        try:
            self._checked_path(Path(path or "any.toml"))
        except DesignProblem:
            return False
        return True

    @property
    def changed(self) -> bool:
        """Whether there is unsaved work."""
        # Computing the text takes a while, and is seldom needed to detect a change.
        now = document_of(self._history.now.document)
        return now != self._saved_document or self.text != self._saved

    # --- history ------------------------------------------------------------------------------

    def undo(self) -> str:
        """Undo the last change, if there is one, on the builder's own shelf too.

        Returns
        -------
        str
            Reason why the shelf was left unchanged, if it was (see `render.editor.shelf_edits`);
            else empty.

        Raises
        ------
        DesignProblem, ShelfProblem
            If the earlier design is not valid with the present shelf; then nothing has changed.
        """
        return self._go_to(self._history.at - 1)

    def redo(self) -> str:
        """Redo the change that was undone last, if there is one; otherwise as `undo`."""
        return self._go_to(self._history.at + 1)

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to undo."""
        return self._history.at > 0

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to redo."""
        return self._history.at + 1 < len(self._history.steps)

    @property
    def undo_description(self) -> str:
        """The change that `undo` undoes, in words."""
        return self._history.now.description if self.can_undo else ""

    @property
    def redo_description(self) -> str:
        """The change that `redo` makes again, in words."""
        return self._history.steps[self._history.at + 1].description if self.can_redo else ""

    # --- files ------------------------------------------------------------------------------

    def open_file(self, path: Path) -> None:
        """Replace the document by another file.

        Parameters
        ----------
        path : Path

        Raises
        ------
        DesignProblem, ShelfProblem
            If it cannot be opened; then the document stays.
        """
        path = self._checked_path(path)
        text = storage.read(path)
        if not designs.is_design(path):
            raise DesignProblem(f'"{printable(path.name)}" is no design; give another file.')
        self._replace(text, path, "")

    def check_open_file(self, path: Path) -> None:
        """Check what `open_file` would do and change nothing. It may run in any thread.

        Parameters
        ----------
        path : Path
        """
        path = self._checked_path(path)
        self._read(storage.read(path), path, "", None)

    def open_sample(self, name: str) -> None:
        """Replace the document by a new one made from a sample.

        Parameters
        ----------
        name : str
            Name of the sample.
        """
        self._begin(samples.text(name), name)

    def reload(self) -> None:
        """Read the document's file again and discard unsaved work.

        Raises
        ------
        DesignProblem
        """
        if self.path is None:
            raise DesignProblem(f"{self.called} has no file to read; save it under a name.")
        self._replace(storage.read(self.path), self.path, "")

    def save(self, *, over: bool = False) -> None:
        """Write the document to its file.

        Parameters
        ----------
        over : bool
            Overwrite the file even if another program has changed it.

        Raises
        ------
        OverwriteRefused
            If another program has changed the file, and `over` is false.
        DesignProblem
            If the document has no file yet, or it cannot be written.
        """
        if self.path is None:
            raise DesignProblem("the design has no file yet; save it under a name.")
        if not self._history.text.comments_kept:
            raise DesignProblem(
                f'"{printable(self.path.name)}" is laid out in a way that cannot be changed in '
                "place; save under another name."
            )
        expected = None if over or self._watched is None else self._watched.text
        saving.write_again(self.path, self.text, expected)
        self._saved_to(self.path)

    def save_as(self, path: Path, *, over: bool = False) -> None:
        """Write the document to another file, which is its file from now on.

        The builder's own shelf and the companion files are copied where there are none beside the
        new file.

        Parameters
        ----------
        path : Path
            ``.toml`` is appended if missing.
        over : bool
            Overwrite an existing file.

        Raises
        ------
        OverwriteRefused
            If the file exists, and `over` is false.
        DesignProblem
            If it cannot be written.
        """
        if path.suffix != _ENDING:
            path = path.with_name(path.name + _ENDING)
        path = self._checked_path(path)
        if self.path is not None and path == self.path.absolute():
            self.save(over=over)
            return
        saving.refuse_taken(path, over=over)
        if self.design.shelf is not None and self._shelf_folder is not None:
            own_shelf.copy_shelf(self.design.shelf, self._shelf_folder, path.parent)
        if self.path is not None:
            companion_files.copy_files(self.design, self.path.absolute().parent, path.parent)
        saving.write_as(path, self.text, over=over)
        self._saved_to(path)

    def disk(self) -> DiskState:
        """Return whether another program has changed or removed the document's file."""
        return DiskState.SAME if self._watched is None else self._watched.state()

    def keep_mine(self) -> None:
        """Accept the change on disk as known; saving will overwrite it.

        Raises
        ------
        DesignProblem
            If the file cannot be read.
        """
        if self.path is not None:
            self._watched = WatchedFile(self.path, storage.read(self.path))
            # The file no longer holds what was saved here.
            self._saved, self._saved_document = "", {}
            self._autosave()
            self._notify()

    @contextmanager
    def files_protected(self, known: Iterable[Design] = ()) -> Iterator[None]:
        """Refuse, within the context, edits of file names and of the shelf: for guests.

        Parameters
        ----------
        known : iterable of Design
            Designs to which the guest may go back, with the files and threads that they name.
        """
        before = self._files_protected, self._known_designs
        self._files_protected, self._known_designs = True, tuple(known)
        try:
            yield
        finally:
            self._files_protected, self._known_designs = before

    # --- unsaved work -----------------------------------------------------------------------

    def autosave(self) -> None:
        """Write the recovery file, if it is out of date."""
        if self._to_write:
            self._autosave()

    def recover(self, lost: LostWork) -> None:
        """Replace the document by unsaved work of a program that was ended.

        Parameters
        ----------
        lost : LostWork

        Raises
        ------
        DesignProblem, ShelfProblem
            If it is no longer valid, because its shelf is missing for example; then it can still be
            recovered later.
        """
        snapshot = lost.snapshot
        path = Path(snapshot.path) if snapshot.path else None
        self._shelf_folder_of_new = self._recovered_shelf_folder(snapshot)
        self._replace(snapshot.text, path, snapshot.name)
        self._saved, self._saved_document = snapshot.saved, {}
        self.pending = from_plain(snapshot.pending)
        if path is not None:
            self._watched = WatchedFile(path, snapshot.saved)
        self._autosave()
        lost.discard()
        self._notify()

    def check_recover(self, lost: LostWork) -> None:
        """Check what `recover` would do and change nothing. It may run in any thread.

        Parameters
        ----------
        lost : LostWork
        """
        snapshot = lost.snapshot
        path = Path(snapshot.path) if snapshot.path else None
        self._read(snapshot.text, path, "", self._recovered_shelf_folder(snapshot))

    def close(self, *, discard: bool = False) -> None:
        """Close the document.

        Parameters
        ----------
        discard : bool
            Discard unsaved work; otherwise it is offered at the next start.
        """
        if self._slot is not None:
            if discard or not (self.changed or self.pending):
                self._slot.clear()
            else:
                self._autosave()
            self._slot.close()
            self._slot = None

    def _recovered_shelf_folder(self, snapshot: Snapshot) -> Path | None:
        folder = Path(snapshot.shelf_folder)
        allowed = bool(snapshot.shelf_folder) and self.can_reach(str(folder / OWN_SHELF))
        return folder if allowed else None

    def _read(
        self, text: str, path: Path | None, name: str, shelf_folder: Path | None
    ) -> tuple[Design, Shelf]:
        """Read and check a document; `shelf_folder` is that of one without a file."""
        source = f'"{printable(str(path), 300)}"' if path is not None else name
        design = storage.parse(text, source)
        shelf = self._shelf_of(design, shelf_folder if path is None else path.absolute().parent)
        self._check(design, shelf, _beside(path))
        return design, shelf

    def _load(self, text: str, path: Path | None, name: str) -> None:
        """Load a document; nothing has changed if it is refused."""
        design, shelf = self._read(text, path, name, self._shelf_folder_of_new)
        self.shelf, self.path, self._name = shelf, path, name
        self._history = History(design, text)
        self._saved, self._saved_document = text, document_of(design)
        self._to_write = False
        self._watched = None if path is None else WatchedFile(path, text)

    def _replace(self, text: str, path: Path | None, name: str) -> None:
        self._load(text, path, name)
        self.revision += 1
        self.pending = {}
        self._document_replaced()
        if self._slot is not None:
            self._slot.clear()
        self._notify()

    def _document_replaced(self) -> None:
        """Reset state that belonged to the previous document."""

    def _begin(self, text: str, name: str) -> None:
        """Replace the document by a new one without a file, on the builder's open shelf."""
        folder = self._shelf_folder
        if self._given_shelf is None:
            text = naming_shelf(text, self.design.shelf, folder)
        self._shelf_folder_of_new = folder
        self._replace(text, None, name)

    @property
    def _shelf_folder(self) -> Path | None:
        """Folder of the shelf that the design names; None if there is none."""
        return self._shelf_folder_of_new if self.path is None else self.path.absolute().parent

    def _shelf_of(self, design: Design, folder: Path | None) -> Shelf:
        if self._given_shelf is not None:
            return Shelf.shipped().with_own(Shelf.load(self._given_shelf))
        if folder is not None:
            return storage.shelf_for(design, folder / OWN_SHELF)
        return Shelf.shipped()

    def _shelf_file(self, design: Design) -> Path | None:
        if self._given_shelf is not None:
            return self._given_shelf
        if self.path is None:
            return None
        return self.path.absolute().parent / (design.shelf or OWN_SHELF)

    def _checked_path(self, path: Path) -> Path:
        return designs.absolute_path(path, self.folder, self._within)

    @staticmethod
    def _check(design: Design, shelf: Shelf, beside: CompanionFiles) -> None:
        """Check what the model cannot: threads and files exist and the wrap can be wound."""
        check_threads(design, shelf)
        Plan(design.without_variants(), shelf, beside).prepare()

    def _put(
        self,
        design: Design,
        gesture: str = "",
        description: str = "",
        edit: ShelfEdit | None = None,
    ) -> None:
        """Check and record a changed design, and apply its change of the shelf."""
        if self._files_protected:
            self._refuse_other_files(design, edit)
        shelf = self.shelf if edit is None else shelf_with_own(edit.after, edit.path)
        self._check(design, shelf, self.beside)
        if edit is not None:
            edit.apply()
        if not self._history.record(design, gesture, description, edit) and edit is None:
            return
        self.shelf = shelf
        self.revision += 1
        self._notify_ahead()
        if gesture:
            self._to_write = True
        else:
            self._autosave()
        self._notify()

    def _refuse_other_files(self, design: Design, edit: ShelfEdit | None) -> None:
        if edit is not None:
            raise DesignProblem("the builder's own shelf is not for guests to change.")
        # A variant that was set aside and fits again is not what the guest has given.
        given = with_new_variants_only(design, self.design)
        designs.refuse_files_of_no_design(given, (self.design, *self._known_designs))

    def _go_to(self, at: int) -> str:
        """Undo or redo to the step with index `at`; return why the shelf was left unchanged."""
        steps, current = self._history.steps, self._history.at
        if not 0 <= at < len(steps) or at == current:
            return ""
        design, undoing = steps[at].design, at < current
        edit = self._shelf_edit(steps[max(at, current)], undoing)
        if self._files_protected:
            self._refuse_other_files(self.design, edit)
        obstacle = "" if edit is None else edit.obstacle(design)
        shelf = self.shelf
        if edit is not None and not obstacle:
            named = self._given_shelf is not None or design.shelf is not None
            shelf = shelf_with_own(edit.after if named else None, edit.path)
        elif obstacle or design.shelf != self.design.shelf:
            edit, shelf = None, self._shelf_of(design, self._shelf_folder)
        self._check(design, shelf, self.beside)
        # If the program is killed in between, the recovery file must find its threads: an earlier
        # design is valid with both shelves, a later one only with the new shelf.
        if edit is not None and not undoing:
            edit.apply()
        self._history.at, self.shelf = at, shelf
        self.revision += 1
        self._notify_ahead()
        self._autosave()
        if edit is not None and undoing:
            try:
                edit.apply()
            except ShelfProblem as problem:
                self.shelf, obstacle = self._shelf_of(design, self._shelf_folder), str(problem)
        self._notify()
        return obstacle

    def _shelf_edit(self, step: Step, undoing: bool) -> ShelfEdit | None:
        """The shelf edit of a step, for the folder in which the document is now."""
        path = self._shelf_file(step.design)
        if step.shelf is None or path is None:
            return None
        edit = replace(step.shelf, path=path)
        return edit.inverse if undoing else edit

    def _autosave(self) -> None:
        self._to_write = False
        if self._slot is None or not (self.changed or self.pending):
            return self._slot.clear() if self._slot is not None else None
        path = "" if self.path is None else str(self.path.absolute())
        try:
            pending = to_plain(self.pending.values())
            folder = str(self._shelf_folder_of_new or "") if self.path is None else ""
            self._slot.write(
                Snapshot(self.text, self._saved, path, self._name, 0.0, pending, folder)
            )
            self.autosave_problem = ""
        except DesignProblem as problem:
            # The change itself is made, but it would be lost if the program were killed.
            self.autosave_problem = f"Unsaved work cannot be written down: {problem}"

    def _saved_to(self, path: Path) -> None:
        text, self.path = self.text, path
        self._history.text = Text(text)
        self._saved, self._saved_document = text, document_of(self._history.now.document)
        self._watched = WatchedFile(path, text)
        self._autosave()
        self._notify()


def _beside(path: Path | None) -> CompanionFiles:
    """Access to the files that the design of a file names."""
    return SHIPPED if path is None else CompanionFiles.of(path)
