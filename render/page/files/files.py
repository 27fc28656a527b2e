"""The file menu: open, save, samples, undo and redo; recovery; changes of the file on disk."""

import base64
import json
from collections.abc import Callable
from importlib import resources
from itertools import islice
from pathlib import Path
from typing import Any

from materials.ordinary import read_ordinary
from render.common.plain_name import plain_name
from render.editor.designs import is_design
from render.editor.desk import Desk
from render.editor.recovery import LostWork, find_lost_work
from render.page.cards.cards import attempt
from render.page.cards.pending import pending_words
from render.page.cards.shelf_threads import sentences_naming
from render.page.server.arguments import Flag, Line, Refused
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.workers.background import try_in_background
from scenes.files import samples, storage
from scenes.files.neighbours import neighbours
from scenes.files.state_folder import state_folder
from scenes.problems import DesignProblem, is_encodable, printable, shown

__all__ = ["THUMBNAILS", "Files", "attach", "picture_of_sample"]

Json = dict[str, Any]

THUMBNAILS = "thumbnails"
"""Folder of small pictures of the samples, in this package."""

_MOST_RECENT = 12
_MOST_LISTED = 200

_MOST_EXAMINED = 1000
"""Files beside a design that are opened to find the designs among them."""

_MOST_RECENT_BYTES = 100_000
"""Size limit of the list of recent files: a dozen of the longest paths."""


def attach(page: Host) -> "Files":
    """Add the file menu to the page.

    Parameters
    ----------
    page : Host
    """
    return Files(page)


class Files:
    """The file menu of one page.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self.page = page
        self.state = page.state
        self._lost = {lost.key: lost for lost in self._find_lost()}
        self.state.desk_disk = "same"
        self.state.file_lost = [_lost_state(lost) for lost in self._lost.values()]
        self.show()
        self.desk.on_change(self.show)
        for name, right in _METHODS.items():
            page.methods.declare(name, right, getattr(self, name))
        page.on_tick(self._tick)
        page.on_close(self._close)
        self._remember()

    @property
    def desk(self) -> Desk:
        """The open document."""
        return self.page.desk

    def show(self) -> None:
        """Update the state of the file menu from the document."""
        desk = self.desk
        with self.state:
            self.state.desk_called = printable(desk.called, 255)
            self.state.desk_path = "" if desk.path is None else str(desk.path.absolute())
            self.state.desk_title = desk.title
            self.state.desk_changed = desk.changed or bool(desk.pending)
            self.state.desk_undo = desk.undo_description if desk.can_undo else None
            self.state.desk_redo = desk.redo_description if desk.can_redo else None
            # A guest cannot undo changes of the shelf.
            self.state.guest_undo = (
                self._for_guests(desk.undo_description) if desk.can_undo_design else None
            )
            self.state.guest_redo = (
                self._for_guests(desk.redo_description) if desk.can_redo_design else None
            )
            self.state.desk_disk = desk.disk().value

    def replace_document(
        self, do: Callable[[], object], status: Callable[[], str], discard: bool
    ) -> Json:
        """Replace the document, after the question about unsaved changes.

        Parameters
        ----------
        do : callable
            Replaces it; called without arguments.
        status : callable
            Returns the sentence for the status line when that is done.
        discard : bool
            Discard unsaved changes without asking.

        Returns
        -------
        dict
            The answer to an edit (`render.page.cards.cards.attempt`).
        """
        question = self._unsaved_question(discard)
        if question:
            return question
        return self._attempt(do, "", lambda: self.page.show_status(status()))

    # --- methods that a browser may call -----------------------------------------------------

    def desk_undo(self, client: Client) -> Json:
        """Undo the last change.

        Parameters
        ----------
        client : Client
        """
        return self._step(client, self.desk.undo, "taken back", self.desk.undo_description)

    def desk_redo(self, client: Client) -> Json:
        """Redo the change that was undone last.

        Parameters
        ----------
        client : Client
        """
        return self._step(client, self.desk.redo, "made again", self.desk.redo_description)

    def file_samples(self) -> list[Json]:
        """List the samples, with their pictures."""
        return [
            {
                "name": name,
                "title": samples.load(name).title,
                "shows": samples.summary(name),
                "picture": picture_of_sample(name),
            }
            for name in samples.names()
        ]

    def file_places(self) -> Json:
        """List the designs beside this one and recent files, and propose a name to save under."""
        folder = self.desk.folder
        examined = islice(neighbours(folder, (".toml",)), _MOST_EXAMINED)
        beside = [path.name for path in examined if is_encodable(path.name) and is_design(path)]
        return {
            "folder": printable(str(folder), 300),
            "beside": beside[:_MOST_LISTED],
            "recent": self._recent(),
            "proposed": self._proposed_name(),
        }

    async def file_open(self, path: Line, discard: Flag = False) -> Json:
        """Open another document.

        Parameters
        ----------
        path : Line
        discard : Flag
            Discard unsaved changes without asking.
        """
        await try_in_background(lambda: self.desk.check_open_file(Path(path)))
        return self._unsaved_question(discard) or self._attempt(
            lambda: self.desk.open_file(Path(path)), f"Opened {path}.", self._remember
        )

    def file_new(self, sample: Line, discard: Flag = False) -> Json:
        """Start a new document from a sample.

        Parameters
        ----------
        sample : Line
            Name of the sample.
        discard : Flag
            Discard unsaved changes without asking.
        """
        return self._unsaved_question(discard) or self._attempt(
            lambda: self.desk.open_sample(sample), f"New from the sample {sample}."
        )

    def file_save(self, over: Flag = False) -> Json:
        """Save to the document's file.

        Parameters
        ----------
        over : Flag
            Overwrite the file even if another program has changed it.
        """
        return self._attempt(lambda: self.desk.save(over=over), self._saved())

    def file_save_as(self, path: Line, over: Flag = False) -> Json:
        """Save to another file.

        Parameters
        ----------
        path : Line
        over : Flag
            Overwrite an existing file.
        """
        return self._attempt(
            lambda: self.desk.save_as(_named(path), over=over), self._saved(), self._remember
        )

    async def file_reload(self, discard: Flag = False) -> Json:
        """Read the document's file again.

        Parameters
        ----------
        discard : Flag
            Discard unsaved changes without asking.
        """
        if self.desk.path is not None:
            path = self.desk.path
            await try_in_background(lambda: self.desk.check_open_file(path))
        return self._unsaved_question(discard) or self._attempt(self.desk.reload, "Read anew.")

    def file_keep_mine(self) -> Json:
        """Keep the document as it is here; saving will overwrite the file."""
        return attempt(self.desk, self.desk.keep_mine)

    async def file_recover(self, key: Line, discard: Flag = False) -> Json:
        """Open unsaved work of a program that was ended.

        Parameters
        ----------
        key : Line
            Identifier of the work.
        discard : Flag
            Discard unsaved changes of the open document without asking.
        """
        question = self._unsaved_question(discard)
        if question:
            return question
        lost = self._lost_work(key)
        await try_in_background(lambda: self.desk.check_recover(lost))
        answer = self._attempt(lambda: self.desk.recover(lost), "Recovered; save it to keep it.")
        if not answer["problem"]:
            self._forget_lost(key)
        return answer

    def file_forget(self, key: Line) -> None:
        """Delete unsaved work of a program that was ended.

        Parameters
        ----------
        key : Line
            Identifier of the work.
        """
        self._lost_work(key).discard()
        self._forget_lost(key)

    # --- inside ------------------------------------------------------------------------------

    def _lost_work(self, key: str) -> LostWork:
        if key not in self._lost:
            raise Refused(f"{shown(key)} is no unsaved work that is kept here.")
        return self._lost[key]

    def _attempt(
        self, do: Callable[[], object], status: str, after: Callable[[], None] | None = None
    ) -> Json:
        answer = attempt(self.desk, do)
        if not answer["problem"]:
            if after is not None:
                after()
            if status:
                self.page.show_status(status)
        return answer

    def _for_guests(self, description: str) -> str:
        """The description of a change, unless it names a thread that guests may not know."""
        private = sentences_naming(self.desk.private_threads, [description])
        return "a change of thread" if private else description

    def _step(self, client: Client, move: Callable[[], str], done: str, description: str) -> Json:
        """Undo or redo a change, and show the outcome in the client's status line."""
        obstacles: list[str] = []
        answer = attempt(self.desk, lambda: obstacles.append(move()))
        if answer["problem"]:
            self.page.show_status(answer["problem"], client=client)
        elif obstacles[0]:
            self.page.show_status(f"Not {done} on your shelf: {obstacles[0]}", client=client)
        elif description:
            # A guest's step is none of the shelf.
            words = description if client.is_owner else self._for_guests(description)
            self.page.show_status(f"{done.capitalize()}: {words}.", client=client)
        return answer

    def _saved(self) -> str:
        """Sentence for a save: the file has the design as the picture shows it."""
        left = pending_words(self.desk, self.desk.design.units)
        return f"Saved, without what does not fit yet: {left}." if left else "Saved."

    def _unsaved_question(self, discard: bool) -> Json | None:
        """The question whether to discard unsaved changes; None if there are none."""
        if discard or not (self.desk.changed or self.desk.pending):
            return None
        open_values = pending_words(self.desk, self.desk.design.units)
        return {
            "problem": f'"{self.desk.called}" has changes that are not saved.'
            if self.desk.changed
            else f"Typed, and not in the design yet: {open_values}. It would be gone.",
            "field": "",
            "ask": True,
        }

    def _find_lost(self) -> list[LostWork]:
        """Find unsaved work that this page may open."""
        found = []
        for lost in find_lost_work():
            if self.desk.can_reach(lost.snapshot.path):
                found.append(lost)
            else:
                lost.slot.close()
        return found

    def _forget_lost(self, key: str) -> None:
        del self._lost[key]
        with self.state:
            self.state.file_lost = [_lost_state(lost) for lost in self._lost.values()]

    def _tick(self) -> None:
        self.desk.autosave()
        if self.desk.autosave_problem and self.page.status != self.desk.autosave_problem:
            self.page.show_status(self.desk.autosave_problem)
        disk = self.desk.disk().value
        if disk != self.state.desk_disk:
            with self.state:
                self.state.desk_disk = disk

    def _close(self) -> None:
        for lost in self._lost.values():
            lost.slot.close()
        self.desk.close()

    def _proposed_name(self) -> str:
        """A name for the document's file: by its title, unless that is still a sample's own."""
        desk = self.desk
        if desk.path is not None:
            return printable(desk.path.name, 255)
        if desk.called in samples.names() and samples.load(desk.called).title == desk.title:
            return f"my-{desk.called}.toml"
        return f"{plain_name(desk.title) or desk.called}.toml"

    def _recent(self) -> list[str]:
        try:
            data, _ = read_ordinary(state_folder() / "recent.json", _MOST_RECENT_BYTES)
            listed = json.loads(data)
        except (OSError, ValueError, RecursionError):
            return []
        listed = listed[:_MOST_RECENT] if isinstance(listed, list) else []
        paths = [entry for entry in listed if isinstance(entry, str)]
        return [path for path in paths if self.desk.can_reach(path) and Path(path).is_file()]

    def _remember(self) -> None:
        """Put the document's file at the head of the list of recent files."""
        if self.desk.path is None:
            return
        path = str(self.desk.path.absolute())
        listed = [path, *(recent for recent in self._recent() if recent != path)][:_MOST_RECENT]
        try:
            storage.replace(state_folder() / "recent.json", json.dumps(listed))
        except (DesignProblem, OSError):
            pass  # the list of recent files is not important enough for a message


_METHODS = {
    "desk_undo": Right.EDIT,
    "desk_redo": Right.EDIT,
    "file_samples": Right.OWN,
    "file_places": Right.OWN,
    "file_open": Right.OWN,
    "file_new": Right.OWN,
    "file_save": Right.OWN,
    "file_save_as": Right.OWN,
    "file_reload": Right.OWN,
    "file_keep_mine": Right.OWN,
    "file_recover": Right.OWN,
    "file_forget": Right.OWN,
}


def _lost_state(lost: LostWork) -> Json:
    snapshot = lost.snapshot
    return {
        "key": lost.key,
        "called": printable(
            Path(snapshot.path).name if snapshot.path else f"{snapshot.name}, not saved yet", 100
        ),
        "path": printable(snapshot.path, 300),
        "when": snapshot.when,
    }


def _named(path: str) -> Path:
    if not path.strip():
        raise DesignProblem("a name is missing; give one such as my-wrap.toml.")
    return Path(path.strip())


def picture_of_sample(name: str) -> str:
    """Give a sample's small picture as a data URL; empty if there is none.

    Parameters
    ----------
    name : str
        Name of the sample.
    """
    file = resources.files("render.page.files") / THUMBNAILS / f"{name}.jpg"
    if not file.is_file():
        return ""
    return "data:image/jpeg;base64," + base64.b64encode(file.read_bytes()).decode("ascii")
