"""Work split into blocks covers every station once."""

import numpy as np
import pytest

from geometry.array_blocks import over_blocks


@pytest.mark.parametrize(("stations", "width"), [((0, 1000), 700), ((3, 4), 10**7), ((5, 5), 8)])
def test_every_station_is_worked_on_once(stations, width):
    times = np.zeros(1200, int)

    def work(part):
        times[part] += 1

    over_blocks(work, slice(*stations), width)
    expected = np.zeros(1200, int)
    expected[slice(*stations)] = 1
    np.testing.assert_array_equal(times, expected)


def test_blocks_hold_about_as_many_points_as_asked():
    sizes = []
    over_blocks(lambda part: sizes.append(part.stop - part.start), slice(0, 100), 50, points=1000)
    assert sum(sizes) == 100
    assert max(sizes) * 50 <= 1000
    # Equal, so that no core waits for another.
    assert max(sizes) - min(sizes) <= 1


def test_an_error_in_one_block_comes_out():
    def work(part):
        if part.start >= 500:
            raise FloatingPointError("block")

    with pytest.raises(FloatingPointError, match="block"):
        over_blocks(work, slice(0, 1000), 1000)
