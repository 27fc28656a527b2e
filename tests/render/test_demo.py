"""The first wrap: what it makes, and what it does with a display and without."""

from pathlib import Path

import pytest

from render import demo
from render.options import SAMPLE, subject_of
from render.page import app
from render.page.desk import Desk
from render.progress import Progress
from render.telling import run_told
from scenes.state_folder import STATE_VARIABLE

MADE = [("a still", Path("out/half-scale.png"))]


@pytest.fixture(autouse=True)
def nothing_is_drawn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(demo, "make_pictures", lambda *_: MADE)


def test_without_a_display_it_stops_there(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(demo, "has_display", lambda: False)
    assert run_told(demo.show) == 0
    out, err = capsys.readouterr()
    assert str(MADE[0][1].resolve()) in out
    assert "no display" in out
    assert err == ""


def test_with_a_display_it_opens_the_page(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    opened: list[Desk] = []
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path))
    monkeypatch.setattr(demo, "has_display", lambda: True)
    monkeypatch.setattr(app, "open_page", lambda desk, **_: opened.append(desk))
    assert run_told(demo.show) == 0
    (desk,) = opened
    assert desk.design == subject_of(f"{SAMPLE}{demo.NAME}").design
    desk.close()


def test_one_bar_for_all_of_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.undo()
    monkeypatch.chdir(tmp_path)
    taken = 0

    class Counted(Progress):
        def advance(self) -> None:
            nonlocal taken
            taken += 1

    subject = subject_of(f"{SAMPLE}{demo.NAME}")
    progress = Counted(quiet=True)

    def work(steps: int) -> None:
        for _ in range(steps):
            progress.advance()

    # Each part counts its own steps (checked beside each); here they must add up.
    monkeypatch.setattr(type(subject), "build", lambda *_: work(demo.BUILDING))
    monkeypatch.setattr(demo, "save_still", lambda *_, **__: work(demo.STILL_STEPS))
    monkeypatch.setattr(
        demo, "save_turntable", lambda *_, frames, **__: work(demo.turntable_steps(frames))
    )
    monkeypatch.setattr(
        demo, "save_comparison", lambda one, *_, **__: work(demo.comparison_steps(len(one.labels)))
    )
    made = demo.make_pictures(subject, tmp_path, progress)
    assert [path.suffix for _, path in made] == [".png", ".gif", ".png"]
    assert taken == demo.steps(subject)
