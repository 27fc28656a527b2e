"""Trims that are plainly lost and plainly seen, in pictures that were really drawn."""

import numpy as np
import pytest
from vtkmodules.vtkRenderingCore import vtkCoordinate

from geometry.grid import Detail
from materials.shelf import Shelf
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from scenes.building.build import Plan, build
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.legibility.legibility import BandReport, legibility, reading_view
from scenes.stage.camera import Camera
from scenes.stage.stage import stage_for

pytestmark = pytest.mark.render


@pytest.fixture(scope="module")
def reports() -> list[BandReport]:
    """Black, then silver, on a black cover; of a short wrap."""
    quieten()
    design = samples.load("half-scale").without_variants()
    middle = design.placement.middle
    changes = {
        # Straight threads shimmer as one under a lamp; a window's even light shows only colour.
        "light.kind": "north window",
        "placement.from": middle - 22,
        "placement.to": middle + 22,
        "cover.thread": "Sloe Black A",
        "trim.threads": [
            {"thread": "Sloe Black A", "count": 2},
            {"thread": "Heron Silver A", "count": 2},
        ],
    }
    wrap = build(Plan(with_changes(design, changes), Shelf.shipped()), Detail.NORMAL)
    camera, size = reading_view(wrap.plan, 1000)
    stage = stage_for(wrap, size[0] / size[1]).with_camera(camera)
    with LiveScene(stage, size, supersample=1) as scene:
        picture = scene.picture()
    return legibility(wrap, stage, picture)


def test_black_on_black_is_lost(reports: list[BandReport]) -> None:
    lost = reports[0]
    assert lost.judged
    # The same thread, lying another way in the light: a shimmer, near the least that is seen.
    assert lost.reserve < 3
    assert lost.delta_e < 6
    assert lost.sentence is not None
    assert lost.sentence.startswith("The 2-thread Sloe Black A line ")
    assert lost.sentence.endswith(" against the cover on the relief at arm's length.")


def test_silver_on_black_is_seen(reports: list[BandReport]) -> None:
    for seen in reports[1:]:
        assert seen.judged
        assert abs(seen.contrast) > 0.4
        assert seen.delta_e > 15
        assert seen.reserve > 10
        assert seen.sentence is None
    assert reports[1].contrast < 0 < reports[2].contrast


def test_points_are_projected_where_the_renderer_draws_them() -> None:
    # VTK's own camera, through its world-to-display transform.
    wrap = build(
        Plan(samples.load("cord-lattice").without_variants(), Shelf.shipped()), Detail.DRAFT
    )
    camera = Camera((130.0, 210.0, 300.0), (5.0, -8.0, 3.0), (0.0, 1.0, 0.0), 0.4)
    size = (320, 200)
    points = np.random.default_rng(2).uniform(-40, 40, (20, 3))
    stage = stage_for(wrap, size[0] / size[1]).with_camera(camera)
    with LiveScene(stage, size, supersample=1) as scene:
        # The camera's angle is that of what is drawn.
        scene.picture()
        expected = []
        for point in points.tolist():
            coordinate = vtkCoordinate()
            coordinate.SetCoordinateSystemToWorld()
            coordinate.SetValue(*point)
            x, y = coordinate.GetComputedDoubleDisplayValue(scene.window.renderer)
            expected.append((x, size[1] - y))
    place, depth = camera.project(points, size)
    assert (depth > 0).all()
    # VTK counts from the middle of the lower left pixel.
    np.testing.assert_allclose(place, expected, atol=0.51)
    offset = place - expected
    np.testing.assert_allclose(
        offset, np.broadcast_to(offset.mean(axis=0), offset.shape), atol=0.02
    )
