"""The page when its processes are lost: what it says, and what it goes on with."""

import os
import re
import signal
import sys
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import pytest

from materials.shelf import Shelf
from render.editor.desk import Desk
from render.page.app import Page
from render.page.cards import cards
from render.page.picture import picture
from render.page.send import export_options, made_files, send
from render.page.send.export_work import job_of
from render.page.send.order import Choice, Order, origin_of
from render.page.send.send import Exports
from render.page.server.outgoing import Outgoing
from render.page.server.roles import Role, Session
from render.page.server.sockets import Client
from render.page.workers import worker_process
from render.page.workers.export_worker import ExportJob, ExportKind, JobEnded, JobProgress
from render.page.workers.render_messages import FINE, PLAIN, RING, Frame, turn_of
from render.request.subject import Subject
from scenes.files import samples
from tests.loops import run as run_loop
from tests.render.page.server.serving import IdleWorker
from tests.render.page.workers.small_workers import answers, ends, makes
from tests.render.page.workers.test_worker_process import until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


@pytest.fixture(autouse=True)
def _state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    monkeypatch.setattr(worker_process, "_MOST_LOSSES", 1)
    monkeypatch.setattr(cards, "_BENCH_DELAY", 3600.0)


def on_page(test: Callable[[Page], Coroutine[Any, Any, None]]) -> None:
    """Run a test on a page that is not served."""

    async def run() -> None:
        page = Page(Desk.open("sample:half-scale"), shared=False, announce=lambda _: None)
        try:
            await test(page)
        finally:
            page.close()

    run_loop(run())


def ask(exports: Exports, title: str = "fine") -> int:
    """Have a file made, as the page does."""
    number = exports._next()
    design = samples.load("half-scale").without_variants().model_copy(update={"title": title})
    subjects = (Subject(design, Shelf.shipped()),)
    origin = origin_of(exports._page.desk)
    exports._orders[number] = Order(f"{number}.png", origin, Choice(ExportKind.STILL, ".png"))
    job = ExportJob(number, ExportKind.STILL, subjects, exports._folder / f"{number}.png")
    exports._begin(job, exports._picture.view_of(OWNER))
    exports._state.send_jobs = [
        *exports._state.send_jobs,
        {"number": number, "what": f"{number}.png", "share": 0.0, "words": "waiting"},
    ]
    return number


def owner() -> Client:
    """Stand for the builder's own tab."""

    async def send(_: bytes) -> None:
        raise AssertionError("nothing is sent here")

    return Client(1, Session("owner", Role.OWNER), Outgoing(send, lambda: 0))


OWNER = owner()
"""Who asks for what is made."""


def problem(exports: Exports) -> str:
    """Say why the last file that the owner asked for could not be made."""
    return exports._choice_of(OWNER).problem


def listed(page: Page) -> list[int]:
    return [one["number"] for one in page.state.send_done]


def at_work(page: Page) -> int:
    """The process that says it is at work; 0 as long as none does."""
    words = " ".join(one["words"] for one in page.state.send_jobs)
    found = re.search(r"process (\d+)", words)
    return int(found[1]) if found else 0


# ---- sending


def test_what_waits_behind_a_killed_job_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(send, "run_export_worker", makes)

    async def test(page: Page) -> None:
        stuck, second, third = ask(page.exports, "stuck"), ask(page.exports), ask(page.exports)
        await until(lambda: at_work(page))
        part = page.exports._folder / f".{stuck}.part"
        await until(part.exists)
        os.kill(at_work(page), signal.SIGKILL)
        await until(lambda: listed(page) == [third, second])
        assert problem(page.exports) == (
            f"{stuck}.png could not be made (its process was ended); try once more."
        )
        assert page.state.send_jobs == []
        assert not page.exports.busy
        assert sorted(path.name for path in page.exports._folder.iterdir()) == [
            f"{second}.png",
            f"{third}.png",
        ]

    on_page(test)


def test_what_waits_can_be_cancelled_without_ending_what_is_in_hand(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(send, "run_export_worker", makes)

    async def test(page: Page) -> None:
        stuck, second = ask(page.exports, "stuck"), ask(page.exports)
        await until(lambda: at_work(page))
        page.exports.cancel(second)
        assert [one["number"] for one in page.state.send_jobs] == [stuck]
        assert page.status == f"{second}.png was cancelled."
        process = at_work(page)
        # What does not hear of it is ended after a while, and what waits behind is made.
        third = ask(page.exports)
        monkeypatch.setattr(send, "_STUCK", 0.0)
        page.exports.cancel(stuck)
        page.exports._tick()
        await until(lambda: listed(page) == [third])
        assert at_work(page) != process
        assert problem(page.exports) == ""

    on_page(test)


def test_the_newest_files_are_kept_and_each_can_be_removed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(send, "run_export_worker", makes)
    monkeypatch.setattr(made_files, "_MOST_KEPT", 3)

    async def test(page: Page) -> None:
        numbers = [ask(page.exports) for _ in range(5)]
        await until(lambda: listed(page) == numbers[:1:-1])
        files = {path.name for path in page.exports._folder.iterdir()}
        assert files == {f"{number}.png" for number in numbers[2:]}
        page.exports._dismiss(numbers[3])
        assert listed(page) == [numbers[4], numbers[2]]
        assert not (page.exports._folder / f"{numbers[3]}.png").exists()
        # By size too, but never the newest.
        monkeypatch.setattr(made_files, "_MOST_BYTES_KEPT", 3)
        last = ask(page.exports)
        await until(lambda: listed(page) == [last])

    on_page(test)


def test_pictures_for_print_are_made_with_a_resolution() -> None:
    for kind in (ExportKind.STILL, ExportKind.PHOTOGRAPH):
        for size, resolution in (("message", None), ("mail", None), ("print", 300)):
            choice = Choice(kind, ".png", size)
            assert job_of(1, choice, (), Path("a.png")).resolution == resolution


def test_a_file_says_of_which_state_of_which_design_it_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(send, "run_export_worker", makes)

    def ages(page: Page) -> list[tuple[str, str]]:
        return [(one["title"], one["age"]) for one in page.state.send_done]

    async def test(page: Page) -> None:
        desk, exports = page.desk, page.exports
        title = desk.title
        exports._choose(OWNER, "bench sheet", ".pdf", "letter")
        exports._make(OWNER)
        await until(lambda: ages(page) == [(title, "present")])
        (first,) = listed(page)
        desk.change("relief.gap", 30)
        assert ages(page) == [(title, "earlier")]
        desk.undo()
        assert ages(page) == [(title, "present")]
        desk.redo()
        # Made again as it was asked for, whatever has been chosen since; and the old one goes.
        exports._choose(OWNER, "still", ".png", "mail")
        exports._make_again(OWNER, first)
        (job,) = exports._jobs.values()
        assert (job.kind, job.paper) == (ExportKind.SHEET, "letter")
        assert job.subjects[0].design.relief.gap == 30
        await until(lambda: listed(page) == [job.number])
        assert ages(page) == [(title, "present")]
        assert [path.name for path in exports._folder.iterdir()] == [job.path.name]
        # Of another design it would be another file.
        desk.open_sample("open-diamonds")
        assert ages(page) == [(title, "other")]
        exports._make_again(OWNER, job.number)
        assert not exports._jobs

    on_page(test)


def test_a_file_that_somebody_cleared_away_is_told_of(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(send, "run_export_worker", makes)

    async def test(page: Page) -> None:
        with page.state:
            page.exports._jobs[7] = ExportJob(
                7, ExportKind.STILL, (), page.exports._folder / "7.png"
            )
            page.exports._asked_by[7] = page.picture.view_of(OWNER)
            page.exports._orders[7] = Order("seven.png", origin_of(page.desk), Choice())
            page.exports._ended(send.JobEnded(7))
        assert "seven.png was made and is gone again" in problem(page.exports)
        assert page.status == problem(page.exports)

    on_page(test)


# ---- figures


def test_figures_of_a_process_that_ends_are_not_asked_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cards, "run_bench_worker", ends)
    monkeypatch.setattr(cards, "_BENCH_DELAY", 0.0)

    async def test(page: Page) -> None:
        def trouble() -> str:
            (in_units,) = page.cards._cards.values()
            text: str = in_units.state["form_bench"]["trouble"]
            return text

        await until(lambda: "starts anew" in trouble())
        await until(lambda: "again and again" in trouble())
        assert page.status == trouble()
        page.cards._bench_trouble = ""
        page.desk.change("relief.gap", 30)  # one more try, and no more
        await until(lambda: "again and again" in trouble())

    on_page(test)


# ---- the picture


def test_a_picture_of_a_process_that_ends_is_not_asked_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(picture, "run_render_worker", ends)

    async def test(page: Page) -> None:
        tab = owner()
        view = page.picture.view_of(tab)
        page.picture._hello(tab, 400, 300, 1, 0)
        await until(lambda: "starts anew" in view.state["pic_trouble"])
        await until(lambda: "again and again" in view.state["pic_trouble"])
        view.show_trouble("")
        page.picture._turned(tab, 20, False, False)  # turning it is no reason to try again
        assert not page.picture._render_worker.running
        page.desk.change("relief.gap", 30)
        await until(lambda: "again and again" in view.state["pic_trouble"])

    on_page(test)


def test_nothing_is_drawn_for_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture, "run_render_worker", answers)
    watched = [False]
    monkeypatch.setattr(Page, "watched", property(lambda _: watched[0]))

    async def test(page: Page) -> None:
        page.picture.resend_request()
        assert not page.picture._render_worker.running
        watched[0] = True
        page.picture._hello(owner(), 400, 300, 1, 0)
        assert page.picture._render_worker.running
        for _ in range(2 * picture._UNWATCHED_LIMIT):
            page.picture._tick()
        assert page.picture._render_worker.running
        watched[0] = False
        for _ in range(picture._UNWATCHED_LIMIT):
            page.picture._tick()
        assert not page.picture._render_worker.running
        page.desk.change("relief.gap", 30)
        assert not page.picture._render_worker.running

    # Its answers are no pictures; nobody looks at them.
    monkeypatch.setattr(picture.Picture, "_received", lambda *_: None)
    on_page(test)


def test_a_finished_ring_asks_for_no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture, "run_render_worker", answers)
    monkeypatch.setattr(picture.Picture, "_received", lambda *_: None)

    async def test(page: Page) -> None:
        shown, tab = page.picture, owner()
        shown._hello(tab, 400, 300, 1, 0)
        view = shown.view_of(tab)
        shown._render_worker.close()
        for slot in range(RING):
            turn = turn_of(slot)
            view.kept.put(Frame(slot, view.number, view.epoch, "B", turn, FINE, b""))
        shown._turned(tab, 9, False, False)
        assert not shown._render_worker.running
        shown._hold(tab, True)  # a hand reaches for a slider: the next picture is wanted soon
        assert shown._render_worker.running
        shown._hold(tab, False)
        shown._render_worker.close()
        view.kept.put(Frame(5, view.number, view.epoch, "B", turn_of(5), PLAIN, b""))
        shown._turned(tab, 9, False, False)
        assert shown._render_worker.running

    on_page(test)


@pytest.mark.parametrize("installed", [True, False])
def test_a_photograph_that_cannot_be_made_here_says_so_beforehand(
    installed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(export_options, "find_spec", lambda name: name if installed else None)

    async def test(page: Page) -> None:
        offers = {one["kind"]: one["description"] for one in page.state.send_offers}
        assert ("Not installed here" in offers["photograph"]) is not installed
        assert "Not installed" not in offers["still"]

    on_page(test)


# ---- how long it takes


def test_time_is_told_before_during_and_from_then_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(send, "WorkerProcess", IdleWorker)
    clock = [100.0]
    monkeypatch.setattr(send.time, "monotonic", lambda: clock[0])

    async def test(page: Page) -> None:
        exports, client = page.exports, owner()

        def forecast() -> str:
            return str(exports._state_of(client)["send_forecast"])

        def words(spent: float, share: float, left: float | None = None) -> str:
            clock[0] = 100.0 + spent
            exports._received(JobProgress(number, share, "picture", left))
            return str(page.state.send_jobs[0]["words"])

        exports._choose(client, "photograph", ".png", "message")
        assert re.search(r"MB\. Takes about \S+ .* here, estimated: none of this kind", forecast())
        exports._make(client)
        (number,) = exports._jobs
        assert words(0.0, 0.0) == "picture"
        assert words(2.0, 0.02) == "picture"
        # The path tracer has estimated it.
        assert words(5.0, 0.1, 60.0) == "picture, about 60 seconds left"
        assert words(25.0, 0.4) == "picture, about 40 seconds left"
        # It takes longer than was estimated: by what is done.
        assert words(80.0, 0.8) == "picture, about 20 seconds left"
        clock[0] = 200.0
        exports._jobs[number].path.write_bytes(b"whole")
        exports._received(JobEnded(number))
        assert forecast().endswith("MB. Takes about 100 seconds here.")
        exports._choose(client, "still", ".png", "message")
        assert "here, estimated: none of this kind" in forecast()

    on_page(test)
