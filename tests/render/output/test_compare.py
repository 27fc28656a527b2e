"""Comparisons: one light and camera for all, each labelled with what sets it apart."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.output.captions import caption, caption_height
from render.output.capture import scene_of
from render.output.compare import Comparison, Layout, save_comparison
from render.request.options import subjects_of
from render.request.subject import Subject
from scenes.design.document import with_changes
from scenes.design.variants import design_hash
from scenes.files import samples
from scenes.parts.view import LightSpec
from scenes.stage.exposure import held_stops

SIZE = (240, 174)


def sample(name: str = "half-scale", **changes: object) -> Subject:
    design = samples.load(name)
    named = {path.replace("__", "."): value for path, value in changes.items()}
    return Subject(with_changes(design, named) if named else design, Shelf.shipped())


def swept(spec: str, subject: Subject | None = None) -> Comparison:
    return Comparison.of(subjects_of([subject or sample()], sweep_spec=spec))


# ---- What is compared, and in which words


def test_a_sweep_is_labelled_with_its_values() -> None:
    assert swept("relief.gap=14,20,26").labels == ("gap 14 mm", "gap 20 mm", "gap 26 mm")


def test_variants_are_labelled_with_their_names_and_what_differs() -> None:
    comparison = Comparison.of(subjects_of([sample()]))
    assert comparison.labels == (
        "as designed",
        "narrow gap (gap 16 mm)",
        "wide gap (gap 36 mm)",
        "warm trim (trim with 2 Peat Charcoal A + 3 Gorse Gold A + 3 Ember Copper A + 2 Peat "
        "Charcoal A)",
        "dry",
    )
    assert comparison.notes == ()


def test_all_stand_in_the_light_of_the_first_and_it_is_said() -> None:
    comparison = Comparison.of([sample(), sample(light__kind="low sun", relief__gap=20)])
    assert {subject.design.light for subject in comparison.subjects} == {sample().design.light}
    assert comparison.labels == ("gap 21.2 mm", "gap 20 mm")
    assert comparison.notes == ("All are in the light of the first, soft boxes.",)


def test_all_are_seen_alike_and_it_is_said() -> None:
    comparison = Comparison.of([sample(), sample(camera__turn=40, relief__gap=20)])
    assert {subject.design.camera for subject in comparison.subjects} == {sample().design.camera}
    assert comparison.notes == ("All are seen as the first, whole wrap.",)


def test_what_differs_by_its_light_alone_is_left_out() -> None:
    comparison = Comparison.of([sample(), sample(light__kind="low sun"), sample(finish__coats=0)])
    assert comparison.labels == ("2 coats", "dry")
    assert "is left out" in comparison.notes[1]


@pytest.mark.parametrize(
    "given",
    [
        [sample()],
        [sample(), sample()],
        [sample(), sample(light__kind="low sun")],
        [sample(), sample(title="another title")],
    ],
    ids=["one", "twice the same", "other light", "other title"],
)
def test_two_that_look_different_are_needed(given: list[Subject]) -> None:
    with pytest.raises(RequestProblem, match="not two designs here that look different"):
        Comparison.of(given)


def test_too_many() -> None:
    given = [sample(relief__gap=10 + number / 4) for number in range(26)]
    with pytest.raises(RequestProblem, match="26 designs are more than 25"):
        Comparison.of(given)


# ---- Where it stands


def test_the_size_asked_for_is_the_size_of_the_whole() -> None:
    layout = Layout.of(swept("relief.gap=14,20,26"), (641, 401))
    strips = [caption("x", 641)] * 3
    panels = [np.zeros((layout.panel[1], layout.panel[0], 3), np.uint8)] * 3
    assert layout.sheet(panels, strips).shape == (401, 641, 3)


def test_without_a_size_there_is_room_for_each() -> None:
    three = Layout.of(swept("relief.gap=14,20,26"))
    two = Layout.of(swept("relief.gap=14,20"))
    assert three.panel == two.panel
    assert three.size == (1280, 3 * (three.panel[1] + caption_height(1280)))
    # An MP4 needs even sides.
    assert not any(side % 2 for side in three.size)


@pytest.mark.parametrize(
    "view", ["whole wrap", "three-quarter", "close", "along the rod", "arm's length"]
)
def test_every_view_has_a_layout(view: str) -> None:
    comparison = swept("relief.gap=14,20", sample(camera__view=view))
    layout = Layout.of(comparison)
    assert 0.1 < layout.panel[1] / layout.panel[0] < 0.6
    assert 0 < layout.camera.view_angle < 1


def test_the_camera_takes_in_the_longest() -> None:
    short, long = sample(), sample(placement__to=460)
    assert Layout.of(Comparison.of([short, long])).camera == (
        Layout.of(Comparison.of([long, short])).camera
    )
    assert Layout.of(Comparison.of([short, long])).camera.distance > (
        Layout.of(swept("relief.gap=14,20")).camera.distance
    )


def test_no_room() -> None:
    with pytest.raises(RequestProblem, match="no room for 3 designs"):
        Layout.of(swept("relief.gap=14,20,26"), (640, 150))


def test_more_than_fits_in_memory(tmp_path: Path) -> None:
    with pytest.raises(RequestProblem, match="more than fit in memory; give"):
        save_comparison(
            swept("relief.gap=14,20,26"),
            tmp_path / "a.mp4",
            size=(3840, 2160),
            frames=700,
            seconds=600.0,
        )
    assert list(tmp_path.iterdir()) == []


# ---- What it looks like


@pytest.mark.render
@pytest.mark.usefixtures("quick_reading")
def test_each_panel_is_the_picture_of_its_design(tmp_path: Path) -> None:
    comparison = swept("relief.gap=14,26")
    made = save_comparison(comparison, tmp_path / "a.png", size=SIZE, detail=Detail.DRAFT)
    layout = made.layout
    with Image.open(tmp_path / "a.png") as image:
        sheet = np.asarray(image)
        assert image.text["Design"].split() == [  # type: ignore[attr-defined]
            design_hash(subject.design) for subject in comparison.subjects
        ]
    assert sheet.shape == (SIZE[1], SIZE[0], 3)
    each = layout.panel[1] + caption_height(SIZE[0])
    # The second alone, from the same camera: its neighbour and the scene before leave no trace.
    wrap = comparison.subjects[1].build(Detail.DRAFT, Progress.none())
    with scene_of(wrap, layout.panel, Progress.none(), camera=layout.camera) as scene:
        np.testing.assert_array_equal(sheet[each : each + layout.panel[1]], scene.picture())
    for number, label in enumerate(comparison.labels):
        strip = sheet[number * each + layout.panel[1] : (number + 1) * each]
        np.testing.assert_array_equal(strip, caption(label, SIZE[0], beside=comparison.labels))


@pytest.mark.render
@pytest.mark.usefixtures("quick_reading")
def test_designs_turn_together(tmp_path: Path) -> None:
    comparison = swept("relief.gap=14,26")
    save_comparison(
        comparison, tmp_path / "a.gif", size=SIZE, detail=Detail.DRAFT, frames=3, seconds=1.0
    )
    with Image.open(tmp_path / "a.gif") as image:
        assert image.n_frames == 3  # type: ignore[attr-defined]
        assert image.size == SIZE
        shown = []
        for number in range(3):
            image.seek(number)
            shown.append(np.asarray(image.convert("RGB")).astype(int))
    height = SIZE[1] // 2
    for top in (0, height):
        panels = [frame[top : top + height - 20] for frame in shown]
        assert np.abs(panels[1] - panels[0]).mean() > 0.5
        strips = [frame[top + height - 18 : top + height] for frame in shown]
        np.testing.assert_array_equal(strips[0], strips[2])


@pytest.mark.render
@pytest.mark.usefixtures("coarse_mesh")
def test_one_exposure_for_all() -> None:
    # The ground behind a bright wrap and behind a dark one is the same.
    comparison = swept('cover.thread="Heron Silver A","Sloe Black A"')
    bright, dark = (subject.build(Detail.DRAFT, Progress.none()) for subject in comparison.subjects)
    layout = Layout.of(comparison, SIZE)
    with scene_of(bright, layout.panel, Progress.none(), camera=layout.camera) as scene:
        first = scene.picture()
        scene.show(dark, Progress.none())
        second = scene.picture()
    np.testing.assert_array_equal(first[:6], second[:6])
    middle = layout.panel[1] // 2
    assert first[middle].mean() > second[middle].mean() + 20


def test_highlights_are_held_alike_for_all() -> None:
    one = sample()
    held = with_changes(one.design, {"light.hold_highlights": True})
    comparison = swept('cover.thread="Heron Silver A","Sloe Black A"', replace(one, design=held))
    bright, dark = (subject.design.light for subject in comparison.subjects)
    assert bright == dark
    assert not bright.hold_highlights  # so that neither is lowered again by itself
    silver = comparison.subjects[0]
    assert bright.exposure == held_stops(silver.plan(), LightSpec()) < -0.5
