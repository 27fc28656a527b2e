"""The soak's command: what it takes, and what it sees of a process."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from render.measure.processes import PAGE, Watch
from render.measure.soak import main, minutes_of
from tests.waiting import eventually


def test_minutes() -> None:
    assert minutes_of([]) == 15
    assert minutes_of(["60"]) == 60
    assert minutes_of(["0.5"]) == 0.5


@pytest.mark.parametrize("text", ["", "0", "-3", "nan", "inf", "1e9", "soon", "1 2"])
def test_what_is_no_number_of_minutes(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([text]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.startswith(
        f"minutes: {text!r} is not a number from 0.5 to 600; give one, such"
    )
    assert captured.err.count("\n") == 1


_GROWING = """
import subprocess, sys, threading
first = b"x" * 1_000_000
for line in sys.stdin:
    kept = bytearray(80_000_000)
    files = [open(sys.executable) for _ in range(7)]
    for _ in range(3):
        threading.Thread(target=threading.Event().wait, daemon=True).start()
    child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    open(sys.argv[1] + "/left.gif", "wb").write(first)
    print("grown", flush=True)
"""


@pytest.mark.skipif(os.name != "posix", reason="Windows counts handles, of which there are more")
def test_it_sees_what_a_process_holds(tmp_path: Path) -> None:
    temporary, log = tmp_path / "temporary", tmp_path / "log.txt"
    temporary.mkdir()
    with (
        log.open("wb") as output,
        subprocess.Popen(
            [sys.executable, "-c", _GROWING, str(temporary)], stdin=subprocess.PIPE, stdout=output
        ) as process,
    ):
        assert process.stdin is not None
        watch = Watch(process.pid, [temporary], log)
        before = watch.sample(1.0)
        process.stdin.write(b"grow\n")
        process.stdin.flush()
        eventually(lambda: log.read_bytes() == b"grown\n")
        after = watch.sample(2.0, faults=True)
        process.stdin.close()
    assert list(before.processes) == [PAGE]
    assert list(after.processes) == [PAGE, "worker 1"]
    # Kernel counts: exact, but for memory, which comes in pages and arenas.
    assert after.processes[PAGE].threads == before.processes[PAGE].threads + 3
    assert after.processes[PAGE].files == before.processes[PAGE].files + 7 + 1
    grown = after.processes[PAGE].memory - before.processes[PAGE].memory
    assert 75e6 < grown < 100e6
    assert (before.temporary_files, after.temporary_files) == (0, 1)
    assert after.temporary_bytes == 1_000_000
    assert (before.log_lines, after.log_lines) == (0, 1)
    assert after.faults
    assert not before.faults
