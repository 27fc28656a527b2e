"""Processes beside the page: lost in every way, told of at once, and nothing of them left."""

import asyncio
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from render.page.workers import worker_process
from render.page.workers.worker_process import Loss, WorkerProcess
from tests.loops import run
from tests.render.page.workers.small_workers import answers, ends, sticks, tells_niceness
from tests.waiting import WITHIN

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


class Heard:
    """What a page hears of a process."""

    def __init__(self, work: Callable[..., None], **options: Any) -> None:
        self.messages: list[Any] = []
        self.losses: list[tuple[Loss, bool]] = []
        self.process = WorkerProcess(
            work,
            self.messages.append,
            lambda loss, again: self.losses.append((loss, again)),
            **options,
        )

    @property
    def pid(self) -> int:
        pid = self.process.pid
        assert pid is not None
        return pid

    async def answer(self, message: object) -> Any:
        """Send something and wait for what comes back."""
        before = len(self.messages)
        self.process.send(message)
        await until(lambda: len(self.messages) > before)
        return self.messages[-1]


async def until(condition: Callable[[], object]) -> None:
    end = time.monotonic() + WITHIN
    while not condition():
        assert time.monotonic() < end
        await asyncio.sleep(0.02)


def gone(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


def open_files() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="counts open files by /proc")
def test_a_killed_process_is_told_of_and_leaves_neither_thread_nor_file() -> None:
    async def test() -> None:
        heard = Heard(answers)
        await heard.answer("first")  # the first process brings the system's own helper along
        heard.process.close()
        await until(lambda: not heard.process.running)
        threads, files = threading.active_count(), open_files()
        for count in (1, 2):
            pid, echoed = await heard.answer(f"message {count}")
            assert echoed == f"message {count}"
            assert pid == heard.pid
            os.kill(pid, signal.SIGKILL)
            await until(lambda count=count: len(heard.losses) == count)
            assert not heard.process.running
        assert heard.losses == [(Loss.ENDED, True), (Loss.ENDED, True)]
        await until(lambda: (threading.active_count(), open_files()) == (threads, files))

    run(test())


def test_a_process_can_be_started_before_there_is_a_message() -> None:
    async def test() -> None:
        heard = Heard(answers)
        heard.process.start()
        early = heard.pid
        heard.process.start()
        assert heard.process.idle
        assert await heard.answer("one") == (early, "one")
        assert heard.losses == []
        heard.process.close()

    run(test())


def test_a_background_process_lets_others_go_first() -> None:
    async def test() -> None:
        usual, background = Heard(tells_niceness), Heard(tells_niceness, background=True)
        assert await usual.answer("now") == os.nice(0)
        assert await background.answer("now") > os.nice(0)
        for heard in (usual, background):
            heard.process.close()

    run(test())


def test_a_stopped_process_with_work_is_found_and_ended() -> None:
    async def test() -> None:
        heard = Heard(answers)
        await heard.answer("at work")
        await until(lambda: heard.process.idle)
        pid = heard.pid
        os.kill(pid, signal.SIGSTOP)
        # It has nothing to do, so its silence means nothing until something is wanted.
        await asyncio.sleep(0)
        assert heard.losses == []
        heard.process.send("are you there?")
        await until(lambda: heard.losses)
        assert heard.losses == [(Loss.HUNG, True)]
        await until(lambda: gone(pid))

    run(test())


def test_a_process_that_never_comes_back_to_its_pipe_is_ended() -> None:
    async def test() -> None:
        heard = Heard(sticks, step_limit=1.0)
        heard.process.send("anything")
        await until(lambda: heard.losses)
        assert heard.losses == [(Loss.HUNG, True)]
        heard.process.close()

    run(test())


def test_a_process_that_ends_again_and_again_is_not_started_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(worker_process, "_MOST_LOSSES", 2)

    async def test() -> None:
        heard = Heard(ends)
        for count in range(1, 4):
            heard.process.send("anything")
            await until(lambda count=count: len(heard.losses) == count)
        assert [again for _, again in heard.losses] == [True, True, False]

    run(test())


def test_a_process_that_cannot_be_started_is_told_of(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: object) -> None:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(worker_process._CONTEXT.Process, "start", full)

    async def test() -> None:
        heard = Heard(answers)
        heard.process.start()
        await asyncio.sleep(0)
        assert heard.losses == []
        heard.process.send("anything")
        await until(lambda: heard.losses)
        assert heard.losses == [(Loss.ABSENT, True)]
        assert not heard.process.running

    run(test())


def test_a_process_without_work_is_ended_and_started_when_there_is_some(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(worker_process, "_IDLE_LIMIT", 0.05)

    async def test() -> None:
        heard = Heard(answers)
        first, _ = await heard.answer("one")
        await until(lambda: not heard.process.running)
        await until(lambda: gone(first))
        second, _ = await heard.answer("two")
        assert second != first
        assert heard.losses == []
        heard.process.close()

    run(test())
