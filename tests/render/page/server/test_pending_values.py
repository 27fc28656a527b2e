"""What was typed and does not fit yet: shown, told when saving and leaving, and nobody else's."""

import io
import json
from collections.abc import Awaitable, Callable

from PIL import Image

from render.page.server.roles import Role
from scenes.files import samples
from tests.loops import run
from tests.render.page.server.serving import Serve, Served


def play(serve: Serve, act: Callable[[Served], Awaitable[None]], text: str | None = None) -> None:
    async def whole() -> None:
        async with serve(text) as served:
            await act(served)

    run(whole())


def test_two_stations_cost_no_refusal_that_stays(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            answer = await owner.trigger("desk_change", "placement.from", "455")
            assert answer.result["problem"]
            await owner.trigger("pic_frames")
            (one,) = owner.state["form_pending"]
            assert (one["path"], one["text"]) == ("placement.from", "455")
            assert one["problem"].startswith("End of the wrap: 446 mm is not beyond the start")
            assert owner.state["desk_changed"]
            saved = await owner.trigger("file_save")
            assert saved.result["problem"] == ""
            await owner.trigger("pic_frames")
            assert owner.state["page_status"].startswith("Saved, without what does not fit yet:")
            asked = await owner.trigger("file_new", "two-start-band")
            assert asked.result["ask"]
            assert "start of the wrap 455" in asked.result["problem"]

            answer = await owner.trigger("desk_change", "placement.to", "467")
            assert answer.result["problem"] == ""
            await owner.trigger("pic_frames")
            assert owner.state["form_pending"] == []
            assert owner.state["page_status"] == (
                "Set with it, now that it fits: the start of the wrap."
            )
            place = served.page.desk.design.placement
            assert (place.start, place.end) == (455, 467)

    play(serve, act)


def test_what_cannot_be_read_waits_too_and_can_be_dropped(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            answer = await owner.trigger("desk_change", "relief.gap", "wide")
            assert "is not a number; give one such as 25.4" in answer.result["problem"]
            answer = await owner.trigger("desk_change", "finish.coats", "two")
            assert "is not a whole number; give one such as 5" in answer.result["problem"]
            await owner.trigger("desk_change", "finish.coats", "2")
            await owner.trigger("desk_units", "in")
            await owner.trigger("pic_frames")
            assert [one["text"] for one in owner.state["form_pending"]] == ["wide"]
            await owner.trigger("desk_change", "relief.gap", "70 mm")
            await owner.trigger("desk_units", "mm")
            await owner.trigger("pic_frames")
            assert [one["text"] for one in owner.state["form_pending"]] == ["70 mm"]
            await owner.trigger("pending_drop", "relief.gap")
            await owner.trigger("pic_frames")
            assert owner.state["form_pending"] == []

    play(serve, act)


def test_guests_neither_see_nor_leave_pending_values(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("guests_edit", True)
            await owner.trigger("desk_change", "bench.rate", "4321 per mile")
            await owner.trigger("desk_change", "relief.gap", "70")
            answer = await guest.trigger("desk_change", "relief.gap", "71")
            assert "leaves no strip" in answer.result["problem"]
            assert [one.text for one in served.page.desk.pending.values()] == [
                "4321 per mile",
                "70",
            ]
            # A guest's edit sets nothing that the owner has typed.
            assert (await guest.trigger("desk_change", "relief.angle", "33")).result[
                "problem"
            ] == ""
            assert served.page.desk.design.relief.gap == 21.2
            await guest.trigger("pic_frames")
            assert "4321" not in repr(guest.state) + repr(guest.pushed)
            assert not guest.state.get("form_pending")

    play(serve, act)


def test_a_removal_tells_what_variants_lose_before_it_is_made(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            answer = await owner.trigger("desk_remove", "trim")
            assert answer.result["ask"]
            assert '"warm trim" changes nothing else' in answer.result["problem"]
            assert served.page.desk.design.trims
            assert (await owner.trigger("desk_remove", "trim", True)).result["problem"] == ""
            assert not served.page.desk.design.trims

    play(serve, act)


def test_variants_on_the_page(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            desk = served.page.desk
            await owner.trigger("variant_rename", "dry", "without finish")
            await owner.trigger("desk_move", "variants.3", 0)
            await owner.trigger("desk_change", "relief.angle", "60")
            await owner.trigger("pic_frames")
            await guest.trigger("pic_frames")
            listed = {one["name"]: one for one in owner.state["form_variants"]}
            assert list(listed) == ["without finish", "narrow gap", "wide gap", "warm trim"]
            assert "leaves no strip" in listed["wide gap"]["reason"]
            assert listed["narrow gap"]["words"] == ["gap 16 mm"]
            assert all(not one["words"] for one in guest.state["form_variants"])
            answer = await owner.trigger("variant_promote", "wide gap")
            assert "does not fit" in answer.result["problem"]
            assert (await owner.trigger("variant_promote", "narrow gap")).result["problem"] == ""
            assert desk.design.relief.gap == 16
            assert (await owner.trigger("variant_open", "warm trim")).result["problem"] == ""
            await owner.trigger("pic_frames")
            assert owner.state["side_pinned"]
            assert (await owner.trigger("variant_keep_pinned", "cold")).result["problem"] == ""
            assert [one.name for one in desk.design.variants][-1] == "cold"

    play(serve, act)


def test_threads_that_fit_only_together_wait_for_each_other(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            answer = await owner.trigger("desk_change", "shades.grade.from", "Heron Silver D")
            assert "should have the same diameter" in answer.result["problem"]
            await owner.trigger("pic_frames")
            (one,) = owner.state["form_pending"]
            assert (one["path"], one["text"]) == ("shades.grade.from", "Heron Silver D")
            assert owner.state["desk_changed"]
            answer = await owner.trigger("desk_change", "shades.grade.to", "Gorse Gold D")
            assert answer.result["problem"] == ""
            await owner.trigger("pic_frames")
            assert owner.state["form_pending"] == []
            grade = served.page.desk.design.layers[2].grade
            assert (grade.first, grade.last) == ("Heron Silver D", "Gorse Gold D")
            served.page.desk.undo()
            assert not served.page.desk.can_undo

    play(serve, act, samples.text("graded-trim"))


def test_a_thread_swapped_everywhere_waits_where_it_does_not_fit(serve: Serve) -> None:
    text = samples.text("shoal-panel").replace("repeats = 5", "repeats = 4")

    async def act(served: Served) -> None:
        def wound() -> list[str]:
            cover, panel = served.page.desk.design.layers
            foot = served.page.desk.design.blank.fitted[1]
            return [foot.thread, cover.thread, panel.colours[3].thread, panel.warp]

        async with served.client() as owner:
            answer = await owner.trigger("desk_swap_thread", "Sloe Black A", "Sloe Black D")
            assert answer.result["problem"] == ""
            assert wound() == ["Sloe Black D", "Sloe Black D", "Sloe Black D", "Sloe Black A"]
            await owner.trigger("pic_frames")
            (one,) = owner.state["form_pending"]
            assert (one["path"], one["text"]) == ("woven.warp", "Sloe Black D")
            assert "set side by side to 6" in one["problem"]
            assert owner.state["page_status"] == (
                "Sloe Black D does not fit yet for the warp of the woven panel."
            )
            # Charts side by side were what made it too wide.
            answer = await owner.trigger("desk_change", "woven.side_by_side", "6")
            assert answer.result["problem"] == ""
            assert wound() == ["Sloe Black D"] * 4
            served.page.desk.undo()
            served.page.desk.undo()
            assert wound() == ["Sloe Black A"] * 4
            assert not served.page.desk.can_undo

    play(serve, act, text)


def test_a_colour_and_a_tick_that_do_not_fit_wait_in_their_fields(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            answer = await owner.trigger("desk_change", "woven.colours.1.colour", "#1f5f8a")
            assert answer.result["problem"]
            answer = await owner.trigger("desk_change", "blank.colour", "like mud")
            assert answer.result["problem"]
            answer = await owner.trigger("desk_change", "woven.closed", True)
            assert "round the blank" in answer.result["problem"]
            await owner.trigger("pic_frames")
            assert {one["path"]: one["text"] for one in owner.state["form_pending"]} == {
                "woven.colours.1.colour": "#1f5f8a",
                "blank.colour": "like mud",
                "woven.closed": "yes",
            }
            # The design's own value ends the waiting.
            await owner.trigger("desk_change", "blank.colour", "#16181c")
            await owner.trigger("desk_change", "woven.colours.1.colour", "#e9e3cf")
            answer = await owner.trigger("desk_change", "woven.side_by_side", "8")
            assert answer.result["problem"] == ""
            assert served.page.desk.pending == {}
            panel = served.page.desk.design.layers[1]
            assert (panel.closed, panel.side_by_side) == (True, 8)

    play(serve, act, samples.text("badge-panel"))


def test_a_file_that_does_not_fit_waits_until_it_does(serve: Serve) -> None:
    data = io.BytesIO()
    Image.new("RGB", (300, 2), "#c9923a").save(data, "PNG")

    async def act(served: Served) -> None:
        async with served.client() as owner:
            desk = served.page.desk
            where = {"path": "picture.picture", "name": "line.png"}
            _, answer = await served.ask("POST", "/beside", params=where, data=data.getvalue())
            assert "beyond the wrap" in json.loads(answer)["problem"]
            await owner.trigger("pic_frames")
            (one,) = owner.state["form_pending"]
            assert (one["path"], one["text"]) == ("picture.picture", "line.png")
            assert (served.folder / "line.png").read_bytes() == data.getvalue()
            assert desk.design.layers[1].picture == "heron.png"
            # What is no picture is refused, and takes the place of nothing.
            _, answer = await served.ask("POST", "/beside", params=where, data=b"words")
            assert "is no PNG picture" in json.loads(answer)["problem"]
            assert [one.text for one in desk.pending.values()] == ["line.png"]
            await owner.trigger("desk_change", "picture.height", "0.5")
            assert desk.design.layers[1].picture == "line.png"
            assert desk.pending == {}

    play(serve, act, samples.text("heron-plate"))
