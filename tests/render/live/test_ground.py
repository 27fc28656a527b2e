"""The pattern of the ground lies where it was computed, live and in a photograph."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from render.live.live import LiveScene
from render.pathtraced.photo import PhotoScene, developed
from scenes.building.build import Wrap
from scenes.parts.view import Ground
from scenes.stage.backdrop import Backdrop
from scenes.stage.camera import Camera
from scenes.stage.ground import GroundPattern, ground_pattern
from scenes.stage.stage import Stage, stage_for

pytestmark = pytest.mark.render

Floats = NDArray[np.float32]

SIDE = 96
WIDE = 24.0
"""Pixels along either side of the picture, and mm of the ground that it shows."""

AWAY = 100.0
BELOW = 20.0


def seen_from_above(wrap: Wrap, pattern: GroundPattern, middle: tuple[float, float]) -> Stage:
    """Level ground alone, in even light of radiance 1, in which it sends out its reflectance."""
    points = np.zeros((2, 2, 3), np.float32)
    points[:, 0, 0], points[:, 1, 0], points[..., 1] = -200, 200, -BELOW
    points[0, :, 2], points[1, :, 2] = 100, -100
    radiance = np.broadcast_to(np.float32(pattern.albedo), (2, 2, 3)).copy()
    card = Backdrop(points, points[0, :, 0], radiance, pattern.albedo, -100.0, pattern)
    light = np.ones((32, 64, 3), np.float32)
    x, z = middle
    camera = Camera(
        (x, AWAY - BELOW, z), (x, -BELOW, z), (0.0, 0.0, -1.0), 2 * np.arctan(WIDE / 2 / AWAY)
    )
    stage = stage_for(wrap, 1.0)
    return replace(
        stage,
        wraps=(),
        bodies=(),
        light=light,
        surroundings=light,
        backdrop=card,
        camera=camera,
        turn=0.0,
    )


def computed(pattern: GroundPattern, middle: tuple[float, float]) -> Floats:
    """The reflectance in the middle of each pixel: between texels it is interpolated."""
    offset = ((np.arange(SIDE) + 0.5) / SIDE - 0.5) * WIDE
    height, width = pattern.shares.shape
    column = (middle[0] + offset) / pattern.size[0] * width - 0.5
    row = -(middle[1] + offset) / pattern.size[1] * height - 0.5
    places = np.meshgrid(row, column, indexing="ij")
    channels = [
        map_coordinates(pattern.reflectance[..., k], places, order=1, mode="grid-wrap")
        for k in range(3)
    ]
    return np.stack(channels, axis=-1).astype(np.float32)


@pytest.mark.parametrize("kind", ["live", "photo"])
def test_a_pattern_lies_where_it_was_computed(
    sample_wrap: Callable[[str], Wrap], kind: str
) -> None:
    pattern = ground_pattern(Ground.SLATE)
    assert pattern is not None
    # Off the middle, so that neither a mirrored nor an exchanged axis goes unnoticed.
    middle = (37.0, 21.0)
    stage = seen_from_above(sample_wrap("half-scale"), pattern, middle)
    if kind == "live":
        with LiveScene(stage, (SIDE, SIDE)) as live:
            picture = live.picture()
    else:
        with PhotoScene(stage, (SIDE, SIDE), samples=64, aperture=0, denoise=False) as photo:
            picture = photo.picture()
    wanted = developed(computed(pattern, middle))
    # Means of 4 x 4 pixels, because paths are few.
    wanted, found = (
        image.astype(float).reshape(SIDE // 4, 4, SIDE // 4, 4, 3).mean(axis=(1, 3))
        for image in (wanted, picture)
    )
    off, spread = found - wanted, wanted.std(axis=(0, 1))
    assert spread.min() > 2
    assert (off.std(axis=(0, 1)) < 0.2 * spread).all()
    assert np.abs(off.mean(axis=(0, 1))).max() < 1.0


def test_far_off_a_pattern_is_its_mean_colour(sample_wrap: Callable[[str], Wrap]) -> None:
    pattern = ground_pattern(Ground.LINEN)
    assert pattern is not None
    stage = seen_from_above(sample_wrap("half-scale"), pattern, (0.0, 0.0))
    # 150 mm in 16 pixels: 16 yarns a pixel, four tiles in the picture.
    far = replace(stage.camera, view_angle=2 * float(np.arctan(75 / AWAY)))
    with LiveScene(stage.with_camera(far), (16, 16)) as live:
        picture = live.picture().astype(float)
    wanted = developed(np.float32(pattern.albedo)[None, None]).astype(float)[0, 0]
    np.testing.assert_allclose(picture.mean(axis=(0, 1)), wanted, atol=2.0)
    assert picture.std(axis=(0, 1)).max() < 3.0
