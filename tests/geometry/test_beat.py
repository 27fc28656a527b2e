"""Beats by hand, and against a Fourier transform of two rulings laid on one another."""

import math

import numpy as np
import pytest

from geometry.beat import beat_of


@pytest.mark.parametrize(
    ("under", "over", "lines", "length"),
    [
        # p1 p2 / |p1 - p2| by hand.
        (0.34, 0.36, 1, 6.12),
        (0.36, 0.34, 1, 6.12),
        (0.339, 0.346, 1, 16.756286),
        # Two rows beneath to one over: 0.17 x 0.36 / |0.36 - 0.34|.
        (0.17, 0.36, 2, 3.06),
        (0.36, 0.17, 2, 3.06),
    ],
)
def test_beats_by_hand(under: float, over: float, lines: int, length: float) -> None:
    beat = beat_of(under, over)
    assert beat.lines == lines
    assert beat.length == pytest.approx(length, rel=1e-6)


def test_like_rulings_never_part() -> None:
    assert math.isinf(beat_of(0.34, 0.34).length)
    assert math.isinf(beat_of(0.17, 0.34).length)
    # A sum of widths in another order is the same width.
    assert math.isinf(beat_of(0.1 + 0.2, 0.3).length)


def test_one_per_cent_of_pitch() -> None:
    # 0.34 beneath; 0.36 becomes 0.3636, by hand 0.34 x 0.3636 / 0.0236 = 5.23831.
    assert beat_of(0.34, 0.36).moved(0.01).length == pytest.approx(5.238305, rel=1e-6)


@pytest.mark.parametrize(("under", "over"), [(0.34, 0.36), (0.5, 0.47), (0.2, 0.41)])
def test_the_spectrum_of_two_gratings_peaks_at_the_beat(under: float, over: float) -> None:
    # Light through two square gratings is their product (numpy's transform is the reference).
    z = np.arange(1 << 16) * 0.005
    light = (z % under < 0.5 * under) * (z % over < 0.45 * over) * 1.0
    spectrum = np.abs(np.fft.rfft((light - light.mean()) * np.hanning(z.size)))
    frequency = np.fft.rfftfreq(z.size, 0.005)
    slow = (frequency > 0.02) & (frequency < 0.75 / max(under, over))
    found = frequency[slow][np.argmax(spectrum[slow])]
    assert 1 / found == pytest.approx(beat_of(under, over).length, rel=0.02)


@pytest.mark.parametrize("under_off", [0.0, 0.002, 0.02])
@pytest.mark.parametrize("over_off", [0.001, 0.008, 0.05])
@pytest.mark.parametrize(
    ("under", "over"), [(0.339, 0.346), (0.36, 0.34), (0.17, 0.36), (0.36, 0.17), (0.34, 0.34)]
)
def test_a_beat_lies_between_the_extremes_of_every_pitch_in_its_tolerance(
    under: float, over: float, under_off: float, over_off: float
) -> None:
    # Brute force: p1 p2 / |wide - k fine| at 401 by 401 pitches, both bounds among them.
    beat = beat_of(under, over)
    least, most = beat.between(under_off, over_off)
    one = under * (1 + under_off * np.linspace(-1, 1, 401))[:, None]
    other = over * (1 + over_off * np.linspace(-1, 1, 401))
    wide, fine = (one, other) if under >= over else (other, one)
    apart = wide - beat.lines * fine
    found = one * other / np.maximum(np.abs(apart), 1e-12)
    assert least == pytest.approx(found.min(), rel=1e-9)
    if apart.min() <= 1e-12 and apart.max() >= -1e-12:
        assert math.isinf(most)
    else:
        assert most == pytest.approx(found.max(), rel=1e-9)
        assert least <= beat.length <= most
