"""How finely a design is sampled."""

import numpy as np
import pytest
from scipy.fft import next_fast_len

from geometry.errors import GeometryError
from geometry.grid import THINNEST, Detail, Grid, fast_length
from geometry.tolerances import MEMORY_LIMIT_BYTES

ORDER = [Detail.DRAFT, Detail.NORMAL, Detail.FINE]


def chosen(**changes):
    given = {"start": 290, "end": 410, "radius": 9.8, "thread": 0.16, "cell": 2.82}
    return Grid.choose(**given | changes)


def step(grid):
    return grid.z[1] - grid.z[0]


def test_even_spans_the_ends_and_one_turn_without_its_last_step():
    grid = Grid.even(5, 9, 41, 60)
    assert (grid.z[0], grid.z[-1], grid.theta[0]) == (5, 9, 0)
    np.testing.assert_allclose(np.diff(grid.z), 0.1)
    np.testing.assert_allclose(np.diff(grid.theta), np.deg2rad(6))
    assert grid.theta[-1] == pytest.approx(np.deg2rad(354))
    assert grid.points == 41 * 60


@pytest.mark.parametrize("detail", Detail)
def test_both_the_thread_and_the_cell_are_resolved(detail):
    for thread, cell in ((0.16, 2.82), (0.45, 1.2), (0.3, None)):
        grid = chosen(end=310, thread=thread, cell=cell, detail=detail)
        assert step(grid) <= thread / detail.samples_per_thread + 1e-12
        if cell is not None:
            assert step(grid) <= cell / detail.samples_per_cell + 1e-12


@pytest.mark.parametrize("detail", Detail)
def test_steps_round_the_blank_are_no_longer_than_steps_along_it(detail):
    grid = chosen(detail=detail)
    asked = 0.16 / detail.samples_per_thread
    assert 2 * np.pi * 9.8 / grid.theta.size <= asked + 1e-12


def test_thread_rows_are_drawn_without_aliasing_at_normal_and_fine_detail():
    # Shannon 1949: more than two samples to a period. Draft shows rows as roughness instead.
    assert Detail.NORMAL.samples_per_thread > 2
    assert Detail.FINE.samples_per_thread > 2


def test_more_detail_means_more_points():
    draft, normal, fine = (chosen(detail=detail).points for detail in ORDER)
    assert draft < normal < fine
    assert normal == chosen().points


@pytest.mark.parametrize(
    ("finer", "coarser"),
    [
        ({"thread": 0.12}, {"thread": 0.2}),
        ({"cell": 1.0, "thread": 1.0}, {"cell": 3.0, "thread": 1.0}),
    ],
)
def test_finer_features_mean_a_finer_grid(finer, coarser):
    assert step(chosen(**finer)) < step(chosen(**coarser))
    assert chosen(**finer).theta.size > chosen(**coarser).theta.size


@pytest.mark.parametrize("length", [3.0, 20.0, 117.3])
def test_a_chosen_grid_thins_evenly(length):
    grid = chosen(end=290 + length)
    assert (grid.z.size - 1) % THINNEST == 0
    assert grid.theta.size % THINNEST == 0


def test_points_grow_with_the_length_and_no_faster():
    short, long = chosen(end=350), chosen(end=530)
    assert long.points / short.points == pytest.approx(4, rel=0.02)


def test_a_thin_tip_is_still_round():
    # The outline of a regular n-gon is 1 - cos(pi/n) of its radius off the circle.
    grid = chosen(radius=0.6, thread=0.3, cell=None, detail=Detail.DRAFT)
    assert 0.6 * (1 - np.cos(np.pi / grid.theta.size)) < 1e-4


def test_a_design_too_large_is_refused_with_its_size():
    with pytest.raises(GeometryError, match=r"fine needs about (\d+\.\d) GB .* 4 GB") as caught:
        chosen(end=3000, thread=0.1, detail=Detail.FINE)
    assert caught.value.quantity == "detail"
    assert "0.020 mm" in str(caught.value)
    gigabytes = float(str(caught.value).split("about ")[1].split()[0])
    assert gigabytes * 1024**3 > MEMORY_LIMIT_BYTES


def test_a_metre_of_common_thread_over_common_mesh_is_let_pass_at_normal_detail():
    assert chosen(end=1290).points > 10e6


def test_the_refusal_comes_before_anything_is_allocated():
    with pytest.raises(GeometryError):
        chosen(end=1e9)


def test_the_size_named_is_right():
    # Half the length needs half the memory: the longest wrap that passes and the size named for
    # twice that length must agree with the limit.
    low, high = 290.0, 1e5
    for _ in range(40):
        middle = (low + high) / 2
        try:
            chosen(end=middle, detail=Detail.FINE)
            low = middle
        except GeometryError:
            high = middle
    with pytest.raises(GeometryError) as caught:
        chosen(end=290 + 2 * (low - 290), detail=Detail.FINE)
    assert f"{2 * MEMORY_LIMIT_BYTES / 1024**3:.1f} GB" in str(caught.value)


def test_thinned_grid_keeps_both_ends_and_goes_once_round() -> None:
    grid = Grid.choose(0, 100, 5, thread=0.2)
    half = grid.thinned(2)
    # By hand: n + 1 stations over n steps become n / 2 + 1; the angles are half as many.
    assert half.z.size == (grid.z.size - 1) // 2 + 1
    assert (half.z[0], half.z[-1]) == (0, 100)
    np.testing.assert_allclose(np.diff(half.theta), 2 * np.pi / (grid.theta.size / 2))


def test_fast_lengths_are_those_of_scipy():
    lengths = range(1, 3000)
    assert [fast_length(n) for n in lengths] == [next_fast_len(n, real=True) for n in lengths]
