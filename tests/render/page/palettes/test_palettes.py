"""Colour schemes on the page: what is tried is drawn, and is in the design only once it is kept."""

from pathlib import Path
from typing import Any

import pytest

from render.page.server.roles import Role
from scenes.design.variants import variant
from tests.loops import run
from tests.render.page.server.serving import Serve, Served, serving_in


@pytest.fixture
def serve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Serve:
    return serving_in(tmp_path, monkeypatch)


def drawn_cover(served: Served) -> str:
    """The cover's thread in what browsers and the program draw."""
    cover: str = served.page.stages._open.design.cover.thread
    assert served.page.desk.drawn.design.cover.thread == cover
    return cover


def test_a_scheme_is_tried_left_kept_and_made_a_variant(serve: Serve) -> None:
    async def whole() -> None:
        async with serve() as served, served.client() as owner:
            desk, state = served.page.desk, served.page.state

            async def ask(method: str, *given: Any) -> str:
                answer = await owner.trigger(method, *given)
                return str(answer.result["problem"])

            own = desk.design.cover.thread
            before = desk.text
            assert await ask("palettes_find") == ""
            listed = state.palettes["listed"]
            assert len(listed) == 8
            grounds = [one["threads"][0]["name"] for one in listed]
            place = next(at for at, name in enumerate(grounds) if name != own)
            assert await ask("palettes_try", place) == ""
            assert drawn_cover(served) == grounds[place]
            assert state.palette_tried == listed[place]["name"]
            # It is no part of the design, which is saved and sent as it is.
            assert (desk.text, desk.can_undo, desk.changed) == (before, False, False)
            assert desk.subject.design.cover.thread == own

            assert await ask("palettes_leave") == ""
            assert drawn_cover(served) == own
            assert (state.palette_tried, state.palettes["tried"]) == ("", -1)

            # Kept as a variant: the design stays as it is. A name in use is refused, and it is
            # tried still.
            await ask("palettes_try", place)
            taken = desk.design.variants[0].name
            assert taken in await ask("palettes_keep_variant", taken)
            assert drawn_cover(served) == grounds[place]
            assert await ask("palettes_keep_variant", "brighter") == ""
            assert (drawn_cover(served), desk.design.cover.thread) == (own, own)
            assert variant(desk.design, "brighter").cover.thread == grounds[place]
            desk.undo()

            # Without a name it is that of the scheme, or one that is free beside it.
            for name in (listed[place]["name"], f"{listed[place]['name']} 2"):
                await ask("palettes_find")
                await ask("palettes_try", place)
                kept = await owner.trigger("palettes_keep_variant", "")
                assert (kept.result["problem"], kept.result["name"]) == ("", name)
                assert desk.design.variants[-1].name == name
            desk.undo()
            desk.undo()

            # What shows nowhere on the rod leaves the trial as it is.
            await ask("palettes_try", place)
            desk.change("order.customer", "Wren Alder")
            assert drawn_cover(served) == grounds[place]
            assert desk.drawn_design.order.customer == "Wren Alder"
            assert state.palette_tried == listed[place]["name"]
            assert await ask("palettes_find") == ""
            assert state.palettes["tried"] == place
            await ask("palettes_leave")
            desk.undo()

            # Kept: one edit.
            await ask("palettes_find")
            await ask("palettes_try", place)
            assert await ask("palettes_keep") == ""
            assert desk.design.cover.thread == grounds[place] == drawn_cover(served)
            assert state.palette_tried == ""
            desk.undo()
            assert (desk.text, desk.can_undo) == (before, False)

            # An edit ends a trial; what was found for the design before is refused.
            await ask("palettes_find")
            await ask("palettes_try", place)
            desk.change("relief.gap", 20)
            assert drawn_cover(served) == own
            assert "changed since" in await ask("palettes_try", place)
            assert "Nothing is being tried" in await ask("palettes_keep")

    run(whole())


def test_guests_see_what_is_tried_and_not_what_there_is_to_try(serve: Serve) -> None:
    async def whole() -> None:
        async with serve() as served, served.client() as owner:
            await owner.trigger("palettes_find")
            await owner.trigger("palettes_try", 0)
            async with served.client(Role.GUEST) as guest:
                assert (
                    guest.state["palette_tried"] == served.page.state.palettes["listed"][0]["name"]
                )
                assert guest.state["palettes"] == {}

    run(whole())
