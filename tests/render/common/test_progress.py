"""Progress: shown on a terminal alone, and in as many steps as were promised."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from geometry.grid import Detail
from render.common.progress import Progress
from render.live.live import LiveScene
from render.output.compare import Comparison, save_comparison
from render.output.compare import steps as comparison_steps
from render.output.film import Film
from render.output.still import STEPS, save_still
from render.output.turntable import save_turntable
from render.output.turntable import steps as turntable_steps
from render.request.options import subject_of, subjects_of
from scenes.building.build import Wrap


class Counted(Progress):
    taken = 0.0

    def advance(self, share: float = 1) -> None:
        self.taken += share


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take blank pictures: the steps are what is counted."""
    monkeypatch.setattr(
        LiveScene,
        "picture",
        lambda scene, turn=None: np.zeros((scene.size[1], scene.size[0], 3), np.uint8),
    )


def test_nothing_is_written_where_there_is_no_terminal(
    capfd: pytest.CaptureFixture[str],
) -> None:
    with Progress(2) as progress:
        progress.describe("cover")
        progress.advance()
    assert capfd.readouterr() == ("", "")


def test_a_note_is_written_in_any_case_but_when_quiet(
    capfd: pytest.CaptureFixture[str],
) -> None:
    with Progress(2) as progress:
        progress.note("About a minute")
    Progress.none().note("About a minute")
    assert capfd.readouterr() == ("", "About a minute.\n")


def test_on_a_terminal_the_bar_is_on_standard_error(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # How Rich is told that what it writes to is as good as a terminal.
    monkeypatch.setenv("TTY_COMPATIBLE", "1")
    with Progress(2, quiet=False) as progress:
        progress.describe("cover")
        progress.advance()
    out, err = capfd.readouterr()
    assert out == ""
    assert "cover" in err


@pytest.mark.render
@pytest.mark.usefixtures("undrawn", "quick_reading")
def test_the_steps_are_as_many_as_promised(
    sample_wrap: Callable[[str], Wrap], tmp_path: Path
) -> None:
    wrap = sample_wrap("two-start-band")
    progress = Counted.none()
    save_still(wrap, tmp_path / "a.png", size=(32, 32), progress=progress)
    assert progress.taken == STEPS
    progress = Counted.none()
    save_turntable(wrap, tmp_path / "a.gif", Film((32, 32), 4), progress=progress)
    assert progress.taken == turntable_steps(4)
    # One bar for drawing and writing, however many sizes are tried.
    progress = Counted.none()
    film = Film((32, 32), 4)
    save_turntable(wrap, tmp_path / "c.gif", film, max_mb=1, progress=progress)
    assert progress.taken == pytest.approx(turntable_steps(4, limited=True))
    assert turntable_steps(4, limited=True) > turntable_steps(4)
    progress = Counted.none()
    subjects = subjects_of([subject_of("sample:two-start-band")], sweep_spec="finish.coats=0,2")
    save_comparison(
        Comparison.of(subjects),
        tmp_path / "b.gif",
        size=(160, 160),
        detail=Detail.DRAFT,
        frames=3,
        progress=progress,
    )
    assert progress.taken == comparison_steps(2, 3)
