"""The variants of the design on the page: opened beside it, kept, renamed, made the design."""

from dataclasses import replace
from typing import Any

from render.editor.pin import Pin
from render.page.cards.cards import attempt
from render.page.compare.compare import Side
from render.page.server.arguments import Line
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.server.sockets import Client
from scenes.design.differences import paired_differences
from scenes.design.field_words import in_words
from scenes.editing.variant_edits import described, free_name, short_name
from scenes.problems import one_of, printable

__all__ = ["Variants"]

Json = dict[str, Any]


class Variants:
    """The variants of one page.

    Parameters
    ----------
    page : Host
    side : Side
        The comparison, in which a variant is opened beside the design.
    """

    def __init__(self, page: Host, side: Side) -> None:
        self._page = page
        self._side = side
        for name, answer in (
            ("variant_open", self._open),
            ("variant_keep", self._keep),
            ("variant_keep_pinned", self._keep_pinned),
            ("variant_promote", self._promote),
            ("variant_rename", self._rename),
        ):
            page.methods.declare(name, Right.EDIT, answer)
        page.desk.on_change(self._show)
        self._show()

    def _show(self) -> None:
        desk = self._page.desk
        self._page.state.form_variants = [
            {
                "name": one.name,
                "words": list(one.words),
                "reason": in_words(one.reason),
            }
            for one in described(desk.design)
        ]

    def _open(self, client: Client, name: Line) -> Json:
        """Pin the design as A for a client, and open a variant as B."""
        made: list[tuple[Pin, list[str]]] = []
        answer = attempt(self._page.desk, lambda: made.append(self._page.desk.edit_variant(name)))
        for pin, left_out in made:
            self._side.show_beside(client, pin)
            without = f", without {one_of(map(in_words, left_out), 'and')}" if left_out else ""
            self._page.show_status(
                f"B is {printable(name)}{without}; the design is A. Keep B under its name to "
                "change the variant.",
                client=client,
            )
        return answer

    def _keep(self, client: Client, name: Line = "") -> Json:
        """Store the changes since a client's pin as a variant; without a name, under a free one."""
        desk, pin = self._page.desk, self._side.pin_of(client)
        called = name.strip() or self._proposed(pin, of_pinned=False)
        answer = attempt(desk, lambda: desk.keep_variant(called, pin))
        if pin is not None and not answer["problem"]:
            # The variant is no longer open; a change kept under its name again would be another.
            self._side.pin(client, replace(pin, variant=""))
        return self._told(
            client,
            {**answer, "name": called},
            f"{printable(called)} is kept among the variants; the design is A again.",
        )

    def _keep_pinned(self, client: Client, name: Line = "") -> Json:
        """Store what a client has pinned as a variant; B stays the design."""
        desk, pin = self._page.desk, self._side.pin_of(client)
        called = name.strip() or self._proposed(pin, of_pinned=True)
        return self._told(
            client,
            {**attempt(desk, lambda: desk.keep_pinned(called, pin)), "name": called},
            f"B is the design; A is kept among the variants as {printable(called)}.",
        )

    def _proposed(self, pin: Pin | None, *, of_pinned: bool) -> str:
        """A free name for one of two designs: what differs in it from the other."""
        design = self._page.desk.design
        if pin is None:
            return "variant"  # it is refused, with the reason
        words = paired_differences(pin.whole, design, design.units)[0 if of_pinned else 1]
        wanted = short_name(words) or ("A" if of_pinned else "B")
        return free_name(wanted, [variant.name for variant in design.variants])

    def _promote(self, client: Client, name: Line) -> Json:
        """Make a variant the design."""
        return self._told(
            client,
            attempt(self._page.desk, lambda: self._page.desk.make_variant_the_design(name)),
            f"{name} is the design now; the one before is among the variants.",
        )

    def _rename(self, name: Line, new: Line) -> Json:
        """Give a variant another name."""
        return attempt(self._page.desk, lambda: self._page.desk.rename_variant(name, new.strip()))

    def _told(self, client: Client, answer: Json, sentence: str) -> Json:
        if not answer["problem"]:
            self._page.show_status(sentence, client=client)
        return answer
