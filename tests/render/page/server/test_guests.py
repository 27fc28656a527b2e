"""What a guest may know of the builder's own shelf and money."""

from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from render.page.cards import cards
from render.page.cards.cards import Cards
from render.page.server.roles import Role
from render.page.workers.bench_worker import BenchRequest, bench_figures
from tests.loops import run
from tests.render.page.server.serving import Serve, Served

SECRET = {
    "name": "Secret Plum A",
    "kind": "NCP nylon",
    "size": "A",
    "colour": "#7a2f6b",
    "diameter": "0.17",
    "tex": "28",
    "spool": "90",
    "price": "613.25",
}

ANOTHER = {**SECRET, "name": "Hidden Quince A", "colour": "#b3c22e"}


def play(serve: Serve, act: Callable[[Served], Awaitable[None]]) -> None:
    """Serve a page, and do something with it."""

    async def whole() -> None:
        async with serve() as served:
            await act(served)

    run(whole())


def shelved(state: dict[str, Any]) -> set[str]:
    """Names of the threads to choose from."""
    return {thread["name"] for thread in state["shelf_threads"]}


def cards_of(served: Served) -> Cards:
    """The cards of a page."""
    method = next(method for method in served.page.methods if method.name == "desk_units")
    of_page = getattr(method.function, "__self__", None)
    assert isinstance(of_page, Cards)
    return of_page


def test_guests_get_the_own_threads_that_the_design_uses_and_no_others(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            for thread in (SECRET, ANOTHER):
                assert (await owner.trigger("shelf_put", thread)).result["problem"] == ""
            await guest.trigger("pic_frames")
            for private in ("Plum", "Quince", "#7a2f6b", "#b3c22e", "613.25"):
                assert private not in repr(guest.state) + repr(guest.pushed), private
            assert "Heron Silver A" in shelved(guest.state)
            assert {"Secret Plum A", "Hidden Quince A"} < shelved(owner.state)

            await owner.trigger("desk_change", "cover.thread", "Secret Plum A")
            await guest.trigger("pic_frames")
            assert "Secret Plum A" in shelved(guest.state)
            assert "Quince" not in repr(guest.state) + repr(guest.pushed)

            await owner.trigger("desk_undo")
            async with served.client(Role.GUEST) as late:
                for state in (guest.state, late.state):
                    assert "Secret Plum A" not in shelved(state)
                assert "Plum" not in repr(late.state)

            # Nor in the history, nor while it is gone through.
            await owner.trigger("desk_undo")
            await guest.trigger("pic_frames")
            for thread in ("Plum", "Quince"):
                assert thread not in guest.state["page_status"]
                assert thread not in repr((guest.state["guest_undo"], guest.state["guest_redo"]))
            assert "Quince" in owner.state["page_status"]

    play(serve, act)


def test_a_guest_who_edits_cannot_find_out_what_is_on_the_shelf(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("shelf_put", SECRET)
            await owner.trigger("guests_edit", True)
            for name in ("Secret Plum B", "Secret Plum A"):
                answer = await guest.trigger("desk_change", "cover.thread", name)
                assert "There is no thread" in answer.result["problem"]
                assert "Secret Plum A" not in answer.result["problem"].replace(f'"{name}"', "")
                await guest.trigger("side_sweep", "cover.thread", f'"{name}"')
                await guest.trigger("pic_frames")
                assert "no thread" in guest.state["side_problem"]
                assert "Secret Plum A" not in guest.state["side_problem"].replace(f'"{name}"', "")
            shipped = served.page.desk.shelf.threads[0].name
            answer = await guest.trigger("desk_change", "cover.thread", shipped)
            assert answer.result["problem"] == ""
            answer = await owner.trigger("desk_change", "cover.thread", "Secret Plum A")
            # What the design uses may stay, and go elsewhere in it.
            answer = await guest.trigger("desk_change", "relief.gap", 21)
            assert answer.result["problem"] == ""

    play(serve, act)


def test_a_guest_goes_back_to_a_pinned_design_with_an_own_thread(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("shelf_put", SECRET)
            await owner.trigger("desk_change", "cover.thread", "Secret Plum A")
            await owner.trigger("side_pin")
            await owner.trigger("guests_edit", True)
            answer = await guest.trigger("desk_change", "cover.thread", "Heron Silver A")
            assert answer.result["problem"] == ""
            assert (await guest.trigger("variant_keep", "grey")).result["problem"] == ""
            assert served.page.desk.design.layers[1].thread == "Secret Plum A"

    play(serve, act)


def test_a_guest_who_pins_leaves_the_owners_comparison_alone(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("guests_edit", True)
            await owner.trigger("side_pin")
            pinned = served.page.desk.pinned
            await guest.trigger("desk_change", "relief.gap", 21)
            for act in ("side_pin", "side_unpin"):
                await guest.trigger(act)
                await guest.trigger("pic_frames")
                assert guest.state["page_status"].startswith("The owner is comparing")
                assert served.page.desk.pinned is pinned
                await owner.trigger("pic_frames")
                assert owner.state["pic_mode"] == "stacked"
            # Once the owner looks at the open design alone, a guest may pin another.
            await owner.trigger("side_mode", "one")
            await guest.trigger("side_pin")
            assert served.page.desk.pinned.design.relief.gap == 21
            await owner.trigger("pic_frames")
            assert owner.state["pic_mode"] == "one"
            assert guest.state["pic_mode"] == "stacked"

    play(serve, act)


def test_guests_read_no_money(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("shelf_put", SECRET)
            await owner.trigger("desk_change", "cover.thread", "Secret Plum A")
            # Numbers that no other figure has.
            money = {"bench.rate": 4321, "bench.other_materials": 8765, "bench.hand_time": 60}
            await owner.trigger("desk_changes", money)
            desk = served.page.desk
            figures = bench_figures(BenchRequest(desk.revision, desk.subject, desk.design.units))
            cards_of(served)._show_bench_figures(figures)
            await guest.trigger("pic_frames")
            await owner.trigger("pic_frames")
            for text in ("quote", "4321"):
                assert text in repr(owner.state), text
                assert text not in repr(guest.state), text
            for amount in ("8765", "613.25"):
                assert amount not in repr(guest.state), amount
            assert "lathe time" in repr(guest.state["form_bench"])

    play(serve, act)


def test_a_status_goes_with_its_cause_and_only_to_whose_act_it_was(serve: Serve) -> None:
    pinned = "Pinned as A. Whatever you change now is B."

    async def act(served: Served) -> None:
        async with (
            served.client() as owner,
            served.client() as second,
            served.client(Role.GUEST) as guest,
        ):

            async def statuses() -> list[str]:
                # What is sent before an answer has arrived with it.
                for wire in (owner, second, guest):
                    await wire.trigger("pic_frames")
                    await wire.trigger("pic_frames")
                return [wire.state["page_status"] for wire in (owner, second, guest)]

            gone = ("side_unpin",), ("desk_change", "relief.gap", 21), ("desk_undo",)
            for cause in gone:
                await owner.trigger("side_pin")
                assert await statuses() == [pinned, "", ""]
                async with served.client() as reloaded:
                    assert reloaded.state["page_status"] == ""
                await second.trigger(*cause)
                assert pinned not in await statuses()
            assert await statuses() == ["", "Taken back: gap 21 mm.", ""]
            # What concerns everybody is for everybody, and for who comes later.
            served.page.show_status("Drawing was interrupted.", guests=True)
            assert set(await statuses()) == {"Drawing was interrupted."}
            async with served.client(Role.GUEST) as late:
                assert late.state["page_status"] == "Drawing was interrupted."
            served.page.show_status("Saved.")
            assert await statuses() == ["Saved.", "Saved.", "Drawing was interrupted."]

    play(serve, act)


def test_the_bar_of_a_comparison_is_open_where_there_is_one(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            async with served.client(Role.GUEST) as guest:
                assert not guest.state["side_open"]
                await owner.trigger("side_pin")
                await guest.trigger("side_mode", "stacked")
            # A page that is opened anew goes on with its view, and shows the bar of it.
            async with served.client(Role.GUEST) as guest:
                assert guest.state["pic_mode"] == "stacked"
                assert guest.state["side_open"]
                await owner.trigger("side_unpin")
                for wire in (guest, guest, owner, owner):
                    await wire.trigger("pic_frames")
                # Without a pin there is nothing in it for a guest; the owner can pin there.
                assert not guest.state["side_open"]
                assert {"side_open": False} not in owner.pushed

    play(serve, act)


def test_a_page_that_is_opened_anew_keeps_its_turn(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client(Role.GUEST) as guest:
            await guest.trigger("pic_hello", 800, 500, 1, 0)
            await guest.trigger("pic_turn", 210.5, False, False)
        async with served.client(Role.GUEST) as guest, served.client(Role.GUEST) as second:
            assert abs(guest.state["pic_turn"] - 210.5) < 1e-9
            assert second.state["pic_turn"] == 0

    play(serve, act)


def test_who_is_overridden_is_told(serve: Serve, monkeypatch: pytest.MonkeyPatch) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:

            async def statuses() -> list[str]:
                for wire in (owner, owner, guest, guest):
                    await wire.trigger("pic_frames")
                return [wire.state["page_status"] for wire in (owner, guest)]

            await owner.trigger("guests_edit", True)
            await guest.trigger("desk_change", "relief.gap", 21)
            await guest.trigger("desk_change", "relief.gap", 22)
            await owner.trigger("desk_change", "relief.angle", 44)
            assert await statuses() == ["", ""]
            await owner.trigger("desk_change", "relief.gap", 19)
            told = "Gap was changed by somebody else just after you: it is 19 mm now."
            assert await statuses() == ["", told]
            await guest.trigger("desk_change", "relief.gap", 23)
            assert await statuses() == [told.replace("19", "23"), ""]
            await owner.trigger("desk_changes", {"relief.gap": 19, "relief.angle": 45})
            assert await statuses() == ["", told]
            # What was changed long ago is not overridden.
            monkeypatch.setattr(cards, "_OVERLAP", 0.0)
            await guest.trigger("desk_change", "relief.gap", 24)
            assert await statuses() == ["", ""]

    play(serve, act)
