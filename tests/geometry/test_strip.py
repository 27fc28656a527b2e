"""A strip from any two of its figures, against hand-worked triangles and against each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry import winding
from geometry.errors import GeometryError
from geometry.strip import StripFigure, strip_from

ANGLE, PITCH, GAP, WIDTH, SHARE = StripFigure


def test_half_coverage_at_45_degrees():
    # w = pi r / sqrt(2) covers half at 45 degrees (common practice, no source): by hand, the run's
    # share is w / (2 pi r cos 45) = 1/2.
    radius = 9.65
    angle, width = strip_from(radius, {SHARE: 0.5, WIDTH: math.pi * radius / math.sqrt(2)})
    assert math.degrees(angle) == pytest.approx(45)
    assert strip_from(radius, {SHARE: 0.5, ANGLE: math.pi / 4})[1] == pytest.approx(width)


def test_a_strip_without_a_gap():
    # r 5, w 12.7 without a gap: 66.155640 degrees, pitch 13.885139 (computed by a second method).
    angle, width = strip_from(5.0, {WIDTH: 12.7, GAP: 0.0})
    assert math.degrees(angle) == pytest.approx(66.155640, abs=1e-6)
    assert width == 12.7
    assert float(winding.pitch(5.0, angle)) == pytest.approx(13.885139, abs=1e-6)


@given(
    radius=st.floats(1, 15),
    degrees=st.floats(8, 82),
    share=st.floats(0.05, 0.98),
    starts=st.integers(1, 6),
    pair=st.sampled_from(
        [
            (one, other)
            for one in StripFigure
            for other in StripFigure
            if one < other and {one, other} != {ANGLE, PITCH}
        ]
    ),
)
def test_any_two_figures_give_the_strip_back(radius, degrees, share, starts, pair):
    # The unrolled blank, by plane geometry: the strip's edges are lines at alpha to the axis, one
    # every (2 pi r / n) cos(alpha) square to the run.
    angle = math.radians(degrees)
    every = 2 * math.pi * radius / starts * math.cos(angle)
    width = share * every
    figures = {
        ANGLE: angle,
        PITCH: starts * every / math.sin(angle),
        GAP: (every - width) / math.sin(angle),
        WIDTH: width,
        SHARE: share,
    }
    found = strip_from(radius, {one: figures[one] for one in pair}, starts)
    assert found == pytest.approx((angle, width), rel=1e-7)


@pytest.mark.parametrize(
    "known",
    [
        {SHARE: 0.2, WIDTH: 25.0},  # even along the blank 25 mm cover 41 % of 60.6 mm
        {SHARE: 1.0, GAP: 3.0},
        {GAP: 5.0, WIDTH: 70.0},
        {PITCH: 20.0, GAP: 25.0},
        {ANGLE: 0.0, WIDTH: 5.0},
    ],
)
def test_no_such_strip(known):
    with pytest.raises(GeometryError):
        strip_from(9.65, known)


def test_two_figures_that_say_one_are_no_strip():
    with pytest.raises(ValueError, match="two figures"):
        strip_from(9.65, {ANGLE: 1.0, PITCH: 20.0})
    with pytest.raises(ValueError, match="two figures"):
        strip_from(9.65, {ANGLE: 1.0})
    assert np.isfinite(strip_from(9.65, {PITCH: 60.0, WIDTH: 20.0})).all()
