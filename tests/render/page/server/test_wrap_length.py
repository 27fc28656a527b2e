"""The length of the wrap is a field of the page; the file has its ends."""

from tests.loops import run
from tests.render.page.server.serving import Serve


def test_the_end_follows_a_length_that_is_typed(serve: Serve) -> None:
    async def whole() -> None:
        async with serve() as served, served.client() as owner:
            desk = served.page.desk
            await owner.trigger("pic_frames")

            def field() -> dict[str, object]:
                cards = owner.state["form_cards"]
                (found,) = [
                    one
                    for card in cards
                    for one in card["fields"]
                    if one["path"] == "placement.length"
                ]
                return found

            assert (field()["text"], field()["unit"]) == ("120", "mm")
            answer = await owner.trigger("desk_change", "placement.length", "4 in")
            assert answer.result["problem"] == ""
            place = desk.design.placement
            # An inch is 25.4 mm by definition (1959).
            assert (place.start, place.end) == (326, 427.6)
            await owner.trigger("desk_units", "in")
            answer = await owner.trigger("desk_change", "placement.length", "5")
            assert desk.design.placement.end == 453
            # Too long for the room between the grips, or no number: nothing is changed.
            for bad in ("40", "long", "-3"):
                answer = await owner.trigger("desk_change", "placement.length", bad)
                assert answer.result["problem"], bad
            assert desk.design.placement.end == 453

    run(whole())
