"""Thread and finish as triangles, and what the denoiser is told of them."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from geometry.grid import Grid
from geometry.surface import Surface
from materials.appearance import Appearance
from render.pathtraced.denoiser_guides import Substrate
from render.pathtraced.shape import Shape, Stretch, spanning, stretches
from scenes.building.build import Wrap
from scenes.stage.bodies import WrapBody
from scenes.stage.fittings import fittings
from scenes.stage.maps import row_rounding, surface_maps
from scenes.stage.stage import stage_for, wraps_of

_THREAD = 0.2
_STEEL = Appearance(
    "steel", (0.5, 0.5, 0.5), metallic=1.0, roughness_along=0.2, roughness_across=0.6
)


def wound(film: float = 0.0) -> WrapBody:
    """Make a plain cylinder of 5 mm, wound with hoops of thread."""
    grid = Grid.even(0, 4, 81, 192)
    shape = (grid.z.size, grid.theta.size)
    row = grid.z[:, None] / _THREAD - grid.theta / (2 * np.pi) + 0.5
    surface = Surface(
        grid.z,
        grid.theta,
        np.full(shape, 5.0),
        np.zeros(shape, np.int16),
        np.zeros(shape, np.float32),
        row.astype(np.float32),
        np.broadcast_to(5 * grid.theta, shape).astype(np.float32),
        np.zeros(shape, np.bool_),
    )
    outside = surface.with_arrays(radius=surface.radius + film) if film else None
    return WrapBody(surface, surface, outside, (_STEEL,), 1.5, _THREAD)


def made(wrap: WrapBody, every: int = 1) -> list[Stretch]:
    maps = surface_maps(wrap.surface, wrap.beneath, wrap.outside, wrap.palette, wrap.row_width)
    return list(stretches(wrap, maps, every=every))


def outward(shape: Shape) -> tuple[np.ndarray, np.ndarray]:
    """Give the areas of the triangles and how far their sides face along the normals."""
    corner = shape.points[shape.faces].astype(np.float64)
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    area = np.linalg.norm(across, axis=1)
    normal = shape.normals[shape.faces].mean(axis=1)
    return area / 2, np.sum(across * normal, axis=1) / np.maximum(area, 1e-12)


def test_rows_lean_as_the_roughness_across_says() -> None:
    # Normals spread evenly over x = -R to R have the mean square R²/3; with the film's own lobe
    # they make the lobe across (Heitz 2014, eq. 71, as scenes.stage.maps.row_rounding works it
    # out).
    (stretch,) = made(wound())
    area, _ = outward(stretch.base)
    lean = stretch.base.normals[stretch.base.faces][..., 2].mean(axis=1)
    square = np.average(lean**2, weights=area)
    assert square == pytest.approx(row_rounding(_STEEL) ** 2 / 3, rel=0.08)
    assert np.average(lean, weights=area) == pytest.approx(0, abs=1e-3)


def test_rows_are_arcs_with_those_normals() -> None:
    # The normal of a triangle is that of its corners' normals: the shape is the one that is shaded.
    (stretch,) = made(wound())
    area, facing = outward(stretch.base)
    whole = area > 0.2 * np.median(area)
    assert facing[whole].min() > 0.99


@pytest.mark.parametrize("film", [0.0, 0.3])
def test_every_triangle_has_an_area_and_every_normal_a_direction(film: float) -> None:
    # Rows that the ends of the wrap cut off have nothing between their vertices.
    stretch_of = made(wound(film))
    shapes = [one for stretch in stretch_of for one in (stretch.base, stretch.film) if one]
    assert len(shapes) == 1 + (film > 0)
    for shape in shapes:
        area, _ = outward(shape)
        assert area.min() > 0
        np.testing.assert_allclose(np.linalg.norm(shape.normals, axis=1), 1, atol=1e-5)


@pytest.mark.parametrize("name", ["half-scale", "shoal-panel"])
def test_no_triangle_of_a_sample_is_empty(sample_wrap: Callable[[str], Wrap], name: str) -> None:
    for body in wraps_of(sample_wrap(name)):
        for stretch in made(body):
            area, _ = outward(stretch.base)
            assert area.min() > 0
            assert np.isfinite(stretch.base.normals).all()
    for part in fittings(sample_wrap(name).plan):
        corner = part.mesh.points[part.mesh.faces].astype(np.float64)
        across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        assert (across != 0).any(axis=1).all()
        assert np.isfinite(part.mesh.normals).all()


def test_no_normal_lies_in_its_triangle(sample_wrap: Callable[[str], Wrap]) -> None:
    # Mitsuba takes the part of a triangle's edge direction that is across the normal: in the
    # triangle's plane there may be none. Between corners that all face its way no normal is there.
    # Crossed threads over a woven panel have flanks beside walls.
    for body in wraps_of(sample_wrap("shoal-panel")):
        for stretch in made(body):
            for shape in (stretch.base, stretch.film):
                if shape is None:
                    continue
                corner = shape.points[shape.faces].astype(np.float64)
                across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
                facing = np.einsum("fi,fki->fk", across, shape.normals[shape.faces])
                assert facing.min() > 0
                assert np.linalg.norm(shape.normals, axis=1) == pytest.approx(1, abs=1e-5)


def test_tube_has_the_area_of_its_rows() -> None:
    # An arc of half-width h whose steepest normal has the sine R is asin(R) / R times as long.
    (stretch,) = made(wound())
    bent = row_rounding(_STEEL)
    z = stretch.base.points[:, 2]
    radius = np.hypot(stretch.base.points[:, 0], stretch.base.points[:, 1]).mean()
    expected = 2 * np.pi * radius * (z.max() - z.min()) * np.arcsin(bent) / bent
    area, _ = outward(stretch.base)
    assert area.sum() == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("name", ["half-scale", "cord-lattice"])
def test_finish_lies_over_all_thread(sample_wrap: Callable[[str], Wrap], name: str) -> None:
    body = stage_for(sample_wrap(name), 1.0).wraps[0]
    assert body.outside is not None
    wet = [stretch for stretch in made(body) if stretch.film is not None]
    assert len(wet) == 1
    z, points = body.outside.z, wet[0].base.points.astype(np.float64)
    station = (points[:, 2] - z[0]) / body.outside.step
    column = np.arctan2(points[:, 1], points[:, 0]) % (2 * np.pi)
    column *= body.outside.theta.size / (2 * np.pi)
    over = map_coordinates(
        np.concatenate((body.outside.radius, body.outside.radius[:, :1]), axis=1),
        (station, column),
        order=1,
        mode="nearest",
    )
    assert (over - np.hypot(points[:, 0], points[:, 1])).min() > 1e-3


@pytest.mark.parametrize("every", [1, 4])
def test_finish_is_closed_against_the_blank(sample_wrap: Callable[[str], Wrap], every: int) -> None:
    body = stage_for(sample_wrap("half-scale"), 1.0).wraps[0]
    before, wet, after = made(body, every)
    assert before.film is None
    assert after.film is None
    assert wet.film is not None
    ends = wet.film.points[:, 2]
    for end in (ends.min(), ends.max()):
        ring = wet.film.points[ends == end]
        station = int(np.argmin(np.abs(body.surface.z - end)))
        lowest, bare = np.hypot(ring[:, 0], ring[:, 1]), body.surface.radius[station]
        # All round, the innermost vertices of the end are below the blank.
        assert (lowest < bare.min()).sum() == ring.shape[0] // 2
        if every == 1:
            # The film runs out: it ends in no wall that stands on the blank.
            assert lowest.max() - bare.max() < 2e-3
    # What is dry goes on from where the finish ends.
    assert before.base.points[:, 2].max() == pytest.approx(ends.min())
    assert after.base.points[:, 2].min() == pytest.approx(ends.max())


@pytest.mark.parametrize("every", [1, 4])
def test_faces_look_outward(sample_wrap: Callable[[str], Wrap], every: int) -> None:
    body = stage_for(sample_wrap("two-start-band"), 1.0).wraps[0]
    maps = surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)
    for stretch in stretches(body, maps, every=every):
        for shape in (stretch.base, stretch.film):
            if shape is None:
                continue
            area, facing = outward(shape)
            assert np.average(facing > 0, weights=area) > 0.995
            assert np.linalg.norm(shape.normals, axis=1) == pytest.approx(1, abs=1e-4)


def test_corners_of_a_triangle_are_never_in_line() -> None:
    # Such as where the end of a wrap cuts rows off.
    points = np.array(
        [(6.1, 6.3, 74), (6.2, 6.4, 74.2), (6.3, 6.5, 74.4), (6.1, 6.3, 74), (6, 6, 74)],
        np.float32,
    )
    faces = np.array([(0, 1, 2), (0, 3, 4), (0, 1, 4)], np.int32)
    assert spanning(points, faces).tolist() == [False, False, True]


def test_every_triangle_has_weights(sample_wrap: Callable[[str], Wrap]) -> None:
    body = stage_for(sample_wrap("two-start-band"), 1.0).wraps[0]
    maps = surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)
    for stretch in stretches(body, maps):
        for shape in filter(None, (stretch.base, stretch.film)):
            first, second, third = (shape.points[shape.faces[:, k]] for k in range(3))
            one, other = second - first, third - first
            across = np.linalg.norm(np.cross(one.astype(float), other), axis=1)
            lengths = np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
            assert (across > 5e-4 * lengths).all()


def test_what_lies_under_finish_is_found_by_snells_law() -> None:
    # A ray at 45 degrees along the blank is bent to asin(sin 45 / 1.5) = 28.126 degrees, and comes
    # down tan of that times the film's thickness further on.
    from render.pathtraced.denoiser_guides import _beneath

    wrap = wound(film=0.3)
    maps = surface_maps(wrap.surface, wrap.beneath, wrap.outside, wrap.palette, wrap.row_width)
    found = []

    class Spy(Substrate):
        def colour(self, station: np.ndarray, column: np.ndarray) -> np.ndarray:
            found.append(station * wrap.surface.step)
            return super().colour(station, column)

    place = np.array([[5.3, 0.0, 1.0]], np.float32)
    eye = np.array((5.3 + 10.0, 0.0, 1.0 - 10.0))
    colour, normal = _beneath(
        Spy(wrap, maps, 0.0), place, np.array([[1, 0, 0]], np.float32), eye, 0.0
    )
    bent = np.arcsin(np.sin(np.pi / 4) / 1.5)
    assert found[0][0] == pytest.approx(1.0 + 0.3 * np.tan(bent), abs=1e-4)
    assert normal[0] == pytest.approx((1, 0, 0), abs=0.05)
    assert colour[0] == pytest.approx(0.5, abs=0.01)
