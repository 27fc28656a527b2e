"""The wrap that the page works at: chosen, added, renamed and removed by its clients."""

from typing import Any

from scenes.starting.wrap_kinds import WRAP_KINDS
from tests.loops import run
from tests.render.page.server.serving import Serve
from tests.scenes.design.test_rod import BASE, FURTHER


def test_cards_figures_variants_and_what_is_sent_are_of_the_wrap_that_is_chosen(
    serve: Serve,
) -> None:
    async def whole() -> None:
        async with serve(BASE + FURTHER) as served, served.client() as owner:
            page = served.page
            shown: dict[str, Any] = owner.state
            wraps = shown["form_wraps"]
            assert (wraps["names"], wraps["at"]) == (["first wrap", "fore wrap"], "first wrap")
            assert [kind["name"] for kind in wraps["kinds"]] == [kind.name for kind in WRAP_KINDS]
            assert [one["name"] for one in shown["form_profile"]["others"]] == ["fore wrap"]
            answer = await owner.trigger("wrap_work_at", "fore wrap")
            assert answer.result["problem"] == ""
            await owner.trigger("pic_frames")  # whose answer comes after the state
            assert shown["form_wraps"]["at"] == "fore wrap"
            assert [card["kind"] for card in shown["form_cards"] if card["layer"]] == ["cover"]
            assert (shown["form_profile"]["from"], shown["form_profile"]["to"]) == (420, 470)
            assert shown["form_profile"]["others"] == [{"name": "first wrap", "wound": [326, 378]}]
            assert [one["name"] for one in shown["form_variants"]] == ["gold"]
            # The picture, the bench's figures and what is sent are made of this design.
            assert page.desk.drawn.design.wrap_name == "fore wrap"
            assert page.desk.subject.design.wrap_name == "fore wrap"
            answer = await owner.trigger("desk_change", "placement.to", 475)
            assert answer.result["problem"] == ""
            page.desk.save()
            text = (served.folder / "mine.toml").read_text("utf-8")
            assert text == (BASE + FURTHER).replace("to = 470", "to = 475")

    run(whole())


def test_wraps_are_added_renamed_and_removed_and_undone(serve: Serve) -> None:
    async def whole() -> None:
        async with serve(BASE) as served, served.client() as owner:
            desk = served.page.desk
            for method, *given in (
                ("wrap_add", ""),
                ("wrap_rename", "fore wrap"),
                ("wrap_work_at", "first wrap"),
                ("wrap_remove",),
            ):
                answer = await owner.trigger(method, *given)
                assert answer.result["problem"] == ""
            assert desk.wrap_names == ("fore wrap",)
            answer = await owner.trigger("wrap_remove")
            assert "only wrap" in answer.result["problem"]
            answer = await owner.trigger("wrap_work_at", "for wrap")
            assert "is not a wrap of this design" in answer.result["problem"]
            for _ in range(3):
                desk.undo()
            assert desk.text == BASE

    run(whole())


def test_warnings_of_another_wrap_stand_at_the_rod(serve: Serve) -> None:
    guide = '\n[[blank.fitted]]\nkind = "guide"\nat = 445\nlength = 20\nthread = "Gorse Gold A"\n'

    async def whole() -> None:
        async with serve(BASE + guide + FURTHER) as served, served.client() as owner:
            (told,) = owner.state["form_warnings"]["wraps.fore wrap"]
            assert "the guide from 435 mm to 455 mm reaches into the wrap" in told
            await owner.trigger("wrap_work_at", "fore wrap")
            await owner.trigger("pic_frames")  # whose answer comes after the state
            shown = owner.state["form_warnings"]
            assert not any(path.startswith("wraps.") for path in shown)
            assert any(
                "reaches into the wrap" in text for texts in shown.values() for text in texts
            )

    run(whole())
