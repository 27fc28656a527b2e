"""Charts: counted against NumPy, colours against a brute force by CIEDE2000 of colour-science."""

import numpy as np
import pytest
from colour import delta_E

from materials.colour import linear_to_lab, parse_hex, srgb_to_linear
from materials.shelf import Shelf
from scenes.artwork.charts import (
    WARP,
    colour_indices,
    colours_of,
    flipped,
    nearest_threads,
    recoloured,
    reduced,
    runs_of,
    tiled,
)

THREADS = Shelf.shipped().threads


def chart(*rows: str):
    """A chart from letters: r red, g green, . clear."""
    colours = {"r": (200, 0, 0, 255), "g": (0, 128, 0, 255), ".": (9, 9, 9, 0)}
    return np.array([[colours[one] for one in row] for row in rows], np.uint8)


def test_colours_and_numbers() -> None:
    drawn = chart("rrg", "r..", "r.g")
    assert colours_of(drawn)[0] == "#c80000"
    assert set(colours_of(drawn)) == {"#c80000", "#008000", WARP}
    assert colour_indices(drawn, [WARP, "#c80000"]).tolist() == [[1, 1, -1], [1, 0, 0], [1, 0, -1]]


def test_runs_of_a_row() -> None:
    assert [(one.count, one.thread) for one in runs_of(np.array([0, 0, 2, 2, 2, 0]))] == [
        (2, 0),
        (3, 2),
        (1, 0),
    ]


def test_mirrored_and_repeated() -> None:
    drawn = chart("rg.", "rrr")
    assert np.array_equal(flipped(drawn, upright=False), chart(".gr", "rrr"))
    assert np.array_equal(flipped(drawn, upright=True), chart("rrr", "rg."))
    assert np.array_equal(tiled(drawn, 2, 2), chart("rg.rg.", "rrrrrr", "rg.rg.", "rrrrrr"))


def test_recoloured() -> None:
    made = recoloured(chart("rg."), {"#c80000": "#010203", "#008000": WARP})
    assert colours_of(made) == (WARP, "#010203")
    assert made[0, 0].tolist() == [1, 2, 3, 255]
    assert made[0, 1, 3] == 0


def lab(colour: str):
    return linear_to_lab(srgb_to_linear(parse_hex(colour)))


@pytest.mark.parametrize("colour", ["#c81e1e", "#204080", "#e8e0c8", "#335533"])
def test_the_nearest_thread_is_that_of_a_brute_force(colour) -> None:
    swatches = np.array([linear_to_lab(np.array(one.linear_rgb)) for one in THREADS])
    distances = delta_E(np.broadcast_to(lab(colour), swatches.shape), swatches, method="CIE 2000")
    (found,) = nearest_threads([colour], THREADS)
    assert found is THREADS[int(np.argmin(distances))]


def test_a_picture_is_reduced_to_a_few_threads(rng) -> None:
    """Blocks in the very colours of three threads come back as those, each in its block."""
    chosen = [THREADS[i] for i in (0, 7, 11)]
    colours = [np.rint(255 * parse_hex(one.colour)).astype(np.uint8) for one in chosen]
    picture = np.zeros((60, 90, 4), np.uint8)
    for number, colour in enumerate(colours):
        picture[:, 30 * number : 30 * number + 30, :3] = colour
    picture[:30, :, 3] = 255
    made, used = reduced(picture, 9, 6, THREADS, 3)
    assert made.shape == (6, 9, 4)
    assert {one.name for one in used} == {one.name for one in chosen}
    assert (made[3:, :, 3] == 0).all()
    assert np.array_equal(made[0, 4, :3], colours[1])
    one, single = reduced(picture, 9, 6, THREADS, 1)
    assert len(single) == 1
    assert len(set(colours_of(one)) - {WARP}) == 1


def test_more_threads_come_no_further_from_the_picture(rng) -> None:
    picture = rng.integers(0, 256, (12, 12, 4), np.uint8)
    picture[..., 3] = 255
    wanted = linear_to_lab(srgb_to_linear(picture[..., :3] / 255))
    far = []
    for count in (1, 2, 4, 8):
        made, used = reduced(picture, 12, 12, THREADS, count)
        assert len(used) <= count
        got = linear_to_lab(srgb_to_linear(made[..., :3] / 255))
        far.append(delta_E(wanted, got, method="CIE 2000").sum())
    assert far == sorted(far, reverse=True)
