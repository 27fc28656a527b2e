"""The open document and its file: how it stands, what was taken back, and what is not saved.

A document is replaced as a whole or not at all, its file is never written over unasked, and what
is not saved is written down elsewhere at every change.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

from materials.shelf import Shelf, ShelfProblem
from materials.thread import Thread
from render.editor.designs import is_design, refuse_hidden, refuse_other, refuse_unsendable
from render.editor.disk import DiskState, FileThere, WatchedFile
from render.editor.history import History, Step, Text
from render.editor.recovery import Lost, Sheet, Slot
from render.editor.shelf_edits import ShelfEdit, shelf_with
from render.request.options import SAMPLE
from render.request.subject import Subject
from scenes.artwork.shipped import shipped_names
from scenes.building.build import Plan
from scenes.design.document import Design, document_of
from scenes.design.threads import check_threads
from scenes.files import companion_files, own_shelf, samples, storage
from scenes.files.companion_files import SHIPPED, Beside, file_names
from scenes.problems import DesignProblem, printable

__all__ = ["Opened"]

_ENDING = ".toml"

OWN_SHELF = "my-shelf.toml"
"""What the builder's own shelf is called if the design names none."""


class Opened:
    """An open document, its file and its history.

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
        self.revision = 0
        self.not_kept = ""
        self._listeners: list[Callable[[], None]] = []
        self._given_shelf = shelf
        self._within = within
        self._slot = slot
        self._files_kept = False
        self._saved = ""
        self._saved_document: dict[str, Any] = {}
        self._watched: WatchedFile | None = None
        self._lay(text, path, name)

    @classmethod
    def open(
        cls,
        file: str,
        shelf: Path | None = None,
        *,
        within: Path | None = None,
        slot: Slot | None = None,
    ) -> Self:
        """Open a design file, or a sample called ``sample:`` and its name.

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

    # --- what is on it ----------------------------------------------------------------------

    @property
    def design(self) -> Design:
        """The design as it stands."""
        return self._history.now.design

    @property
    def subject(self) -> Subject:
        """What is drawn: the design without its variants, and its threads."""
        return Subject(self.design.without_variants(), self.shelf, self.beside)

    @property
    def beside(self) -> Beside:
        """Where the design's pictures, charts and fonts are."""
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
        """What the document is called: its file, or the sample that it began as."""
        return self.path.name if self.path is not None else self._name

    @property
    def folder(self) -> Path:
        """Where documents are looked for first."""
        if self.path is not None:
            return self.path.absolute().parent
        return (self._within or Path()).absolute()

    @property
    def shelf_path(self) -> Path | None:
        """The builder's own shelf file; None if there is none and no place for one."""
        return self._shelf_file(self.design)

    @property
    def own_threads(self) -> tuple[Thread, ...]:
        """What is on the shelf that did not come with Turnlight."""
        shipped = Shelf.shipped()
        return tuple(one for one in self.shelf.threads if shipped.get(one.name) is not one)

    def reaches(self, path: str) -> bool:
        """Whether a file may be opened from here; a document without a file may always."""
        try:
            self._reached(Path(path or "any.toml"))
        except DesignProblem:
            return False
        return True

    @property
    def changed(self) -> bool:
        """Whether there is anything that is not saved."""
        # The text takes a while to work out, and is seldom needed to see that it has changed.
        return document_of(self.design) != self._saved_document or self.text != self._saved

    def on_change(self, callback: Callable[[], None]) -> None:
        """Call back after every change of the document, the pin or the file."""
        self._listeners.append(callback)

    # --- what was changed --------------------------------------------------------------------

    def undo(self) -> str:
        """Take back the last change, if there is one, on the builder's own shelf too.

        Returns
        -------
        str
            Why the shelf was left as it is, if it was (see `render.editor.shelf_edits`).

        Raises
        ------
        DesignProblem, ShelfProblem
            If the design before it is not right with what is on the shelf since; then nothing
            has changed.
        """
        return self._go(self._history.at - 1)

    def redo(self) -> str:
        """Make the change again that was taken back last, if there is one; as `undo`."""
        return self._go(self._history.at + 1)

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return self._history.at > 0

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to make again."""
        return self._history.at + 1 < len(self._history.steps)

    @property
    def undo_told(self) -> str:
        """What `undo` takes back, in words."""
        return self._history.now.told if self.can_undo else ""

    @property
    def redo_told(self) -> str:
        """What `redo` makes again, in words."""
        return self._history.steps[self._history.at + 1].told if self.can_redo else ""

    # --- files ------------------------------------------------------------------------------

    def open_file(self, path: Path) -> None:
        """Open another file in place of the document.

        Raises
        ------
        DesignProblem, ShelfProblem
            If it cannot be opened; then the document stays.
        """
        path = self._reached(path)
        text = storage.read(path)
        if not is_design(path):
            raise DesignProblem(f'"{printable(path.name)}" is no design; give another file.')
        self._replace(text, path, "")

    def try_file(self, path: Path) -> None:
        """Read and check another file as `open_file` would, and let the document stay.

        Unlike that it may be called from another thread.
        """
        path = self._reached(path)
        self._read(storage.read(path), path, "")

    def open_sample(self, name: str) -> None:
        """Begin a new document from a sample."""
        self._replace(samples.text(name), None, name)

    def reload(self) -> None:
        """Read the document's file anew, and let go of what is not saved.

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
            Write it even though another program has changed the file.

        Raises
        ------
        FileThere
            If the file has been changed by another program, and not `over`.
        DesignProblem
            If the document has no file yet, or it cannot be written.
        """
        if self.path is None:
            raise DesignProblem("the design has no file yet; save it under a name.")
        if not self._history.text.kept:
            raise DesignProblem(
                f'"{printable(self.path.name)}" is laid out in a way that cannot be changed in '
                "place; save under another name."
            )
        was = None if over or self._watched is None else self._watched.text
        try:
            if was is None:
                storage.replace(self.path, self.text)
            else:
                storage.update(self.path, self.text, was)
        except storage.FileChanged:
            raise FileThere(
                f'"{printable(self.path.name)}" was changed by another program since it was '
                "opened; read it anew, save under another name, or write over it."
            ) from None
        self._saved_to(self.path)

    def save_as(self, path: Path, *, over: bool = False) -> None:
        """Write the document to another file, which is its file from now on.

        The builder's own shelf goes along where there is none beside the new file.

        Parameters
        ----------
        path : Path
            ``.toml`` is put behind a name without it.
        over : bool
            Write over a file that is there.

        Raises
        ------
        FileThere
            If there is such a file, and not `over`.
        DesignProblem
            If it cannot be written.
        """
        path = self._reached(
            path if path.suffix == _ENDING else path.with_name(path.name + _ENDING)
        )
        if self.path is not None and path == self.path.absolute():
            self.save(over=over)
            return
        refuse_other(path)
        there = f'"{printable(path.name)}" is there already; write over it?'
        if os.path.lexists(path) and not over:
            raise FileThere(there)
        if self.design.shelf is not None and self.path is not None:
            own_shelf.carry(self.design.shelf, self.path.absolute().parent, path.parent)
        if self.path is not None:
            companion_files.carry(self.design, self.path.absolute().parent, path.parent)
        try:
            if over:
                storage.replace(path, self.text)
            else:
                storage.create(self.text, path)
        except storage.NameTaken:
            raise FileThere(there) from None
        self._saved_to(path)

    def disk(self) -> DiskState:
        """Find out whether another program has changed the document's file."""
        return DiskState.SAME if self._watched is None else self._watched.state()

    def keep_mine(self) -> None:
        """Stop asking about the change on disk; saving will write over it.

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
            self._tell()

    @contextmanager
    def files_kept(self) -> Iterator[None]:
        """Refuse, meanwhile, changes that name other files or touch the shelf: for guests."""
        before, self._files_kept = self._files_kept, True
        try:
            yield
        finally:
            self._files_kept = before

    # --- unsaved work -----------------------------------------------------------------------

    def autosave(self) -> None:
        """Write down what is not saved, if that is still to be done."""
        if self._to_write:
            self._autosave()

    def recover(self, lost: Lost) -> None:
        """Take up unsaved work of a program that was ended; what is here is let go.

        Raises
        ------
        DesignProblem, ShelfProblem
            If it is no longer right, because its shelf is gone, say; then it stays to be offered.
        """
        sheet = lost.sheet
        path = Path(sheet.path) if sheet.path else None
        self._replace(sheet.text, path, sheet.name)
        self._saved, self._saved_document = sheet.saved, {}
        if path is not None:
            self._watched = WatchedFile(path, sheet.saved)
        self._autosave()
        lost.discard()
        self._tell()

    def try_lost(self, lost: Lost) -> None:
        """Read and check unsaved work as `recover` would, from any thread."""
        self._read(lost.sheet.text, Path(lost.sheet.path) if lost.sheet.path else None, "")

    def close(self, *, discard: bool = False) -> None:
        """Put the document away.

        Parameters
        ----------
        discard : bool
            Forget what is not saved; otherwise it is offered at the next start.
        """
        if self._slot is not None:
            if discard or not self.changed:
                self._slot.clear()
            else:
                self._autosave()
            self._slot.close()
            self._slot = None

    # --- inside -----------------------------------------------------------------------------

    def _read(self, text: str, path: Path | None, name: str) -> tuple[Design, Shelf]:
        told = f'"{printable(str(path), 300)}"' if path is not None else name
        design = storage.parse(text, told)
        shelf = self._shelf_of(design, path)
        self._check(design, shelf, _beside(path))
        return design, shelf

    def _lay(self, text: str, path: Path | None, name: str) -> None:
        """Take a document; nothing here has changed if it is refused."""
        design, shelf = self._read(text, path, name)
        self.shelf, self.path, self._name = shelf, path, name
        self._history = History(design, text)
        self._saved, self._saved_document = text, document_of(design)
        self._to_write = False
        self._watched = None if path is None else WatchedFile(path, text)

    def _replace(self, text: str, path: Path | None, name: str) -> None:
        self._lay(text, path, name)
        self.revision += 1
        self._forget()
        if self._slot is not None:
            self._slot.clear()
        self._tell()

    def _forget(self) -> None:
        """Let go of what belonged to the document before."""

    def _shelf_of(self, design: Design, path: Path | None) -> Shelf:
        if self._given_shelf is not None:
            return Shelf.shipped().with_own(Shelf.load(self._given_shelf))
        if path is not None:
            return storage.shelf_for(design, path)
        return Shelf.shipped()

    def _shelf_file(self, design: Design) -> Path | None:
        if self._given_shelf is not None:
            return self._given_shelf
        if self.path is None:
            return None
        return self.path.absolute().parent / (design.shelf or OWN_SHELF)

    def _reached(self, path: Path) -> Path:
        """Check that a file is where the page may reach."""
        try:
            path = Path(os.path.abspath(self.folder / path.expanduser()))
            os.path.realpath(path)
        except (RuntimeError, ValueError):  # no such user's home, or no name of a file
            raise DesignProblem(
                f'"{printable(str(path), 300)}" is no name of a file; give another.'
            ) from None
        refuse_unsendable(path)
        refuse_hidden(path, self.folder)
        if self._within is not None:
            within = Path(os.path.realpath(self._within))
            if within not in Path(os.path.realpath(path)).parents:
                raise DesignProblem(
                    f'"{printable(str(path), 300)}" is not in the folder that this page may '
                    f'reach, "{printable(str(within), 300)}"; give a name in it.'
                )
        return path

    @staticmethod
    def _check(design: Design, shelf: Shelf, beside: Beside) -> None:
        """Check what the model cannot: threads and files are there and the wrap can be wound."""
        check_threads(design, shelf)
        Plan(design.without_variants(), shelf, beside).prepare()

    def _put(
        self, design: Design, gesture: str = "", told: str = "", edit: ShelfEdit | None = None
    ) -> None:
        """Go on to a changed design, and with it to a changed shelf."""
        if self._files_kept:
            self._refuse_other_files(design, edit)
        shelf = self.shelf if edit is None else shelf_with(edit.after, edit.path)
        self._check(design, shelf, self.beside)
        if edit is not None:
            edit.make()
        if not self._history.put(design, gesture, told, edit) and edit is None:
            return
        self.shelf = shelf
        self.revision += 1
        if gesture:
            self._to_write = True
        else:
            self._autosave()
        self._tell()

    def _refuse_other_files(self, design: Design, edit: ShelfEdit | None) -> None:
        if edit is not None:
            raise DesignProblem("the builder's own shelf is not for guests to change.")
        known = {name for _, name in file_names(self.design)}
        for field, name in file_names(design):
            if name not in known and name not in shipped_names():
                raise DesignProblem(
                    f"{field}: a guest cannot name other files; choose one that came with "
                    "Turnlight.",
                    field=field,
                )

    def _go(self, at: int) -> str:
        steps, was = self._history.steps, self._history.at
        if not 0 <= at < len(steps) or at == was:
            return ""
        design, back = steps[at].design, at < was
        edit = self._shelf_edit(steps[max(at, was)], back)
        if self._files_kept:
            self._refuse_other_files(self.design, edit)
        stays = "" if edit is None else edit.hindered(design)
        shelf = self.shelf
        if edit is not None and not stays:
            named = self._given_shelf is not None or design.shelf is not None
            shelf = shelf_with(edit.after if named else None, edit.path)
        elif stays or design.shelf != self.design.shelf:
            edit, shelf = None, self._shelf_of(design, self.path)
        self._check(design, shelf, self.beside)
        # Were the program killed in between, what is written down must find its threads: a design
        # to go back to is right with both shelves, one to go on to only with the new one.
        if edit is not None and not back:
            edit.make()
        self._history.at, self.shelf = at, shelf
        self.revision += 1
        self._autosave()
        if edit is not None and back:
            try:
                edit.make()
            except ShelfProblem as problem:
                self.shelf, stays = self._shelf_of(design, self.path), str(problem)
        self._tell()
        return stays

    def _shelf_edit(self, step: Step, back: bool) -> ShelfEdit | None:
        """What a step means for the shelf, which may have gone along to another folder."""
        path = self._shelf_file(step.design)
        if step.shelf is None or path is None:
            return None
        edit = replace(step.shelf, path=path)
        return edit.back if back else edit

    def _autosave(self) -> None:
        self._to_write = False
        if self._slot is None or not self.changed:
            return self._slot.clear() if self._slot is not None else None
        path = "" if self.path is None else str(self.path.absolute())
        try:
            self._slot.write(Sheet(self.text, self._saved, path, self._name))
            self.not_kept = ""
        except DesignProblem as problem:
            # The change itself is made; what is amiss is that it would be lost with the program.
            self.not_kept = f"Unsaved work cannot be written down: {problem}"

    def _saved_to(self, path: Path) -> None:
        text, self.path = self.text, path
        self._history.text = Text(text)
        self._saved, self._saved_document = text, document_of(self.design)
        self._watched = WatchedFile(path, text)
        self._autosave()
        self._tell()

    def _tell(self) -> None:
        for callback in self._listeners:
            callback()


def _beside(path: Path | None) -> Beside:
    """Where the files are that the design of a file names."""
    return SHIPPED if path is None else Beside.of(path)
