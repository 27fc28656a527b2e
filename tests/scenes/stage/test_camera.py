"""Where points of the stage come to lie in a picture."""

import numpy as np
import pytest

from scenes.stage.camera import Camera


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
