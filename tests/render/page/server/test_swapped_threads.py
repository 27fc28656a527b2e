"""A thread is swapped for another everywhere in a design at once."""

from tests.loops import run
from tests.render.page.server.serving import Serve
from tests.scenes.design.test_rod import FURTHER
from tests.scenes.stage.test_guide_schemes import BASE, RODS


def test_a_thread_is_swapped_wherever_the_design_has_it(serve: Serve) -> None:
    async def whole() -> None:
        async with serve() as served, served.client() as owner:
            desk = served.page.desk
            old = "Sloe Black A"
            await owner.trigger("desk_change", "cover.thread", old)
            places = served.page.desk.design.model_dump_json().count(f'"{old}"')
            variants = desk.design.variants
            answer = await owner.trigger("desk_swap_thread", old, "Gorse Gold A")
            assert answer.result["problem"] == ""
            layers = [layer.model_dump_json() for layer in desk.design.layers]
            assert places > 2
            assert not any(f'"{old}"' in layer for layer in layers)
            assert desk.design.variants == variants
            # One step of the history.
            desk.undo()
            assert desk.design.model_dump_json().count(f'"{old}"') == places
            # A thread that is not on the shelf waits wherever it was to be wound.
            await owner.trigger("desk_swap_thread", old, "No Such Thread")
            assert "cover.thread" in desk.pending
            assert all("No Such Thread" in str(waiting) for waiting in desk.pending.values())
            assert desk.design.model_dump_json().count(f'"{old}"') == places

    run(whole())


def test_a_thread_is_swapped_in_every_wrap_and_at_the_guides(serve: Serve) -> None:
    old, new = "Deepwater Navy A", "Hawthorn Red A"
    text = BASE + RODS + FURTHER
    assert text.count(f'"{old}"') == 2

    async def whole() -> None:
        async with serve(text) as served, served.client() as owner:
            desk = served.page.desk
            await owner.trigger("wrap_work_at", "fore wrap")
            answer = await owner.trigger("desk_swap_thread", old, new)
            assert answer.result["problem"] == ""
            assert desk.design.blank.guide_schemes[0].thread == new
            desk.save()
            written = (served.folder / "mine.toml").read_text("utf-8")
            assert written == text.replace(f'"{old}"', f'"{new}"')
            desk.undo()
            assert desk.text == text

    run(whole())
