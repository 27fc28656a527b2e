"""Measured spectra under published lamps, and what a photograph can have wrong."""

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from materials.lamps import Lamp
from materials.photographed import balanced, corrected, read_thread
from materials.problems import MaterialProblem
from materials.spot import Spot
from materials.thread import Thread, ThreadKind
from tests.kept import kept

Array = NDArray[np.float64]

CMFS = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
SHAPE = colour.SpectralShape(380, 730, 5)
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
SETS = ["BabelColor Average", "PMC", "CES"]


@kept
def reflectances(name: str) -> Array:
    """Measured spectra, (n, w): two colour charts, and the 99 things of [CIE224]."""
    if name == "CES":
        things = colour.quality.cfi2017.load_TCS_CIE2017(SHAPE)
        return np.asarray(things.copy().align(SHAPE).values.T)
    chart = colour.SDS_COLOURCHECKERS[name].values()
    return np.array([one.copy().align(SHAPE).values for one in chart])


def photographed(name: str, light: str, balance: float = 0.0) -> tuple[Array, Array]:
    """Linear sRGB of a set under a CIE illuminant, by the spectra; and of a white card.

    `balance` is how far the camera goes to the light's own white: 1 all of the way (Bradford).
    """
    power = colour.SDS_ILLUMINANTS[light].copy().align(SHAPE).values
    observer = CMFS.copy().align(SHAPE).values
    things = np.vstack((reflectances(name), np.ones(len(power))))
    xyz = (things * power) @ observer / (power @ observer[:, 1])
    daylight = colour.SDS_ILLUMINANTS["D65"].copy().align(SHAPE).values @ observer
    whites = [xyz[-1], daylight / daylight[1]]
    to = colour.adaptation.matrix_chromatic_adaptation_VonKries(*whites, "Bradford")
    xyz = (1 - balance) * xyz + balance * xyz @ to.T
    # The tables' D65 is sRGB's to four places: white is to be (1, 1, 1).
    rgb = colour.XYZ_to_sRGB(xyz, apply_cctf_encoding=False)
    rgb = rgb / colour.XYZ_to_sRGB(whites[1], apply_cctf_encoding=False)
    return np.asarray(rgb[:-1]), np.asarray(rgb[-1])


def lab(rgb: Array) -> Array:
    return np.asarray(colour.XYZ_to_Lab(colour.RGB_to_XYZ(rgb, "sRGB"), (0.3127, 0.3290)))


def apart(one: Array, other: Array) -> Array:
    return np.asarray(colour.delta_E(lab(one), lab(other), method="CIE 2000"))


@pytest.mark.filterwarnings("ignore::colour.utilities.ColourUsageWarning")
@pytest.mark.filterwarnings("ignore::colour.utilities.ColourRuntimeWarning")
@pytest.mark.parametrize("balance", [0.0, 1.0], ids=["as it is", "balanced"])
@pytest.mark.parametrize(
    ("light", "lamp", "kelvin"),
    [
        ("A", Lamp.INCANDESCENT, None),
        ("D50", Lamp.DAYLIGHT, None),
        ("D75", Lamp.DAYLIGHT, None),
        ("LED-B1", Lamp.LED, 2700),
        ("LED-B3", Lamp.LED, 4100),
        ("LED-B4", Lamp.LED, 5100),
    ],
)
def test_measured_spectra_come_back(
    light: str, lamp: Lamp, kelvin: float | None, balance: float
) -> None:
    for name in SETS:
        true, _ = photographed(name, "D65")
        seen, card = photographed(name, light, balance)
        off = apart(corrected(seen, card, 1.0, lamp, kelvin), true)
        bradford = apart(balanced(seen, card, 1.0), true)
        # Never worse than Bradford's rule; by lamps, half as far off on colour charts.
        assert off.mean() < 1.02 * bradford.mean() + 0.01
        assert off.max() < 1.05 * bradford.max()
        if lamp is not Lamp.DAYLIGHT:
            assert off.mean() < (0.8 if name == "CES" else 0.6) * bradford.mean()
        assert (off < 4).mean() >= (0.8 if name == "CES" else 0.9)
        # The uncertainty holds for 19 of 20. A flat spot of any of them gives the same.
        uncertain = read_thread(
            flat([0.18] * 3), flat(0.18 * card / card.max()), lamp=lamp, kelvin=kelvin,
            kind=ThreadKind.METALLIC, light=0.18,
        ).uncertainty  # fmt: skip
        assert (off <= uncertain).mean() >= 0.95


@pytest.mark.filterwarnings("ignore::colour.utilities.ColourUsageWarning")
@pytest.mark.filterwarnings("ignore::colour.utilities.ColourRuntimeWarning")
def test_a_light_that_nobody_told_is_taken_for_a_smooth_one_and_is_less_certain() -> None:
    within = []
    for light in ("A", "D50", "LED-B1", "LED-B3", "LED-B5"):
        for balance in (0.0, 1.0):
            true, _ = photographed("PMC", "D65")
            seen, card = photographed("PMC", light, balance)
            off = apart(corrected(seen, card, 1.0), true)
            bradford = apart(balanced(seen, card, 1.0), true)
            assert off.mean() < 1.2 * bradford.mean()
            # At the exposure of a card in the middle of the range.
            scale = 0.6 / max(card.max(), seen.max())
            for one, error in zip(seen[::5], off[::5], strict=True):
                if (scale * one < 0.001).any():
                    continue
                found = read_thread(
                    flat(scale * one), flat(scale * card), reflectance=1.0,
                    kind=ThreadKind.METALLIC,
                )  # fmt: skip
                assert "The kind of lamp is not given" in found.notes[0]
                within.append(error <= found.uncertainty)
    assert np.mean(within) >= 0.9


def test_what_it_says_of_the_light() -> None:
    warm = flat(0.18 * np.array([1.3, 0.95, 0.5]))
    thread = flat([0.2, 0.1, 0.05])
    for lamp, words in (
        (Lamp.LED, "LED light is poor for judging colour"),
        (Lamp.INCANDESCENT, "A lamp's warm light is poor"),
        (Lamp.DAYLIGHT, "Light so far from daylight is poor"),
    ):
        (note,) = read_thread(thread, warm, lamp=lamp).notes
        assert note.startswith(words)
        assert note.endswith("photograph the spool by a window.")
    assert not read_thread(thread, flat([0.18] * 3), lamp=Lamp.DAYLIGHT).notes
    cut = read_thread(flat([0.2, 0.1, 0.0]), flat([0.18] * 3), lamp=Lamp.DAYLIGHT)
    assert "stronger than the photograph can hold" in cut.notes[0]


def test_the_card_comes_to_its_reflectance() -> None:
    card = np.array([0.5, 0.35, 0.2])
    np.testing.assert_allclose(corrected(card, card, 0.18), [0.18] * 3, rtol=1e-12)
    np.testing.assert_allclose(corrected(2 * card, card, 0.18), [0.36] * 3, rtol=1e-12)


def flat(rgb: object, size: tuple[int, int] = (32, 32)) -> Array:
    """An even surface, encoded."""
    linear = np.broadcast_to(np.asarray(rgb, dtype=float), (*size, 3))
    return np.asarray(colour.models.eotf_inverse_sRGB(np.clip(linear, 0, 1)))


def test_of_the_sheen_that_there_may_be_the_mean_is_taken() -> None:
    # n = 1.53: ((n - 1) / (n + 1))² = 4.39 % (Fresnel, at right angles).
    seen = np.array([0.4, 0.2, 0.1])
    ours = {"reflectance": 0.18, "lamp": Lamp.DAYLIGHT}
    found = read_thread(flat(seen), flat([0.18] * 3), **ours)
    steps = np.array([lab(seen - share) for share in np.linspace(0, 0.0439, 101)])
    apart_by = colour.delta_E(lab(found.linear_rgb), steps.mean(axis=0), method="CIE 2000")
    assert apart_by < 0.1
    # Over a black thread lies no more sheen than is seen, and the uncertainty is large.
    black = read_thread(flat([0.02] * 3), flat([0.18] * 3), **ours)
    assert 0.002 < black.linear_rgb[1] < 0.01
    # A lamp is small, and away from its highlight thread mirrors a dim room.
    by_lamp = read_thread(flat(seen), flat([0.18] * 3), lamp=Lamp.LED, kelvin=6500)
    assert by_lamp.linear_rgb @ LUMINANCE > found.linear_rgb @ LUMINANCE + 0.01
    metal = read_thread(flat(seen), flat([0.18] * 3), kind=ThreadKind.METALLIC, lamp=Lamp.DAYLIGHT)
    np.testing.assert_allclose(metal.linear_rgb, seen, atol=1e-4)
    # Metal has no sheen to be unsure of: what is left are camera, dye and rounding.
    assert metal.uncertainty < 5.5
    unsure = [np.sqrt(one.uncertainty**2 - metal.uncertainty**2) for one in (black, found)]
    assert unsure[0] > 1.5 * unsure[1]


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
    uncertain = [
        read_thread(thread, on, kind=ThreadKind.METALLIC, light=0.2, lamp=Lamp.DAYLIGHT).uncertainty
        for thread, on in ((even, card), (even, flat(0.18 * np.array([1.1, 1, 0.8]))))
    ]
    assert uncertain[0] < uncertain[1]
    plain = [
        read_thread(thread, on, lamp=Lamp.DAYLIGHT)
        for thread, on in ((even, card), (uneven, card), (uneven, sloped))
    ]
    assert plain[0].uncertainty < plain[1].uncertainty < plain[2].uncertainty
    assert any("lit unevenly" in note for note in plain[2].notes)
    assert not plain[0].notes


def test_metallic_lightness_can_be_given() -> None:
    found = read_thread(
        flat([0.04, 0.02, 0.01]),
        flat([0.18] * 3),
        kind=ThreadKind.METALLIC,
        light=0.4,
        lamp=Lamp.DAYLIGHT,
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


# ---- The camera


def profiled(camera: str, light: str) -> Array:
    """Linear sRGB of the 99 things of [CIE224] by a camera's measured sensitivities.

    White is balanced, and the profile is the matrix that fits the 24 colours of a chart in that
    light best by least squares and keeps white.
    """
    power = colour.SDS_ILLUMINANTS[light].copy().align(SHAPE).values
    measured = colour.MSDS_CAMERA_SENSITIVITIES[camera].copy()
    nothing = {"method": "Constant", "left": 0, "right": 0}
    channels = measured.align(SHAPE, extrapolator_kwargs=nothing).values.clip(0)

    def raw(things: Array) -> Array:
        return np.asarray((things * power) @ channels / (power @ channels))

    chart, _ = photographed("BabelColor Average", light, 1.0)
    white = 1e3 * np.ones((1, 3))
    seen = np.vstack((raw(reflectances("BabelColor Average")), white))
    matrix, *_ = np.linalg.lstsq(seen, np.vstack((chart, white)), rcond=None)
    return np.asarray(raw(reflectances("CES")) @ matrix)


@pytest.mark.parametrize(
    ("light", "lamp", "kelvin"),
    [
        ("D50", Lamp.DAYLIGHT, None),
        ("D75", Lamp.DAYLIGHT, None),
        ("A", Lamp.INCANDESCENT, 2856.0),
        ("LED-B1", Lamp.LED, 2733.0),
        ("LED-B3", Lamp.LED, 4103.0),
    ],
)
def test_nineteen_of_twenty_lie_within_with_a_real_camera(
    light: str, lamp: Lamp, kelvin: float | None
) -> None:
    truth, _ = photographed("CES", "D65")
    card = np.full((8, 8, 3), 0.95)
    thread = np.full((8, 8, 3), 0.5)
    reading = read_thread(thread, card, reflectance=1.0, lamp=lamp, kelvin=kelvin)
    # The sheen is of the thread, not of the camera.
    nylon = reading.uncertainty
    bare = read_thread(
        thread, card, reflectance=1.0, kind=ThreadKind.METALLIC, lamp=lamp, kelvin=kelvin
    )
    assert bare.uncertainty <= nylon
    off = []
    for camera in colour.MSDS_CAMERA_SENSITIVITIES:
        found = [
            corrected(one, np.full(3, 0.999999), 1.0, lamp, kelvin)
            for one in profiled(camera, light)
        ]
        off.append(apart(np.array(found), truth))
    inside = np.mean(np.concatenate(off) <= bare.uncertainty)
    assert 0.94 <= inside
    # As if the camera saw as an eye does, far fewer would lie within.
    assert np.mean(np.concatenate(off) <= np.sqrt(bare.uncertainty**2 - 25)) < inside
