"""What a renderer gets for thread, blank, grip and guide."""

import numpy as np
import pytest

from materials.appearance import (
    Appearance,
    grip_appearance,
    guide_appearance,
    thread_appearance,
    wet_reflectance,
)
from materials.colour import luminance
from materials.metal import ALUMINIUM
from materials.problems import MaterialProblem
from materials.shelf import Shelf
from materials.thread import Thread, ThreadKind

SHELF = Shelf.shipped()
EACH = pytest.mark.parametrize("thread", SHELF.threads, ids=lambda t: t.name)


def of_kind(kind: ThreadKind) -> list[Thread]:
    return [t for t in SHELF.threads if t.kind is kind]


@EACH
@pytest.mark.parametrize("finished", [False, True])
def test_thread_is_narrow_along_and_wide_across(thread: Thread, finished: bool) -> None:
    look = thread_appearance(thread, finished)
    assert look.roughness_along < look.roughness_across
    assert look.wet is finished
    assert look.name == thread.name


@pytest.mark.parametrize("thread", of_kind(ThreadKind.METALLIC), ids=lambda t: t.name)
def test_metallic_is_a_tinted_mirror(thread: Thread) -> None:
    dry, wet = thread_appearance(thread, False), thread_appearance(thread, True)
    assert dry.metallic == wet.metallic == 1
    assert dry.sparkle > 0
    # [Rakic1995]: no dye makes aluminium brighter than it is.
    assert (np.array(dry.base_colour) <= ALUMINIUM.f0()).all()
    np.testing.assert_allclose(dry.base_colour, np.minimum(thread.linear_rgb, 0.92), atol=0.012)
    # Under n = 1.5 aluminium keeps 0.955, 0.960, 0.965 of its F0.
    ratio = np.array(wet.base_colour) / np.array(dry.base_colour)
    np.testing.assert_allclose(ratio, [0.955, 0.960, 0.965], atol=0.001)


def test_silver_thread_is_aluminium() -> None:
    # [Rakic1995] in linear sRGB; 0.01 is two steps of eight bits this bright.
    silver = SHELF.thread("Heron Silver A")
    np.testing.assert_allclose(
        thread_appearance(silver, False).base_colour, (0.9072, 0.9161, 0.9214), atol=0.01
    )


@pytest.mark.parametrize("colour", ["#000", "#fff", "#f00", "#00f", "#ff0"])
def test_any_metallic_colour_is_finite_and_in_range(colour: str) -> None:
    thread = Thread("t", ThreadKind.METALLIC, "A", colour, 0.17, 28, 100, 0)
    for finished in (False, True):
        base = thread_appearance(thread, finished).base_colour
        assert all(0 <= c <= 0.93 for c in base)


@pytest.mark.parametrize("thread", of_kind(ThreadKind.NCP_NYLON), ids=lambda t: t.name)
def test_ncp_keeps_its_colour(thread: Thread) -> None:
    dry, wet = thread_appearance(thread, False), thread_appearance(thread, True)
    assert dry.base_colour == wet.base_colour
    assert wet.translucency == 0
    assert wet.metallic == 0


@pytest.mark.parametrize("thread", of_kind(ThreadKind.NYLON), ids=lambda t: t.name)
def test_plain_nylon_darkens_and_turns_translucent(thread: Thread) -> None:
    dry, wet = thread_appearance(thread, False), thread_appearance(thread, True)
    assert luminance(wet.base_colour) < luminance(dry.base_colour)
    assert wet.translucency > 3 * dry.translucency > 0


def test_wet_reflectance_is_that_of_counting_the_tries() -> None:
    # [Lekner1988]: p of the light is thrown back at each try; summed term by term here.
    # From within n = 1.5 p is 0.5963 (Judd 1942, from memory).
    p, dry = 0.59635, 0.4
    tries = sum((1 - p) * dry * (p * dry) ** i for i in range(60))
    assert wet_reflectance(dry, 1.5) == pytest.approx(tries, abs=1e-5)


def test_wet_reflectance_keeps_black_and_white() -> None:
    np.testing.assert_allclose(wet_reflectance([0.0, 1.0]), [0, 1], atol=1e-12)
    dry = np.linspace(0.01, 0.99, 60).reshape(4, 5, 3)
    wet = wet_reflectance(dry)
    assert wet.shape == dry.shape
    assert (wet < dry).all()
    np.testing.assert_array_equal(np.isnan(wet_reflectance([np.nan, 0.5])), [True, False])


def test_other_surfaces() -> None:
    cork, foam = grip_appearance("cork"), grip_appearance("foam")
    assert luminance(cork.base_colour) > 5 * luminance(foam.base_colour)
    assert guide_appearance().metallic == 1
    for look in (cork, foam, guide_appearance()):
        assert look.roughness_along == look.roughness_across


def test_unknown_grip_is_refused() -> None:
    with pytest.raises(
        MaterialProblem, match=r"^grip material is 'oak', but should be 'cork' or 'foam'"
    ):
        grip_appearance("oak")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("base_colour", (0.1, 0.2, float("nan"))),
        ("base_colour", (0.1, 0.2, 1.1)),
        ("metallic", -0.1),
        ("sparkle", 1.5),
        ("translucency", float("nan")),
        ("roughness_along", 0.0),
        ("roughness_across", float("inf")),
    ],
)
def test_values_outside_the_table_are_refused(field: str, value: object) -> None:
    given: dict[str, object] = {"name": "x", "base_colour": (0.5, 0.5, 0.5)}
    with pytest.raises(MaterialProblem, match=rf"^appearance of 'x': {field} is .*, but should be"):
        Appearance(**(given | {field: value}))  # type: ignore[arg-type]


def test_equal_looks_are_one_key() -> None:
    thread = SHELF.threads[0]
    assert len({thread_appearance(thread, True), thread_appearance(thread, True)}) == 1


def test_colour_preserver_keeps_plain_nylon_as_it_is_dry():
    # Sealed fibres never meet the finish (common practice, no source).
    thread = Shelf.shipped().thread("Lichen Yellow A")
    dry = thread_appearance(thread, finished=False)
    sealed = thread_appearance(thread, finished=True, preserved=True)
    soaked = thread_appearance(thread, finished=True)
    assert sealed.base_colour == dry.base_colour
    assert sealed.translucency == 0
    assert soaked.translucency > 0.3
    assert sum(soaked.base_colour) < sum(sealed.base_colour)
