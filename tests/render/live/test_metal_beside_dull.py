"""Metal beside dull thread: how far its streak reaches, against the path tracer (Mitsuba)."""

import numpy as np
import pytest

from geometry.grid import Detail
from materials.colour import srgb_to_linear
from materials.shelf import Shelf
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from render.pathtraced.photo import PhotoScene
from scenes.building.build import Plan, build
from scenes.design.document import design_from
from scenes.light import tone
from scenes.stage.stage import stage_for

pytestmark = pytest.mark.render

SIZE = (60, 120)
MIDDLE = slice(15, 45)
DESIGN = {
    "turnlight": 1,
    "units": "mm",
    "title": "test",
    "blank": {
        "colour": "#101010",
        "stations": [{"at": 100, "diameter": 15}, {"at": 300, "diameter": 15}],
    },
    "placement": {"from": 195, "to": 205},
    "layers": [
        {
            "kind": "overlay",
            "pitch": 0.34,
            "sequence": [{"thread": "Heron Silver A"}, {"thread": "Sloe Black A"}],
        }
    ],
    "light": {"kind": "soft boxes"},
}


def test_a_streak_reaches_as_far_between_dull_threads_as_in_a_photo() -> None:
    quieten()
    stage = stage_for(
        build(Plan(design_from(DESIGN), Shelf.shipped()), Detail.NORMAL), SIZE[0] / SIZE[1]
    )
    with LiveScene(stage, SIZE) as scene:
        drawn = srgb_to_linear(scene.picture() / 255)
    with PhotoScene(stage, SIZE, samples=32, aperture=0, denoise=False) as photo:
        traced = tone.display_light(photo.radiance() * tone.EXPOSURE)
    drawn, traced = (light[:, MIDDLE].mean(axis=(1, 2)) for light in (drawn, traced))
    # Below the streak of the soft box it has fallen to a fifth and goes on falling. With the
    # roughness of metal and of nylon averaged, the picture was 2.5 times as bright there.
    after = 45 + int(np.argmax(traced[45:75] > 0.8))
    start = after + int(np.argmax(traced[after:] < 0.2))
    ratio = drawn[start : start + 9].sum() / traced[start : start + 9].sum()
    assert 0.65 < ratio < 1.5
