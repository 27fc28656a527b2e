"""Costs and their history on one machine."""

import sys
import time
from pathlib import Path

import numpy as np
import pytest

from render.measure.costs.figures import Cost, cost_of_command
from render.measure.costs.history import Run, changes, history_file, kept, read
from render.measure.costs.quick import table_of
from render.measure.surfaces.processor_time import cpu_seconds


def cost(ratio: float, unit: str = "CPU s", *, more_is_better: bool = False) -> Cost:
    return Cost("check", "check", ratio, unit, 1.0, ratio, more_is_better)


def run(ratio: float, others: float = 0.0) -> Run:
    return Run("2026-01-01T00:00:00+00:00", others, {"check": ratio})


def test_a_command_that_takes_longer_than_usual_is_worse() -> None:
    before = [run(ratio) for ratio in (9.0, 1.0, 1.02, 0.98, 1.0, 1.01)]
    # By hand: the median of the last five is 1.0.
    found = changes([cost(1.3)], before)["check"]
    assert found.share == pytest.approx(0.3)
    assert found.runs == 5
    assert found.worse
    assert not changes([cost(1.1)], before)["check"].worse
    assert not changes([cost(0.5)], before)["check"].worse


def test_less_of_what_is_better_is_worse() -> None:
    found = changes([cost(8.0, "x", more_is_better=True)], [run(16.0)])["check"]
    assert found.share == pytest.approx(1.0)
    assert found.worse


def test_runs_beside_other_work_count_only_where_there_are_no_others() -> None:
    assert changes([cost(2.0)], [run(1.0), run(2.0, others=0.9)])["check"].share == 1.0
    assert changes([cost(2.0)], [run(2.0, others=0.9)])["check"].share == 0.0
    assert changes([cost(2.0)], []) == {}


def test_the_table_says_what_is_worse_and_what_is_wanted() -> None:
    costs = [cost(1.3)]
    table = table_of(costs, changes(costs, [run(1.0)]))
    cells = [list(column.cells) for column in table.columns]
    assert cells == [["check"], ["1.30 CPU s"], ["1 CPU s"], ["NO"], ["+30% (of 1) WORSE"]]


def test_a_history_is_read_back_and_forgets_the_oldest(tmp_path: Path) -> None:
    file = tmp_path / "bench" / "here.jsonl"
    assert read(file) == []
    runs = [run(float(number)) for number in range(250)]
    kept(file, runs)
    assert read(file) == runs[50:]
    with file.open("a") as added:
        added.write('cut off\n[]\n{"when": 1}\n')
    assert read(file) == runs[50:]


def test_the_history_is_named_by_the_machine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path))
    file = history_file()
    assert file.parent == tmp_path / "bench"
    assert file.stem.endswith("-cores")


@pytest.mark.skipif(sys.platform == "win32", reason="no wait4 there")
def test_a_command_is_measured_in_a_process_of_its_own(tmp_path: Path) -> None:
    # A bare Python takes some 10 MB. What this process holds is not the command's.
    held = np.ones(600_000_000 // 8)
    seconds, megabytes = cost_of_command(["--version"], str(tmp_path), 1)
    assert held.nbytes == 600_000_000
    assert 0.01 < seconds < 60
    assert 5 < megabytes < 500


def test_sleep_costs_no_processor_time() -> None:
    assert cpu_seconds(lambda: time.sleep(0.05), 1) < 0.04
