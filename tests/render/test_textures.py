"""Maps brought to sizes that VTK leaves alone."""

import numpy as np
import pytest

from render.textures import at_powers_of_two


def waves(rows: int, columns: int) -> np.ndarray:
    """Waves aslant over a map that closes on itself, at its texel centres."""
    y = (np.arange(rows) + 0.5) / rows
    x = (np.arange(columns) + 0.5) / columns
    turn = 2 * np.pi * (9 * y[:, None] + 5 * x[None, :])
    return np.stack((np.cos(turn), np.sin(turn)), axis=2).astype(np.float32)


@pytest.mark.parametrize(
    ("shape", "made"),
    # A size within a tenth above a power of two is brought down to it, any other up to the next.
    [
        ((141, 96), (256, 128)),
        ((137, 96), (128, 128)),
        ((128, 64), (128, 64)),
        ((65, 100), (64, 128)),
    ],
)
def test_waves_keep_their_place(shape: tuple[int, int], made: tuple[int, int]) -> None:
    # Sampled anew at the new texel centres: the closed form itself. What linear interpolation
    # takes from a wave of so many texels is its amplitude, 1 - cos(pi f) at most, not its phase.
    old, exact = waves(*shape), waves(*made)
    new = at_powers_of_two(old)
    assert new.shape[:2] == made
    within = slice(2, -2)  # the first and last stations are not carried on
    angle = np.arctan2(new[within, :, 1], new[within, :, 0])
    meant = np.arctan2(exact[within, :, 1], exact[within, :, 0])
    away = np.angle(np.exp(1j * (angle - meant)))
    assert np.abs(away).max() < 0.02
    step = 9 / shape[0] + 5 / shape[1]
    assert np.abs(new[within] - exact[within]).max() < 1.2 * (1 - np.cos(np.pi * step)) + 0.01


def test_bytes_stay_bytes_and_are_rounded() -> None:
    image = np.zeros((4, 6, 1), np.uint8)
    image[:, 3:] = 201
    new = at_powers_of_two(image)
    assert new.dtype == np.uint8
    assert new.shape == (4, 8, 1)
    # By hand: new centres at (j + 1/2) 6/8 - 1/2 = -0.125, 0.625, 1.375, 2.125, 2.875, ...; the
    # first lies between texels 5 and 0, the fourth an eighth of the way from 0 to 201.
    assert new[0, :, 0].tolist() == [25, 0, 0, 25, 176, 201, 201, 176]


def test_a_map_that_fits_is_not_copied() -> None:
    image = waves(64, 32)
    assert at_powers_of_two(image) is image
