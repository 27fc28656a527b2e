"""Bradford's adaptation against published matrices, a worked example and colour-science."""

import colour
import numpy as np
import pytest

from materials.adaptation import BRADFORD, adaptation
from materials.problems import MaterialProblem

D65 = np.array([0.95047, 1.0, 1.08883])  # ASTM E308, 2 degree observer
D50 = np.array([0.96422, 1.0, 0.82521])
A = np.array([1.09850, 1.0, 0.35585])


@pytest.mark.parametrize(
    ("white", "to", "published"),
    [
        # Lindbloom, "Chromatic Adaptation", table of Bradford matrices.
        (
            D65,
            D50,
            [
                [1.0478112, 0.0228866, -0.0501270],
                [0.0295424, 0.9904844, -0.0170491],
                [-0.0092345, 0.0150436, 0.7521316],
            ],
        ),
        (
            A,
            D65,
            [
                [0.8446965, -0.1179225, 0.3948108],
                [-0.1366303, 1.1041226, 0.1291718],
                [0.0798489, -0.1348999, 3.1924009],
            ],
        ),
    ],
    ids=["D65 to D50", "A to D65"],
)
def test_published_matrices(white: np.ndarray, to: np.ndarray, published: list) -> None:
    np.testing.assert_allclose(adaptation(white, to), published, atol=2e-6)


def test_agrees_with_colour_science() -> None:
    # The example in colour-science's manual for chromatic_adaptation_VonKries, with Bradford.
    xyz = np.array([0.20654008, 0.12197225, 0.05136952])
    before = np.array([0.95045593, 1.00000000, 1.08905775])
    after = np.array([0.96429568, 1.00000000, 0.82510460])
    expected = colour.adaptation.chromatic_adaptation_VonKries(xyz, before, after, "Bradford")
    np.testing.assert_allclose(adaptation(before, after) @ xyz, expected, rtol=1e-9)
    rng = np.random.default_rng(4)
    for white, to in zip(*(rng.uniform(0.7, 1.3, (2, 20, 3))), strict=True):
        expected = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, to, "Bradford")
        np.testing.assert_allclose(adaptation(white, to), expected, rtol=1e-9, atol=1e-12)


def test_white_goes_to_white_and_half_way_twice_is_all_the_way() -> None:
    np.testing.assert_allclose(adaptation(A, D65) @ A, D65)
    half = adaptation(A, D65, 0.5)
    np.testing.assert_allclose(half @ half, adaptation(A, D65))
    np.testing.assert_allclose(adaptation(A, D65, 0.0), np.eye(3), atol=1e-12)


def test_the_cone_responses_are_colour_sciences() -> None:
    np.testing.assert_array_equal(BRADFORD, colour.adaptation.CAT_BRADFORD)


@pytest.mark.parametrize("white", [[0, 0, 0], [1, -1, 1], [float("nan")] * 3])
def test_no_white(white: list[float]) -> None:
    with pytest.raises(MaterialProblem, match="should be XYZ of a light"):
        adaptation(white, D65)
