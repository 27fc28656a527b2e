"""Close up, the side of a round thread is a smooth line, however coarse the grid."""

import numpy as np
import pytest
from numpy.typing import NDArray

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.flaw import CrossedRow
from geometry.layers.trim import SeamTrim, TrimThread
from geometry.surface import Surface
from materials.appearance import Appearance
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from scenes.stage.backdrop import backdrop
from scenes.stage.bodies import WrapBody
from scenes.stage.camera import Camera
from scenes.stage.outline import Outline
from scenes.stage.stage import Stage

pytestmark = pytest.mark.render

SIZE = (240, 120)
SCALE = 80.0  # pixels to a millimetre
STEP = 0.08  # of the grid, mm: two and a half steps across a thread
THREAD = 0.2
MATT = {"metallic": 0.0, "roughness_along": 1.0, "roughness_across": 1.0}


def trimmed() -> WrapBody:
    """Make a cylinder with a white cover and a black thread askew on it."""
    blank = Blank(np.array([0.0, 12.0]), np.array([20.0, 20.0]))
    angles = round(20 * np.pi / STEP / 16) * 16
    surface = Surface.bare(blank, Grid.even(0.0, 12.0, round(12 / STEP) + 1, angles))
    surface = Cover(1.0, 11.0, THREAD, THREAD, 1).apply(surface)
    line = CrossedRow(6.0, np.pi / 2, over=3.0, length=6.0)
    trim = SeamTrim(line, (TrimThread(THREAD, 2),), -THREAD / 2, 1.0, 11.0).apply(surface)
    palette = (
        Appearance("blank", (0.0, 0.0, 0.0), **MATT),
        Appearance("white", (0.9, 0.9, 0.9), **MATT),
        Appearance("black", (0.0, 0.0, 0.0), **MATT),
    )
    return WrapBody(trim, surface, None, palette, 1.5, THREAD)


def photographed(body: WrapBody) -> NDArray[np.float64]:
    """Take a picture of the middle of the thread, in even light from all sides."""
    light = np.ones((16, 32, 3), np.float32)
    rod = Outline.tube(6.0, -400.0, 400.0)
    card = backdrop(light, (0.0, 0.0, 0.0), rod=rod, drop=900.0, behind=900.0, reach=1500.0)
    angle = 2 * np.arctan(SIZE[1] / SCALE / 2 / 400)
    camera = Camera((0, 0, 400 + 10), (0, 0, 0), (0, 1, 0), float(angle))
    stage = Stage("test", (body,), (), 6.0, light, light, card, camera, 0.0)
    with LiveScene(stage, SIZE) as scene:
        return scene.picture().mean(axis=2)


def test_both_sides_of_a_thread_are_smooth_lines_a_thread_apart() -> None:
    # A thread that lies askew on a cylinder has smooth sides. Drawn from the nearest grid points
    # they would step to and fro by up to half a step of the grid.
    quieten()
    picture = photographed(trimmed())
    assert np.median(picture) > 100
    dark = 1 - picture / np.median(picture)
    y = np.arange(SIZE[1])
    sides = []
    for values in dark:
        # Where brightness crosses the middle between thread and cover, between two pixels.
        over = np.flatnonzero(values > 0.4)
        first, last = over[0], over[-1]
        left = first - (values[first] - 0.4) / (values[first] - values[first - 1])
        right = last + (values[last] - 0.4) / (values[last] - values[last + 1])
        sides.append((left, right))
    left_side, right_side = np.array(sides).T
    for side in (left_side, right_side):
        smooth = np.polynomial.Polynomial.fit(y, side, 5)(y)
        # A tenth of a step: what the maps round (a 64th of a row to a texel), and the pixels.
        assert np.abs(side - smooth).max() < 0.1 * STEP * SCALE
    middle = np.polynomial.Polynomial.fit(y, (left_side + right_side) / 2, 5)
    width = (right_side - left_side) / np.sqrt(1 + middle.deriv()(y) ** 2) / SCALE
    assert np.abs(width / THREAD - 1).max() < 0.1
