"""What waits for one client: its order, its bounds, and a client that takes it slowly or not."""

import asyncio
from collections.abc import Callable, Coroutine
from typing import Any

import msgpack
import pytest

from render.page.server.outgoing import Outgoing, Stalled
from render.page.server.pace import TokenBucket
from render.page.server.wire import chunks, packed_answer
from tests.loops import run


def content(frame: bytes) -> dict[str, Any]:
    whole: dict[str, Any] = msgpack.unpackb(frame[12:])
    return whole


def sent(fill: Callable[[Outgoing], None], many: int) -> list[Any]:
    """Fill a queue before anything is sent, and give what is sent then."""

    async def act() -> list[Any]:
        frames: list[bytes] = []
        done = asyncio.Event()

        async def send(frame: bytes) -> None:
            frames.append(frame)
            if len(frames) == many:
                done.set()

        outgoing = Outgoing(send, lambda: 0)
        fill(outgoing)
        task = asyncio.ensure_future(outgoing.run())
        await done.wait()
        task.cancel()
        return [content(one)["result"] for one in frames]

    return run(act())


def picture(number: int) -> bytes:
    return packed_answer("publish:turnlight.frame:0", number)


def test_answers_go_first_and_of_state_only_the_newest() -> None:
    def fill(outgoing: Outgoing) -> None:
        outgoing.picture("B", 1, picture(7))
        for value in range(100):
            outgoing.state({"gap": value, f"other{value % 2}": value})
        outgoing.answer(packed_answer("rpc:c1:1", "first"))
        outgoing.answer(packed_answer("rpc:c1:2", "second"))

    assert sent(fill, 4) == ["first", "second", {"gap": 99, "other0": 98, "other1": 99}, 7]


def test_of_pictures_the_newest_of_each_place_goes_and_none_of_an_earlier_epoch() -> None:
    def fill(outgoing: Outgoing) -> None:
        outgoing.picture(("B", 5), 1, picture(1))
        for number in range(10, 300):
            outgoing.picture(("B", -1), 2, picture(number))
        outgoing.picture(("A", -1), 2, picture(300))
        outgoing.picture(("B", 5), 2, picture(301))
        outgoing.picture(("B", -1), 2, picture(302))
        outgoing.picture(("B", 6), 1, picture(303))
        assert outgoing.waiting == (0, 0, 3)

    assert sent(fill, 3) == [302, 301, 300]


def test_pictures_are_bounded() -> None:
    async def act() -> None:
        async def send(_: bytes) -> None:
            raise AssertionError("nothing is sent here")

        outgoing = Outgoing(send, lambda: 0)
        for number in range(5_000):
            outgoing.picture(number, 1, b"")
        assert outgoing.waiting[2] == 256

    run(act())


def stuck(unsent: Callable[[], int], then: float = 60.0) -> Coroutine[Any, Any, None]:
    async def act() -> None:
        async def send(_: bytes) -> None:
            await asyncio.sleep(then)

        outgoing = Outgoing(send, unsent, patience=0.02)
        outgoing.answer(packed_answer("rpc:c1:1", None))
        task = asyncio.ensure_future(outgoing.run())
        await asyncio.wait({task}, timeout=0.5)
        if not task.done():
            task.cancel()
            return
        task.result()

    return act()


def test_a_client_that_takes_nothing_is_given_up() -> None:
    with pytest.raises(Stalled, match="taken nothing"):
        run(stuck(lambda: 70_000))


def test_a_client_that_takes_a_little_is_waited_for() -> None:
    left = iter(range(10**6, 0, -1))
    run(stuck(lambda: next(left)))


def test_long_messages_are_cut_as_the_browser_puts_them_together() -> None:
    message = bytes(9_000_000)
    frames = list(chunks(message))
    assert b"".join(one[12:] for one in frames) == message
    assert [int.from_bytes(one[4:8], "little") for one in frames] == [0, 4_194_304, 8_388_608]
    assert {one[:4] + one[8:12] for one in frames} == {frames[0][:4] + frames[0][8:12]}


# ---- How fast a client may ask


def test_a_hand_at_120_turns_a_second_is_never_slowed() -> None:
    """Each turn, its picture's acknowledgement and a slider's change, for a minute."""
    now = [0.0]
    bucket = TokenBucket(400, 800, lambda: now[0])
    waits = []
    for _ in range(120 * 60):
        now[0] += 1 / 120
        waits += [bucket.take(1), bucket.take(1), bucket.take(1)]
    assert max(waits) == 0


def test_a_flood_is_slowed_to_the_rate() -> None:
    now = [0.0]
    bucket = TokenBucket(400, 800, lambda: now[0])
    for _ in range(4_800):
        now[0] += bucket.take(1)
    assert now[0] == pytest.approx((4_800 - 800) / 400)
