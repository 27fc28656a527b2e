"""The mesh of a wrap in the window: thinned as far as its grid allows, however long the wrap is."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Detail, Grid
from geometry.surface import Surface
from materials.blank_looks import blank_appearance
from materials.shelf import Shelf
from render.live.live import _PREVIEW_MESH_POINTS, _wrap_mesh
from render.request.subject import Subject
from scenes.files import samples
from scenes.stage.bodies import WrapBody
from scenes.stage.wrap_mesh import MESH_POINTS, wrap_shape

BLANK = Blank(np.array([0.0, 1200.0]), np.array([24.0, 20.0]))


def body_on(grid: Grid) -> WrapBody:
    """Make a bare length of blank on a grid."""
    surface = Surface.bare(BLANK, grid, 0)
    return WrapBody(surface, surface, None, (blank_appearance("#14171b"),), 1.5, 0.2)


def draft(length: float) -> Grid:
    """Choose the grid of a picture drawn while a slider moves: every other point of a draft."""
    return Grid.choose(90, 90 + length, 10, thread=0.2, detail=Detail.DRAFT).thinned(2)


@pytest.mark.parametrize(
    "grid",
    [Grid.even(90, 640, 1865, 216), *(draft(length) for length in (3, 60, 550, 800, 1000))],
    ids=lambda grid: f"{grid.z.size}x{grid.theta.size}",
)
@pytest.mark.parametrize("points", [_PREVIEW_MESH_POINTS, MESH_POINTS])
def test_mesh_of_a_wrap_of_any_length_reaches_from_end_to_end(grid: Grid, points: int) -> None:
    mesh = _wrap_mesh(body_on(grid), points)
    along = np.array([mesh.GetPoint(number)[2] for number in range(mesh.GetNumberOfPoints())])
    assert along.min() == pytest.approx(grid.z[0])
    assert along.max() == pytest.approx(grid.z[-1])
    # A grid that was thinned by 2 divides by 8 yet, and no more is asked for than is there.
    whole = grid.z.size * grid.theta.size
    assert min(whole, points / 2) < mesh.GetNumberOfPoints() < max(3 * points, 1.3 * whole / 64)
    assert np.isfinite(along).all()


@pytest.mark.parametrize("name", samples.names())
def test_mesh_of_a_preview_is_smaller_for_every_sample(name: str) -> None:
    plan = Subject(samples.load(name).without_variants(), Shelf.shipped()).plan()
    surface = Surface.bare(plan.blank, plan.grid(Detail.NORMAL), 0)
    body = WrapBody(surface, surface, None, (blank_appearance("#14171b"),), 1.5, 0.2)
    still, preview = (wrap_shape(body, count) for count in (MESH_POINTS, _PREVIEW_MESH_POINTS))
    # Half of the triangles, or near it: 24 angles at least are kept.
    assert preview.surface.radius.size <= 0.6 * still.surface.radius.size
    # It closes: at whole turns, and over the whole length.
    assert preview.across[-1] - preview.across[0] == pytest.approx(1)
    assert preview.surface.z[[0, -1]] == pytest.approx(surface.z[[0, -1]])
    spacing = np.diff(np.append(preview.surface.theta, 2 * np.pi))
    np.testing.assert_allclose(spacing, 2 * np.pi / preview.surface.theta.size)
    assert preview.surface.theta.size >= 24
