"""Work beside the event loop: the page goes on, and what nobody waits for is called off."""

import asyncio
import threading
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from aiohttp import web

from render.editor.desk import Desk
from render.page.workers.background import run_in_background, try_in_background
from scenes.artwork import typesetting
from scenes.decoding import cache, process
from scenes.decoding.process import Limits, decode
from scenes.files import samples
from scenes.problems import DesignProblem
from tests.scenes.decoding.hostile import nested_components, nested_subroutines
from tests.waiting import WITHIN, eventually

AMPLE = Limits(cpu_s=600, wall_s=600, memory=1_000_000_000, output=100_000_000)
HANGS = nested_subroutines()


def decoding() -> list[process._Child]:
    """The children that are at work."""
    threads = [one for one in threading.enumerate() if isinstance(one, process._Exchange)]
    return [one._given[0] for one in threads]


def is_there(child: process._Child) -> bool:
    return child._process.poll() is None


def run_alone(main: Callable[[], Any]) -> Any:
    """Run a loop in a thread: playwright keeps one running in this, once a browser is open."""
    found: list[Any] = []
    thread = threading.Thread(target=lambda: found.append(asyncio.run(main())), daemon=True)
    thread.start()
    thread.join(WITHIN)
    assert not thread.is_alive()
    return found[0]


def hang() -> None:
    decode("letters", HANGS, {"runs": [["A", False]], "number": 0}, AMPLE)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("heron-plate"), encoding="utf-8")
    return path


def test_what_it_gives_and_what_it_raises() -> None:
    async def main() -> None:
        assert await run_in_background(lambda: 7) == 7
        with pytest.raises(ZeroDivisionError):
            await run_in_background(lambda: 1 // 0)
        with pytest.raises(ZeroDivisionError):
            await try_in_background(lambda: 1 // 0)

    run_alone(main)


def test_a_task_that_is_cancelled_ends_the_decoding() -> None:
    found: list[process._Child] = []

    async def main() -> None:
        task = asyncio.ensure_future(run_in_background(hang))
        while not decoding():
            await asyncio.sleep(0.01)
        found.extend(decoding())
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    run_alone(main)
    eventually(lambda: is_there(found[0]), False)
    eventually(lambda: bool(decoding()), False)


def test_a_browser_that_has_gone_ends_the_decoding() -> None:
    found: list[process._Child] = []
    request: Any = SimpleNamespace(transport=SimpleNamespace(is_closing=lambda: bool(found)))

    async def main() -> None:
        task = asyncio.ensure_future(run_in_background(hang, request))
        while not decoding():
            await asyncio.sleep(0.01)
        found.extend(decoding())
        with pytest.raises(web.HTTPServiceUnavailable):
            await task

    run_alone(main)
    eventually(lambda: is_there(found[0]), False)


def test_the_loop_ends_although_the_work_does_not() -> None:
    """A thread of `asyncio.to_thread` would hold the loop, and the program, up here."""
    release, begun = threading.Event(), threading.Event()

    def work() -> None:
        begun.set()
        release.wait(WITHIN)

    async def main() -> None:
        task = asyncio.ensure_future(run_in_background(work))
        while not begun.is_set():
            await asyncio.sleep(0.01)
        task.cancel()

    run_alone(main)
    assert not release.is_set()
    threads = [one for one in threading.enumerate() if one.name == "background"]
    assert threads
    assert all(one.daemon for one in threads)
    release.set()


def test_a_hostile_font_holds_the_page_up_neither_at_first_nor_again(file, monkeypatch) -> None:
    limits = Limits(cpu_s=1, wall_s=10, memory=400_000_000, output=1_000_000)
    monkeypatch.setattr(typesetting, "FONT_LIMITS", limits)
    desk = Desk.open(str(file))
    text = "A"
    desk.change("line.text", text)
    turns = 0

    async def main() -> None:
        nonlocal turns
        task = asyncio.ensure_future(
            try_in_background(lambda: desk.check_import_file("line.font", "own.ttf", HANGS))
        )
        while not task.done():
            await asyncio.sleep(0.01)
            turns += bool(decoding())
        await task

    run_alone(main)
    assert turns > 5
    monkeypatch.setattr(cache, "decode", lambda *_: pytest.fail("The loop would wait here."))
    with pytest.raises(DesignProblem, match="takes too long to read"):
        desk.import_file("line.font", "own.ttf", HANGS)
    assert [one.name for one in file.parent.iterdir()] == ["mine.toml"]


def test_trying_changes_nothing_and_doing_is_then_known(file, monkeypatch) -> None:
    desk = Desk.open(str(file))
    desk.change("line.text", "A")
    font, before = nested_components(2), desk.design
    desk.check_import_file("line.font", "own.ttf", font)
    assert desk.design == before
    assert [one.name for one in file.parent.iterdir()] == ["mine.toml"]
    with monkeypatch.context() as patched:
        patched.setattr(cache, "decode", lambda *_: pytest.fail("It was known."))
        desk.import_file("line.font", "own.ttf", font)
    assert desk.design.layers[2].font == "own.ttf"
    desk.save()
    other = file.with_name("other.toml")
    other.write_text(desk.text, encoding="utf-8")
    desk.undo()
    desk.check_open_file(other)
    desk.check_use_file("line.font", "own.ttf")
    assert desk.path == file
    assert desk.design == before
