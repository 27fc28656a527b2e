"""A live scene shows the same whatever it showed before."""

from dataclasses import replace

import numpy as np
import pytest

from render.live.live import LiveScene
from render.live.vtk_log import quieten
from render.measure.steadiness import plain_cover, view_at
from scenes.stage.stage import Stage, stage_for

pytestmark = [pytest.mark.render]

SIZE = (48, 32)


@pytest.fixture(scope="module")
def stage() -> Stage:
    """Rows of thread, each about as wide as a pixel: how many samples see one matters there."""
    quieten()
    return stage_for(plain_cover("Heron Silver A", 0), 1.5).with_camera(
        view_at(6.0, SIZE[1], (0.0, 0.0, 0.0))
    )


def test_samples_of_a_pixel_stay_what_was_said_when_the_stage_changes(stage: Stage) -> None:
    card = replace(stage.backdrop, radiance=stage.backdrop.radiance / 2)
    with LiveScene(stage, SIZE, supersample=1) as scene:
        plain = scene.picture()
        scene.set_preview(False, 2)
        before = scene.picture()
        scene.show_stage(replace(stage, backdrop=card))
        scene.show_stage(stage)
        assert np.array_equal(scene.picture(), before)
    assert not np.array_equal(plain, before)


def test_resized_it_shows_what_a_scene_of_that_size_shows(stage: Stage) -> None:
    with LiveScene(stage, SIZE, supersample=2) as scene:
        made_so = scene.picture()
    with LiveScene(stage, (30, 20), supersample=1) as scene:
        scene.picture()
        scene.resize(SIZE, 2)
        assert np.array_equal(scene.picture(), made_so)
