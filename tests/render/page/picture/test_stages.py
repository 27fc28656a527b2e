"""Stages for browsers that draw: who may fetch what, and what a page is told. Nothing is packed."""

from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from render.page.picture import stages
from render.page.server.roles import Role
from render.page.workers.stage_packer import NAME_LENGTH, Parcel
from render.page.workers.stage_worker import PackedLight, PackedStage, StageProblem, StageRequest
from tests.loops import run as run_loop
from tests.render.page.server.serving import COOKIE_ALONE, Serve, Served, serving_in
from tests.render.page.workers.test_worker_process import until

SETTINGS = {"light": "low sun", "light_turn": 30.0, "backdrop": "#445566", "zoom": 2.0}


def name_of(letter: str) -> str:
    return letter * NAME_LENGTH


def parcel(*letters: str) -> Parcel:
    return Parcel(name_of(letters[0]), {name_of(one): one.encode() for one in letters})


def stage(number: int, *letters: str, **given: Any) -> PackedStage:
    names = frozenset(map(name_of, letters))
    return PackedStage(number, parcel(*letters), names, **{"draft": False, **given})


@pytest.fixture
def serve(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> Serve:
    return serving_in(tmp_path, monkeypatch)


def run(serve: Serve, test: Callable[[Served], Coroutine[Any, Any, None]]) -> None:
    async def on_loop() -> None:
        async with serve() as served:
            await test(served)

    run_loop(on_loop())


def messages(served: Served) -> list[StageRequest]:
    """All that the stage worker was told."""
    worker: Any = served.page.stages._worker
    told: list[StageRequest] = worker.messages
    return told


def test_only_who_may_look_fetches_a_part_and_only_while_it_is_kept(serve: Serve) -> None:
    async def test(served: Served) -> None:
        received = served.page.stages._received
        received(stage(0, "a", "b"))
        address = f"/stage/{name_of('b')}"
        assert await served.ask("GET", address) == (200, "b")
        assert await served.ask("GET", address, Role.GUEST) == (200, "b")
        for role, headers in ((None, {}), (Role.OWNER, COOKIE_ALONE)):
            status, text = await served.ask("GET", address, role, headers=headers)
            assert status == 403
            assert text != "b"
        for wrong in ("c" * NAME_LENGTH, "..%2Fmine.toml", "b", "b" * 4000):
            status, _ = await served.ask("GET", f"/stage/{wrong}")
            assert status == 404, wrong
        # Two stages are kept: a page that is told of the second may still be fetching the first.
        received(stage(1, "c", "d"))
        assert (await served.ask("GET", address))[0] == 200
        received(stage(2, "e", "d"))
        assert (await served.ask("GET", address))[0] == 404
        assert await served.ask("GET", f"/stage/{name_of('d')}") == (200, "d")

    run(serve, test)


def test_lights_are_bounded_and_told_to_their_client_alone(serve: Serve) -> None:
    async def test(served: Served) -> None:
        async with served.client() as one, served.client(Role.GUEST) as other:
            for client in (one, other):
                assert not (await client.trigger("stage_draws", True, False, True)).refusal
            assert not (await one.trigger("stage_light", SETTINGS, 1.6)).refusal
            ((number, setting),) = messages(served)[-1].lights.items()
            assert setting.light.kind == "low sun"
            assert setting.camera.zoom == 2
            for letter in "abcdefghijklmnop":
                served.page.stages._received(PackedLight(number, setting, parcel(letter)))
            await until(lambda: one.state["pic_light"].get("name") == name_of("p"))
            assert other.state["pic_light"] == {}
            kept = [
                letter
                for letter in "abcdefghijklmnop"
                if (await served.ask("GET", f"/stage/{name_of(letter)}"))[0] == 200
            ]
            assert kept == list("abcdefghijklmnop"[-stages._MOST_LIGHTS :])

    run(serve, test)


def test_nothing_is_packed_for_pages_that_do_not_draw(serve: Serve) -> None:
    async def test(served: Served) -> None:
        async with served.client() as client:
            refusal = (await client.trigger("stage_light", SETTINGS, 1.6)).refusal
            assert "stage_draws" in refusal
            served.page.desk.changes({"relief.gap": 21.0})
            assert messages(served) == []
            await client.trigger("stage_draws", True, False, True)
            assert messages(served)[-1].dry == {False}
            await client.trigger("stage_draws", False, False, True)
            count = len(messages(served))
            served.page.desk.changes({"relief.gap": 22.0})
            assert len(messages(served)) == count
        async with served.client(Role.GUEST) as client:
            await client.trigger("stage_draws", True, True, True)
            assert messages(served)[-1].dry == {True}
        await until(lambda: not served.page.stages._drawing)

    run(serve, test)


@pytest.mark.parametrize(
    ("settings", "aspect", "word"),
    [
        ({"zoom": 1e6}, 1.6, "zoom"),
        ({"light": "moon"}, 1.6, "light"),
        ({"backdrop": "url(x)"}, 1.6, "backdrop"),
        ({"light_turn": [1]}, 1.6, "light"),
        ({}, 0.0, "aspect"),
        ({}, 1e9, "aspect"),
    ],
)
def test_settings_that_no_file_may_have_are_refused(
    serve: Serve, settings: dict[str, object], aspect: float, word: str
) -> None:
    async def test(served: Served) -> None:
        async with served.client() as client:
            await client.trigger("stage_draws", True, False, True)
            assert word in (await client.trigger("stage_light", settings, aspect)).refusal
            assert messages(served)[-1].lights == {}

    run(serve, test)


def test_a_stage_is_out_of_date_from_the_edit_until_it_is_packed(serve: Serve) -> None:
    async def test(served: Served) -> None:
        async with served.client(Role.GUEST) as client:
            await client.trigger("stage_draws", True, False, True)
            received = served.page.stages._received
            received(stage(0, "a"))
            await until(lambda: client.state["pic_stage"]["name"] == name_of("a"))
            served.page.desk.changes({"relief.gap": 21.0})
            await until(lambda: client.state["pic_stage"]["wanted"] == 1)
            assert client.state["pic_stage"]["number"] == 0
            assert not messages(served)[-1].complete
            received(stage(1, "b", draft=True))
            await until(lambda: client.state["pic_stage"]["number"] == 1)
            assert client.state["pic_stage"]["draft"]
            received(stage(1, "c"))
            await until(lambda: not client.state["pic_stage"]["draft"])
            # What a stage does not show is no edit of it.
            served.page.desk.changes({"title": "Another", "light.exposure": 1.0})
            assert len(messages(served)) == 2
            served.page.stages.hold(True)
            assert messages(served)[-1].complete
            assert messages(served)[-1].held
            served.page.desk.pin()
            await until(lambda: client.state["pic_stage"]["wanted"] == 2)
            assert set(messages(served)[-1].sides) == {"A", "B"}
            received(StageProblem(2, "No such thread."))
            await until(lambda: client.state["pic_stage"]["problem"] == "No such thread.")

    run(serve, test)
