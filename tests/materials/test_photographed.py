"""A colour chart under published lamps, and what a photograph can have wrong."""

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from materials.photographed import Spot, corrected, read_thread
from materials.problems import MaterialProblem
from materials.thread import Thread, ThreadKind

Array = NDArray[np.float64]

CMFS = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
CHART = list(colour.SDS_COLOURCHECKERS["ISO 17321-1"].values())
NEUTRAL = 21  # of its greys the one nearest to 18 %
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def chart(lamp: str) -> Array:
    """Linear sRGB of the 24 patches of ISO 17321-1 under a CIE illuminant, by their spectra."""
    light = colour.SDS_ILLUMINANTS[lamp]
    seen = [colour.sd_to_XYZ(patch, CMFS, light, method="Integration") / 100 for patch in CHART]
    return np.asarray(colour.XYZ_to_sRGB(np.array(seen), apply_cctf_encoding=False))


def lab(rgb: Array) -> Array:
    return np.asarray(colour.XYZ_to_Lab(colour.RGB_to_XYZ(rgb, "sRGB"), (0.3127, 0.3290)))


def apart(one: Array, other: Array) -> Array:
    return np.asarray(colour.delta_E(lab(one), lab(other), method="CIE 2000"))


@pytest.mark.filterwarnings("ignore::colour.utilities.ColourUsageWarning")
@pytest.mark.filterwarnings("ignore::colour.utilities.ColourRuntimeWarning")
@pytest.mark.parametrize(
    ("lamp", "mean", "share"),
    [
        ("D50", 1, 0.1),
        ("D75", 1, 0.1),
        ("A", 2.5, 0.17),
        ("LED-B1", 2.5, 0.27),
        ("LED-B3", 2, 0.26),
    ],
)
def test_a_chart_of_spectra_comes_back(lamp: str, mean: float, share: float) -> None:
    true, seen = chart("D65"), chart(lamp)
    found = corrected(seen, seen[NEUTRAL], float(true[NEUTRAL] @ LUMINANCE))
    off = apart(found, true)
    assert off.mean() < mean
    # The share of the light's own distance from daylight that the module tells.
    light = seen[NEUTRAL] / (seen[NEUTRAL] @ LUMINANCE)
    assert np.percentile(off, 95) < share * apart(light, np.ones(3))
    # Far better than channel by channel, where the light is warm.
    if mean > 1:
        assert off.mean() < 0.6 * apart(seen / seen[NEUTRAL] * true[NEUTRAL].mean(), true).mean()


def test_the_card_comes_to_its_reflectance() -> None:
    card = np.array([0.5, 0.35, 0.2])
    np.testing.assert_allclose(corrected(card, card, 0.18), [0.18] * 3, rtol=1e-12)
    np.testing.assert_allclose(corrected(2 * card, card, 0.18), [0.36] * 3, rtol=1e-12)


def flat(rgb: object, size: tuple[int, int] = (32, 32)) -> Array:
    """An even surface, encoded."""
    linear = np.broadcast_to(np.asarray(rgb, dtype=float), (*size, 3))
    return np.asarray(colour.models.eotf_inverse_sRGB(np.clip(linear, 0, 1)))


def test_under_neutral_light_only_half_the_sheen_is_taken() -> None:
    # n = 1.53: ((n - 1) / (n + 1))² = 4.39 % (Fresnel, at right angles), half of it 2.19 %.
    found = read_thread(flat([0.4, 0.2, 0.1]), flat([0.18] * 3))
    np.testing.assert_allclose(found.linear_rgb, np.array([0.4, 0.2, 0.1]) - 0.02194, atol=1e-4)
    metal = read_thread(flat([0.4, 0.2, 0.1]), flat([0.18] * 3), kind=ThreadKind.METALLIC)
    np.testing.assert_allclose(metal.linear_rgb, [0.4, 0.2, 0.1], atol=1e-6)
    assert metal.uncertainty == pytest.approx(0, abs=1e-6)


def test_highlights_and_gaps_are_left_out_of_nylon_and_kept_on_metal(
    rng: np.random.Generator,
) -> None:
    seen = np.array(flat([0.3, 0.1, 0.05])) * rng.normal(1, 0.01, (32, 32, 1))
    seen[::8], seen[4::8] = flat([0.9] * 3, (1, 32)), 0.02
    nylon, metal = Spot.of(seen, "thread"), Spot.of(seen, "thread", keep_shine=True)
    np.testing.assert_allclose(nylon.mean, [0.3, 0.1, 0.05], rtol=0.02)
    assert nylon.shine == pytest.approx(0.25, abs=0.03)
    assert metal.mean[2] > 0.1
    assert metal.shine == 0


def test_uncertainty_grows_with_what_differs_from_spot_to_spot() -> None:
    shade = np.linspace(0.8, 1.2, 32)[None, :, None]
    even, uneven = flat([0.3, 0.2, 0.1]), flat(np.array([0.3, 0.2, 0.1]) * shade)
    card, sloped = flat([0.18] * 3), flat(0.18 * shade)
    told = [
        read_thread(thread, on, kind=ThreadKind.METALLIC, light=0.2).uncertainty
        for thread, on in ((even, card), (even, flat(0.18 * np.array([1.1, 1, 0.8]))))
    ]
    assert told[0] < 0.01 < told[1]
    plain = [
        read_thread(thread, on) for thread, on in ((even, card), (uneven, card), (uneven, sloped))
    ]
    assert plain[0].uncertainty < plain[1].uncertainty < plain[2].uncertainty
    assert any("lit unevenly" in note for note in plain[2].notes)
    assert not plain[0].notes


def test_metallic_lightness_can_be_given() -> None:
    found = read_thread(
        flat([0.04, 0.02, 0.01]), flat([0.18] * 3), kind=ThreadKind.METALLIC, light=0.4
    )
    assert found.linear_rgb @ LUMINANCE == pytest.approx(0.4, rel=1e-3)
    np.testing.assert_allclose(found.linear_rgb / found.linear_rgb[2], [4, 2, 1], rtol=1e-3)
    like = Thread("x", ThreadKind.METALLIC, "A", found.colour, 0.17, 28, 90, 1)
    assert found.apart(like) < 1
    assert not found.notes


@pytest.mark.parametrize(
    ("thread", "card", "reflectance", "words"),
    [
        (flat([0.3] * 3, (4, 40)), flat([0.2] * 3), 0.18, "thread is 40x4 pixels"),
        (flat([0.3] * 3), flat([0.2] * 3, (7, 7)), 0.18, "card is 7x7 pixels"),
        (flat([1.0] * 3), flat([0.2] * 3), 0.18, "thread is burnt out in 100 %"),
        (flat([0.3] * 3), flat([1.0, 0.9, 0.8]), 0.18, "card is burnt out"),
        (flat([0.3] * 3), flat([0.001] * 3), 0.18, "too dark"),
        (flat([0.3] * 3), flat([0.3, 0.2, 0.0]), 0.18, "too dark"),
        (flat([0.3] * 3), flat([0.2] * 3), 0.0, "card-reflectance: 0 is not"),
        (flat([0.3] * 3), flat([0.2] * 3), 18.0, "card-reflectance: 18 is not"),
        (flat([0.3] * 3), flat([0.2] * 3), float("nan"), "card-reflectance: nan is not"),
    ],
)
def test_what_tells_no_colour(thread: Array, card: Array, reflectance: float, words: str) -> None:
    with pytest.raises(MaterialProblem, match=words):
        read_thread(thread, card, reflectance=reflectance)
