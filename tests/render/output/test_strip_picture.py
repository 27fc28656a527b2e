"""The strip of a rod: rows at one scale that cover the rod, and overlap as their marks say."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from render.cli.main import main
from render.common.problems import RequestProblem
from render.output.rod_layout import shown_span
from render.output.strip_picture import ROWS, StripLayout
from render.request.subject import Subject
from scenes.building.build import Plan
from scenes.files import samples, storage
from scenes.stage.along_rod import pixels_per_mm

SIZE = 2400, 1000


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "rod.toml"
    path.write_text(samples.text("spinning-rod"), "utf-8")
    return path


@pytest.fixture
def plan(file: Path) -> Plan:
    design = storage.load(file)
    return Subject(design, storage.shelf_for(design, file)).plan()


def test_rows_cover_the_rod_at_one_scale(plan: Plan) -> None:
    layout = StripLayout.of(plan, SIZE)
    start, end = shown_span(plan)
    assert len(layout.spans) == ROWS
    assert layout.spans[0][0] < start
    assert layout.spans[-1][1] > end
    for (_, one_ends), (next_begins, _) in pairwise(layout.spans):
        assert next_begins < one_ends
    for (begin, finish), camera in zip(layout.spans, layout.cameras, strict=True):
        # Source: similar triangles; so many pixels show so many millimetres.
        assert SIZE[0] / (finish - begin) == pytest.approx(layout.scale)
        assert pixels_per_mm(camera, layout.size[1]) == pytest.approx(layout.scale)


def test_a_picture_too_low_is_refused_with_a_height_that_will_do(plan: Plan) -> None:
    with pytest.raises(RequestProblem, match="no room for 4 rows") as refusal:
        StripLayout.of(plan, (2400, 300))
    least = int(str(refusal.value).split("height of ")[1].split()[0])
    StripLayout.of(plan, (2400, least))


@pytest.mark.render
def test_a_still_of_the_strip(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    output = file.with_suffix(".png")
    command = ["still", str(file), "--strip", "--detail", "draft", "--size", "1200x500"]
    assert main([*command, "-o", str(output)]) == 0
    assert "4 rows, each " in capsys.readouterr().out
    with Image.open(output) as picture:
        pixels = np.array(picture)
    assert pixels.shape == (500, 1200, 3)
    output.unlink()
    for more, words in (
        (["--whole"], "strip: --strip and --whole are given together; keep one."),
        (["--zoom", "2"], "--strip has a camera for each row"),
    ):
        assert main([*command, *more, "-o", str(output)]) == 2
        assert words in capsys.readouterr().err
        assert not output.exists()
