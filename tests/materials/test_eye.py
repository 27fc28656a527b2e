"""The eye against colour-science's full model of it, and against what eye charts are made by."""

import numpy as np
import pytest
from colour.contrast import (
    contrast_sensitivity_function_Barten1999,
    pupil_diameter_Barten1999,
    retinal_illuminance_Barten1999,
    sigma_Barten1999,
)
from numpy.typing import NDArray

from materials.eye import (
    ARC_MINUTE,
    bar_kept,
    bar_sensitivity,
    contrast_sensitivity,
    masked,
    visual_angle,
)

FREQUENCIES = np.array([0.5, 1, 2, 4, 8, 16, 25, 30])


def whole_model(
    u: NDArray[np.float64], light: float, width: float, height: float
) -> NDArray[np.float64]:
    """[Barten1999] in full, as colour-science has it, for an eye adapted to a 10° field."""
    pupil = pupil_diameter_Barten1999(light, 10)
    return contrast_sensitivity_function_Barten1999(
        u,
        sigma=sigma_Barten1999(0.5 / 60, 0.08 / 60, pupil),
        X_0=width,
        Y_0=height,
        E=retinal_illuminance_Barten1999(light, pupil, True),
    )


@pytest.mark.parametrize("light", [10.0, 30.0, 100.0])
@pytest.mark.parametrize(("width", "height"), [(10, 10), (1, 10), (0.1, 2)])
def test_sensitivity_is_near_the_whole_model(light: float, width: float, height: float) -> None:
    # A fifth: how far Barten's own short formula strays from his model over this range.
    np.testing.assert_allclose(
        contrast_sensitivity(FREQUENCIES, light, width, height),
        whole_model(FREQUENCIES, light, width, height),
        rtol=0.2,
    )


def test_sensitivity_by_hand() -> None:
    # [Barten2003] on a pocket calculator: u = 4 cycles a degree, 100 cd/m², 10° square.
    # exp(-0.0016 16 2^0.08) = 0.97329; 1 + 1.44 + 10.24 = 12.68; 63 / 45.709 = 1.37828;
    # 1 / (1 - exp(-0.32)) = 3.65176; 5200 0.97329 / sqrt(12.68 5.03004) = 633.7.
    assert contrast_sensitivity(4, 100) == pytest.approx(633.7, abs=0.1)


def test_eye_is_best_at_a_few_cycles_and_ends_near_sixty() -> None:
    # [Campbell1965]: gratings are resolved up to 50 to 60 cycles.
    fine = np.linspace(0.5, 70, 1000)
    seen = contrast_sensitivity(fine, 100)
    assert 2 < fine[seen.argmax()] < 6
    assert 45 < fine[seen > 1].max() < 60
    # 20/20, one arc minute: resolved, but only where the contrast is strong [ISO8596].
    assert 5 < contrast_sensitivity(30, 100) < 50


def test_more_light_and_more_pattern_help() -> None:
    assert contrast_sensitivity(10, 100) > contrast_sensitivity(10, 1)
    assert contrast_sensitivity(10, 100) > contrast_sensitivity(10, 100, 0.15, 10)
    assert contrast_sensitivity(10, 100, 0.15, 10) == contrast_sensitivity(10, 100, 10, 0.15)


def test_a_bar_is_what_the_eyes_filter_makes_of_a_drawn_one() -> None:
    # The same by brute force: a bar drawn on a line 40° long, filtered by FFT.
    count, length, width = 1 << 17, 40.0, 0.03
    x = (np.arange(count) - count / 2) * length / count
    drawn = np.clip((width / 2 - np.abs(x)) / (length / count) + 0.5, 0, 1)
    f = np.fft.rfftfreq(count, length / count)
    gain = np.zeros_like(f)
    gain[1:] = contrast_sensitivity(f[1:], 50, 2, 2) * (f[1:] < 80)
    seen = np.fft.irfft(np.fft.rfft(drawn) * gain, count)
    # Twice: half of the modulation counts as modulation.
    assert bar_sensitivity(width, 50) == pytest.approx(2 * seen.max(), rel=0.005)


def test_a_wire_against_the_sky() -> None:
    # Hecht & Mintz 1939, J. Gen. Physiol. 22, 593: a long black wire half an arc second wide is
    # just seen against a bright sky. The model adds up all frequencies without loss, so it may find
    # the wire somewhat easier than people do, but no harder.
    black = 0.5  # modulation of black on white, as half of Weber's 1
    reserve = black * bar_sensitivity(0.5 / 3600, 3000)
    assert 1 < reserve < 3


def test_a_thin_bar_counts_by_its_width() -> None:
    # Far below the eye's own blur only the light that is missing matters.
    thin, twice = bar_sensitivity([0.0005, 0.001], 100)
    assert twice / thin == pytest.approx(2, rel=0.01)
    wide = bar_sensitivity(np.array([0.02, 0.04, 0.06]), 100)
    assert (wide[1:] > 0.8 * wide[:-1]).all()
    assert bar_sensitivity(0.02, 100) > bar_sensitivity(0.02, 1)
    assert bar_sensitivity([[0.02], [0.03]], [1, 10, 100]).shape == (2, 3)


def test_unrest_hides() -> None:
    # [Legge1980]: a mask ten times the threshold raises it by 10^0.62.
    assert masked(0.01, 0.1) == pytest.approx(0.01 * 10**0.62)
    np.testing.assert_allclose(masked(0.01, [0, 0.005, 0.01]), 0.01)


def test_angles() -> None:
    # The 20/20 row of an eye chart: letters of 5 arc minutes, 8.73 mm at 6 m [ISO8596].
    assert visual_angle(8.727, 6000) / ARC_MINUTE == pytest.approx(5, abs=1e-3)
    assert visual_angle([1, 2], [[100], [200]]).shape == (2, 2)


def test_colour_blurs_before_light_does() -> None:
    # [Mullen1985]: no colour grating is seen above 11 to 12 cycles a degree, where its bars are
    # 1/23 degree wide: little of a bar's colour is left there, and still less of its blue.
    light, red_green, blue_yellow = bar_kept(1 / 23)
    assert 0.2 < blue_yellow < red_green < 0.45 < 0.65 < light
    np.testing.assert_allclose(bar_kept([0.0, 30.0]), [[0] * 3, [1] * 3], atol=1e-3)
    assert (np.diff(bar_kept(np.linspace(0, 0.2, 50)), axis=0) > 0).all()
    assert bar_kept([[0.1, 0.2]]).shape == (1, 2, 3)


def test_what_is_kept_is_the_blurred_bar() -> None:
    # The same kernels laid over a drawn bar by brute force; weights and spreads of
    # [Zhang1997], table 1.
    kernels = [
        ((0.921, 0.0283), (0.105, 0.133), (-0.108, 4.336)),
        ((0.531, 0.0392), (0.330, 0.494)),
        ((0.488, 0.0536), (0.371, 0.386)),
    ]
    x = np.linspace(-30, 30, 1_200_001)
    bar = np.abs(x) <= 0.05
    for kept, parts in zip(bar_kept(0.1), kernels, strict=True):
        kernel = sum(
            weight * np.exp(-((x / spread) ** 2)) / np.exp(-((x / spread) ** 2)).sum()
            for weight, spread in parts
        )
        assert kept == pytest.approx((kernel * bar).sum() / kernel.sum(), rel=1e-3)


def test_nan_comes_through_and_stays_in_its_place() -> None:
    holed = np.array([np.nan, 4.0])
    for out in (
        contrast_sensitivity(holed, 10),
        contrast_sensitivity(5, holed),
        contrast_sensitivity(5, 10, holed),
        bar_sensitivity(holed, 10),
        bar_sensitivity(0.1, holed),
        masked(holed, 0.1),
        masked(0.1, holed),
        visual_angle(holed, 600),
        *bar_kept(holed).T,
    ):
        np.testing.assert_array_equal(np.isnan(out), [True, False])
