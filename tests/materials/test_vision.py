"""Colour-vision deficiency against the tables that colour-science carries."""

import colour
import numpy as np
import pytest

from materials.colour import linear_to_lab
from materials.difference import delta_e_2000
from materials.problems import MaterialProblem
from materials.vision import Deficiency, simulate, simulate_linear

KINDS = pytest.mark.parametrize("kind", list(Deficiency))
NAMES = {
    Deficiency.PROTAN: "Protanomaly",
    Deficiency.DEUTAN: "Deuteranomaly",
    Deficiency.TRITAN: "Tritanomaly",
}


def table(kind: Deficiency) -> np.ndarray:
    """Severity 1 of [Machado2009], as colour-science has it."""
    with colour.utilities.suppress_warnings(colour_usage_warnings=True):  # tritan: an approximation
        return colour.matrix_cvd_Machado2009(NAMES[kind], 1.0)


@KINDS
def test_matrix_is_that_of_colour_science(kind: Deficiency, rng: np.random.Generator) -> None:
    # Six places in the authors' tables.
    np.testing.assert_allclose(simulate_linear(np.eye(3), kind).T, table(kind), atol=1e-6)
    block = rng.uniform(0, 1, (4, 5, 3))
    np.testing.assert_allclose(
        simulate_linear(block, kind), np.einsum("ij,yxj->yxi", table(kind), block), atol=5e-6
    )


@KINDS
def test_picture_is_seen_pixel_by_pixel(kind: Deficiency, rng: np.random.Generator) -> None:
    picture = rng.integers(0, 256, (6, 7, 3), dtype=np.uint8)
    seen = simulate(picture, kind)
    assert seen.shape == picture.shape
    assert seen.dtype == np.uint8
    linear = colour.models.eotf_sRGB(picture / 255) @ table(kind).T
    expected = colour.models.eotf_inverse_sRGB(np.clip(linear, 0, 1)) * 255
    # Half a level, and the thresholds of the two curves.
    assert np.abs(seen - expected).max() < 0.51


@KINDS
def test_greys_stay_as_they_are(kind: Deficiency) -> None:
    # Rows of every table of [Machado2009] add up to 1.
    greys = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2)
    assert np.abs(simulate(greys, kind).astype(int) - greys).max() <= 1


def test_red_and_green_meet_for_deutan_and_not_for_tritan() -> None:
    # What deuteranopia is (ISO 24505 and any textbook): these differ in hue only.
    pair = np.array([[0.42, 0.20, 0.05], [0.17, 0.31, 0.06]])

    def apart(kind: Deficiency) -> float:
        return float(delta_e_2000(*linear_to_lab(np.clip(simulate_linear(pair, kind), 0, 1))))

    plain = float(delta_e_2000(*linear_to_lab(pair)))
    assert apart(Deficiency.DEUTAN) < 0.35 * plain
    assert apart(Deficiency.TRITAN) > 0.7 * plain


def test_nan_comes_through_and_stays_in_its_place() -> None:
    seen = simulate_linear([[np.nan, 0, 0], [1, 1, 1]], Deficiency.PROTAN)
    assert np.isnan(seen[0]).all()
    assert np.isfinite(seen[1]).all()


@pytest.mark.parametrize("picture", [np.zeros((4, 4, 4), np.uint8), np.zeros((4, 4, 3))])
def test_what_is_no_picture_is_refused(picture: np.ndarray) -> None:
    with pytest.raises(MaterialProblem, match="should be rows by columns by 3, of uint8"):
        simulate(picture, Deficiency.DEUTAN)
