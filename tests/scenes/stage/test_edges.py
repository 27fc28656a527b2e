"""Colours where the side of a thread runs through a texel."""

from dataclasses import replace

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.cover import Cover
from geometry.layers.overlay import Overlay, Strand
from geometry.surface import Surface
from materials.appearance import Appearance
from materials.colour import from_bytes
from scenes.stage.edges import soften_edges
from scenes.stage.maps import surface_maps

BLACK, WHITE = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)
PALETTE = (
    Appearance("blank", BLACK),
    Appearance("black", BLACK),
    Appearance("white", WHITE),
)


def striped(step: float) -> Surface:
    """White threads 0.2 wide, every 0.4, over black rows; a grid that is no part of either."""
    blank = Blank(np.array([0.0, 60.0]), np.array([20.0, 20.0]))
    count = 16 * round(40 / step / 16) + 1
    surface = Surface.bare(blank, Grid.even(0.0, (count - 1) * step, count, 192))
    surface = Cover(1.0, 39.0, 0.2, 0.2, 1).apply(surface)
    return Overlay(1.0, 39.0, (Strand(0.2, 2), Strand(0.2, 1, removed=True)), 0.4).apply(surface)


@pytest.mark.parametrize("step", [0.083, 0.0785, 0.061])
def test_stripes_do_not_beat_with_the_grid(step: float) -> None:
    surface = striped(step)
    maps = surface_maps(surface, surface, None, PALETTE, 0.2)
    light = from_bytes(maps.body[:, 40, 0])
    hard = (surface.material[:, 40] == 2) * 1.0
    inside = slice(round(3 / step), round(37 / step))
    # Half of every 0.4 mm is white, by hand; over windows of ten stripes it should stay so.
    window = np.hanning(round(4 / step))
    window /= window.sum()

    def wander(values: np.ndarray) -> float:
        return float(np.ptp(np.convolve(values, window, "same")[inside]))

    assert light[inside].mean() == pytest.approx(0.5, abs=0.004)
    assert wander(light) < 0.012
    assert wander(light) < 0.5 * wander(hard) + 0.004


def test_a_side_between_stations_is_shared_by_what_each_covers() -> None:
    surface = striped(0.0625)
    mirror, body = (np.zeros((*surface.shape, channels), np.uint8) for channels in (4, 3))
    mirror[surface.material == 2] = 255
    body[surface.material != 2] = 255
    soften_edges((mirror, body), surface, 0.2, np.zeros(3, bool))
    share = (mirror[:, 0, 3] / 255.0)[32:-32]
    z = surface.z[32:-32]
    # Coverage of a texel 0.0625 wide by stripes from 1 + 0.4 m to 1.2 + 0.4 m, by hand.
    fine = z[:, None] + (np.arange(2000) / 2000 - 0.5) * 0.0625
    covered = ((fine - 1) % 0.4 < 0.2).mean(axis=1)
    np.testing.assert_allclose(share, covered, atol=0.02)
    # Light of both adds up to white, as it did before.
    np.testing.assert_allclose(from_bytes(mirror[:, 0, 1])[32:-32], covered, atol=0.02)
    np.testing.assert_allclose(from_bytes(mirror[..., :3]) + from_bytes(body), 1, atol=0.01)


def test_threads_that_cross_the_blank_are_left_alone() -> None:
    surface = striped(0.0625)
    slanting = surface.with_arrays(lay=np.full(surface.shape, 0.7, np.float32))
    tint = np.zeros((*surface.shape, 4), np.uint8)
    tint[surface.material == 2] = 255
    before = tint.copy()
    soften_edges((tint,), slanting, 0.2, np.zeros(3, bool))
    np.testing.assert_array_equal(tint, before)


def test_an_edge_of_print_stays_where_it_is_printed() -> None:
    """Ink on black rows up to a slanting line: what is inked of each generator, by hand."""
    step, levels = 0.0625, 12
    surface = striped(step)
    ink = Appearance("ink", WHITE, printed=True)
    palette = (PALETTE[0], *(ink.over(PALETTE[1], k / levels) for k in range(levels + 1)))
    line = 18 + 2 * np.sin(surface.theta)
    cover = np.clip((line - surface.z[:, None]) / step + 0.5, 0, 1)
    rows = Cover(1.0, 39.0, 0.2, 0.2, 1).apply(surface)
    level = np.rint(levels * cover).astype(np.int16)
    printed = rows.with_arrays(material=(1 + level).astype(np.int16))

    def inked(looks: tuple[Appearance, ...]) -> np.ndarray:
        light = from_bytes(surface_maps(printed, printed, None, looks, 0.2).body[..., 0])
        return np.asarray(light.sum(axis=0) * step + surface.z[0] - step / 2)

    # Half a level of the texel that the line runs through, and rounding to eight bits.
    np.testing.assert_allclose(inked(palette), line, atol=step * (0.5 / levels + 0.01))
    # Were it taken for the side of a thread, its edge would follow the rows.
    taken = tuple(replace(look, printed=False) for look in palette)
    assert np.abs(inked(taken) - line).max() > 0.3 * step
