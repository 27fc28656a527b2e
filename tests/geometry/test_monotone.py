"""The monotone cubic against SciPy's, and that it never overshoots."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from geometry.monotone import MonotoneCubic

CASES = {
    "two points": ([1.0, 4.0], [2.0, 1.0]),
    "three points": ([1.0, 2.0, 5.0], [3.0, 1.0, 0.5]),
    "a blank": ([80.0, 300.0, 410.0, 650.0, 900.0], [11.2, 9.7, 9.1, 7.4, 5.0]),
    "peaks and dips": ([0.0, 1.0, 1.5, 4.0, 5.0], [0.0, 3.0, 1.0, 1.0, 7.0]),
    "steep at the ends": ([0.0, 1.0, 2.0, 3.0], [0.0, 1.0, -9.0, -8.9]),
    "level": ([0.0, 1.0, 2.0], [4.0, 4.0, 4.0]),
    "level, then falling": ([0.0, 1.0, 2.0, 3.0], [4.0, 4.0, 3.0, 3.0]),
}


@pytest.mark.parametrize("name", CASES)
def test_as_scipy_has_it(name):
    x, y = (np.array(values) for values in CASES[name])
    at = np.sort(np.concatenate((x, np.random.default_rng(5).uniform(x[0], x[-1], 200))))
    curve, theirs = MonotoneCubic.through(x, y), PchipInterpolator(x, y)
    # The same formula: what differs is rounding, of a few sums of terms as large as y.
    scale = np.finfo(float).eps * np.abs(y).max()
    np.testing.assert_allclose(curve(at), theirs(at), rtol=0, atol=8 * scale)
    steepest = np.abs(np.diff(y) / np.diff(x)).max()
    within = 32 * np.finfo(float).eps * max(steepest, 1)
    np.testing.assert_allclose(curve.slope(at), theirs.derivative()(at), rtol=0, atol=within)


@pytest.mark.parametrize("seed", range(20))
def test_random_points_as_scipy_has_them(seed):
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.1, 40, rng.integers(2, 9)))
    y = rng.uniform(-10, 10, x.size)
    at = rng.uniform(x[0], x[-1], (3, 50))
    curve = MonotoneCubic.through(x, y)
    np.testing.assert_allclose(curve(at), PchipInterpolator(x, y)(at), rtol=1e-12, atol=1e-12)


def test_it_never_overshoots():
    rng = np.random.default_rng(9)
    x, y = np.arange(30.0), rng.uniform(0, 1, 30)
    curve = MonotoneCubic.through(x, y)
    at = np.linspace(0, 29, 2901)
    piece = np.minimum(at.astype(int), 28)
    low, high = np.minimum(y[piece], y[piece + 1]), np.maximum(y[piece], y[piece + 1])
    assert (curve(at) >= low - 1e-15).all()
    assert (curve(at) <= high + 1e-15).all()
