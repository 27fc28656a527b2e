"""Integrals against SciPy's, and against closed forms."""

import numpy as np
import pytest
from scipy import integrate

from geometry.quadrature import cumulative_simpson, cumulative_trapezoid, simpson


def samples(count, seed=3):
    rng = np.random.default_rng(seed)
    return np.cumsum(rng.uniform(0.01, 1, count)), rng.uniform(-1, 2, count)


@pytest.mark.parametrize("count", [3, 5, 101, 2001])
def test_simpson_as_scipy_has_it(count):
    x, y = samples(count)
    assert simpson(y, x) == pytest.approx(integrate.simpson(y, x=x), rel=1e-14)


@pytest.mark.parametrize("count", [3, 4, 5, 100, 1777])
def test_cumulative_simpson_as_scipy_has_it(count):
    x, y = samples(count)
    expected = integrate.cumulative_simpson(y, x=x, initial=0)
    np.testing.assert_allclose(cumulative_simpson(y, x), expected, rtol=1e-13, atol=1e-13)


@pytest.mark.parametrize("count", [1, 2, 3, 100])
def test_cumulative_trapezoid_as_scipy_has_it(count):
    x, y = samples(count)
    expected = integrate.cumulative_trapezoid(y, x, initial=0)
    np.testing.assert_allclose(cumulative_trapezoid(y, x), expected, rtol=1e-14, atol=1e-14)


def test_a_parabola_is_integrated_exactly():
    x, _ = samples(51)
    y = 3 * x**2 - 4 * x + 1
    exact = (x**3 - 2 * x**2 + x) - (x[0] ** 3 - 2 * x[0] ** 2 + x[0])
    np.testing.assert_allclose(cumulative_simpson(y, x), exact, rtol=1e-10, atol=1e-10)
    assert simpson(y, x) == pytest.approx(exact[-1], rel=1e-12)
