"""What a guest may know of the builder's own shelf and money."""

from collections.abc import Awaitable, Callable
from typing import Any

import numpy as np
import pytest

from render.page.cards import cards
from render.page.cards.form import all_fields
from render.page.server.roles import Role
from render.page.workers.bench_worker import BenchRequest, bench_figures
from render.page.workers.export_worker import JobEnded, Thumbnail
from tests.loops import run
from tests.render.page.server.serving import Serve, Served
from tests.render.page.workers.test_worker_process import until

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

UNITS = {"mm": 1.0, "in": 1 / 25.4}
"""Length of a millimetre, by unit."""

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


def test_a_guest_goes_back_to_a_design_with_an_own_thread_that_it_has_pinned(
    serve: Serve,
) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("shelf_put", SECRET)
            await owner.trigger("desk_change", "cover.thread", "Secret Plum A")
            await owner.trigger("guests_edit", True)
            await guest.trigger("side_pin")
            answer = await guest.trigger("desk_change", "cover.thread", "Heron Silver A")
            assert answer.result["problem"] == ""
            assert (await guest.trigger("variant_keep", "grey")).result["problem"] == ""
            assert served.page.desk.design.layers[1].thread == "Secret Plum A"
            # What the owner alone has pinned is nothing to go back to.
            await guest.trigger("side_unpin")
            await owner.trigger("side_pin")
            await owner.trigger("desk_change", "cover.thread", "Heron Silver A")
            answer = await guest.trigger("desk_change", "cover.thread", "Secret Plum A")
            assert "There is no thread" in answer.result["problem"]

    play(serve, act)


def test_each_client_compares_with_what_it_has_pinned_itself(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            clients = served.page.sockets.clients
            views = {one.is_owner: served.page.picture.view_of(one) for one in clients}

            async def compared() -> list[tuple[object, ...]]:
                """What is pinned, how it is shown and what the captions are, of owner and guest."""
                found: list[tuple[object, ...]] = []
                for wire, view in ((owner, views[True]), (guest, views[False])):
                    await wire.trigger("pic_frames")
                    await wire.trigger("pic_frames")
                    labels = wire.state["side_labels"]
                    gap = view.pin and view.pin.whole.relief.gap
                    found.append((gap, wire.state["pic_mode"], labels["A"], labels["B"]))
                return found

            alone = (None, "one", "", "")
            await owner.trigger("side_pin")
            assert await compared() == [(21.2, "stacked", "as kept", "the same"), alone]
            assert not guest.state["side_pinned"]
            await owner.trigger("desk_change", "relief.gap", 21)
            # A guest may pin who may change nothing, and the owner's picture stays as it is.
            epoch = views[True].epoch
            await guest.trigger("side_pin")
            await guest.trigger("side_mode", "swipe")
            await owner.trigger("desk_change", "relief.gap", 19)
            assert await compared() == [
                (21.2, "stacked", "gap 21.2 mm", "gap 19 mm"),
                (21, "swipe", "gap 21 mm", "gap 19 mm"),
            ]
            assert views[True].epoch == epoch + 1
            assert "not for guests" in (await guest.trigger("variant_keep", "mine")).refusal

            # A variant that the owner opens stands beside the owner's A; the guest's stays.
            await owner.trigger("variant_open", "wide gap")
            assert await compared() == [
                (19, "stacked", "gap 19 mm", "gap 36 mm"),
                (21, "swipe", "gap 21 mm", "gap 36 mm"),
            ]
            await owner.trigger("side_unpin")
            assert await compared() == [alone, (21, "swipe", "gap 21 mm", "gap 36 mm")]
            await guest.trigger("side_unpin")
            assert await compared() == [alone, alone]

    play(serve, act)


def test_captions_name_what_differs_in_the_pictures_shown(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:

            async def labels() -> tuple[str, str]:
                for _ in range(2):
                    await owner.trigger("pic_frames")
                return owner.state["side_labels"]["A"], owner.state["side_labels"]["B"]

            await owner.trigger("side_pin")
            # Both pictures have the light of the view, whatever the documents say.
            await owner.trigger("desk_changes", {"light.kind": "low sun", "camera.zoom": 2})
            assert await labels() == ("as kept", "the same")
            assert "low sun" in owner.state["side_differences"]
            await owner.trigger("desk_changes", {"relief.gap": 20, "finish.coats": 1})
            assert await labels() == ("gap 21.2 mm and 2 coats", "gap 20 mm and 1 coat")
            # Both dry, they differ in no coat.
            await owner.trigger("pic_look", {"dry": True})
            assert await labels() == ("gap 21.2 mm", "gap 20 mm")
            await owner.trigger("desk_change", "relief.angle", 40)
            await owner.trigger("desk_change", "cover.thread", "Gorse Gold A")
            assert (await labels())[1].endswith(" and 1 more")

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
            request = BenchRequest(desk.revision, desk.subject, (desk.design.units,))
            figures = bench_figures(request)
            served.page.cards._show_bench_figures(figures)
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
    pinned = "Kept as A. Whatever is changed now is B."

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

            gone = ("desk_change", "relief.gap", 21), ("desk_undo",)
            for cause in gone:
                await owner.trigger("side_pin")
                assert await statuses() == [pinned, "", ""]
                await owner.trigger("side_unpin")
                assert await statuses() == ["", "", ""]
                await owner.trigger("side_pin")
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


def test_a_page_that_is_opened_anew_goes_on_with_its_comparison(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            async with served.client(Role.GUEST) as guest:
                assert not guest.state["side_open"]
                await guest.trigger("side_pin")
            await owner.trigger("desk_change", "relief.gap", 21)
            # It goes on with its view, and shows the bar of it.
            async with served.client(Role.GUEST) as guest:
                assert guest.state["pic_mode"] == "stacked"
                assert guest.state["side_open"]
                assert guest.state["side_labels"]["A"] == "gap 21.2 mm"

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


def test_each_client_sees_and_types_lengths_in_its_own_units(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            desk = served.page.desk

            async def shown() -> list[tuple[str, str]]:
                """Text and unit of the gap on either page."""
                found = []
                for wire in (owner, guest):
                    await wire.trigger("pic_frames")
                    await wire.trigger("pic_frames")
                    fields = all_fields(wire.state["form_cards"])
                    gap = next(field for field in fields if field["path"] == "relief.gap")
                    assert gap["unit"] == wire.state["desk_units"]
                    found.append((gap["text"], gap["unit"]))
                return found

            # A guest chooses them who may change nothing.
            assert not (await guest.trigger("desk_units", "in")).refusal
            assert await shown() == [("21.2", "mm"), ("0.835", "in")]
            await owner.trigger("guests_edit", True)
            await owner.trigger("side_pin")
            await guest.trigger("side_pin")
            answer = await guest.trigger("desk_change", "relief.gap", "0.9")
            assert answer.result["problem"] == ""
            assert desk.design.relief.gap == pytest.approx(22.86)
            assert await shown() == [("22.86", "mm"), ("0.9", "in")]
            await guest.trigger("desk_change", "relief.gap", 0.8, "a drag")
            assert await shown() == [("20.32", "mm"), ("0.8", "in")]
            await owner.trigger("desk_change", "relief.gap", "19.05")
            assert desk.design.relief.gap == 19.05
            assert await shown() == [("19.05", "mm"), ("0.75", "in")]
            # So are figures, the drawing of the blank, captions, and what is said of an edit.
            for wire, unit, labels, span in (
                (owner, "mm", {"A": "gap 21.2 mm", "B": "gap 19.05 mm"}, 120),
                (guest, "in", {"A": "gap 0.834646 in", "B": "gap 0.75 in"}, 120 / 25.4),
            ):
                state = wire.state
                assert state["side_labels"] == labels
                assert state["form_profile"]["unit"] == unit
                ends = state["form_profile"]
                assert ends["to"] - ends["from"] == pytest.approx(span, abs=0.01)
                assert f" {unit} long" in state["form_figures"]["placement.to"][0]["text"]
            assert guest.state["page_status"].endswith("it is 0.75 in now.")
            request = BenchRequest(desk.revision, desk.subject, tuple(served.page.cards._cards))
            served.page.cards._show_bench_figures(bench_figures(request))
            for wire, unit, other in ((owner, "mm", "in"), (guest, "in", "mm")):
                await wire.trigger("form_opened", ["layers.0"])
                await until(lambda wire=wire: "relief.gap" in wire.state["form_bounds"])
                low, high, _ = wire.state["form_bounds"]["relief.gap"]
                assert low <= 19.05 * UNITS[unit] <= high <= 80 * UNITS[unit]
                bench = wire.state["form_bench"]
                texts = [one["text"] for part in bench["sections"] for one in part["figures"]]
                assert bench["fresh"]
                assert any(text.endswith(f" {unit}") for text in texts)
                assert not any(text.endswith(f" {other}") for text in texts)
            # A page that is opened anew goes on in its units; another begins in the document's.
        async with served.client(Role.GUEST) as again, served.client(Role.GUEST) as another:
            assert again.state["desk_units"] == "in"
            assert another.state["desk_units"] == "mm"

    play(serve, act)


def test_each_tab_sends_what_it_has_chosen_with_its_own_pin(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as one, served.client() as other:
            await one.trigger("side_pin")
            await one.trigger("send_choose", "comparison", ".gif", "message")
            await other.trigger("send_choose", "mesh", ".stl", "draft")
            for wire in (one, other):
                await wire.trigger("pic_frames")
            chosen = ("send_kind", "send_format", "send_size")
            assert [one.state[key] for key in chosen] == ["comparison", ".gif", "message"]
            assert [other.state[key] for key in chosen] == ["mesh", ".stl", "draft"]
            assert "triangles" in other.state["send_forecast"]
            assert "triangles" not in one.state["send_forecast"]
            await one.trigger("desk_change", "relief.gap", 21)
            await one.trigger("send_make")
            await other.trigger("send_make")
            jobs = list(served.page.exports._jobs.values())
            assert [(job.kind.value, job.path.suffix) for job in jobs] == [
                ("comparison", ".gif"),
                ("mesh", ".stl"),
            ]
            gaps = [subject.design.relief.gap for subject in jobs[0].subjects]
            assert gaps == [21.2, 21]
            # What one tab has pinned is nothing to another.
            await other.trigger("send_choose", "comparison", ".png", "mail")
            await other.trigger("send_make")
            for wire in (one, other):
                await wire.trigger("pic_frames")
            assert other.state["send_problem"] == (
                "A comparison shows two designs or more; tick another."
            )
            assert one.state["send_problem"] == ""
            assert len(served.page.exports._jobs) == 2
            # Pictures take a shape; a model has none.
            await other.trigger("send_choose", "still", ".png", "message", "4:5")
            await one.trigger("send_choose", "mesh", ".stl", "draft", "4:5")
            for wire in (one, other):
                await wire.trigger("pic_frames")
            assert other.state["send_shape"] == "4:5"
            assert "720 × 900" in other.state["send_forecast"]
            assert one.state["send_shape"] == "16:9"
            await other.trigger("send_sign", True)
            await other.trigger("send_make")
            for wire in (one, other):
                await wire.trigger("pic_frames")
            assert (one.state["send_signed"], other.state["send_signed"]) == (False, True)
            made = list(served.page.exports._jobs.values())[-1]
            assert (made.kind.value, made.size, made.signed) == ("still", (720, 900), True)

    play(serve, act)


def test_a_sweep_is_of_the_design_that_is_open(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            await owner.trigger("side_fields")
            await owner.trigger("side_sweep", "relief.gap", "16, 30")
            served.page.desk.open_sample("cord-lattice")
            await owner.trigger("pic_frames")
            state = owner.state
            assert (state["side_path"], state["side_values"]) == ("", "")
            assert (state["side_fields"], state["side_row"]) == ([], [])
            assert not state["side_working"]
            await owner.trigger("side_fields")
            await owner.trigger("pic_frames")
            paths = [field["path"] for field in owner.state["side_fields"]]
            assert "relief.gap" not in paths
            assert owner.state["side_path"] in paths

    play(serve, act)


def test_each_client_tries_values_of_its_own(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            exports = served.page.exports
            await owner.trigger("guests_edit", True)
            await owner.trigger("side_sweep", "relief.gap", "16, 30")
            await guest.trigger("pic_look", {"light": "low sun"})
            await guest.trigger("side_sweep", "relief.angle", "40, 45, 50")
            first, second = exports._jobs.values()
            assert [one.design.relief.gap for one in first.subjects] == [16, 30]
            assert [one.design.light.kind for one in second.subjects] == 3 * ["low sun"]
            # Each gets its own pictures, and takes one of its own.
            exports._received(Thumbnail(second.number, 1, b"jpeg"))
            exports._received(JobEnded(second.number))
            for wire in (owner, guest):
                for _ in range(2):
                    await wire.trigger("pic_frames")
            assert [one["label"] for one in owner.state["side_row"]] == ["gap 16 mm", "gap 30 mm"]
            assert [bool(one["picture"]) for one in owner.state["side_row"]] == [False, False]
            assert [bool(one["picture"]) for one in guest.state["side_row"]] == [False, True, False]
            assert (owner.state["side_working"], guest.state["side_working"]) == (True, False)
            # What somebody types into the bar meanwhile is not written over.
            rows = [one for one in guest.pushed if "side_row" in one]
            assert ["side_values" in one for one in rows] == [True, False]
            await guest.trigger("side_take", 2)
            assert served.page.desk.design.relief.angle == pytest.approx(np.deg2rad(50))
            await owner.trigger("side_take", 2)
            for _ in range(2):
                await owner.trigger("pic_frames")
            assert "no longer there" in owner.state["side_problem"]

    play(serve, act)
