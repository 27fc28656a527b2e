"""Where points of the stage come to lie in a picture."""

import numpy as np
import pytest
from numpy.typing import NDArray

from materials.shelf import Shelf
from render.request.subject import Subject
from scenes.building.build import Plan
from scenes.files import samples
from scenes.parts.view import Lean, View
from scenes.stage.camera import Camera, framing_of, rolled


def square_on(distance: float = 500.0, view_angle: float = 20.0) -> Camera:
    return Camera((0.0, 0.0, distance), (0.0, 0.0, 0.0), (0.0, 1.0, 0.0), np.radians(view_angle))


def test_target_is_in_the_middle() -> None:
    camera = Camera((120.0, 300.0, 410.0), (7.0, -3.0, 2.0), (0.0, 1.0, 0.0), 0.3)
    place, depth = camera.project(np.array([camera.target]), (640, 360))
    np.testing.assert_allclose(place, [[320, 180]], atol=1e-9)
    assert depth == pytest.approx(camera.distance)


def test_view_angle_spans_the_picture_from_bottom_to_top() -> None:
    # By the definition of an angle of view: half the height stands at 500 tan(10°).
    high = 500 * np.tan(np.radians(10))
    points = np.array([[0, high, 0], [0, -high, 0], [high, 0, 0], [-high, 0, 0]])
    place, _ = square_on().project(points, (800, 400))
    np.testing.assert_allclose(place, [[400, 0], [400, 400], [600, 200], [200, 200]], atol=1e-9)


def test_farther_is_smaller() -> None:
    # Similar triangles.
    points = np.array([[10.0, 0, 0], [10.0, 0, -500.0]])
    place, depth = square_on().project(points, (800, 400))
    offset = place[:, 0] - 400
    assert offset[0] == pytest.approx(2 * offset[1])
    np.testing.assert_allclose(depth, [500, 1000])


def test_behind_the_camera_has_negative_depth() -> None:
    _, depth = square_on().project(np.array([[0.0, 0.0, 600.0]]), (100, 100))
    assert depth < 0


def test_shapes_and_nan() -> None:
    points = np.zeros((3, 4, 3))
    points[1, 2, 0] = np.nan
    place, depth = square_on().project(points, (100, 50))
    assert (place.shape, depth.shape) == ((3, 4, 2), (3, 4))
    assert np.isnan(place[1, 2, 0])
    assert np.isfinite(place[0]).all()


SHAPES = [16 / 9, 297 / 210, 1.0, 4 / 5, 210 / 297, 9 / 16]


@pytest.fixture(scope="module")
def plans() -> dict[str, Plan]:
    return {
        name: Subject(samples.load(name).without_variants(), Shelf.shipped()).plan()
        for name in samples.names()
    }


def ends(plan: Plan) -> NDArray[np.float64]:
    """Points of the stage on the rod's outline at both ends of the wrap."""
    start, end = plan.wound_span
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ring = [
        np.column_stack((np.full(24, z - plan.middle), r * np.cos(angle), r * np.sin(angle)))
        for z, r in ((start, plan.middle_radius), (end, plan.middle_radius))
    ]
    return np.concatenate(ring)


@pytest.mark.parametrize("view", [View.WHOLE_WRAP, View.THREE_QUARTER])
@pytest.mark.parametrize("lean", [Lean.FIT, Lean.ASLANT, Lean.UPRIGHT])
def test_both_ends_of_a_leaning_wrap_are_in_a_picture_of_any_shape(
    plans: dict[str, Plan], view: View, lean: Lean
) -> None:
    for name, plan in plans.items():
        framing = framing_of(plan, view)
        for aspect in SHAPES:
            angle = framing.lean(aspect, lean)
            if not angle:
                continue
            camera = rolled(framing.camera(aspect, angle), angle)
            size = (round(1000 * aspect), 1000)
            place, _ = camera.project(ends(plan), size)
            assert (place > 0).all(), (name, aspect)
            assert (place < size).all(), (name, aspect)


def test_the_rod_rises_by_the_angle_asked_for(plans: dict[str, Plan]) -> None:
    for angle in (0.4, np.pi / 4, np.pi / 2):
        camera = framing_of(plans["half-scale"], View.THREE_QUARTER).camera(1.0, angle)
        place, _ = rolled(camera, angle).project(
            np.array([[-20.0, 0, 0], [20.0, 0, 0]]), (800, 800)
        )
        right, down = place[1] - place[0]
        assert np.arctan2(-down, right) == pytest.approx(angle, abs=1e-6)


def test_a_rod_leans_only_where_that_shows_it_larger(plans: dict[str, Plan]) -> None:
    def length(camera: Camera, aspect: float) -> float:
        place, _ = camera.project(
            np.array([[-10.0, 0, 0], [10.0, 0, 0]]), (round(900 * aspect), 900)
        )
        return float(np.hypot(*(place[1] - place[0])))

    framing = framing_of(plans["half-scale"], View.WHOLE_WRAP)
    assert framing.lean(16 / 9, Lean.FIT) == 0
    # A square's diagonal is longer than its side by the root of two, less what the rod's
    # thickness takes in the corners.
    assert framing.lean(1.0, Lean.FIT) == pytest.approx(np.pi / 4)
    assert framing.lean(9 / 16, Lean.FIT) == np.pi / 2
    for aspect in SHAPES:
        angle = framing.lean(aspect, Lean.FIT)
        gain = length(rolled(framing.camera(aspect, angle), angle), aspect) / length(
            framing.camera(aspect), aspect
        )
        assert gain == 1 if angle == 0 else gain > 1.2
