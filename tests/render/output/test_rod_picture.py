"""The picture of a whole rod: where its insets stand, and that each says its scale exactly."""

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from geometry.grid import Detail
from render.cli.main import main
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.output.rod_layout import RodLayout
from render.output.rod_picture import save_rod_picture, steps
from render.request.subject import Subject
from scenes.building.build import Plan
from scenes.files import samples, storage
from scenes.stage.along_rod import camera_at, pixels_per_mm

SIZE = 1200, 500

MORE = """
[[wraps]]
name = "{name}"
placement = {{ from = {start}, to = {end} }}
layers = [ {{ kind = "cover", thread = "Hawthorn Red A", margin = 0 }} ]
"""

PLACES = {"fore wrap": (460, 520), "far wrap": (1280, 1290), "keeper": (540, 552)}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "rod.toml"
    text = samples.text("ringed-grip-wrap")
    last = "{ at = 590, diameter = 12.15 },"
    assert last in text
    text = text.replace(last, f"{last}\n  {{ at = 1310, diameter = 6.2 }},")
    text += "".join(
        MORE.format(name=name, start=start, end=end) for name, (start, end) in PLACES.items()
    )
    path.write_text(text, "utf-8")
    return path


@pytest.fixture
def subject(file: Path) -> Subject:
    design = storage.load(file)
    return Subject(design, storage.shelf_for(design, file))


@pytest.fixture
def plan(subject: Subject) -> Plan:
    return subject.plan()


def test_every_wrap_has_an_inset_in_order(plan: Plan) -> None:
    names = [inset.name for inset in RodLayout.of(plan, SIZE).insets]
    assert names == [plan.design.wrap_name, "fore wrap", "keeper", "far wrap"]


@pytest.mark.parametrize("size", [SIZE, (1600, 900), (3508, 2480), (1000, 1000), (3000, 600)])
def test_insets_stand_apart_and_leaders_do_not_cross(plan: Plan, size: tuple[int, int]) -> None:
    layout = RodLayout.of(plan, size)
    width, height = size
    for row in (
        [inset for inset in layout.insets if inset.top < height / 2],
        [inset for inset in layout.insets if inset.top > height / 2],
    ):
        assert len(row) == 2
        for inset in row:
            assert 0 < inset.left < inset.left + inset.size[0] < width
            assert 0 < inset.top < inset.top + inset.size[1] + 2 * layout.line < height
        for one, other in pairwise(row):
            assert one.left + one.size[0] < other.left
            assert one.place < other.place


def test_the_scale_is_that_of_both_pictures(plan: Plan) -> None:
    layout = RodLayout.of(plan, SIZE)
    for inset, (start, end) in zip(layout.insets[1:3], [(460, 520), (540, 552)], strict=True):
        ends = np.array([[start - plan.middle, 0, 0], [end - plan.middle, 0, 0]])
        on_rod, _ = layout.camera.project(ends, SIZE)
        closer, _ = inset.camera.project(ends, inset.size)
        assert on_rod[:, 0] == pytest.approx(np.array(inset.place), abs=0.01)
        assert on_rod[:, 1] == pytest.approx(SIZE[1] / 2)
        assert np.ptp(closer[:, 0]) / np.ptp(on_rod[:, 0]) == pytest.approx(inset.times, rel=1e-6)
        assert np.ptp(closer[:, 0]) / (end - start) == pytest.approx(
            inset.size[0] / inset.across, rel=1e-6
        )


def test_a_camera_across_keeps_its_scale_to_the_edges(plan: Plan) -> None:
    camera = camera_at(plan, plan.middle + 70, 400, 3.0, below=0.2)
    places = np.linspace(-100, 260, 9)
    seen, _ = camera.project(np.stack([places, 0 * places, 0 * places], axis=-1), (900, 300))
    assert np.diff(seen[:, 0]) == pytest.approx(45 * 900 / 400)
    assert pixels_per_mm(camera, 300) == pytest.approx(900 / 400, rel=1e-3)
    # The rod's axis lies a fifth of the height below the middle, but for perspective.
    assert seen[:, 1] == pytest.approx(0.7 * 300, abs=6)


def test_too_small_a_picture_is_refused(plan: Plan) -> None:
    with pytest.raises(RequestProblem, match=r"^size: 1200x120 has no room .* give a height") as no:
        RodLayout.of(plan, (1200, 120))
    least = int(re.findall(r"height of (\d+)", str(no.value))[0])
    assert RodLayout.of(plan, (1200, least)).insets
    with pytest.raises(RequestProblem, match=r"has no room for 2 enlarged wraps in a row"):
        RodLayout.of(plan, (60, 900))


@pytest.mark.render
def test_insets_show_their_wraps(subject: Subject, tmp_path: Path) -> None:
    path = tmp_path / "rod.png"
    progress = Progress.none()
    wrap = subject.build(Detail.DRAFT, progress)
    layout, reports = save_rod_picture(wrap, path, size=SIZE)
    assert not reports
    assert steps(wrap.design) == 6
    pixels = np.asarray(Image.open(path)).astype(float)
    assert pixels.shape == (SIZE[1], SIZE[0], 3)
    for inset in layout.insets[1:]:
        middle = inset.left + inset.size[0] // 2, inset.top + inset.size[1] // 2
        red, green, blue = pixels[middle[1] - 5 : middle[1] + 6, middle[0]].mean(axis=0)
        assert red > 1.5 * max(green, blue), inset.name
    # A long rod far off: the card reaches to every edge of the picture.
    assert pixels[-3:].mean() > 15
    assert pixels[:, -3:].mean(axis=(1, 2)).min() > 8


@pytest.mark.render
@pytest.mark.usefixtures("coarse_mesh")
def test_a_still_of_the_whole_rod(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    output = file.with_suffix(".png")
    command = ["still", str(file), "--whole", "--detail", "draft", "--size", "900x400"]
    assert main([*command, "-o", str(output)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == f"{output}: 900x400"
    assert [line.split(":")[0] for line in lines[2:5]] == ["fore wrap", "keeper", "far wrap"]
    assert " × the rod, " in lines[2]
    output.unlink()
    assert main([*command, "--zoom", "2", "-o", str(output)]) == 2
    assert capsys.readouterr().err == (
        "zoom: --zoom moves the camera of one view, and --whole has a camera for each wrap; leave "
        'it out, or give --view "whole rod".\n'
    )
    assert not output.exists()
