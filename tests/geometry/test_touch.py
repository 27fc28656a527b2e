"""What a finger feels: ridges of known height, and levelling by two other roads."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.layers.finish import Coat, Finish, levelling_rate
from geometry.surface import Surface
from geometry.touch import ridge_height, touch_threshold

CONE = Blank(np.array([0.0, 500.0]), np.array([22.0, 17.0]))
WAVE = 3.0


def rippled(height: float, broad: float = 0.0) -> Surface:
    """Rings a wave apart, `height` from trough to crest, on a taper; and a broad swell."""
    surface = Surface.bare(CONE, Grid.even(100, 200, 1001, 192))
    ring = height / 2 * np.cos(2 * np.pi * surface.z / WAVE)
    ring = ring + broad / 2 * np.cos(2 * np.pi * surface.z / 50)
    return surface.with_arrays(radius=surface.radius + ring[:, None])


@pytest.mark.parametrize("height", [0.5, 0.05, 0.004])
def test_ridges_are_read_from_trough_to_crest(height: float) -> None:
    assert ridge_height(rippled(height), 105, 195, WAVE) == pytest.approx(height, rel=0.02)


def test_taper_and_swell_are_no_ridges() -> None:
    assert ridge_height(rippled(0.0), 105, 195, WAVE) < 1e-4
    # Of a swell 50 long the blur leaves exp(-(pi 3/50)² / 2): 1.8 %, and a wavelength sees a part.
    assert ridge_height(rippled(0.0, broad=0.5), 105, 195, WAVE) < 0.005


def test_threshold_is_that_of_the_source() -> None:
    # [Louw2000] (from memory): 1 micron at sigma 0.15 mm, power 1.3.
    assert touch_threshold(2 * np.pi * 0.15) == pytest.approx(0.001)
    assert touch_threshold(2 * np.pi * 1.5) == pytest.approx(0.001 * 10**1.3)
    assert touch_threshold(0.01) == pytest.approx(0.001)


def test_what_a_coat_leaves_of_ridges_is_orchards_exponential() -> None:
    # A coat much thicker than its ripple decays as exp(-rate t), nothing else.
    rate = float(levelling_rate(2 * np.pi / WAVE, 0.3, viscosity=100.0, surface_tension=0.035))
    bed = rippled(0.01)
    outside = Finish((Coat(0.3, 100.0, 0.035, 1 / rate),), 95.0, 205.0, 0).apply(bed)
    left = ridge_height(outside, 110, 190, WAVE)
    assert left == pytest.approx(0.01 * np.exp(-1), rel=0.05)


@pytest.mark.parametrize("wavelength", [6.0, 10.0])
def test_orchard_against_brute_force(wavelength: float) -> None:
    """Integrate the film equation dh/dt = -(sigma/3 mu) d/dx(h³ d³h/dx³) on a periodic line.

    Its thin-film form ([Oron1997], eq. 2.28) is Orchard's
    where k h is small: expanded, his is 1 - 9/5 (k h)² of it.
    """
    n, depth, sigma, mu = 64, 0.1, 0.035, 1.0
    x = np.arange(n) * wavelength / n
    k = 2 * np.pi / wavelength
    numbers = 1j * np.fft.fftfreq(n, 1 / n) * k * 1e3  # 1/m

    def flow(_: float, h: np.ndarray) -> np.ndarray:
        third = np.fft.ifft(numbers**3 * np.fft.fft(h)).real
        flux = h**3 * third
        return -sigma / (3 * mu) * np.fft.ifft(numbers * np.fft.fft(flux)).real

    metres = 1e-3 * (depth + 0.002 * np.cos(k * x))
    rate = float(levelling_rate(k, depth, viscosity=mu, surface_tension=sigma))
    seconds = 1 / rate
    solved = solve_ivp(flow, (0, seconds), metres, method="BDF", rtol=1e-7, atol=1e-12)
    left = (solved.y[:, -1].max() - solved.y[:, -1].min()) / (metres.max() - metres.min())
    assert -np.log(left) / seconds == pytest.approx(rate, rel=2 * (k * depth) ** 2)
    assert left == pytest.approx(np.exp(-1), rel=0.02)
