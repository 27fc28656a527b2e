"""Thread: weight, diameter, and shades between two threads."""

import dataclasses

import colour
import numpy as np
import pytest

from materials.colour import linear_to_lab, parse_hex
from materials.problems import MaterialProblem
from materials.thread import FIBRE_DENSITY_G_CM3, Thread, ThreadKind, grade, laid_diameter_mm


def a_thread(**changes: object) -> Thread:
    given = {
        "name": "Test Teal",
        "kind": ThreadKind.NYLON,
        "size": "A",
        "colour": "#14b8ae",
        "diameter_mm": 0.16,
        "tex": 45,
        "spool_m": 100,
        "price": 3,
    }
    return Thread(**(given | changes))  # type: ignore[arg-type]


FIRST = a_thread()
LAST = a_thread(name="Test Ember", kind=ThreadKind.METALLIC, colour="#ee8f5c", tex=50)


def test_mass_by_tex() -> None:
    # [ISO1144], tex = g/km: 18.849822 m at 45 tex.
    assert FIRST.mass_g(18.849822) == pytest.approx(0.848242, abs=5e-7)
    assert a_thread(tex=1).mass_g(1000) == 1


# Nylon, 1.14 g/cm3 ([MortonHearle], table 5.1), packing 1; computed a second way.
@pytest.mark.parametrize(("tex", "diameter"), [(23, 0.160275), (45, 0.224186), (92, 0.320551)])
def test_diameter_from_tex(tex: float, diameter: float) -> None:
    assert laid_diameter_mm(tex, 1.14) == pytest.approx(diameter, abs=5e-7)


def test_fibre_densities_are_the_handbooks() -> None:
    # [MortonHearle], table 5.1: nylon 1.14, polyester 1.39 g/cm3.
    assert FIBRE_DENSITY_G_CM3 == {
        ThreadKind.METALLIC: 1.39,
        ThreadKind.NCP_NYLON: 1.14,
        ThreadKind.NYLON: 1.14,
    }


def test_loose_packing_is_thicker() -> None:
    # A quarter of the section filled: twice the diameter.
    assert laid_diameter_mm(23, 1.14, 0.25) == pytest.approx(2 * 0.160275, abs=1e-6)


def test_linear_rgb_is_that_of_colour_science() -> None:
    rgb = FIRST.linear_rgb
    assert rgb.shape == (3,)
    np.testing.assert_allclose(rgb, colour.models.eotf_sRGB(parse_hex("#14b8ae")), atol=1e-9)
    with pytest.raises(ValueError, match="read-only"):
        rgb[0] = 1


def test_colour_is_kept_in_one_spelling() -> None:
    assert a_thread(colour="#FA0").colour == "#ffaa00"
    assert a_thread(colour="#FA0") == a_thread(colour="#ffaa00")


@pytest.mark.parametrize("field", ["diameter_mm", "tex", "spool_m", "price", "left_m"])
@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf")])
def test_impossible_number_is_refused(field: str, value: float) -> None:
    with pytest.raises(MaterialProblem, match=f'^thread "Test Teal": {field} is {value}, but'):
        a_thread(**{field: value})


def test_zero_is_a_price_but_no_thickness() -> None:
    assert a_thread(price=0).price == 0
    with pytest.raises(MaterialProblem, match="diameter_mm is 0"):
        a_thread(diameter_mm=0)


@pytest.mark.parametrize("field", ["name", "size"])
def test_empty_word_is_refused(field: str) -> None:
    with pytest.raises(MaterialProblem, match=f"thread {field} is empty"):
        a_thread(**{field: " "})


def test_thread_is_frozen_and_hashable() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        FIRST.tex = 1  # type: ignore[misc]
    assert len({FIRST, a_thread()}) == 1


def test_grade_holds_both_ends() -> None:
    shades = grade(FIRST, LAST, 9)
    assert len(shades) == 9
    assert shades[0].colour == FIRST.colour
    assert shades[-1].colour == LAST.colour
    assert shades[2].name == "Test Teal → Test Ember 3/9"
    assert {(s.kind, s.size, s.diameter_mm, s.tex) for s in shades} == {
        (ThreadKind.NYLON, "A", 0.16, 45)
    }


def test_grade_steps_are_even_to_the_eye() -> None:
    # Colour differences of CIE 1976 by colour-science. 0.6: half a step of eight bits is at most
    # 0.3 in Lab for these mid colours, and each difference has two ends.
    lab = np.array([linear_to_lab(s.linear_rgb) for s in grade(FIRST, LAST, 7)])
    steps = colour.difference.delta_E_CIE1976(lab[:-1], lab[1:])
    whole = colour.difference.delta_E_CIE1976(lab[0], lab[-1])
    np.testing.assert_allclose(steps, whole / 6, atol=0.6)


def test_grade_beyond_the_screen_is_clipped() -> None:
    shades = grade(a_thread(colour="#00f"), a_thread(colour="#0f0"), 9)
    assert all(np.isfinite(s.linear_rgb).all() for s in shades)


def test_grade_of_one_is_the_first_thread() -> None:
    assert grade(FIRST, LAST, 1) == (FIRST,)


@pytest.mark.parametrize("count", [0, -3])
def test_grade_of_none_is_refused(count: int) -> None:
    with pytest.raises(MaterialProblem, match=f"^grade count is {count}, but should be 1 or more"):
        grade(FIRST, LAST, count)


def test_grade_between_sizes_is_refused() -> None:
    thick = a_thread(name="Test Thick", size="D", diameter_mm=0.26)
    for count in (1, 5):
        with pytest.raises(
            MaterialProblem, match=r"size A, 0.16 mm.*size D, 0.26 mm.*same diameter"
        ):
            grade(FIRST, thick, count)
