"""The work itself, on real workers: equal to the bit wherever it is done, and never lost."""

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from render.catalogue.cluster import DaskWorkers, Work, dask_workers
from render.catalogue.public_design import PublicDesign, public_subjects
from render.catalogue.tasks import Task, TaskKind, joined_film
from render.catalogue.work import run_task
from render.request.options import subject_of
from tests.waiting import eventually

pytestmark = pytest.mark.render

SIZE = (48, 32)

GPUS = ("0", "1")
"""Names of graphics processors; nothing here draws with them."""

SHORT = """
turnlight = 1
units = "mm"
title = "Reed"
[blank]
colour = "#22303a"
stations = [ { at = 100, diameter = 12 }, { at = 400, diameter = 10 } ]
[placement]
from = 200
to = 206
[[layers]]
kind = "cover"
thread = "Heron Silver A"
[[variants]]
name = "gold"
changes = { "cover.thread" = "Gorse Gold A" }
"""
"""A wrap that takes little time."""


@pytest.fixture(scope="module")
def designs(tmp_path_factory: pytest.TempPathFactory) -> list[PublicDesign]:
    path = tmp_path_factory.mktemp("designs") / "reed.toml"
    path.write_text(SHORT, encoding="utf-8")
    subjects, _ = public_subjects(subject_of(str(path)))
    return [PublicDesign.of(subject) for subject in subjects]


@pytest.fixture(scope="module")
def workers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DaskWorkers]:
    scratch = tmp_path_factory.mktemp("scratch")
    with dask_workers(count=2, scratch=scratch, gpus=GPUS) as opened:
        eventually(lambda: len(worker_processes()), 2)
        yield opened


def test_each_worker_uses_one_graphics_processor(workers: DaskWorkers) -> None:
    # CUDA C++ Programming Guide, "CUDA Environment Variables".
    named = workers._client.run(os.getenv, "CUDA_VISIBLE_DEVICES")
    assert sorted(named.values()) == sorted(GPUS)


def worker_processes() -> list[psutil.Process]:
    """Workers are the child processes that listen."""
    children = psutil.Process().children(recursive=True)
    return [child for child in children if listening(child)]


def listening(process: psutil.Process) -> list[str]:
    try:
        connections = process.net_connections(kind="inet")
    except psutil.Error:
        return []
    return [each.laddr.ip for each in connections if each.status == psutil.CONN_LISTEN]


def test_results_on_two_workers_are_those_of_this_process(
    workers: DaskWorkers, designs: list[PublicDesign]
) -> None:
    tasks = [
        Task(TaskKind.STILL, designs[0], SIZE, "draft"),
        Task(TaskKind.STILL, designs[1], SIZE, "draft"),
        Task(TaskKind.FILM, designs[0], SIZE, "draft", frames=2),
        Task(TaskKind.SPIN_PAGE, designs[0], SIZE, "draft", frames=2),
    ]
    works = [Work(number, task.plain) for number, task in enumerate(tasks)]
    found = dict(workers.results(works))
    for number, task in enumerate(tasks):
        here = run_task(task.plain())
        assert here["problem"] == ""
        assert {task.key + suffix for suffix in here["results"]} == set(task.names)
        assert found[number] == here


def test_no_listener_is_beyond_loopback(workers: DaskWorkers) -> None:
    addresses = [listening(process) for process in (psutil.Process(), *worker_processes())]
    assert all(addresses)
    assert {address for each in addresses for address in each} <= {"127.0.0.1", "::1"}


def test_a_worker_that_is_killed_loses_nothing(
    workers: DaskWorkers, designs: list[PublicDesign]
) -> None:
    sizes = [(48, 32 + 2 * step) for step in range(5)]
    tasks = [Task(TaskKind.STILL, designs[0], size, "draft") for size in sizes]
    found = {}
    for number, result in workers.results(Work(n, task.plain) for n, task in enumerate(tasks)):
        if not found:
            os.kill(worker_processes()[0].pid, signal.SIGKILL)
        found[number] = result
    assert sorted(found) == list(range(len(tasks)))
    assert [result["problem"] for result in found.values()] == [""] * len(tasks)


def test_a_task_of_another_version_is_refused(
    designs: list[PublicDesign], monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = Task(TaskKind.STILL, designs[0], SIZE, "draft").plain()
    assert "another version" in run_task({**plain, "program": "0"})["problem"]


def test_a_film_of_joined_frames_is_the_film(designs: list[PublicDesign]) -> None:
    film = Task(TaskKind.FILM, designs[0], SIZE, "draft", frames=3)
    # Frames as slow as of a photo, but drawn live, are one to a task.
    slow = joined_film(Task(TaskKind.FILM, designs[0], (960, 540), "draft", frames=3, photo=True))
    assert [(part.first, part.last) for part in slow.parts] == [(0, 1), (1, 2), (2, 3)]
    parts = joined_film(film).parts
    made = [run_task(part.plain())["results"][".frames"] for part in parts]
    joined = run_task(joined_film(film).plain(tuple(made)))
    assert joined == run_task(film.plain())


def test_a_key_is_of_the_content_alone(designs: list[PublicDesign], tmp_path: Path) -> None:
    task = Task(TaskKind.STILL, designs[0], SIZE, "draft")
    assert Task.from_plain(task.plain()).key == task.key
    others = [
        Task(TaskKind.SPIN_PAGE, designs[0], SIZE, "draft"),
        Task(TaskKind.STILL, designs[1], SIZE, "draft"),
        Task(TaskKind.STILL, designs[0], (48, 34), "draft"),
        Task(TaskKind.STILL, designs[0], SIZE, "normal"),
        Task(TaskKind.STILL, designs[0], SIZE, "draft", photo=True),
    ]
    assert len({task.key, *(other.key for other in others)}) == len(others) + 1
