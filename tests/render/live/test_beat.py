"""The beat of two layers of stripes, measured in pictures that were really drawn."""

from typing import Any

import numpy as np
import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import design_from
from scenes.kinds.overlay.beats import beats_of
from scenes.stage.camera import Camera
from scenes.stage.stage import stage_for
from tests.kept import kept

pytestmark = pytest.mark.render

LENGTH = 72.0
SIZE = (700, 60)


def striped(pitch: float, *, pulled: bool = True) -> Wrap:
    """White over black and white stripes, every other thread of the white ones pulled out."""
    quieten()
    over: list[dict[str, Any]] = [
        {"thread": "Chalk Down A"},
        {"thread": "Peat Charcoal A", "removed": pulled},
    ]
    stripes = [{"thread": "Sloe Black A"}, {"thread": "Chalk Down A"}]
    design = design_from(
        {
            "turnlight": 1,
            "units": "mm",
            "title": "Test",
            "blank": {
                "colour": "#15181c",
                "stations": [{"at": 250, "diameter": 8}, {"at": 600, "diameter": 8}],
            },
            "placement": {"from": 300, "to": 300 + LENGTH},
            "layers": [
                {
                    "kind": "overlay",
                    "margin": 2,
                    "unevenness": 0,
                    "sequence": stripes,
                    "name": "under",
                },
                {
                    "kind": "overlay",
                    "margin": 2,
                    "unevenness": 0,
                    "sequence": over,
                    "name": "over",
                    "pitch": pitch,
                },
            ],
            "finish": {"coats": 0},
        }
    )
    return build(Plan(design, Shelf.shipped()), Detail.NORMAL)


@kept
def light_along(pitch: float, *, pulled: bool = True) -> tuple[np.ndarray, float]:
    """Brightness along the rod, averaged over some threads as an eye far off does; mm a pixel."""
    camera = Camera((0, 0, 4000), (0, 0, 0), (0, 1, 0), 2 * np.arctan(2.7 / 4000))
    stage = stage_for(striped(pitch, pulled=pulled), SIZE[0] / SIZE[1]).with_camera(camera)
    with LiveScene(stage, SIZE, supersample=2) as scene:
        picture = scene.picture().astype(float).mean(axis=2)
    # What is seen at the height of the axis lies a radius nearer.
    scale = 2 * 2.7 / SIZE[1] * (4000 - 4) / 4000
    window = np.hanning(round(1.6 / scale))
    return np.convolve(picture[26:34].mean(axis=0), window / window.sum(), "same"), scale


def strongest(light: np.ndarray, scale: float) -> tuple[float, float]:
    """Length of the strongest slow wave, mm, and its strength beside all others of its kind."""
    inside = light[20:-20]
    wave = inside - np.polyval(np.polyfit(np.arange(inside.size), inside, 2), range(inside.size))
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(wave.size), 1 << 14))
    frequency = np.fft.rfftfreq(1 << 14, scale)
    slow = (frequency > 0.05) & (frequency < 0.5)
    peak = int(np.argmax(np.where(slow, spectrum, 0)))
    beside = slow & (np.abs(frequency - frequency[peak]) > 0.06)
    return float(1 / frequency[peak]), float(spectrum[peak] / spectrum[beside].max())


@pytest.mark.parametrize("pitch", [0.345, 0.352, 0.329])
def test_the_picture_beats_as_the_formula_says(pitch: float) -> None:
    (found,) = beats_of(striped(pitch).plan)
    # p1 p2 / |p1 - p2| with 2 x 0.169 beneath, by hand.
    assert found.beat.length == pytest.approx(0.338 * pitch / abs(0.338 - pitch))
    light, scale = light_along(pitch)
    length, clear = strongest(light, scale)
    assert length == pytest.approx(found.beat.length, rel=0.04)
    # Nothing else beats nearly as strongly: no stripes of the grid's own.
    assert clear > 4
    # Where they fall together half is white, where between each other all of it.
    assert np.ptp(light[60:-60]) > 25


def test_without_a_thread_pulled_out_there_is_no_beat() -> None:
    beating, _ = light_along(0.345)
    even, _ = light_along(0.345, pulled=False)
    assert np.ptp(even[60:-60]) < 0.25 * np.ptp(beating[60:-60])
