"""What is seen of thread where the rod turns out of sight."""

from dataclasses import replace

import numpy as np
import pytest

from render.live.live import LiveScene
from render.live.vtk_log import quieten
from render.measure.steadiness import plain_cover, view_at
from scenes.light.lights import directions
from scenes.stage.stage import stage_for

pytestmark = pytest.mark.render


@pytest.mark.parametrize("thread", ["Heron Silver A", "Peat Charcoal A"])
def test_no_rim_where_nothing_behind_is_bright(thread: str) -> None:
    # All light comes from the eye's side. Towards the outline thread mirrors what lies behind the
    # rod, which is dark, and its own colour gets less light the further it turns away: path-traced
    # pictures of dry wraps have no bright line there either.
    quieten()
    stage = stage_for(plain_cover(thread, 0), 5 / 3)
    in_front = 0.5 * (directions(64)[..., 2] > 0.3)
    light = np.repeat(in_front[..., None], 3, axis=2).astype(np.float32)
    black = replace(stage.backdrop, radiance=np.zeros_like(stage.backdrop.radiance))
    stage = replace(stage, light=light, surroundings=light, backdrop=black)
    with LiveScene(stage.with_camera(view_at(10.0, 200, (0.0, 0.0, 0.0))), (100, 200)) as scene:
        rows = scene.picture(0.0).astype(float).mean(axis=(1, 2))
    top = int(np.flatnonzero(rows > 0.5)[0])
    assert rows.max() > 30  # something is lit
    # A millimetre from the outline inwards, downwards in the picture.
    assert (np.diff(rows[top : top + 10]) > -1.5).all(), rows[top : top + 10].round(1)
