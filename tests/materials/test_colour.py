"""Colour against figures of [IEC61966] and colour-science, an independent implementation."""

from collections.abc import Callable

import colour
import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray

from materials.colour import (
    format_hex,
    from_bytes,
    lab_to_linear,
    lab_to_xyz,
    linear_to_lab,
    linear_to_srgb,
    linear_to_xyz,
    luminance,
    parse_hex,
    srgb_to_linear,
    to_bytes,
    xyz_to_lab,
    xyz_to_linear,
)
from materials.problems import MaterialProblem

WHITE_XY = np.array([0.3127, 0.3290])  # D65, [IEC61966]
RGB = np.random.default_rng(7).uniform(0, 1, (200, 3))
LINES = {
    "srgb_to_linear": srgb_to_linear,
    "linear_to_srgb": linear_to_srgb,
    "linear_to_xyz": linear_to_xyz,
    "xyz_to_linear": xyz_to_linear,
    "xyz_to_lab": xyz_to_lab,
    "lab_to_xyz": lab_to_xyz,
    "linear_to_lab": linear_to_lab,
    "lab_to_linear": lab_to_linear,
}


# [IEC61966], computed by hand from its formula.
@pytest.mark.parametrize(
    ("srgb", "linear"),
    [(0.0, 0.0), (0.04045, 0.0031308), (0.5, 0.2140411), (188 / 255, 0.5028865), (1.0, 1.0)],
)
def test_srgb_pairs(srgb: float, linear: float) -> None:
    assert srgb_to_linear(srgb) == pytest.approx(linear, abs=5e-8)
    assert linear_to_srgb(linear) == pytest.approx(srgb, abs=5e-7)


def test_srgb_curve_is_that_of_colour_science() -> None:
    # Rounding only.
    for ours, theirs in (
        (srgb_to_linear, colour.models.eotf_sRGB),
        (linear_to_srgb, colour.models.eotf_inverse_sRGB),
    ):
        np.testing.assert_allclose(ours(RGB), theirs(RGB), rtol=0, atol=1e-14)


def test_bytes_come_back_as_they_were() -> None:
    levels = np.arange(256, dtype=np.uint8).reshape(16, 16)
    light = from_bytes(levels)
    assert light.dtype == np.float32
    # colour-science's curve, in float32.
    np.testing.assert_allclose(light, colour.models.eotf_sRGB(levels / 255.0), atol=1e-7)
    np.testing.assert_array_equal(to_bytes(light), levels)


def test_light_gets_the_nearest_byte() -> None:
    exact = 255 * colour.models.eotf_inverse_sRGB(RGB)
    # Half a level, and half a step of the table where the curve is steepest (12.92).
    assert np.abs(to_bytes(RGB) - exact).max() < 0.5 + 255 * 12.92 / 2**16
    assert to_bytes(np.array([-0.2, 1.7])).tolist() == [0, 255]


def test_xyz_is_that_of_colour_science() -> None:
    space = colour.RGB_COLOURSPACES["sRGB"]
    # Both hold the four-place matrix of [IEC61966]: rounding only.
    expected = RGB @ space.matrix_RGB_to_XYZ.T
    np.testing.assert_allclose(linear_to_xyz(RGB), expected, rtol=0, atol=1e-14)


def test_lab_is_that_of_colour_science() -> None:
    xyz = linear_to_xyz(np.concatenate([RGB, RGB * 0.01]))  # the straight part below L* 8 too
    lab = colour.XYZ_to_Lab(xyz, WHITE_XY)
    # Rounding only; Lab runs to 100.
    np.testing.assert_allclose(xyz_to_lab(xyz), lab, rtol=0, atol=1e-11)
    expected = colour.Lab_to_XYZ(lab, WHITE_XY)
    np.testing.assert_allclose(lab_to_xyz(lab), expected, rtol=0, atol=1e-13)


def test_lab_of_red() -> None:
    # [CIE15] on the sRGB red primary, four places.
    np.testing.assert_allclose(linear_to_lab([1, 0, 0]), [53.2329, 80.1112, 67.2237], atol=5e-5)


def test_there_and_back() -> None:
    # 1e-7: the standard's two thresholds do not quite meet.
    grey = np.linspace(0, 1, 100_001)
    np.testing.assert_allclose(srgb_to_linear(linear_to_srgb(grey)), grey, rtol=0, atol=1e-7)
    np.testing.assert_allclose(lab_to_linear(linear_to_lab(RGB)), RGB, atol=1e-12)


def test_luminance_is_y() -> None:
    assert luminance([1, 1, 1]) == pytest.approx(1.0)
    # [IEC61966]: the Y row of the matrix.
    assert luminance([0, 1, 0]) == pytest.approx(0.7152)
    assert luminance(RGB).shape == (200,)


@pytest.mark.parametrize("name", LINES)
def test_last_axis_is_the_colour(name: str) -> None:
    line = LINES[name]
    block = RGB.reshape(4, 10, 5, 3)
    whole = line(block)
    assert whole.shape == block.shape
    assert whole.dtype == np.float64
    np.testing.assert_allclose(whole[2, 3, 4], line(block[2, 3, 4]), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(line(block.tolist()), whole)


@pytest.mark.parametrize("name", LINES)
def test_nan_comes_through_and_stays_in_its_colour(name: str) -> None:
    out = LINES[name](np.array([[0.2, np.nan, 0.4], [0.2, 0.3, 0.4]]))
    assert np.isnan(out[0]).any()
    assert np.isfinite(out[1]).all()


@pytest.mark.parametrize("line", [srgb_to_linear, linear_to_srgb])
def test_curve_beyond_the_screen(line: Callable[[ArrayLike], NDArray[np.float64]]) -> None:
    out = line(np.array([-np.inf, -0.1, 1.5, np.inf]))
    assert out[0] == -np.inf
    assert out[1] < 0
    assert 1 < out[2] < np.inf
    assert out[3] == np.inf


@pytest.mark.parametrize("shape", [(), (2,), (3, 4)])
def test_wrong_shape_is_refused(shape: tuple[int, ...]) -> None:
    with pytest.raises(MaterialProblem, match="last axis should hold three numbers"):
        linear_to_lab(np.zeros(shape))


# CSS Color Module Level 4, section 5.2: #rgb doubles each digit.
@pytest.mark.parametrize(
    ("text", "eight_bits"),
    [("#fff", (255, 255, 255)), ("#F80", (255, 136, 0)), ("#0a141e", (10, 20, 30))],
)
def test_hex_is_read(text: str, eight_bits: tuple[int, int, int]) -> None:
    np.testing.assert_array_equal(parse_hex(text) * 255, eight_bits)


def test_every_eight_bit_level_survives() -> None:
    for level in range(256):
        text = f"#{level:02x}{255 - level:02x}7f"
        assert format_hex(parse_hex(text)) == text
        assert format_hex(linear_to_srgb(srgb_to_linear(parse_hex(text)))) == text


def test_hex_is_clipped_to_the_screen() -> None:
    assert format_hex([-0.2, 0.5, 7]) == "#0080ff"


@pytest.mark.parametrize(
    "text",
    ["", "fff", "#ff", "#ffff", "#ggg", "#12345", "#1234567", " #fff", "#fff\n", "red", "#١٢٣"],
)
def test_bad_hex_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(MaterialProblem, match=r"^colour is '.*', but should be '#rgb' .*\.$"):
        parse_hex(text)


def test_long_bad_hex_is_cut() -> None:
    with pytest.raises(MaterialProblem) as problem:
        parse_hex("#" + "f" * 10_000)
    assert len(str(problem.value)) < 120


@pytest.mark.parametrize("rgb", [[0, np.nan, 0], [np.inf, 0, 0], [0, 0], [[0, 0, 0]]])
def test_no_hex_for_what_is_no_colour(rgb: ArrayLike) -> None:
    with pytest.raises(MaterialProblem, match="three finite numbers"):
        format_hex(rgb)
