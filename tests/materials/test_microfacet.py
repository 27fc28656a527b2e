"""Rough reflection against Mitsuba's numbers and against what any such lobe must obey."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import roots_legendre

from tests.materials.fresnel import conductor_reflectance, dielectric_reflectance
from tests.materials.microfacet import (
    G1,
    D,
    G2_correlated,
    G2_separable,
    coat_brdf,
    conductor_brdf,
    half_vector,
    lambda_,
    lobe,
    roughness_to_alpha,
    schlick,
)

Array = NDArray[np.float64]

PAIR = (0.1, 0.3)
PAIRS = 300  # directions tried against Mitsuba


def at(theta: float, phi: float) -> Array:
    """A direction, degrees from the normal and round it."""
    t, p = np.radians(theta), np.radians(phi)
    return np.array([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)])


def random_directions(rng: np.random.Generator, count: int) -> Array:
    """Directions above the surface, evenly over the half sphere down to 3 degrees from it."""
    z = rng.uniform(0.05, 1, count)
    phi = rng.uniform(0, 2 * np.pi, count)
    r = np.sqrt(1 - z * z)
    return np.stack([r * np.cos(phi), r * np.sin(phi), z], axis=-1)


def sphere(low: float, rows: int = 700, columns: int = 1400) -> tuple[Array, Array]:
    """Directions with z from `low` to 1 and their solid angles: Gauss in z, even round it."""
    node, weight = roots_legendre(rows)
    z = low + (1 - low) * (node + 1) / 2
    phi = (np.arange(columns) + 0.5) * 2 * np.pi / columns
    r = np.sqrt(1 - z * z)[:, np.newaxis]
    x, y = r * np.cos(phi), r * np.sin(phi)
    directions = np.stack([x, y, np.broadcast_to(z[:, np.newaxis], x.shape)], axis=-1)
    area = weight * (1 - low) / 2 * 2 * np.pi / columns
    return directions, np.broadcast_to(area[:, np.newaxis], x.shape)


@pytest.fixture(scope="module")
def mi() -> object:
    mitsuba = pytest.importorskip("mitsuba")  # the dev extra brings it where it exists
    mitsuba.set_variant("scalar_rgb")
    return mitsuba


def evaluated(mi: object, bsdf: object, wi: Array, wo: Array) -> Array:
    """Mitsuba's f cos for every pair, (n, 3)."""
    context = mi.BSDFContext()
    out = []
    for one, other in zip(wi, wo, strict=True):
        si = mi.SurfaceInteraction3f()
        si.wi = mi.Vector3f(*one.tolist())
        out.append(np.array(bsdf.eval(context, si, mi.Vector3f(*other.tolist()))))
    return np.array(out)


# --- values


# Mitsuba 3.9.1, roughconductor, GGX 0.1 x 0.3, material none, by hand.
@pytest.mark.parametrize(
    ("wi", "wo", "value"),
    [
        (at(30, 0), at(40, 180), 0.9952633),
        (at(30, 0), at(40, 200), 1.2327969),
        (at(30, 90), at(40, 260), 1.2889501),
    ],
)
def test_known_values(wi: Array, wo: Array, value: float) -> None:
    assert lobe(wi, wo, *PAIR) == pytest.approx(value, rel=2e-6)


def test_correlated_masking_is_a_little_more_open() -> None:
    # [Heitz2014], eq. 99, for the last of the pairs above.
    assert lobe(at(30, 90), at(40, 260), *PAIR, correlated=True) == pytest.approx(
        1.2890927, abs=2e-7
    )


@pytest.mark.parametrize("alphas", [PAIR, (0.05, 0.05), (0.6, 0.15), (0.9, 0.9)])
def test_lobe_is_that_of_mitsuba(
    mi: object, rng: np.random.Generator, alphas: tuple[float, float]
) -> None:
    wi, wo = random_directions(rng, PAIRS), random_directions(rng, PAIRS)
    # Half of the pairs near the mirror direction, where narrow lobes have anything to show.
    wo[::2] = wi[::2] * [-1, -1, 1] + rng.normal(0, 0.1, wo[::2].shape)
    wo[:, 2] = np.abs(wo[:, 2]) + 0.01
    wo /= np.linalg.norm(wo, axis=-1, keepdims=True)
    bsdf = mi.load_dict(
        {
            "type": "roughconductor",
            "distribution": "ggx",
            "material": "none",
            "alpha_u": alphas[0],
            "alpha_v": alphas[1],
        }
    )
    theirs = evaluated(mi, bsdf, wi, wo)[:, 0]
    # 1e-5: Mitsuba computes in single precision.
    np.testing.assert_allclose(lobe(wi, wo, *alphas), theirs, rtol=1e-4, atol=1e-5)


def test_gold_is_that_of_mitsuba(mi: object, rng: np.random.Generator) -> None:
    bsdf = mi.load_dict(
        {
            "type": "roughconductor",
            "distribution": "ggx",
            "material": "Au",
            "alpha_u": PAIR[0],
            "alpha_v": PAIR[1],
        }
    )
    known = mi.traverse(bsdf)
    eta, k = (np.array(known[f"{name}.value"]) for name in ("eta", "k"))

    def ours(wi: Array, wo: Array) -> Array:
        angle = np.arccos(np.clip((wi * half_vector(wi, wo)).sum(axis=-1), -1, 1))
        fresnel = conductor_reflectance(angle[..., np.newaxis], eta, k)
        return lobe(wi, wo, *PAIR)[..., np.newaxis] * fresnel

    # Mitsuba 3.9.1 by hand, six digits.
    np.testing.assert_allclose(
        ours(at(30, 0), at(40, 200)), [1.19115, 0.98798, 0.404092], rtol=5e-6
    )
    wi, wo = random_directions(rng, PAIRS), random_directions(rng, PAIRS)
    np.testing.assert_allclose(ours(wi, wo), evaluated(mi, bsdf, wi, wo), rtol=1e-4, atol=1e-5)


def test_coat_is_that_of_mitsuba(mi: object, rng: np.random.Generator) -> None:
    bsdf = mi.load_dict(
        {
            "type": "roughdielectric",
            "distribution": "ggx",
            "alpha_u": 0.2,
            "alpha_v": 0.35,
            "int_ior": 1.53,
            "ext_ior": 1.0,
        }
    )
    wi, wo = random_directions(rng, PAIRS), random_directions(rng, PAIRS)
    theirs = evaluated(mi, bsdf, wi, wo)[:, 0]
    np.testing.assert_allclose(coat_brdf(wi, wo, 0.2, 0.35, 1.53), theirs, rtol=1e-4, atol=1e-6)


def test_dielectric_fresnel_is_that_of_mitsuba(mi: object, rng: np.random.Generator) -> None:
    for cosine, eta in zip(rng.uniform(0.001, 1, 250), rng.uniform(1.2, 2.5, 250), strict=True):
        angle = np.arccos(cosine)
        for ratio in (eta, 1 / eta):  # from outside, and from within
            theirs = mi.fresnel(cosine, ratio)[0]
            assert dielectric_reflectance(angle, ratio) == pytest.approx(theirs, abs=2e-5)


def test_conductor_fresnel_is_that_of_mitsuba(mi: object, rng: np.random.Generator) -> None:
    draws = rng.uniform([0.001, 0.05, 0.5], [1, 3, 8], (250, 3))
    for cosine, n, k in draws.tolist():
        theirs = mi.fresnel_conductor(cosine, mi.ScalarComplex2f(n, k))
        assert conductor_reflectance(np.arccos(cosine), n, k) == pytest.approx(theirs, rel=1e-3)


def test_schlick_is_near_the_exact_curve_of_gold() -> None:
    # [Schlick1994] promises an error of a few per cent; gold of [Johnson1972] at 582.1 nm.
    angle = np.radians(np.linspace(0, 80, 81))
    exact = conductor_reflectance(angle, 0.29, 2.863)
    np.testing.assert_allclose(schlick([0.882363], np.cos(angle))[:, 0], exact, rtol=0.03)
    # The metal's factor times the lobe, either way.
    wi, wo = at(30, 0), at(40, 180)
    cosine = float(wi @ half_vector(wi, wo))
    np.testing.assert_allclose(
        conductor_brdf(wi, wo, *PAIR, [0.9, 0.5, 0.1]),
        lobe(wi, wo, *PAIR) * schlick([0.9, 0.5, 0.1], cosine),
    )


# --- laws


@pytest.mark.parametrize("alphas", [PAIR, (0.4, 0.4), (0.15, 0.8)])
def test_normals_project_onto_the_whole_surface(alphas: tuple[float, float]) -> None:
    # [Walter2007], eq. 4.
    m, area = sphere(0.0)
    assert (D(m, *alphas) * m[..., 2] * area).sum() == pytest.approx(1, abs=1e-6)


@pytest.mark.parametrize("wi", [at(0, 0), at(30, 0), at(60, 90), at(75, 40)])
def test_weak_white_furnace(wi: Array) -> None:
    # [Heitz2014], "weak white furnace": over the whole sphere, without shadowing.
    wo, area = sphere(-1.0)
    m = half_vector(wi, wo)
    value = D(m, *PAIR) * G1(wi, m, *PAIR) / (4 * wi[2])
    # 3e-4: what 700 rows make of the edge where microfacets turn their back.
    assert (value * area).sum() == pytest.approx(1, abs=3e-4)


@pytest.mark.parametrize(("wi", "value"), [(at(30, 0), 0.92766), (at(60, 90), 0.86655)])
def test_white_furnace_loses_what_bounces_twice(wi: Array, value: float) -> None:
    # Known values of the separable model; never more light than came.
    wo, area = sphere(0.0)
    sent = (lobe(wi, wo, *PAIR) * area).sum()
    assert sent == pytest.approx(value, abs=1e-5)
    assert sent <= (lobe(wi, wo, *PAIR, correlated=True) * area).sum() <= 1


@pytest.mark.parametrize("alphas", [(0.05, 0.05), (0.3, 0.9), (1.0, 1.0)])
@pytest.mark.parametrize("wi", [at(0, 0), at(50, 20), at(85, 70)])
def test_no_furnace_gains(wi: Array, alphas: tuple[float, float]) -> None:
    wo, area = sphere(0.0, 400, 800)
    assert (lobe(wi, wo, *alphas, correlated=True) * area).sum() <= 1 + 1e-3


@pytest.mark.parametrize("correlated", [False, True])
def test_light_goes_both_ways_alike(rng: np.random.Generator, correlated: bool) -> None:
    # Helmholtz reciprocity of f itself.
    wi, wo = random_directions(rng, 500), random_directions(rng, 500)
    for brdf, fresnel in ((conductor_brdf, [0.9, 0.6, 0.3]), (coat_brdf, 1.53)):
        there = brdf(wi, wo, *PAIR, fresnel, cosine=False, correlated=correlated)
        back = brdf(wo, wi, *PAIR, fresnel, cosine=False, correlated=correlated)
        np.testing.assert_allclose(there, back, rtol=1e-10)


def test_cosine_is_the_only_difference() -> None:
    wi, wo = at(20, 10), at(50, 200)
    for brdf, fresnel in ((conductor_brdf, [0.9, 0.6]), (coat_brdf, 1.5)):
        np.testing.assert_allclose(
            brdf(wi, wo, *PAIR, fresnel),
            brdf(wi, wo, *PAIR, fresnel, cosine=False) * np.cos(np.radians(50)),
        )


def test_widths_belong_to_their_directions() -> None:
    # Stretching x by a factor and y by none is the same surface turned by a right angle.
    turned = np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1]])
    wi, wo = at(35, 10), at(42, 170)
    assert lobe(wi, wo, 0.1, 0.5) == pytest.approx(float(lobe(turned @ wi, turned @ wo, 0.5, 0.1)))


def test_masking_is_a_share() -> None:
    m = at(10, 0)
    for theta in (0, 30, 60, 89):
        v = at(theta, 77)
        assert 0 < G1(v, m, *PAIR) <= 1
        assert G2_separable(v, v, m, *PAIR) <= G2_correlated(v, v, m, *PAIR)
    assert G1(at(0, 0), m, *PAIR) == 1
    assert lambda_(at(0, 0), *PAIR) == 0
    # A microfacet that leans away so far that its back is seen.
    assert G1(at(80, 0), at(80, 180), *PAIR) == 0


def test_nothing_is_reflected_below_the_surface() -> None:
    below = at(120, 0)
    for wi, wo in ((below, at(20, 0)), (at(20, 0), below), (below, below)):
        assert lobe(wi, wo, *PAIR) == 0
        assert (conductor_brdf(wi, wo, *PAIR, [0.5] * 3, cosine=False) == 0).all()
    assert D(below, *PAIR) == 0


# --- arrays


def test_shapes_broadcast(rng: np.random.Generator) -> None:
    wi, wo = random_directions(rng, 4)[:, np.newaxis], random_directions(rng, 5)
    alpha = np.array([[0.1], [0.2], [0.3], [0.4]])
    whole = conductor_brdf(wi, wo, alpha, 0.3, [0.9, 0.6, 0.3])
    assert whole.shape == (4, 5, 3)
    np.testing.assert_allclose(
        whole[2, 3], conductor_brdf(wi[2, 0], wo[3], 0.3, 0.3, [0.9, 0.6, 0.3])
    )
    assert coat_brdf(wi, wo, alpha, 0.3, np.full(5, 1.5)).shape == (4, 5)
    assert lobe(at(10, 0).tolist(), at(20, 0).tolist(), 0.1, 0.1).shape == ()
    np.testing.assert_array_equal(roughness_to_alpha([0, 0.5, 1]), [0, 0.25, 1])


FORMULAS: dict[str, Callable[[Array], Array]] = {
    "D": lambda v: D(v, *PAIR),
    "lambda_": lambda v: lambda_(v, *PAIR),
    "G1": lambda v: G1(v, at(5, 0), *PAIR),
    "G2_separable": lambda v: G2_separable(v, at(5, 0), at(5, 0), *PAIR),
    "G2_correlated": lambda v: G2_correlated(v, at(5, 0), at(5, 0), *PAIR),
    "lobe": lambda v: lobe(v, at(5, 0), *PAIR),
    "conductor_brdf": lambda v: conductor_brdf(v, at(5, 0), *PAIR, [0.5])[..., 0],
    "coat_brdf": lambda v: coat_brdf(v, at(5, 0), *PAIR, 1.5),
}


@pytest.mark.parametrize("name", FORMULAS)
def test_nan_comes_through_and_stays_in_its_place(name: str) -> None:
    holed = np.array([[np.nan, 0, 1], at(10, 20), [0, 0, np.nan]])
    out = FORMULAS[name](holed)
    np.testing.assert_array_equal(np.isnan(out), [True, False, True])


def test_nan_width() -> None:
    assert np.isnan(lobe(at(10, 0), at(20, 0), np.nan, 0.3))
    assert np.isnan(roughness_to_alpha(np.nan))
