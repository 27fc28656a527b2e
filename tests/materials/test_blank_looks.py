"""What the outside of a blank is made of, against optics and what makers of pigments say."""

import numpy as np
import pytest

from materials.appearance import Appearance
from materials.blank_looks import (
    CARBON_INDEX,
    MICA_INDEX,
    TITANIA_INDEX,
    BlankFinish,
    blank_appearance,
    coated_plate_reflectance,
    interference_colour,
    is_lacquered,
    lacquered_looks,
)
from materials.colour import linear_to_lab
from materials.problems import MaterialProblem
from tests.materials.fresnel import conductor_reflectance

LACQUERED = [finish for finish in BlankFinish if is_lacquered(finish)]


def test_plain_and_matt_paint_have_their_colour() -> None:
    plain, matt = blank_appearance("#fff"), blank_appearance("#fff", BlankFinish.MATT)
    assert plain.base_colour == matt.base_colour == (1, 1, 1)
    assert plain.roughness_along == plain.roughness_across < matt.roughness_along


def test_fibres_mirror_what_fresnel_says_of_graphite() -> None:
    (fibres,) = lacquered_looks("#14171a", BlankFinish.CARBON_TWILL, wet=True)
    # [BornWolf], section 14.2, straight on, in a binder of index 1.53.
    f0 = float(conductor_reflectance(0.0, *CARBON_INDEX, 1.53))
    np.testing.assert_allclose(fibres.tint, f0, rtol=1e-9)
    # Round fibres: wide across them and narrow along [Marschner2003].
    assert fibres.roughness_across > 1.5 * fibres.roughness_along


def summed(length: float, coat: float, outside: float) -> float:
    """Reflectance of a coated side, the reflections added one by one ([BornWolf], section 7.6)."""
    first = (outside - TITANIA_INDEX) / (outside + TITANIA_INDEX)
    second = (TITANIA_INDEX - MICA_INDEX) / (TITANIA_INDEX + MICA_INDEX)
    turn = np.exp(4j * np.pi * TITANIA_INDEX * coat / length)
    total, wave = complex(first), (1 - first**2) * second * turn
    for _ in range(40):
        total += wave
        wave *= -first * second * turn
    return float(abs(total) ** 2)


@pytest.mark.parametrize("coat", [45.0, 60.0, 130.0])
@pytest.mark.parametrize("length", [430.0, 550.0, 680.0])
def test_the_coat_of_a_flake_adds_up_all_reflections(length: float, coat: float) -> None:
    side = summed(length, coat, 1.53)
    # Between two equal sides light goes to and fro as intensity: R + (1 - R)^2 R (1 + R^2 + ...).
    both = side + (1 - side) ** 2 * side / (1 - side**2)
    assert float(coated_plate_reflectance(length, coat, 1.53)) == pytest.approx(both, rel=1e-9)


def test_without_titania_nothing_shows_but_mica() -> None:
    # Fresnel, straight on: ((1.58 - 1.53) / (1.58 + 1.53))^2, twice.
    assert float(coated_plate_reflectance(550, 0, 1.53)) == pytest.approx(2 * 2.585e-4, rel=0.01)


def hue(coat: float) -> float:
    """Hue angle in CIELAB, degrees."""
    _, a, b = linear_to_lab(interference_colour(coat))
    return float(np.degrees(np.arctan2(b, a)) % 360)


def test_colours_follow_the_thickness_as_makers_of_pearl_list_them() -> None:
    # From memory: 40 to 60 nm silver, then yellow, red, blue and green as titania grows to 160 nm.
    chroma = [float(np.hypot(*linear_to_lab(interference_colour(nm))[1:])) for nm in (50, 85, 140)]
    assert chroma[0] < 0.5 * min(chroma[1:])
    assert 60 < hue(80) < 110
    assert hue(105) < 45 or hue(105) > 320
    assert 220 < hue(140) < 310
    assert 130 < hue(160) < 220


@pytest.mark.parametrize("finish", LACQUERED)
@pytest.mark.parametrize("colour", ["#000", "#fff", "#2b4a86", "#ff0"])
def test_no_place_sends_more_than_it_gets(finish: BlankFinish, colour: str) -> None:
    for look in lacquered_looks(colour, finish, wet=True):
        sent = look.metallic * np.array(look.tint) + (1 - look.metallic) * np.array(
            look.base_colour
        )
        assert (sent <= 1).all()


@pytest.mark.parametrize("finish", LACQUERED)
def test_a_dry_wrap_shows_the_same_colours_and_no_lacquer(finish: BlankFinish) -> None:
    wet = lacquered_looks("#2b4a86", finish, wet=True)
    dry = lacquered_looks("#2b4a86", finish, wet=False)
    for below, above in zip(wet, dry, strict=True):
        assert not above.wet
        assert (above.base_colour, above.tint) == (below.base_colour, below.tint)
        assert above.metallic == below.metallic


def test_a_mirror_colour_out_of_range_is_refused() -> None:
    with pytest.raises(MaterialProblem, match=r"^appearance of 'x': mirror_colour is \(2, 0, 0\)"):
        Appearance("x", (0, 0, 0), mirror_colour=(2, 0, 0))
