"""A thread is swapped for another everywhere in a design at once."""

from tests.loops import run
from tests.render.page.server.serving import Serve


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
