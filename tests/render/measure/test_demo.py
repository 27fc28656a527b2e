"""The first wrap: what it makes, and what it does with a display and without."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from render.common.error_reporting import run_reporting_errors
from render.common.progress import Progress
from render.editor.desk import Desk
from render.live.live import LiveScene
from render.measure import demo
from render.page import app
from render.request.options import SAMPLE, subject_of
from scenes.design.document import with_changes
from scenes.files.state_folder import STATE_VARIABLE

MADE = [("a still", Path("out/half-scale.png"))]


class Counted(Progress):
    taken = 0.0

    def advance(self, share: float = 1) -> None:
        self.taken += share


def blank(scene: LiveScene, turn: float | None = None) -> NDArray[np.uint8]:
    return np.zeros((scene.size[1], scene.size[0], 3), np.uint8)


@pytest.fixture
def nothing_is_drawn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(demo, "make_pictures", lambda *_: MADE)


@pytest.mark.usefixtures("nothing_is_drawn")
def test_without_a_display_it_stops_there(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(demo, "has_display", lambda: False)
    assert run_reporting_errors(demo.show) == 0
    out, err = capsys.readouterr()
    assert str(MADE[0][1].resolve()) in out
    assert "no display" in out
    assert err == ""


@pytest.mark.usefixtures("nothing_is_drawn")
def test_with_a_display_it_opens_the_page(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    opened: list[Desk] = []
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path))
    monkeypatch.setattr(demo, "has_display", lambda: True)
    monkeypatch.setattr(app, "open_page", lambda desk, **_: opened.append(desk))
    assert run_reporting_errors(demo.show) == 0
    (desk,) = opened
    assert desk.design == subject_of(f"{SAMPLE}{demo.NAME}").design
    desk.close()


@pytest.mark.render
@pytest.mark.usefixtures("quick_reading")
def test_one_bar_for_all_of_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Everything is made, of a short wrap and with blank pictures, and its steps are counted."""
    monkeypatch.setattr(demo, "_FRAMES", 3)
    monkeypatch.setattr(LiveScene, "picture", blank)
    whole = subject_of(f"{SAMPLE}{demo.NAME}")
    middle = whole.design.placement.middle
    short = with_changes(whole.design, {"placement.from": middle - 22, "placement.to": middle + 22})
    subject = replace(whole, design=short.model_copy(update={"variants": short.variants[:1]}))
    progress = Counted.none()
    made = demo.make_pictures(subject, tmp_path, progress)
    sizes = []
    for _, path in made:
        with Image.open(path) as image:
            sizes.append(image.size)
    assert [path.suffix for _, path in made] == [".png", ".gif", ".png"]
    assert sizes[:2] == [(1600, 900), (960, 540)]
    assert progress.taken == demo.steps(subject)
