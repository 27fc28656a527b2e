"""Maps of a surface: what is looked up between its points."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.flaw import CrossedRow
from geometry.layers.trim import SeamTrim, TrimThread
from geometry.surface import Surface
from materials.appearance import Appearance
from materials.colour import from_bytes
from scenes.stage.maps import ROW_STEPS, crests, surface_maps

PALETTE = (Appearance("blank", (0.0, 0.0, 0.0)), Appearance("white", (1.0, 1.0, 1.0)))


def test_what_mirrors_and_what_scatters_add_up_to_the_colour() -> None:
    gold, half = (0.87, 0.46, 0.02), (0.5, 0.3, 0.1)
    looks = (PALETTE[0], Appearance("gold", gold, 1.0), Appearance("half", half, 0.25), PALETTE[1])
    blank = Blank(np.array([0.0, 60.0]), np.array([20.0, 20.0]))
    surface = Surface.bare(blank, Grid.even(0.0, 4.0, 8, 32))
    material = np.repeat(np.arange(8, dtype=np.int16) // 2, 32).reshape(8, 32)
    surface = surface.with_arrays(material=material)
    maps = surface_maps(surface, surface, None, looks, 0.2)
    mirror, body = from_bytes(maps.mirror[::2, 0, :3]), from_bytes(maps.body[::2, 0])
    metal = np.array([[0.0], [1.0], [0.25], [0.0]])
    colours = np.array([look.base_colour for look in looks])
    # Nearest of 256 levels of sRGB, whose steps in light are at most 0.009.
    np.testing.assert_allclose(mirror, metal * colours, atol=0.005)
    np.testing.assert_allclose(body, (1 - metal) * colours, atol=0.005)
    assert maps.mirror[::2, 0, 3].tolist() == [0, 255, 64, 0]


@pytest.mark.parametrize("step", [0.19, 0.071, 0.03])
def test_the_nearest_point_tells_where_across_a_row_a_place_lies(step: float) -> None:
    # By hand: hoop-wound thread on a cylinder is a helix that climbs one row a turn. From nearly a
    # point a row, as in a draft, to six.
    start, width = 1.0, 0.2
    count = round(12 / step)
    blank = Blank(np.array([0.0, 60.0]), np.array([20.0, 20.0]))
    surface = Surface.bare(blank, Grid.even(0.0, (count - 1) * step, count, 96))
    surface = Cover(start, 11.0, width, width, 1).apply(surface)
    rows = surface_maps(surface, surface, None, PALETTE, width).rows.astype(float)
    rng = np.random.default_rng(1)
    z, theta = rng.uniform(2.0, 10.0, 5000), rng.uniform(0.0, 2 * np.pi, 5000)
    station, column = z / step, theta / (2 * np.pi) * 96
    near_z, near_theta = np.rint(station).astype(int), np.rint(column).astype(int)
    told = rows[near_z, near_theta % 96]
    place = (told[:, 0] + 0.5) / 256
    place += (told[:, 1] - 128) / ROW_STEPS * (station - near_z)
    place += (told[:, 2] - 128) / ROW_STEPS * (column - near_theta)
    wanted = (z - start) / width - theta / (2 * np.pi)
    # Where the helix begins is the cover's own affair: one offset for all.
    off = (place - wanted) % 1
    middle = np.angle(np.exp(2j * np.pi * off).mean()) / (2 * np.pi)
    off = (off - middle + 0.5) % 1 - 0.5
    assert np.abs(off).max() < 0.012


def test_trim_threads_bend_nothing_beside_them_and_run_as_level_as_what_they_lie_on() -> None:
    # On a cylinder of plain cover nothing leans, whether round threads lie askew on it or not.
    blank = Blank(np.array([0.0, 60.0]), np.array([20.0, 20.0]))
    surface = Surface.bare(blank, Grid.even(0.0, 12.0, 241, 320))
    surface = Cover(1.0, 11.0, 0.2, 0.2, 1).apply(surface)
    askew = CrossedRow(6.0, 3.0, over=4.0, length=20.0)
    trimmed = SeamTrim(askew, (TrimThread(0.2, 1),) * 3, -0.3, 1.0, 11.0).apply(surface)
    tube = trimmed.tube
    assert tube.sum() > 1000
    slopes = surface_maps(trimmed, trimmed, None, PALETTE, 0.2).slopes[30:211, :, :2]
    assert np.abs(slopes[~tube[30:211]]).max() < 1e-6
    assert np.abs(slopes[tube[30:211]]).max() < 0.02
    # A thread 0.2 mm thick, on 10.2 mm.
    ridges = crests(trimmed)
    np.testing.assert_array_equal(ridges[~tube], surface.radius[~tube].astype(np.float32))
    np.testing.assert_allclose(ridges[tube], 10.4, atol=0.002)
