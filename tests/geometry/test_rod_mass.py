"""Mass along a rod against closed forms, trimesh's solids and pendulums worked by hand."""

import math
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from scipy import integrate

from geometry.errors import GeometryError
from geometry.rod_mass import (
    STANDARD_GRAVITY,
    MassIntegrals,
    hollow_frusta,
    power_law,
    power_law_bounds,
    uniform,
)

DENSITY = 1.6


def test_a_cylinder_has_the_inertia_of_every_table() -> None:
    # m (L² / 12 + (R² + r²) / 4) about its middle.
    outer, inner, length = 8.0, 6.5, 900.0
    part = hollow_frusta([100, 1000], [outer] * 2, [inner] * 2, DENSITY)
    mass = math.pi * (outer**2 - inner**2) * length * DENSITY * 1e-3
    assert part.mass == pytest.approx(mass, rel=1e-12)
    assert part.balance == pytest.approx(550, rel=1e-12)
    inertia = mass * (length**2 / 12 + (outer**2 + inner**2) / 4)
    assert part.inertia_about(550) == pytest.approx(inertia, rel=1e-10)
    assert part.inertia_about(0) == pytest.approx(inertia + mass * 550**2, rel=1e-12)


def test_a_solid_cone_has_the_inertia_of_every_table() -> None:
    # Its centre a quarter up; about its centre 3 m (R² + H² / 4) / 20.
    radius, height = 9.0, 1200.0
    cone = hollow_frusta([0, height], [radius, 0], [0, 0], DENSITY)
    mass = math.pi * radius**2 * height / 3 * DENSITY * 1e-3
    assert cone.mass == pytest.approx(mass, rel=1e-12)
    assert cone.balance == pytest.approx(height / 4, rel=1e-12)
    assert cone.inertia_about(height / 4) == pytest.approx(
        3 * mass * (radius**2 + height**2 / 4) / 20, rel=1e-10
    )


STEPPED = (
    np.array([0.0, 300.0, 300.0, 700.0, 1100.0]),
    np.array([9.0, 8.0, 7.0, 5.0, 1.5]),
    np.array([8.0, 7.1, 6.2, 4.2, 0.0]),
)
"""Two pieces that meet in a step at 300 mm; the tip is solid."""


def test_stepped_cones_are_the_sum_of_whole_cones() -> None:
    # A frustum is a whole cone less the cone cut off, and a hollow one less the hole's: closed
    # forms only.
    def cone(base: float, apex: float, radius: float) -> np.ndarray:
        height = apex - base
        mass = math.pi * radius**2 * abs(height) / 3 * DENSITY * 1e-3
        centre = base + height / 4
        own = 3 * mass * (radius**2 + height**2 / 4) / 20
        return np.array((mass, mass * centre, own + mass * centre**2))

    def frustum(z0: float, z1: float, r0: float, r1: float) -> np.ndarray:
        apex = z0 + r0 * (z1 - z0) / (r0 - r1)
        cut = cone(z1, apex, r1) if r1 else np.zeros(3)
        return cone(z0, apex, r0) - cut

    at, outer, inner = STEPPED
    expected = sum(
        frustum(*at[i : i + 2], *outer[i : i + 2]) - frustum(*at[i : i + 2], *inner[i : i + 2])
        for i in (0, 2, 3)
    )
    found = hollow_frusta(*STEPPED, DENSITY)
    np.testing.assert_allclose((found.mass, found.first, found.second), expected, rtol=1e-10)


def test_a_stepped_tube_as_trimesh_weighs_it() -> None:
    at, outer, inner = STEPPED
    # One closed outline turned about z: out along the outside, back along the hole.
    outline = np.concatenate((np.column_stack((outer, at)), np.column_stack((inner, at))[::-1]))
    solid = trimesh.creation.revolve(np.vstack((outline, outline[:1])), sections=720)
    assert solid.is_watertight
    solid.density = DENSITY * 1e-3
    found = hollow_frusta(*STEPPED, DENSITY)
    # 720 flat sides take 1.3e-5 of the area of a circle, and twice that of its inertia.
    assert found.mass == pytest.approx(solid.mass, rel=2e-5)
    assert found.balance == pytest.approx(solid.center_mass[2], rel=1e-6)
    across = solid.moment_inertia[0, 0]
    assert found.inertia_about(found.balance) == pytest.approx(across, rel=4e-5)


def test_a_rod_hung_by_its_end_swings_as_two_thirds_of_its_length() -> None:
    # A thin even rod of length L about its end is as slow as a simple pendulum of 2 L / 3.
    rod = uniform(50, 0, 1000)
    simple = 2 * math.pi * math.sqrt(2 / 3 * 1000 / STANDARD_GRAVITY)
    assert rod.period_about(0) == pytest.approx(simple, rel=1e-12)
    assert rod.period_about(0) == pytest.approx(1.638, abs=5e-4)
    assert rod.period_about(rod.balance) == math.inf


def test_a_reversible_pendulum_gives_gravity_back() -> None:
    # Kater: about two places with one period, on either side of the balance point, the distance
    # between them is the length of a simple pendulum of that period.
    rod = hollow_frusta(*STEPPED, DENSITY) + uniform(4, 320, 380)
    balance = rod.balance
    gyration = rod.inertia_about(balance) / rod.mass
    below = balance - 150.0
    beyond = balance + gyration / 150.0
    period = rod.period_about(below)
    assert rod.period_about(beyond) == pytest.approx(period, rel=1e-12)
    assert 4 * math.pi**2 * (beyond - below) / period**2 == pytest.approx(STANDARD_GRAVITY)


def test_parts_add_up_in_any_order() -> None:
    parts = [uniform(3, 200, 300), hollow_frusta(*STEPPED, DENSITY), uniform(7, 50, 50)]
    there, back = MassIntegrals.total(parts), MassIntegrals.total(parts[::-1])
    for pivot in (0.0, 180.0, 900.0):
        assert there.inertia_about(pivot) == pytest.approx(back.inertia_about(pivot), rel=1e-14)
    # By hand: 3 g at 250 and 7 g at 50 balance at 1100 / 10.
    assert (parts[0] + parts[2]).balance == pytest.approx(110)
    assert MassIntegrals.total([]).mass == 0


def test_a_power_law_against_its_integrals() -> None:
    # Its mass, balance and inertia by adaptive quadrature.
    length, mass = 2100.0, 80.0
    for power in (0.0, 0.4, 1.0, 2.0, 3.7):
        balance = length / (power + 2)
        moments = [
            integrate.quad(lambda z, k=k, p=power: z**k * (1 - z / length) ** p, 0, length)[0]
            for k in range(3)
        ]
        found = power_law(mass, balance, length)
        assert found.balance == pytest.approx(moments[1] / moments[0], rel=1e-9)
        assert found.second == pytest.approx(mass * moments[2] / moments[0], rel=1e-9)


def test_no_blank_that_thins_to_the_tip_is_outside_the_bounds() -> None:
    # Random stepwise distributions that fall towards the tip, and the two extremes themselves.
    rng = np.random.default_rng(11)
    length = 2000.0
    edges = np.linspace(0, length, 41)
    for _ in range(200):
        per_step = np.sort(rng.gamma(0.3, size=40))[::-1]
        made = MassIntegrals.total(
            uniform(one, start, end)
            for one, (start, end) in zip(per_step, pairwise(edges), strict=True)
        )
        least, most = power_law_bounds(made.mass, made.balance, length)
        assert least.second <= made.second * (1 + 1e-12)
        assert made.second <= most.second * (1 + 1e-12)
    even = uniform(1, 0, 1400)
    assert power_law_bounds(1, 700, length)[0].second == pytest.approx(even.second)
    with_a_knob = uniform(0.3, 0, 0) + uniform(0.7, 0, length)
    assert power_law_bounds(1, 700, length)[1].second == pytest.approx(with_a_knob.second)


def test_a_weighed_blank_keeps_its_radius_of_gyration() -> None:
    computed = hollow_frusta(*STEPPED, DENSITY)
    weighed = computed.as_weighed(120, 410)
    assert (weighed.mass, weighed.balance) == (120, pytest.approx(410))
    assert weighed.inertia_about(410) / 120 == pytest.approx(
        computed.inertia_about(computed.balance) / computed.mass
    )


@pytest.mark.parametrize(
    ("at", "outer", "inner", "quantity"),
    [
        ([0, 10, 5], [3, 3, 3], [0, 0, 0], "at"),
        ([0, 10], [3, 3], [3.1, 0], "inner"),
        ([0, 10], [3, 3], [0, -0.1], "inner"),
    ],
)
def test_what_is_no_tube_is_refused(
    at: list[float], outer: list[float], inner: list[float], quantity: str
) -> None:
    with pytest.raises(GeometryError) as caught:
        hollow_frusta(at, outer, inner, DENSITY)
    assert caught.value.quantity == quantity
