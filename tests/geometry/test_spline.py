"""The spline at whole steps against SciPy's."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from geometry.spline import spline_at


@pytest.mark.parametrize("count", [4, 5, 9, 400])
def test_as_scipy_has_it(count):
    rng = np.random.default_rng(count)
    values = rng.uniform(-1, 1, (count, 7))
    knots = np.arange(count) - 1.5
    at = np.sort(np.concatenate((knots, rng.uniform(knots[0], knots[-1], 500))))
    found, expected = spline_at(at, values, -1.5), CubicSpline(knots, values)(at)
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-13)


def test_a_cubic_is_met_exactly():
    at = np.linspace(2, 9, 300)
    knots = np.arange(2.0, 10.0)
    found = spline_at(at, (knots**3 - 5 * knots)[:, None], 2.0)
    np.testing.assert_allclose(found[:, 0], at**3 - 5 * at, rtol=1e-12, atol=1e-10)
