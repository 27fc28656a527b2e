"""The wraps of the rod on the page: which one is worked at; added, renamed, removed."""

from typing import Any

from render.editor.pending import PendingValue
from render.page.cards.cards import attempt
from render.page.server.arguments import Line
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.server.sockets import Client
from scenes.design.field_words import in_words
from scenes.problems import one_of
from scenes.starting.wrap_kinds import WRAP_KINDS

__all__ = ["attach"]

Json = dict[str, Any]


def attach(page: Host) -> None:
    """Add the chooser of the wrap to the page.

    Parameters
    ----------
    page : Host
    """
    Wraps(page)


class Wraps:
    """The wraps of the open document; every client sees the same one.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self._page = page
        for name, answer in (
            ("wrap_work_at", self._work_at),
            ("wrap_add", self._add),
            ("wrap_rename", self._rename),
            ("wrap_remove", self._remove),
        ):
            page.methods.declare(name, Right.EDIT, answer)
        page.desk.on_change(self._show)
        self._show()

    def _show(self) -> None:
        desk = self._page.desk
        self._page.state.form_wraps = {
            "names": list(desk.wrap_names),
            "at": desk.wrap_name,
            "kinds": [{"name": kind.name, "words": kind.description} for kind in WRAP_KINDS],
        }

    def _work_at(self, client: Client, name: Line) -> Json:
        """Show another wrap in picture, cards and figures."""
        dropped: list[PendingValue] = []
        answer = attempt(self._page.desk, lambda: dropped.extend(self._page.desk.work_at(name)))
        if dropped:
            fields = one_of((in_words(f" {one.path}").strip() for one in dropped), "and")
            self._page.show_status(
                f"What was typed for {fields} did not fit, and is left out.", client=client
            )
        return answer

    def _add(self, kind: Line) -> Json:
        """Add a wrap of a kind, or a copy of the wrap that is worked at where none is named."""
        return attempt(self._page.desk, lambda: self._page.desk.add_wrap(kind))

    def _rename(self, new: Line) -> Json:
        """Give the wrap that is worked at another name."""
        return attempt(self._page.desk, lambda: self._page.desk.rename_wrap(new))

    def _remove(self) -> Json:
        """Remove the wrap that is worked at."""
        return attempt(self._page.desk, self._page.desk.remove_wrap)
