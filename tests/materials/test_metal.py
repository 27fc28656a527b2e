"""Reflectances against published indices and the exact special cases of Fresnel's formulas."""

import numpy as np
import pytest
from scipy.integrate import quad

from materials import metal
from materials.metal import (
    ALUMINIUM,
    diffuse_dielectric_reflectance,
    diffuse_internal_reflectance,
    dye_transmittance,
    dyed_film_reflectance,
    normal_reflectance,
)
from tests.materials.fresnel import conductor_reflectance, dielectric_reflectance

GOLD_582 = (0.29, 2.863)  # [Johnson1972], 582.1 nm


# Indices of [Johnson1972] (Al: [Rakic1995]); F0 computed a second way.
@pytest.mark.parametrize(
    ("n", "k", "f0"),
    [
        (*GOLD_582, 0.882363),
        (0.14, 3.697, 0.962585),
        (1.38, 1.914, 0.408220),
        (0.06, 3.586, 0.982836),
        (0.30, 3.205, 0.899683),
        (0.8734, 6.2418, 0.917739),
        # clear bodies, (n - 1)^2 / (n + 1)^2
        (1.5, 0, 0.04),
        (1.52, 0, 0.042580),
        (1.55, 0, 0.046521),
        (1.57, 0, 0.049191),
    ],
)
def test_normal_reflectance(n: float, k: float, f0: float) -> None:
    assert normal_reflectance(n, k) == pytest.approx(f0, abs=5e-7)


def test_only_the_ratio_of_indices_counts() -> None:
    # [BornWolf] 1.5: Fresnel's formulas hold the relative index only.
    assert normal_reflectance(1.5 * 0.29, 1.5 * 2.863, outside=1.5) == pytest.approx(
        0.882363, abs=5e-7
    )
    assert normal_reflectance(1.5, outside=1.5) == 0


# Gold at 582.1 nm, unpolarised; computed a second way.
@pytest.mark.parametrize(
    ("degrees", "reflectance"),
    [(0, 0.882363), (45, 0.879829), (60, 0.876970), (80, 0.910605), (90, 1.0)],
)
def test_gold_at_an_angle(degrees: float, reflectance: float) -> None:
    angle = np.radians(degrees)
    assert conductor_reflectance(angle, *GOLD_582) == pytest.approx(reflectance, abs=5e-7)


# Index 1.5, unpolarised; computed a second way.
@pytest.mark.parametrize(
    ("degrees", "reflectance"),
    [(0, 0.04), (45, 0.050240), (60, 0.089187), (75, 0.253061), (90, 1.0)],
)
def test_clear_body_at_an_angle(degrees: float, reflectance: float) -> None:
    angle = np.radians(degrees)
    assert dielectric_reflectance(angle, 1.5) == pytest.approx(reflectance, abs=5e-7)
    assert conductor_reflectance(angle, 1.5, 0.0) == pytest.approx(reflectance, abs=5e-7)


def test_brewster() -> None:
    # [BornWolf] 1.5.3: at atan n the p part vanishes and the s part is ((n^2 - 1)/(n^2 + 1))^2.
    angle = np.radians(56.3099)
    assert dielectric_reflectance(angle, 1.5) == pytest.approx((1.25 / 3.25) ** 2 / 2, abs=1e-6)


def test_critical_angle() -> None:
    # [BornWolf] 1.5.4: total from asin(1/1.5) = 41.8103 degrees on.
    past = np.radians([41.8104, 60, 89])
    np.testing.assert_allclose(dielectric_reflectance(past, 1.0, outside=1.5), 1.0, atol=1e-9)
    # Just before it the curve rises as the square root of what is left: still 1 % short.
    assert dielectric_reflectance(np.radians(41.8102), 1.0, outside=1.5) < 0.995


def test_light_goes_both_ways_alike() -> None:
    # Stokes' reversibility: the same reflectance from within at the refracted angle.
    outer = np.radians(np.linspace(0, 89, 90))
    inner = np.arcsin(np.sin(outer) / 1.53)
    np.testing.assert_allclose(
        dielectric_reflectance(outer, 1.53),
        dielectric_reflectance(inner, 1.0, outside=1.53),
        rtol=1e-9,
    )


@pytest.mark.parametrize("n", [1.01, 1.33, 1.5, 1.53, 2.4])
def test_diffuse_reflectance_is_the_mean_over_the_hemisphere(n: float) -> None:
    # SciPy's quadrature of the Fresnel curve, weighted by cosine.
    mean, _ = quad(lambda t: float(dielectric_reflectance(t, n)) * np.sin(2 * t), 0, np.pi / 2)
    assert diffuse_dielectric_reflectance(n) == pytest.approx(mean, abs=1e-8)


def test_diffuse_reflectance_of_glass() -> None:
    # 9.2 % from outside, 59.6 % from within: Judd 1942 for n = 1.5 (from memory).
    assert diffuse_dielectric_reflectance(1.5) == pytest.approx(0.0918, abs=5e-5)
    assert diffuse_internal_reflectance(1.5) == pytest.approx(0.596, abs=5e-4)


def test_formulas_broadcast() -> None:
    angle = np.radians(np.array([0, 30, 60]))[:, np.newaxis]
    n, k = np.array([0.29, 1.38]), np.array([2.863, 1.914])
    whole = conductor_reflectance(angle, n, k)
    assert whole.shape == (3, 2)
    assert whole[2, 1] == pytest.approx(float(conductor_reflectance(angle[2, 0], 1.38, 1.914)))
    assert dielectric_reflectance(angle, np.array([1.4, 1.5]), 1.0).shape == (3, 2)
    assert normal_reflectance(n, k[:, np.newaxis]).shape == (2, 2)
    assert diffuse_dielectric_reflectance([[1.4], [1.5]]).shape == (2, 1)


def test_nan_comes_through_and_stays_in_its_place() -> None:
    holed = np.array([np.nan, 0.5])
    for out in (
        normal_reflectance(holed, 3.0),
        conductor_reflectance(holed, 0.3, 3.0),
        conductor_reflectance(0.1, holed, 3.0),
        dielectric_reflectance(holed, 1.5),
        diffuse_dielectric_reflectance(holed + 1),
    ):
        np.testing.assert_array_equal(np.isnan(out), [True, False])
    colours = np.array([[np.nan, 0.5, 0.5], [0.5, 0.5, 0.5]])
    assert np.isfinite(dye_transmittance(colours)[1]).all()
    assert np.isnan(dye_transmittance(colours)[0]).any()
    assert np.isnan(dyed_film_reflectance(colours)[0]).tolist() == [True, False, False]


def test_green_of_aluminium_is_near_its_f0_in_green_light() -> None:
    # [Rakic1995] at 516.6 nm. 0.005: F0 changes by that much over the green third of the spectrum.
    index = (0.8734, 6.2418)
    assert ALUMINIUM.air[1] == pytest.approx(float(normal_reflectance(*index)), abs=0.005)
    assert ALUMINIUM.under_finish[1] == pytest.approx(
        float(normal_reflectance(*index, outside=1.5)), abs=0.005
    )


def test_swatch_comes_back_from_its_dye() -> None:
    swatch = np.random.default_rng(3).uniform(0, 0.9, (5, 4, 3))
    film = dyed_film_reflectance(dye_transmittance(swatch))
    np.testing.assert_allclose(film, swatch, atol=1e-9)


def test_clear_film_is_aluminium() -> None:
    np.testing.assert_array_equal(dyed_film_reflectance([1, 1, 1]), ALUMINIUM.f0())
    np.testing.assert_array_equal(dyed_film_reflectance([1, 1, 1], True), ALUMINIUM.f0(True))


def test_light_crosses_the_dye_twice() -> None:
    # Beer-Lambert: half through each way leaves a quarter.
    np.testing.assert_allclose(dyed_film_reflectance([0.5] * 3), ALUMINIUM.f0() / 4)


def test_too_bright_a_swatch_is_dimmed_in_its_hue() -> None:
    film = dyed_film_reflectance(dye_transmittance([2.0, 1.0, 0.5]))
    np.testing.assert_allclose(film / film[0], [1, 0.5, 0.25])
    assert film.max() == pytest.approx(ALUMINIUM.f0()[0])
    assert np.isfinite(dye_transmittance([0, 0, 0])).all()
    np.testing.assert_array_equal(dye_transmittance([-0.1, 0, 0]), 0)


def test_a_clear_body_in_air_reflects_as_the_complex_formula_has_it() -> None:
    angle = np.linspace(0, np.pi / 2 - 1e-6, 91)[:, None]
    index = np.array((1.0, 1.09, 1.33, 1.5, 2.4))
    expected = dielectric_reflectance(angle, index)
    found = metal.dielectric_reflectance(np.cos(angle), index)
    np.testing.assert_allclose(found, expected, atol=1e-9)
