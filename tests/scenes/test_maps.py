"""Maps of a surface: what is looked up between its points."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.cover import Cover
from geometry.grid import Grid
from geometry.surface import Surface
from materials.appearance import Appearance
from scenes.maps import ROW_STEPS, surface_maps

PALETTE = (Appearance("blank", (0.0, 0.0, 0.0)), Appearance("white", (1.0, 1.0, 1.0)))


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
