"""CIEDE2000 against its authors' test data and colour-science, an independent implementation."""

import colour
import numpy as np
import pytest

from materials.difference import delta_e_2000

# [Sharma2005], table 1, all of it: pairs chosen to catch wrong turns of hue.
TABLE = """
50 2.6772 -79.7751 50 0 -82.7485 2.0425
50 3.1571 -77.2803 50 0 -82.7485 2.8615
50 2.8361 -74.0200 50 0 -82.7485 3.4412
50 -1.3802 -84.2814 50 0 -82.7485 1.0000
50 -1.1848 -84.8006 50 0 -82.7485 1.0000
50 -0.9009 -85.5211 50 0 -82.7485 1.0000
50 0 0 50 -1 2 2.3669
50 -1 2 50 0 0 2.3669
50 2.49 -0.001 50 -2.49 0.0009 7.1792
50 2.49 -0.001 50 -2.49 0.0010 7.1792
50 2.49 -0.001 50 -2.49 0.0011 7.2195
50 2.49 -0.001 50 -2.49 0.0012 7.2195
50 -0.001 2.49 50 0.0009 -2.49 4.8045
50 -0.001 2.49 50 0.0010 -2.49 4.8045
50 -0.001 2.49 50 0.0011 -2.49 4.7461
50 2.5 0 50 0 -2.5 4.3065
50 2.5 0 73 25 -18 27.1492
50 2.5 0 61 -5 29 22.8977
50 2.5 0 56 -27 -3 31.9030
50 2.5 0 58 24 15 19.4535
50 2.5 0 50 3.1736 0.5854 1.0000
50 2.5 0 50 3.2972 0 1.0000
50 2.5 0 50 1.8634 0.5757 1.0000
50 2.5 0 50 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""
SHARMA = [
    (tuple(row[:3]), tuple(row[3:6]), row[6])
    for row in ([float(word) for word in line.split()] for line in TABLE.split("\n") if line)
]


def test_the_table_is_whole() -> None:
    assert len(SHARMA) == 34


@pytest.mark.parametrize(("one", "other", "value"), SHARMA)
def test_authors_pairs(one: tuple[float, ...], other: tuple[float, ...], value: float) -> None:
    # Given to four places.
    assert delta_e_2000(one, other) == pytest.approx(value, abs=5.1e-5)
    assert delta_e_2000(other, one) == pytest.approx(value, abs=5.1e-5)


def test_random_pairs_are_those_of_colour_science(rng: np.random.Generator) -> None:
    one, other = rng.uniform([0, -110, -110], [100, 110, 110], (2, 20_000, 3))
    near = one + rng.normal(0, 2, one.shape)
    for second in (other, near):
        # 1e-5: colour-science computes some of its hue angles in degrees; only rounding differs.
        np.testing.assert_allclose(
            delta_e_2000(one, second),
            colour.difference.delta_E_CIE2000(one, second),
            rtol=1e-5,
            atol=1e-8,
        )


def test_greys_have_no_hue() -> None:
    grey, other = (50, 0, 0), (50, 0, 30)
    expected = colour.difference.delta_E_CIE2000(np.array(grey), np.array(other))
    assert delta_e_2000(grey, other) == pytest.approx(float(expected))
    assert delta_e_2000(grey, (50, -30, 0)) > 0
    assert delta_e_2000(grey, grey) == 0
    # Between greys only lightness counts: eq. 15 alone, S_L = 1 at L* = 50.
    assert delta_e_2000((49, 0, 0), (51, 0, 0)) == pytest.approx(2)


def test_shapes_broadcast(rng: np.random.Generator) -> None:
    one, other = rng.uniform(-50, 50, (4, 1, 3)), rng.uniform(-50, 50, (5, 3))
    whole = delta_e_2000(one, other)
    assert whole.shape == (4, 5)
    assert whole[2, 3] == pytest.approx(float(delta_e_2000(one[2, 0], other[3])))
    assert delta_e_2000([50, 0, 0], [50, 1, 1]).shape == ()


def test_nan_comes_through_and_stays_in_its_place() -> None:
    for hole in range(3):
        one = np.full((2, 3), 20.0)
        one[0, hole] = np.nan
        np.testing.assert_array_equal(np.isnan(delta_e_2000(one, [50, 1, 1])), [True, False])
