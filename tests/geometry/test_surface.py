"""The surface that layers take and return."""

import dataclasses

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.surface import Surface

ARRAYS = ["z", "theta", "radius", "material", "lay", "row", "along", "tube"]


@pytest.fixture
def bare():
    return Surface.bare(Blank([0, 100], [20, 18]), Grid.even(10, 40, 61, 32), material=3)


def test_bare_surface_is_the_blank(bare):
    # A straight taper by hand: r = 10 - z / 100.
    np.testing.assert_allclose(bare.radius, np.broadcast_to(10 - bare.z[:, None] / 100, (61, 32)))
    assert (bare.material == 3).all()
    assert not bare.lay.any()
    assert bare.shape == (61, 32)
    assert bare.step == pytest.approx(0.5)


@pytest.mark.parametrize("name", ARRAYS)
def test_arrays_are_read_only(bare, name):
    with pytest.raises(ValueError, match="read-only"):
        getattr(bare, name)[0] = 0


def test_fields_cannot_be_rebound(bare):
    with pytest.raises(dataclasses.FrozenInstanceError):
        bare.radius = bare.radius


@pytest.mark.parametrize("name", ARRAYS[2:])
def test_an_array_of_another_shape_is_refused(bare, name):
    with pytest.raises(ValueError, match=rf"{name} has the shape \(60, 32\).*\(61, 32\)"):
        bare.with_arrays(**{name: getattr(bare, name)[1:]})


def test_with_arrays_changes_only_what_is_given(bare):
    higher = bare.with_arrays(radius=bare.radius + 1)
    np.testing.assert_array_equal(higher.radius, bare.radius + 1)
    for name in ARRAYS[3:]:
        assert getattr(higher, name) is getattr(bare, name)


@pytest.mark.parametrize(
    ("start", "end"), [(10, 40), (12, 12), (12.1, 12.4), (0, 100), (15.2, 33.3), (50, 60), (30, 20)]
)
def test_between_holds_the_stations_between_ends_included(bare, start, end):
    inside = np.flatnonzero((bare.z >= start - 1e-9) & (bare.z <= end + 1e-9))
    np.testing.assert_array_equal(np.arange(bare.z.size)[bare.between(start, end)], inside)


def test_between_includes_a_station_that_rounding_moved():
    surface = Surface.bare(Blank([0, 100], [20, 18]), Grid.even(0, 0.3, 4, 16))
    assert surface.z[3] != 0.1 * 3
    assert surface.between(0.1, 0.1 * 3) == slice(1, 4)


def test_thinned_keeps_every_other_point(bare):
    coarse = bare.thinned(2)
    assert coarse.shape == (31, 16)
    np.testing.assert_array_equal(coarse.z, bare.z[::2])
    np.testing.assert_array_equal(coarse.radius, bare.radius[::2, ::2])
    with pytest.raises(ValueError, match="cannot be thinned by 7"):
        bare.thinned(7)
