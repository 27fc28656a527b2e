"""What the finish mirrors of the card, which is near, against the ray from the surface."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.surface import Surface
from materials.appearance import Appearance
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from scenes.light.lights import directions
from scenes.stage.backdrop import backdrop
from scenes.stage.bodies import WrapBody
from scenes.stage.camera import Camera
from scenes.stage.outline import Outline
from scenes.stage.stage import Stage

pytestmark = pytest.mark.render

RADIUS, DROP = 8.0, 20.0
SIZE = (40, 400)
SCALE = 8.0  # pixels to a millimetre


def test_the_underside_mirrors_the_card_where_rays_from_it_meet_it() -> None:
    # The card shines in front of the rod's axis and is black behind it. By the law of reflection a
    # place of the outside turned down by an angle from the far eye mirrors the card's edge where
    # the ray from there meets the card under the axis.
    def beyond_edge(angle: float) -> float:
        run = (DROP - RADIUS * np.sin(angle)) / np.tan(2 * angle)
        return float(RADIUS * np.cos(angle) + run)

    wanted = RADIUS * np.sin(brentq(beyond_edge, 0.3, 1.2))
    quieten()
    blank = Blank(np.array([0.0, 12.0]), np.array([2 * RADIUS, 2 * RADIUS]))
    surface = Surface.bare(blank, Grid.even(0.0, 12.0, 121, 512))
    black = (Appearance("blank", (0.0, 0.0, 0.0)),)
    body = WrapBody(surface, surface, replace(surface), black, 1.5, 0.2)
    toward = directions(256)
    front = 4.0 * ((toward[..., 1] < 0) & (toward[..., 2] > 0))
    light = np.repeat(front[..., None], 3, axis=2).astype(np.float32)
    rod = Outline.tube(RADIUS, -400.0, 400.0)
    card = backdrop(light, (0.0, 0.0, 0.0), rod=rod, drop=DROP, behind=130.0, reach=1500.0)
    view = 2 * np.arctan(SIZE[1] / SCALE / 2 / 4000)
    camera = Camera((0, 0, 4000), (0, 0, 0), (0, 1, 0), float(view))
    stage = Stage("test", (body,), (), 6.0, light, light, card, camera, 0.0)
    with LiveScene(stage, SIZE) as scene:
        column = scene.picture().astype(float).mean(axis=(1, 2))
    below = column[SIZE[1] // 2 :]
    lit = np.flatnonzero(below > 0.5 * below[: int(5 * SCALE)].max())
    assert lit[-1] / SCALE == pytest.approx(wanted, abs=0.25)
