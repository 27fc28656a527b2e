"""The blank laid flat along a run, against right triangles by hand and lengths on the surface."""

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.decal import Decal
from geometry.layers.flat import BandRun, BlankRun, band_between, raised
from geometry.surface import Surface
from geometry.winding import Hand, constant_gap, fixed_angle, gaps_along

R, LENGTH, LIFT = 9.0, 120.0, 0.17


def tube(tip=R, stations=1201, nt=720):
    blank = Blank([0, LENGTH], [2 * R, 2 * tip])
    return blank, Surface.bare(blank, Grid.even(0, LENGTH, stations, nt))


def band(blank, hand, angle=np.pi / 4, at=60.0, around=1.2, lift=LIFT):
    winding = fixed_angle(blank, (0, LENGTH), angle, hand=hand)
    return BandRun(raised(winding, blank, lift, at, around), at)


@pytest.mark.parametrize("hand", Hand)
def test_a_run_further_out_is_longer_by_pythagoras(hand):
    """One turn on a cylinder of radius R + lift is the hypotenuse of its round and the pitch."""
    blank, _ = tube()
    run = band(blank, hand)
    pitch = 2 * np.pi * R / np.tan(np.pi / 4)
    z = np.array([40.0, 40.0 + pitch])
    long = np.diff(run.winding.length_at(z))[0]
    assert long == pytest.approx(np.hypot(2 * np.pi * (R + LIFT), pitch), rel=1e-6)
    assert np.tan(run.winding.angle_at(50.0)) == pytest.approx((R + LIFT) / R, rel=1e-5)


@pytest.mark.parametrize("hand", Hand)
def test_flat_points_come_back(hand, rng):
    """Laid flat and back: the two are worked out in different ways."""
    blank, surface = tube(tip=7.5)
    run = band(blank, hand)
    s, t = run.coordinates(surface, slice(0, surface.z.size))
    rows = np.flatnonzero(np.abs(surface.z - 60) < 10)
    pick = rng.choice(rows, 200), rng.integers(0, surface.theta.size, 200)
    near = np.abs(t[pick]) < 6
    pick = pick[0][near], pick[1][near]
    theta, z = run.on_blank(s[pick], t[pick])
    away = (theta - surface.theta[pick[1]] + np.pi) % (2 * np.pi) - np.pi
    assert np.abs(z - surface.z[pick[0]]).max() < 0.03
    assert np.abs(away).max() * R < 0.03


@pytest.mark.parametrize("runs", ["blank", "right", "left"])
def test_left_of_the_run_is_left_seen_from_outside(runs):
    """Run x left points out of the blank, everywhere: the vector product by hand."""
    blank, _ = tube()
    if runs == "blank":
        run = BlankRun(blank, LIFT, 60.0, 1.2)
    else:
        run = band(blank, Hand(runs))

    def point(s, t):
        theta, z = run.on_blank(s, t)
        return np.array((R * np.cos(theta), R * np.sin(theta), z))

    for s in (-12.0, 0.0, 12.0):
        middle = point(s, 0.0)
        ahead, left = point(s + 0.01, 0.0) - middle, point(s, 0.01) - middle
        out = middle * (1, 1, 0) / R
        assert np.cross(ahead, left) @ out == pytest.approx(1e-4, rel=0.05)
        assert ahead[2] > 0


def test_a_millimetre_is_a_millimetre_on_the_surface():
    """Steps of s and t against the length between their points in space, at the laid radius."""
    blank, _ = tube()
    for run in (BlankRun(blank, LIFT, 60.0, 0.3), band(blank, Hand.LEFT)):
        s = np.linspace(-20, 20, 4001)
        for along, beside in ((s, 0 * s), (0 * s, s / 4)):
            theta, z = run.on_blank(along, beside)
            r = R + LIFT
            path = np.stack((r * np.cos(theta), r * np.sin(theta), z))
            on_flat = np.hypot(np.ptp(along), np.ptp(beside))
            ruler = np.linalg.norm(np.diff(path, axis=1), axis=0).sum()
            assert ruler == pytest.approx(on_flat, rel=3e-3)


@pytest.mark.parametrize("hand", Hand)
def test_the_middle_of_the_band_is_half_way_between_strips(hand):
    """Against `gaps_along`, which measures gaps from edge to edge up the guide line."""
    blank = Blank([0, LENGTH], [2 * R, 2 * 7.2])
    width, gap = 14.0, 12.0
    winding = constant_gap(blank, (0, LENGTH), width, gap, hand=hand)
    middle, wide = band_between(winding, width / 2, width / 2)
    centre, gaps = gaps_along(winding, width)
    inside = (centre > 45) & (centre < 90)
    assert np.interp(centre[inside], middle.z, wide) == pytest.approx(gaps[inside], abs=0.02)
    # The middle stands over the lower strip's phase.
    above = winding.z_at(winding.phase + 2 * np.pi)
    low = winding.z + width / 2 / np.sin(winding.angle)
    high = above - width / 2 / np.sin(winding.angle_at(above))
    expected = (low + high) / 2
    there = (expected > 45) & (expected < 90)
    assert middle.phase_at(expected[there]) == pytest.approx(winding.phase[there], abs=1e-3)


class Solid:
    """Ink that covers all."""

    def over(self, x, y, under):
        return np.full_like(under, 5)


class LowerLeft:
    """Ink on the lower left quarter of the picture, as a reader sees it."""

    def __init__(self, width, height):
        self.width, self.height = width, height

    def over(self, x, y, under):
        inked = (x < self.width / 2) & (y > self.height / 2)
        return np.where(inked, 5, under).astype(np.int16)


@pytest.mark.parametrize("around", [0.0, 1.2, 2 * np.pi - 0.05])
def test_a_decal_has_its_size_wherever_it_lies(around):
    """Area on the surface against width times height; past theta = 0 as well."""
    blank, surface = tube(nt=1440)
    decal = Decal(BlankRun(blank, 0.0, 60.0, around), 30.0, 8.0, Solid())
    laid = decal.apply(surface)
    inked = laid.material == 5
    area = inked.sum() * surface.step * 2 * np.pi * R / surface.theta.size
    assert area == pytest.approx(240.0, rel=0.01)
    assert np.array_equal(laid.radius, surface.radius)
    rows = np.flatnonzero(inked.any(axis=1))
    assert np.ptp(surface.z[rows]) == pytest.approx(30.0, abs=2 * surface.step)


@pytest.mark.parametrize("runs", ["blank", "right", "left"])
@pytest.mark.parametrize("turned", [False, True])
def test_a_decal_reads_the_right_way_round(runs, turned):
    """Looking at its middle from outside with the run to the right, left is left, low is low."""
    blank, surface = tube(nt=1440)
    run = BlankRun(blank, 0.0, 60.0, 1.2) if runs == "blank" else band(blank, Hand(runs), lift=0)
    laid = Decal(run, 20.0, 8.0, LowerLeft(20.0, 8.0), turned).apply(surface)
    station, column = np.nonzero(laid.material == 5)
    theta, z = surface.theta[column], surface.z[station]
    centre = np.array((R * np.cos(theta).mean(), R * np.sin(theta).mean(), z.mean()))
    middle = np.array((R * np.cos(1.2), R * np.sin(1.2), 60.0))
    out = middle * (1, 1, 0) / R
    ahead_theta, ahead_z = run.on_blank(0.01, 0.0)
    right = np.array((R * np.cos(ahead_theta), R * np.sin(ahead_theta), ahead_z)) - middle
    up = np.cross(out, right)
    sign = -1 if turned else 1
    assert sign * ((centre - middle) @ right) < 0
    assert sign * ((centre - middle) @ up) < 0
