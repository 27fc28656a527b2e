"""Photographs of a page's clients: each its own, dropped when its view changes. None is taken."""

from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from render.page.photo import photo
from render.page.photo.photo_messages import (
    PhotoPicture,
    PhotoProblem,
    PhotoRequest,
    PhotoStep,
)
from render.page.server.roles import Role
from render.page.workers.worker_process import Loss
from scenes.customer.number import design_number
from tests.loops import run as run_loop
from tests.render.page.server.serving import Serve, Served, serving_in
from tests.render.page.workers.test_worker_process import until

PLACE = 640.0, 360.0, 1.0, 0.0
"""The picture's place on a page, and its turn."""


@pytest.fixture
def serve(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> Serve:
    return serving_in(tmp_path, monkeypatch)


def run(serve: Serve, test: Callable[[Served], Coroutine[Any, Any, None]]) -> None:
    async def on_loop() -> None:
        async with serve() as served:
            await test(served)

    run_loop(on_loop())


def wanted(served: Served) -> tuple[PhotoRequest, ...]:
    """What the worker was asked for last."""
    worker: Any = served.page.photos._worker
    last: tuple[PhotoRequest, ...] = worker.messages[-1] if worker.messages else ()
    return last


def picture(number: int, image: bytes, *, finished: bool = False) -> PhotoPicture:
    memory = 840.0 if finished else None
    return PhotoPicture(number, image, 0.5, 16, 7.2, finished, finished, "GPU", memory)


async def taken(client: Any, turn: float = 30.0, paths: int = 64) -> Any:
    await client.trigger("pic_hello", *PLACE)
    return (await client.trigger("photo_take", turn, paths)).result


def test_each_client_has_its_own_and_the_owner_goes_first(serve: Serve) -> None:
    async def test(served: Served) -> None:
        async with served.client(Role.GUEST) as guest, served.client() as owner:
            assert await taken(guest)
            assert await taken(owner, turn=60.0)
            guests, owners = 1, 2
            assert [one.number for one in wanted(served)] == [owners, guests]
            first = wanted(served)[0]
            assert first.size == (640, 360)
            assert first.paths == 64
            assert first.subject.design.camera.turn == pytest.approx(1.0472, abs=1e-4)
            assert served.page.sending  # so that no ring of live pictures is drawn meanwhile
            received = served.page.photos._received
            received(PhotoStep(guests, "setting the scene"))
            received(picture(owners, b"one"))
            await until(lambda: owner.state["pic_photo"]["share"] == 0.5)
            await until(lambda: "setting the scene" in guest.state["pic_photo"]["words"])
            told = owner.state["pic_photo"]
            assert told["words"] == "Photograph: 16 of 64 paths, about 8 seconds left"
            assert told["working"]
            assert await served.ask("GET", f"/photo/{told['name']}") == (200, "one")
            received(picture(owners, b"two", finished=True))
            await until(lambda: not owner.state["pic_photo"]["working"])
            # The one before is not kept.
            assert (await served.ask("GET", f"/photo/{told['name']}"))[0] == 204
            assert "0.8 GB" in owner.state["pic_photo"]["words"]
            assert [one.number for one in wanted(served)] == [guests]
        # Nobody waits for a photograph whose page is closed.
        await until(lambda: wanted(served) == ())

    run(serve, test)


@pytest.mark.parametrize("change", ["edit", "look", "turn", "end", "size", "leaves"])
def test_it_is_dropped_when_anything_changes(serve: Serve, change: str) -> None:
    async def test(served: Served) -> None:
        async with served.client() as other, served.client() as client:
            assert await taken(other)
            assert await taken(client)
            received = served.page.photos._received
            received(picture(2, b"one"))
            await until(lambda: client.state["pic_photo"]["name"])
            match change:
                case "edit":
                    served.page.desk.changes({"relief.gap": 21.0})
                case "look":
                    await client.trigger("pic_look", {"exposure": 1.0})
                case "turn":
                    await client.trigger("pic_turn", 31.0, False, False)
                case "size":
                    await client.trigger("pic_hello", 700.0, 360.0, 1.0, 30.0)
                case "end":
                    await client.trigger("photo_end")
            if change != "leaves":
                await until(lambda: client.state["pic_photo"]["number"] == 0)
                left = [] if change == "edit" else [1]
                assert [one.number for one in wanted(served)] == left
                # What comes late is not shown.
                received(picture(2, b"late"))
                assert client.state["pic_photo"]["name"] == ""
        if change == "leaves":
            await until(lambda: wanted(served) == ())

    run(serve, test)


def test_what_shows_nowhere_on_the_rod_leaves_it(serve: Serve) -> None:
    """A customer's answer, names, notes and the bench: the photograph is right still."""

    async def test(served: Served) -> None:
        desk = served.page.desk
        number = design_number(desk.design, desk.shelf, desk.beside)
        async with served.client() as client:
            assert await taken(client)
            served.page.photos._received(picture(1, b"one"))
            await until(lambda: client.state["pic_photo"]["name"])
            answer = f"I choose it.\nDesign number: {number}"
            assert (await client.trigger("answer_enter", answer)).result["problem"] == ""
            desk.changes({"order.customer": "Wren Alder", "notes": "Copper.", "bench.waste": 0.12})
            await until(lambda: client.state["desk_undo"])
            assert client.state["pic_photo"]["number"] == 1
            assert [one.number for one in wanted(served)] == [1]
            desk.change("relief.gap", 20)
            await until(lambda: client.state["pic_photo"]["number"] == 0)

    run(serve, test)


def test_it_is_ended_as_it_is_and_before_its_first_pass_not_at_all(serve: Serve) -> None:
    async def test(served: Served) -> None:
        async with served.client() as client:
            assert await taken(client)
            await client.trigger("photo_stop")
            assert wanted(served) == ()
            assert await taken(client)
            received = served.page.photos._received
            received(picture(2, b"one"))
            await client.trigger("photo_stop")
            assert [one.stopped for one in wanted(served)] == [True]
            received(picture(2, b"last", finished=True))
            await until(lambda: not client.state["pic_photo"]["working"])
            assert wanted(served) == ()

    run(serve, test)


def test_why_there_is_none_is_said(serve: Serve, monkeypatch: pytest.MonkeyPatch) -> None:
    async def test(served: Served) -> None:
        async with served.client() as client:
            # Before the page has said how large its picture is.
            assert not (await client.trigger("photo_take", 0.0, 16)).result
            await until(lambda: "size" in client.state["page_status"])
            for paths in (0, 10**6):
                assert "paths" in (await client.trigger("photo_take", 0.0, paths)).refusal
            assert await taken(client)
            served.page.photos._received(PhotoProblem(1, "The gap is too wide."))
            await until(lambda: client.state["page_status"] == "The gap is too wide.")
            assert client.state["pic_photo"]["number"] == 0
            assert await taken(client)
            served.page.photos._lost(Loss.ENDED, True)
            await until(lambda: "try once more" in client.state["page_status"])
            monkeypatch.setattr(photo, "find_spec", lambda name: None)
            assert not await taken(client)
            await until(lambda: "start.py installs it" in client.state["page_status"])

    run(serve, test)


def test_how_long_one_takes_is_said_before_it_and_known_after_one(serve: Serve) -> None:
    async def test(served: Served) -> None:
        async with served.client() as client:
            await client.trigger("pic_hello", *PLACE)
            few, many = (
                served.page.photos._times.forecast(
                    photo._work_of(served.page.desk.subject, (640, 360), paths)
                ).seconds
                for paths in (16, 256)
            )
            assert few < many
            said = (await client.trigger("photo_takes", 64)).result
            assert said.endswith(" here, estimated.")
            assert await taken(client)
            await until(lambda: client.state["pic_photo"]["words"].endswith(said))
            served.page.photos._received(picture(1, b"one", finished=True))
            await until(lambda: not client.state["pic_photo"]["working"])
            said = (await client.trigger("photo_takes", 64)).result
            assert said == "Takes about 1 second here."

    run(serve, test)
