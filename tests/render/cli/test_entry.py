"""The edges of a command: Ctrl-C at any moment, and streams that are closed, full or not read.

Each program here is a small one that stands still where Ctrl-C shall meet it.
"""

import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests.waiting import WITHIN

ROOT = Path(__file__).resolve().parents[3]

posix = pytest.mark.skipif(os.name == "nt", reason="Windows has no signal that only Ctrl-C sends")

BEGIN = """
import os, sys, threading, time
from pathlib import Path
from render.cli.entry import guarded

def stand():
    print("here", flush=True)
    time.sleep(600)
"""


def program(folder: Path, code: str, **given: object) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-c", BEGIN + textwrap.dedent(code)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        cwd=folder,
        text=True,
        **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **given},  # type: ignore[call-overload]
    )


def interrupted(folder: Path, code: str) -> tuple[int, str]:
    """Send Ctrl-C where a program stands; give its exit code and what it says then."""
    running = program(folder, code, preexec_fn=_heed_the_keyboard)
    assert running.stdout is not None
    assert running.stdout.readline() == "here\n"
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=WITHIN)
    return running.returncode, err


def _heed_the_keyboard() -> None:
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@posix
def test_while_the_program_loads(tmp_path: Path) -> None:
    assert interrupted(tmp_path, "sys.exit(guarded(stand))") == (
        130,
        "Stopped; nothing was written.\n",
    )


@posix
def test_while_a_command_loads_what_it_needs(tmp_path: Path) -> None:
    (tmp_path / "slow.py").write_text("import __main__\n__main__.stand()\n")
    code = """
        def run():
            sys.path.insert(0, "")
            try:
                import slow
            except BaseException:
                print("compiled modules may crash here")
        sys.exit(guarded(lambda: run))
    """
    assert interrupted(tmp_path, code) == (130, "Stopped; nothing was written.\n")


WRITING = """
    from scenes.files.atomic import Unfinished

    def write(name):
        with Unfinished(Path(name).absolute(), called=Path(name)) as unfinished:
            unfinished.write(b"whole")
            unfinished.put()

    def run():
        write("a.png")
        with Unfinished(Path("b.png").absolute()) as unfinished:
            unfinished.write(b"half")
            {work}
        return {code}
    sys.exit(guarded(lambda: run))
"""


@posix
@pytest.mark.parametrize(
    ("work", "code"),
    [
        ("stand()", "0"),
        # A library that lets nothing through, and one that makes another error of it.
        ("threading.Event().wait(0)\n            while True:\n"
         "                try: stand()\n"
         "                except KeyboardInterrupt: pass", "0"),
        ("try: stand()\n"
         "            except KeyboardInterrupt: raise SystemError('no module') from None", "0"),
        # Half done when it was let go, and yet reported as done.
        ("try: stand()\n            except KeyboardInterrupt: pass", "0"),
    ],
    ids=["plain", "swallowed", "another error", "reported as done"],
)  # fmt: skip
def test_in_the_midst_of_the_work(tmp_path: Path, work: str, code: str) -> None:
    said = interrupted(tmp_path, WRITING.replace("{work}", work).replace("{code}", code))
    assert said == (130, 'Stopped; "a.png" is written.\n')
    assert [one.name for one in tmp_path.iterdir()] == ["a.png"]


@posix
def test_when_all_is_done_but_threads_are_waited_for(tmp_path: Path) -> None:
    code = WRITING.replace("{work}", "threading.Thread(target=later).start()").replace(
        "{code}", "0"
    )
    later = """
        def later():
            while guarded.__globals__["_WORKING"].is_set():
                time.sleep(0.01)
            stand()
    """
    said = interrupted(tmp_path, textwrap.dedent(later) + textwrap.dedent(code))
    assert said == (130, 'Stopped; "a.png" is written.\n')


@posix
def test_what_is_loaded_is_not_put_away_after_ctrl_c(tmp_path: Path) -> None:
    """Freeing VTK takes a second in which nothing can be stopped, and nobody needs it."""
    code = """
        import atexit

        def run():
            atexit.register(print, "put away", file=sys.stderr, flush=True)
            stand()
        sys.exit(guarded(lambda: run))
    """
    assert interrupted(tmp_path, code) == (130, "Stopped; nothing was written.\n")


@posix
def test_a_shell_that_keeps_ctrl_c_from_its_background_is_heeded(tmp_path: Path) -> None:
    code = """
        def run():
            os.kill(os.getpid(), 2)
            return 0
        sys.exit(guarded(lambda: run))
    """
    running = program(
        tmp_path, code, preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN)
    )
    assert running.communicate(timeout=WITHIN) == ("", "")
    assert running.returncode == 0


def test_the_beginning_loads_nothing_that_takes_time(tmp_path: Path) -> None:
    code = """
        slow = {"cyclopts", "numpy", "pydantic", "rich", "asyncio", "render.cli.main"}
        print(sorted(slow & set(sys.modules)))
    """
    assert program(tmp_path, code).communicate(timeout=WITHIN) == ("[]\n", "")
    assert 'turnlight = "render.cli.entry:main"' in (ROOT / "pyproject.toml").read_text("utf-8")


SLOW = {
    "aiohttp",
    "bidi",
    "cryptography",
    "filelock",
    "fontTools",
    "imageio_ffmpeg",
    "matplotlib",
    "numpy",
    "PIL",
    "pydantic",
    "reportlab",
    "rich",
    "scipy",
    "scipy.integrate",
    "scipy.interpolate",
    "scipy.optimize",
    "scipy.sparse",
    "scipy.spatial",
    "tomlkit",
    "trame",
    "trimesh",
    "uharfbuzz",
    "vtkmodules",
}


@pytest.mark.parametrize(
    ("arguments", "needed"),
    [
        ("--version", {"rich"}),
        ("--help", {"rich"}),
        ("frobnicate", {"rich"}),
        (
            "open --help",
            {
                "aiohttp",
                "bidi",
                "filelock",
                "fontTools",
                "numpy",
                "PIL",
                "pydantic",
                "rich",
                "tomlkit",
                "trame",
                "uharfbuzz",
            },
        ),
        ("still --help", {"imageio_ffmpeg", "numpy", "PIL", "pydantic", "rich"}),
        ("check sample:half-scale", {"numpy", "pydantic", "scipy"}),
    ],
)
def test_a_command_imports_what_it_uses(tmp_path: Path, arguments: str, needed: set[str]) -> None:
    code = f"""
        from render.cli.main import main
        main({arguments.split()})
        print("loaded:", *sorted(name for name in sys.modules if name.count(".") < 2))
    """
    out, _ = program(tmp_path, code).communicate(timeout=WITHIN)
    loaded = set(out.partition("loaded:")[2].split())
    assert "render.cli" in loaded
    assert loaded & SLOW == needed


# ---- Streams


SAYING = """
    def run():
        print("x" * 100_000)
        print("a problem", file=sys.stderr)
        Path("made").write_bytes(b"whole")
        return {code}
    sys.exit(guarded(lambda: run))
"""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device on this system")
@pytest.mark.parametrize("code", [0, 2])
def test_a_full_disk_behind_standard_output(tmp_path: Path, code: int) -> None:
    with Path("/dev/full").open("w") as full:
        running = program(tmp_path, SAYING.replace("{code}", str(code)), stdout=full)
        _, err = running.communicate(timeout=WITHIN)
    told = "All is done, but what it says cannot be written (No space left on device).\n"
    assert err == "a problem\n" + ("" if code else told)
    assert running.returncode == (code or 1)
    assert (tmp_path / "made").read_bytes() == b"whole"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device on this system")
def test_a_full_disk_behind_standard_error(tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as full:
        running = program(tmp_path, SAYING.replace("{code}", "2"), stderr=full)
        out, _ = running.communicate(timeout=WITHIN)
    assert len(out) == 100_001
    assert running.returncode == 2
    assert (tmp_path / "made").read_bytes() == b"whole"


@posix
def test_closed_streams(tmp_path: Path) -> None:
    def close() -> None:
        for number in (0, 1, 2):
            os.close(number)

    code = SAYING.replace("{code}", "open('after', 'w').fileno() < 3")
    running = program(tmp_path, code, stdout=None, stderr=None, preexec_fn=close)
    assert running.wait(timeout=WITHIN) == 0
    assert (tmp_path / "made").read_bytes() == b"whole"


@posix
def test_a_reader_that_has_seen_enough(tmp_path: Path) -> None:
    running = program(tmp_path, SAYING.replace("{code}", "0"))
    assert running.stdout is not None
    assert running.stderr is not None
    running.stdout.close()
    assert running.stderr.read() == "a problem\n"
    running.stderr.close()
    assert running.wait(timeout=WITHIN) == 1
    assert (tmp_path / "made").read_bytes() == b"whole"


@pytest.mark.skipif(
    not Path("/proc/self/task").is_dir(), reason="counts threads as Linux lists them"
)
def test_linear_algebra_spins_on_no_core_beside_the_work(tmp_path: Path) -> None:
    code = """
        from render.cli import entry

        def load():
            before = len(os.listdir("/proc/self/task"))
            import numpy
            return lambda: print(len(os.listdir("/proc/self/task")) - before) or 0

        entry._command_line = load
        sys.exit(entry.main())
    """
    said, err = program(tmp_path, code).communicate(timeout=WITHIN)
    assert (said, err) == ("0\n", "")
