"""What a soak finds in its samples: leaks of each kind, and nothing in a program that is well."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from render.measure.growth import Sample, Usage, findings

MB = 1_000_000
WARM_UP = 4.0


def record(
    minutes: float = 15.0, a_minute: int = 4, **changed: Callable[[float], Any]
) -> list[Sample]:
    """Give the samples of a program that does not grow, as one behaves: noisy, warm after a while.

    Parameters
    ----------
    minutes : float
    a_minute : int
        Samples a minute.
    **changed : callable
        What is added to a figure, by the minute: ``page`` and ``worker`` (MB), ``threads``,
        ``files``, ``temporary_files``, ``temporary_mb``, ``log_lines``, ``workers``.
    """
    random = np.random.default_rng(7)
    samples = []
    for number in range(1, int(minutes * a_minute)):
        minute = number / a_minute

        def more(what: str, at: float = minute) -> Any:
            return changed.get(what, lambda _: 0)(at)

        warming = 40 * np.exp(-minute)
        page = 150 - warming + random.normal(0, 1.5) + more("page")
        worker = 900 - 10 * warming + random.normal(0, 60) + more("worker")
        processes = {
            "the page": Usage(
                int(page * MB),
                11 + int(random.integers(0, 2)) + int(more("threads")),
                22 + int(random.integers(0, 4)) + int(more("files")),
            ),
            "worker 1": Usage(int(worker * MB), 8, 12),
        }
        for extra in range(int(more("workers"))):
            processes[f"worker {extra + 2}"] = Usage(0, 0, 0)
        samples.append(
            Sample(
                minute,
                processes,
                7 + int(random.integers(0, 3)) + int(more("temporary_files")),
                int((20 + random.uniform(0, 8) + more("temporary_mb")) * MB),
                int(3 * minute + more("log_lines")),
                faults=minute > 0.75 * minutes,
            )
        )
    return samples


def test_a_program_that_is_well() -> None:
    assert findings(record(), WARM_UP) == []


@pytest.mark.parametrize("minutes", [10.0, 60.0])
def test_however_long(minutes: float) -> None:
    assert findings(record(minutes), WARM_UP) == []


@pytest.mark.parametrize(
    ("what", "leak", "words"),
    [
        ("page", lambda minute: 3.0 * minute, "memory of the page grew by "),
        ("worker", lambda minute: 25.0 * minute, "memory of worker 1 grew by "),
        ("threads", lambda minute: minute, "threads of the page grew from 1"),
        ("files", lambda minute: 3 * minute, "open files of the page grew from "),
        ("temporary_files", lambda minute: 2 * minute, "temporary files grew from "),
        ("temporary_mb", lambda minute: 20 * minute, "temporary files in all grew from "),
        ("log_lines", lambda minute: 60 * minute, "the log has 63 lines a minute (20 are"),
        ("workers", lambda minute: minute > 13, "processes grew from 2 to 3 (0 more are"),
    ],
)
def test_a_leak_is_found_by_name(what: str, leak: Callable[[float], float], words: str) -> None:
    found = findings(record(**{what: leak}), WARM_UP)
    assert len(found) == 1
    assert found[0].startswith(words), found


def test_what_fills_while_warming_up_is_no_leak() -> None:
    def filled(minute: float) -> float:
        return 60 * min(minute, WARM_UP)

    assert findings(record(page=filled, temporary_mb=filled), WARM_UP) == []


def test_what_restarts_leave_behind_is_found() -> None:
    # A thread and three files for each worker that is killed, as it once was.
    def restarts(minute: float) -> int:
        return max(0, int(4 * (minute - 0.75 * 15)))

    found = findings(record(threads=restarts, files=lambda at: 3 * restarts(at)), WARM_UP)
    assert [one.partition(" grew")[0] for one in found] == [
        "threads of the page",
        "open files of the page",
    ]


def test_memory_of_a_new_worker_is_no_growth() -> None:
    samples = record()
    for place, sample in enumerate(samples):
        if sample.faults:
            processes = dict(sample.processes)
            processes["worker 2"] = replace(processes.pop("worker 1"), memory=1600 * MB)
            samples[place] = replace(sample, processes=processes)
    assert findings(samples, WARM_UP) == []


def test_too_few_samples_tell_nothing() -> None:
    assert findings(record(threads=lambda at: 9 * at)[:20], WARM_UP) == []
