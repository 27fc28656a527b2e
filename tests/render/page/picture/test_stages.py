"""Stages for browsers that draw: who may fetch what, and what a page is told. Nothing is packed."""

import json
import struct
from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from render.page.picture import stages
from render.page.server.roles import Role
from render.page.workers.parcels import NAME_LENGTH, Parcel
from render.page.workers.stage_worker import PackedLight, PackedStage, StageProblem, StageRequest
from tests.loops import run as run_loop
from tests.render.page.server.serving import COOKIE_ALONE, ROLE, Serve, Served, serving_in
from tests.render.page.workers.test_worker_process import until

SETTINGS = {
    "light": "low sun",
    "light_turn": 30.0,
    "backdrop": "#445566",
    "zoom": 2.0,
    "ground": "slate",
}


def name_of(letter: str) -> str:
    return letter * NAME_LENGTH


def parcel(*letters: str) -> Parcel:
    return Parcel(name_of(letters[0]), {name_of(one): one.encode() for one in letters})


def stage(number: int, *letters: str, held: str = "", **given: Any) -> PackedStage:
    """A stage that was packed; its own bytes are held, and others by their letters."""
    names = frozenset(map(name_of, (*letters, *held)))
    fields = {"pinned": "", "draft": False, **given}
    return PackedStage(number=number, parcel=parcel(*letters), held=names, **fields)


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
        received(stage(1, "a", "b"))
        address = f"/stage/{name_of('b')}"
        assert await served.ask("GET", address) == (200, "b")
        assert await served.ask("GET", address, Role.GUEST) == (200, "b")
        for role, headers in ((None, {}), (Role.OWNER, COOKIE_ALONE)):
            status, text = await served.ask("GET", address, role, headers=headers)
            assert status == 403
            assert text != "b"
        for wrong in ("..%2Fmine.toml", "b", "b" * 4000):
            status, _ = await served.ask("GET", f"/stage/{wrong}")
            assert status == 404, wrong
        # Two stages are kept: a page that is told of the second may still be fetching the first.
        received(stage(2, "c", "d", held="ab"))
        assert (await served.ask("GET", address))[0] == 200
        received(stage(3, "e", held="cd"))
        assert await served.ask("GET", address) == (204, "")
        assert await served.ask("GET", f"/stage/{name_of('d')}") == (200, "d")

    run(serve, test)


def test_what_is_new_in_a_stage_is_fetched_at_once(serve: Serve) -> None:
    async def test(served: Served) -> None:
        received = served.page.stages._received
        received(stage(1, "a", "b"))
        received(stage(2, "c", "d", held="ab"))
        status, text = await served.ask("GET", f"/stage/{name_of('c')}/new")
        assert status == 200
        (listed,) = struct.unpack("<I", text.encode()[:4])
        assert json.loads(text[4 : 4 + listed]) == [[name_of("c"), 1], [name_of("d"), 1]]
        assert text[4 + listed :] == "cd"
        # What is kept no more is left out, and found nowhere.
        received(stage(3, "e", held="cd"))
        assert await served.ask("GET", f"/stage/{name_of('a')}/new") == (204, "")
        assert (await served.ask("GET", f"/stage/{name_of('e')}/new", None))[0] == 403

    run(serve, test)


def test_a_draft_is_compressed_only_on_its_way_to_another_machine(
    serve: Serve, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def test(served: Served) -> None:
        size = 50_000
        received = served.page.stages._received

        async def fetched(letter: str) -> tuple[bytes, str | None]:
            async with served.session.get(
                f"{served.address}/stage/{name_of(letter)}/new",
                headers={ROLE: Role.GUEST.value, "Accept-Encoding": "deflate"},
            ) as answer:
                return await answer.read(), answer.headers.get("Content-Encoding")

        for letter, held, draft in (("a", "a", True), ("b", "ab", False)):
            large = Parcel(name_of(letter), {name_of(letter): letter.encode() * size})
            received(PackedStage("", 1, large, frozenset(map(name_of, held)), draft))
        here, encoding = await fetched("a")
        assert (len(here) > size, encoding) == (True, None)
        monkeypatch.setattr(stages, "_is_here", lambda _: False)
        # The client has inflated it by its header.
        assert await fetched("a") == (here, "deflate")
        assert (await fetched("b"))[1] is None

    run(serve, test)


def test_lights_are_bounded_and_told_to_their_client_alone(serve: Serve) -> None:
    async def test(served: Served) -> None:
        async with served.client() as one, served.client(Role.GUEST) as other:
            for client in (one, other):
                assert not (await client.trigger("stage_draws", True, False, True)).refusal
            assert not (await one.trigger("stage_light", SETTINGS, 1.6)).refusal
            ((number, setting),) = messages(served)[-1].lights.items()
            assert (setting.light.kind, setting.light.ground) == ("low sun", "slate")
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
        ({"ground": "marble"}, 1.6, "ground"),
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
            received(stage(1, "a"))
            await until(lambda: client.state["pic_stage"]["name"] == name_of("a"))
            served.page.desk.changes({"relief.gap": 21.0})
            await until(lambda: client.state["pic_stage"]["wanted"] == 2)
            assert client.state["pic_stage"]["number"] == 1
            assert not messages(served)[-1].complete
            received(stage(2, "b", draft=True))
            await until(lambda: client.state["pic_stage"]["number"] == 2)
            assert client.state["pic_stage"]["draft"]
            received(stage(2, "c"))
            await until(lambda: not client.state["pic_stage"]["draft"])
            # What a stage does not show is no edit of it.
            served.page.desk.changes({"title": "Another", "light.exposure": 1.0})
            assert len(messages(served)) == 2
            served.page.stages.hold(True)
            assert messages(served)[-1].complete == {""}
            assert messages(served)[-1].held
            received(StageProblem("", 2, "No such thread."))
            await until(lambda: client.state["pic_stage"]["problem"] == "No such thread.")

    run(serve, test)


def test_each_client_gets_the_stage_with_its_own_pin(serve: Serve) -> None:
    async def test(served: Served) -> None:
        received = served.page.stages._received
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            for client in (owner, guest):
                await client.trigger("stage_draws", True, False, True)
                await client.trigger("stage_light", SETTINGS, 1.6)
            assert dict(messages(served)[-1].stages) == {"": 1}
            received(stage(1, "a"))
            await until(lambda: owner.state["pic_stage"]["name"] == name_of("a"))
            pushed = len(owner.pushed)

            # A guest who pins waits for another stage, and the owner for nothing.
            await guest.trigger("side_pin")
            await until(lambda: guest.state["pic_stage"]["wanted"] == 2)
            request = messages(served)[-1]
            assert dict(request.stages) == {"": 1, "A1": 2}
            assert set(request.designs) == {"B", "A1"}
            received(stage(2, "p", pinned="A1", held="a"))
            await until(lambda: guest.state["pic_stage"]["name"] == name_of("p"))
            await owner.trigger("pic_frames")
            assert not [one for one in owner.pushed[pushed:] if "pic_stage" in one]
            assert (await served.ask("GET", f"/stage/{name_of('a')}"))[0] == 200

            # An edit is one of every stage; the light of each client is that on its own designs.
            served.page.desk.changes({"relief.gap": 21.0})
            await until(lambda: guest.state["pic_stage"]["wanted"] == 3)
            await until(lambda: owner.state["pic_stage"]["wanted"] == 3)
            await owner.trigger("side_pin")
            request = messages(served)[-1]
            assert dict(request.stages) == {"A2": 4, "A1": 3}
            assert [request.designs[name].design.relief.gap for name in ("B", "A1", "A2")] == [
                21, 21.2, 21,
            ]  # fmt: skip
            assert next(iter(request.lights.values())).pinned == "A2"
            await until(lambda: len(messages(served)[-1].lights) == 2)
            assert [one.pinned for one in messages(served)[-1].lights.values()] == ["A2", "A1"]

            # What the guest pins, and whether it can be packed, is nothing to the owner.
            received(StageProblem("A1", 3, "No such thread."))
            await until(lambda: guest.state["pic_stage"]["problem"] == "No such thread.")
            await guest.trigger("side_unpin")
            assert dict(messages(served)[-1].stages) == {"A2": 4, "": 5}
            assert set(messages(served)[-1].designs) == {"B", "A2"}
            await owner.trigger("pic_frames")
            assert owner.state["pic_stage"]["problem"] == ""
            assert owner.state["side_pinned"]
            # What is the same has one stage.
            await guest.trigger("side_pin")
            assert dict(messages(served)[-1].stages) == {"A2": 4}
            # Of another document nothing is pinned.
            await owner.trigger("file_new", "two-start-band", True)
            assert list(messages(served)[-1].stages) == [""]
            for client in (owner, guest):
                await client.trigger("pic_frames")
                assert not client.state["side_pinned"]

    run(serve, test)
