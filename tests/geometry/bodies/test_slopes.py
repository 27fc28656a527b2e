"""Slopes of a surface against calculus."""

import numpy as np

from geometry.blank import Blank
from geometry.bodies.slopes import slopes, slopes_of
from geometry.grid import Grid
from geometry.surface import Surface


def wavy():
    """A tube r = 8 + 0.3 cos(5 theta) sin(z / 2), with its slopes worked out by hand."""
    bare = Surface.bare(Blank([0, 50], [16, 16]), Grid.even(0, 20, 401, 240))
    z, theta = bare.z[:, None], bare.theta[None, :]
    radius = 8 + 0.3 * np.cos(5 * theta) * np.sin(z / 2)
    hoop = -1.5 * np.sin(5 * theta) * np.sin(z / 2) / radius
    axial = 0.15 * np.cos(5 * theta) * np.cos(z / 2)
    return bare.with_arrays(radius=radius), hoop, axial


def test_slopes_are_the_derivatives():
    surface, hoop, axial = wavy()
    found = slopes(surface)
    # Central differences: h²/6 of the third derivative, 0.3 · 5³ / 8 and 0.3 / 2³.
    h = 2 * np.pi / 240
    np.testing.assert_allclose(found[0], hoop, atol=h**2 / 6 * 0.3 * 5**3 / 7.7 + 1e-6)
    np.testing.assert_allclose(found[1][1:-1], axial[1:-1], atol=0.05**2 / 6 * 0.3 / 8 + 1e-6)
    # One-sided at the ends: h/2 of the second derivative.
    np.testing.assert_allclose(found[1][[0, -1]], axial[[0, -1]], atol=0.05 / 2 * 0.3 / 4 + 1e-6)


def test_a_part_is_cut_from_the_whole():
    surface, _, _ = wavy()
    hoop, axial = slopes(surface)
    for part in (slice(0, 7), slice(100, 101), slice(390, 401)):
        of_hoop, of_axial = slopes_of(surface, part)
        np.testing.assert_allclose(of_hoop, hoop[part], atol=1e-6)
        np.testing.assert_allclose(of_axial, axial[part], atol=1e-6)


def test_slopes_close_round_the_blank():
    surface, _, _ = wavy()
    hoop, axial = slopes(surface)
    turned = slopes(surface.with_arrays(radius=np.roll(surface.radius, 17, axis=1)))
    np.testing.assert_array_equal(turned[0], np.roll(hoop, 17, axis=1))
    np.testing.assert_array_equal(turned[1], np.roll(axial, 17, axis=1))


def test_a_step_between_two_things_leans_no_way():
    surface, hoop, axial = wavy()
    # A strand laid askew, and one so narrow that nothing of it lies on either side of some points.
    at = surface.z[:, None] / 0.05 + 2 * np.arange(240)[None, :]
    strand = (at % 97 < 31) | (at % 97 == 50)
    stepped = np.where(strand, surface.radius + 0.5, surface.radius)
    raised = surface.with_arrays(radius=stepped)
    found = slopes_of(raised, slice(0, 401), apart=strand.astype(np.int64))
    # One-sided at most: h/2 of the second derivative, 0.3 · 5² / r and 0.3 / 4. The strand's own
    # radius is 0.5 mm more.
    lone = at % 97 == 50
    beside = np.roll(strand, 1, axis=1) & np.roll(strand, -1, axis=1) & ~strand
    h = 2 * np.pi / 240
    away = np.abs(found[0] - hoop * surface.radius / stepped)[~(lone | beside)]
    assert away.max() < h / 2 * 0.3 * 5**2 / 7.7 * 1.05
    away = np.abs(found[1] - axial)[1:-1][~lone[1:-1]]
    assert away.max() < 0.05 / 2 * 0.3 / 4 * 1.05
    assert (found[0][lone] == 0).all()
    # Without the numbers it is as steep as a wall.
    assert np.abs(slopes(raised)[0]).max() > 1


def test_where_nothing_lies_apart_slopes_stay_as_they_are():
    surface, _, _ = wavy()
    alike = np.ones(surface.shape, np.int64)
    for whole, found in zip(
        slopes(surface), slopes_of(surface, slice(0, 401), apart=alike), strict=True
    ):
        np.testing.assert_array_equal(found.astype(np.float32), whole)
