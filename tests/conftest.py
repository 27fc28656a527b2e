"""What every test shares: off-screen drawing, VTK's errors made visible, no unseen skips in CI."""

import gc
import os
import re
import shutil
import sys
from collections.abc import Generator, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import hypothesis
import numpy as np
import pytest

# Read by PyVista when it is imported, which only a test that draws does.
os.environ.setdefault("PYVISTA_OFF_SCREEN", "true")

IN_CI = os.environ.get("CI", "").lower() not in ("", "0", "false", "no")
ARTEFACTS = Path(__file__).resolve().parents[1] / "out" / "test-artefacts"

# No deadline: how long an example takes says more about the machine than about the code. In CI
# the same examples are tried every time, so that a failure there can be had again here.
hypothesis.settings.register_profile("turnlight", deadline=None, derandomize=IN_CI)
hypothesis.settings.load_profile("turnlight")


# ---- Pictures that were not drawn


@dataclass(slots=True, eq=False)
class RenderLedger:
    """Counts the tests marked ``render`` that ran, and names those that did not."""

    ran: int = 0
    skipped: list[str] = field(default_factory=list)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Count a test where it is told of, which is one place however many processes run them."""
        if getattr(report, "draws", False):
            if report.skipped and not hasattr(report, "wasxfail"):
                self.skipped.append(report.nodeid)
            elif report.when == "call":
                self.ran += 1

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """Note a whole file under ``tests/render`` that skipped itself."""
        if report.skipped and "render" in Path(report.nodeid).parts:
            self.skipped.append(report.nodeid)

    def complaint(self, whole_suite: bool) -> str:
        """Say what CI must not let pass, or nothing."""
        if self.skipped:
            return (
                "CI is set and these render tests were skipped, which counts as failing: "
                + ", ".join(self.skipped)
            )
        if whole_suite and self.ran == 0:
            return "CI is set and the whole suite ran without one render test: that is a failure."
        return ""


LEDGER = pytest.StashKey[RenderLedger]()
FAILED = pytest.StashKey[bool]()


def is_whole_suite(config: pytest.Config) -> bool:
    """Tell whether pytest was asked for everything, not for a choice of tests."""
    chosen = any(config.getoption(name, None) for name in ("keyword", "markexpr", "deselect", "lf"))
    return config.args_source is pytest.Config.ArgsSource.TESTPATHS and not chosen


def pytest_configure(config: pytest.Config) -> None:
    """Start counting."""
    config.stash[LEDGER] = RenderLedger()
    config.pluginmanager.register(config.stash[LEDGER])


def pytest_collection_finish() -> None:
    """Leave what has been imported and collected out of each later search for garbage.

    It stays to the end, and to go through half a million objects takes a quarter of a second.
    """
    gc.collect()
    gc.freeze()


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_makereport(
    item: pytest.Item,
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Mark render tests, and leave each test's result where its fixtures find it."""
    report = yield
    item.stash[FAILED] = item.stash.get(FAILED, False) or report.failed
    # The marker, not the keywords: those hold the folder's name too.
    report.draws = any(item.get_closest_marker(name) is not None for name in ("render", "browser"))
    return report


def pytest_sessionfinish(session: pytest.Session) -> None:
    """In CI, turn a run that left pictures out into a failure."""
    if hasattr(session.config, "workerinput"):  # one of several processes: sees but its share
        return
    complaint = session.config.stash[LEDGER].complaint(is_whole_suite(session.config))
    harmless = (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED)
    if IN_CI and complaint and session.exitstatus in harmless:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say what a builder's jobs took, and why a run without a failed test failed."""
    for report in terminalreporter.stats.get("", []):  # what is told at the end of a fixture
        for took in (value for name, value in report.user_properties if name == "job"):
            terminalreporter.write_line(f"{report.nodeid.rpartition('::')[2]}: {took}")
    config = terminalreporter.config
    complaint = config.stash[LEDGER].complaint(is_whole_suite(config))
    if IN_CI and complaint:
        terminalreporter.write_line(complaint, red=True)


@pytest.fixture(autouse=True)
def vtk_errors_fail(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail a render test during which VTK reported an error: by itself it only prints."""
    if request.node.get_closest_marker("render") is None:
        yield
        return
    from vtkmodules.vtkCommonCore import (  # noqa: TID251 - listens to the renderer, draws nothing
        vtkCommand,
        vtkOutputWindow,
        vtkStringOutputWindow,
    )

    errors: list[str] = []

    def note(_window: object, _event: str, text: str) -> None:
        errors.append(text.strip())

    note.CallDataType = "string0"  # type: ignore[attr-defined]  # how VTK asks what to pass
    window = vtkStringOutputWindow()
    window.AddObserver(vtkCommand.ErrorEvent, note)
    before = vtkOutputWindow.GetInstance()
    vtkOutputWindow.SetInstance(window)
    try:
        yield
    finally:
        vtkOutputWindow.SetInstance(before)
    if errors:
        pytest.fail("VTK reported:\n" + "\n".join(errors), pytrace=False)


def share_light(state: Path, factory: pytest.TempPathFactory) -> None:
    """Link the cache of blurred light of a state folder to the one that this test run shares.

    Each program that a test starts has a state folder of its own, and would blur the same lights
    again, a second of a core for each. What a file there holds is checked by
    `tests/scenes/cache/test_light.py`.
    """
    base = factory.getbasetemp()
    # Processes of one run have their folders side by side.
    shared = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "light"
    shared.mkdir(exist_ok=True)
    light = state / "cache" / "light"
    light.parent.mkdir(parents=True, exist_ok=True)
    if not light.is_symlink():
        with suppress(OSError):  # Windows asks for a right to make links
            light.symlink_to(shared, target_is_directory=True)


@pytest.fixture(scope="session", autouse=True)
def state_of_their_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what Turnlight remembers, and its locks, out of the folder of whoever runs the tests."""
    with pytest.MonkeyPatch.context() as patch:
        state = tmp_path_factory.mktemp("state")
        share_light(state, tmp_path_factory)
        patch.setenv("TURNLIGHT_STATE", str(state))
        yield


@pytest.fixture(scope="module", autouse=True)
def memory_of_a_file() -> Iterator[None]:
    """Let go of what the tests of a file have kept for one another."""
    yield
    # A file that keeps something has imported it; this one is copied alone by a test of itself.
    if kept := sys.modules.get("tests.kept"):
        kept.forget()


# ---- Small help


@pytest.fixture
def rng() -> np.random.Generator:
    """Random numbers that are the same in every run and in every order of tests."""
    return np.random.default_rng(20_250_301)


@pytest.fixture
def artefacts(request: pytest.FixtureRequest) -> Iterator[Path]:
    """Give a folder for pictures (drawn, reference, difference) that stays if the test fails."""
    folder = ARTEFACTS / re.sub(r"[^\w.-]+", "_", request.node.nodeid)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    yield folder
    if not request.node.stash.get(FAILED, False):
        shutil.rmtree(folder, ignore_errors=True)
