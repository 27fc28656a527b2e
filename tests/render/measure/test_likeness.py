"""FLIP between pictures, and of a GIF against its stills."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from render.common.tags import Tag
from render.measure.likeness import gif_difference, mean_flip
from render.output.film import Film, film_at


def test_nothing_between_a_picture_and_itself(rng: np.random.Generator) -> None:
    picture = rng.integers(0, 256, (40, 60, 3), np.uint8)
    assert mean_flip(picture, picture) == 0


def test_black_and_white_are_as_far_apart_as_can_be() -> None:
    # FLIP lies between 0 and 1 [Andersson2020].
    black = np.zeros((64, 64, 3), np.uint8)
    assert mean_flip(black, ~black) > 0.95


@pytest.mark.render
def test_a_gif_is_near_its_stills(tmp_path: Path, frames: list[NDArray[np.uint8]]) -> None:
    film = Film((frames[0].shape[1], frames[0].shape[0]), len(frames), 1.0)
    with film_at(tmp_path / "a.gif", film, Tag("Rod", "0123456789ab")) as write:
        write(lambda number: frames[number])
    # What we hold ourselves to at full size too (`render.measure.benchmarks`).
    assert 0 < gif_difference(tmp_path / "a.gif", frames) < 0.05
