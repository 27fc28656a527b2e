"""Colour schemes to try: a row of them, each shown on the rod at a tap, and kept or left.

A scheme that is tried is no part of the design, which is saved and sent as it is. All clients see
it, since they look at one document.
"""

from typing import Any

from materials.shelf import Shelf
from render.page.cards.cards import attempt
from render.page.server.arguments import Line, Place, Refused
from render.page.server.host import Host
from render.page.server.roles import Right
from scenes.design.document import Design
from scenes.design.pictured import pictured
from scenes.editing.variant_edits import free_name
from scenes.palettes.schemes import Scheme, schemes
from scenes.problems import DesignProblem, printable

__all__ = ["attach"]

Json = dict[str, Any]

_STALE = "The design has changed since these were found; choose again."


def attach(page: Host) -> None:
    """Add colour schemes to the page.

    Parameters
    ----------
    page : Host
    """
    Palettes(page)


class Palettes:
    """The colour schemes of one page; for the builder, whose own shelf they come from.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self._page = page
        self._found: list[Scheme] = []
        self._found_for: tuple[Design, Shelf] | None = None
        self._place = -1
        page.state.palettes = {}
        page.state.palette_tried = ""
        for name, answer in (
            ("palettes_find", self._find),
            ("palettes_try", self._try),
            ("palettes_leave", self._leave),
            ("palettes_keep", self._keep),
            ("palettes_keep_variant", self._keep_variant),
        ):
            page.methods.declare(name, Right.OWN, answer)
        page.desk.on_change(self._changed)

    # --- methods that a browser may call -----------------------------------------------------

    def _find(self) -> Json:
        """Find the schemes for the present design, unless they are there."""
        return attempt(self._page.desk, self._find_anew)

    def _try(self, place: Place) -> Json:
        """Show a scheme on the rod."""
        if place >= len(self._found):
            raise Refused(f"palettes_try: there is no scheme {place}; find them first.")
        desk = self._page.desk
        self._place = place
        answer = attempt(desk, lambda: desk.try_out(self._fresh(place).changes))
        if answer["problem"]:
            self._place = -1
        self._show()
        return answer

    def _leave(self) -> Json:
        """Show the design's own colours again."""
        return attempt(self._page.desk, self._page.desk.leave_trial)

    def _keep(self) -> Json:
        """Give the design the colours that are tried."""
        desk = self._page.desk
        return attempt(desk, lambda: desk.keep_trial(f"colours: {self._name}"))

    def _keep_variant(self, name: Line = "") -> Json:
        """Keep the colours that are tried as a variant, under a free name if none is given."""
        desk = self._page.desk
        taken = [variant.name for variant in desk.design.variants]
        called = name.strip() or (free_name(self._name, taken) if self._name else "")
        answer = attempt(desk, lambda: desk.keep_trial_as_variant(called))
        if not answer["problem"]:
            self._page.show_status(f"{printable(called)} is kept among the variants.")
        return {**answer, "name": called}

    # --- inside -------------------------------------------------------------------------------

    @property
    def _name(self) -> str:
        """Name of the scheme that is tried; empty for none."""
        return self._found[self._place].name if 0 <= self._place < len(self._found) else ""

    def _find_anew(self) -> None:
        desk = self._page.desk
        if self._found_for is None or not self._is_fresh():
            self._found = schemes(desk.design, desk.shelf, desk.own_threads)
            self._found_for = pictured(desk.design), desk.shelf
        self._show()

    def _is_fresh(self) -> bool:
        desk = self._page.desk
        return self._found_for == (pictured(desk.design), desk.shelf)

    def _fresh(self, place: int) -> Scheme:
        if not self._is_fresh():
            raise DesignProblem(_STALE)
        return self._found[place]

    def _changed(self) -> None:
        """Follow the end of a trial."""
        desk = self._page.desk
        if desk.drawn_design is desk.design:
            self._place = -1
        self._show()

    def _show(self) -> None:
        """Tell the builder of the schemes, and everybody what is tried."""
        if not self._found:
            return
        shelf = self._page.desk.shelf
        listed = [
            {
                "name": scheme.name,
                "rule": scheme.rule,
                "threads": [
                    {"name": name, "colour": thread.colour, "kind": thread.kind.value}
                    for name in scheme.threads
                    if (thread := shelf.get(name)) is not None
                ],
            }
            for scheme in self._found
        ]
        with self._page.state as state:
            state.palettes = {"listed": listed, "tried": self._place}
            state.palette_tried = self._name
