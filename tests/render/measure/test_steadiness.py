"""Rows of thread that neither flash as the camera draws back nor flicker as the rod turns."""

from dataclasses import replace

import numpy as np
import pytest

from materials.shelf import Shelf
from render.live.vtk_log import quieten
from render.measure.steadiness import field_radiance, flicker, plain_cover
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.light.lights import LightKind, directions
from scenes.parts.view import LightSpec
from scenes.stage.stage import Stage, stage_for

pytestmark = pytest.mark.render

SCALES = [13.5, 6.75, 3.375, 1.6875]
"""Pixels a mm over a zoom of 8 times: a row of 0.17 mm from nearly five samples to a third of a
pixel."""


def in_smooth_light(wrap: Wrap, height: int = 64) -> Stage:
    """Put a wrap into a light without edges: a wide glow above, and a weak light from everywhere.

    In it brightness varies smoothly over the field, so that changes with distance come from the
    rows and not from the alignment of pixels and edges.
    """
    toward = directions(height)
    centre = np.array((0.3, np.sin(np.deg2rad(50)), np.cos(np.deg2rad(50))))
    glow = np.maximum(toward @ (centre / np.linalg.norm(centre)), 0) ** 4
    light = np.repeat((0.075 + glow)[..., None], 3, axis=2).astype(np.float32)
    stage = stage_for(wrap, 1 / 3)
    return replace(stage, light=light, surroundings=light)


@pytest.mark.parametrize("thread", ["Heron Silver A", "Peat Charcoal A"])
def test_cover_is_as_bright_from_afar(thread: str) -> None:
    # Radiance does not change with distance.
    quieten()
    seen = field_radiance(in_smooth_light(plain_cover(thread, 2)), SCALES)
    assert seen.max() / seen.min() < 1.03, np.round(seen, 4)


@pytest.mark.parametrize(("coats", "kind"), [(0, LightKind.WORKSHOP_LAMP), (2, LightKind.LOW_SUN)])
def test_small_lights_are_met_as_often_from_afar(coats: int, kind: LightKind) -> None:
    # Narrower than the part of a row that a tap stands for.
    quieten()
    stage = stage_for(plain_cover("Heron Silver A", coats), 5 / 3, light=LightSpec(kind=kind))
    # The ends of the range: each is drawn in three exposures at four turns.
    seen = field_radiance(stage, [SCALES[0], SCALES[-1]], turns=4)
    assert seen.max() / seen.min() < 1.03, np.round(seen, 4)


def short_wrap(sample: str, coats: int, length: float = 20.0) -> Wrap:
    """The middle of a sample, longer than what is seen of it, and nothing else on the blank."""
    quieten()
    design = samples.load(sample).without_variants()
    middle = design.placement.middle
    changes = {
        "placement.from": middle - length / 2,
        "placement.to": middle + length / 2,
        "blank.fitted": [],
        "finish.coats": coats,
    }
    return build(Plan(with_changes(design, changes), Shelf.shipped()))


@pytest.fixture(scope="module")
def scales() -> Wrap:
    return short_wrap("half-scale", 2, 36.0)


@pytest.mark.parametrize("coats", [0, 3])
def test_threads_of_different_kinds_are_as_bright_where_they_melt_together(coats: int) -> None:
    # Gold between silver and black nylon, thread by thread.
    quieten()
    design = with_changes(samples.load("slow-beat").without_variants(), {"finish.coats": coats})
    stripes = build(Plan(design, Shelf.shipped()))
    # Each mirrors or scatters in its own colour, and what lies deep gets less light.
    seen = field_radiance(in_smooth_light(stripes), SCALES)
    assert seen.max() / seen.min() < 1.03, np.round(seen, 4)


def test_threads_of_different_kinds_do_not_flicker() -> None:
    stage = stage_for(short_wrap("slow-beat", 3), 16 / 9)
    found = flicker(stage, 3.5, size=(64, 36), frames=3)
    assert found.reference > 0.3  # something moves
    assert found.ratio < 1.5, found


@pytest.mark.parametrize(("scale", "preview"), [(3.5, False), (14.0, True)])
def test_rows_and_scales_do_not_flicker(scales: Wrap, scale: float, preview: bool) -> None:
    # Against 64 samples a pixel; one where a hand waits for the picture.
    stage = stage_for(scales, 16 / 9)
    samples_across = 1 if preview else 2
    found = flicker(
        stage, scale, size=(96, 54), supersample=samples_across, preview=preview, frames=3
    )
    assert found.reference > 0.5  # something moves
    assert found.ratio < 1.5, found


@pytest.mark.parametrize(
    ("sample", "scale", "preview"),
    [("shoal-panel", 14.0, True), ("ringed-grip-wrap", 3.5, False)],
    ids=["ends of woven threads", "outline of a smooth wrap"],
)
def test_edges_do_not_flicker(sample: str, scale: float, preview: bool) -> None:
    # What changes from frame to frame is narrower than a sample.
    quieten()
    wrap = build(Plan(samples.load(sample).without_variants(), Shelf.shipped()))
    samples_across = 1 if preview else 2
    stage = stage_for(wrap, 16 / 9)
    found = flicker(
        stage, scale, size=(96, 54), supersample=samples_across, preview=preview, frames=3
    )
    assert found.reference > 0.05  # something moves
    assert found.ratio < 1.5, found


@pytest.mark.parametrize("coats", [0, 2])
def test_scales_are_as_bright_from_afar(coats: int) -> None:
    light = LightSpec(kind=LightKind.SOFT_BOXES)
    stage = stage_for(short_wrap("half-scale", coats), 5 / 3, light=light)
    seen = field_radiance(stage, SCALES, turns=2)
    assert seen.max() / seen.min() < 1.03, np.round(seen, 4)
