"""Bands cover a picture, and a picture drawn in bands is the picture drawn at once."""

import math

import numpy as np
import pytest

from render.live import bands as bands_module
from render.live.bands import bands
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from render.measure.steadiness import plain_cover, view_at
from scenes.stage.stage import stage_for


@pytest.mark.parametrize(
    ("width", "height", "step"), [(2560, 1440, 2), (1920, 1080, 2), (3001, 1999, 1), (8192, 9, 3)]
)
def test_bands_cover_a_picture_once(width: int, height: int, step: int) -> None:
    found = list(bands(width, height, step))
    assert [band.first for band in found] == [found[0].rows * k for k in range(len(found))]
    assert found[-1].first < height <= found[-1].first + found[-1].rows
    # Two rows at most are drawn in vain for each band.
    assert found[-1].first + found[-1].rows - height < 2 * step * len(found)
    if len(found) > 1:
        assert not found[0].rows % math.lcm(2, step)
        assert found[0].rows * width <= (1 << 20) + 2 * step * width


def test_a_picture_of_few_samples_is_one_band_seen_as_it_is() -> None:
    (band,) = bands(1280, 720, 1)
    assert (band.first, band.rows, band.middle) == (0, 720, 0)
    assert band.view_angle(0.3) == 0.3


def test_a_band_is_seen_under_its_part_of_the_angle() -> None:
    # The tangents of a plane's rows are in proportion to their places.
    for band in bands(2000, 1500, 1):
        low = math.tan(band.view_angle(0.8) / 2) * (band.middle - 1)
        whole = math.tan(0.4)
        assert low == pytest.approx(whole * (2 * band.first / 1500 - 1))


@pytest.mark.render
def test_a_picture_in_bands_is_the_picture_drawn_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    quieten()
    size = (90, 61)
    stage = stage_for(plain_cover("Heron Silver A", 0), size[0] / size[1])
    for camera in (stage.camera, view_at(6.0, size[1], (0.0, 0.0, 0.0))):
        seen = stage.with_camera(camera)
        with LiveScene(seen, size, supersample=2) as scene:
            whole = scene.picture(0.2).astype(int)
        with monkeypatch.context() as small:
            small.setattr(bands_module, "_MOST_SAMPLES", 180 * 30)
            with LiveScene(seen, size, supersample=2) as scene:
                parts = scene.picture(0.2).astype(int)
        assert parts.shape == whole.shape
        # Points of triangles are rounded to 1/256 of a sample, here and there to the other side.
        apart = np.abs(parts - whole).max(axis=-1)
        assert (apart > 1).mean() < 0.01
        assert np.abs(parts - whole).mean() < 0.01
