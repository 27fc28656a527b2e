"""Radiance maps against closed forms, Lambert's sphere and colour-science."""

import math

import colour
import numpy as np
import pytest

from materials.colour import linear_to_xyz, luminance
from scenes.light import sky
from scenes.light.lights import (
    CHROMATICITY,
    WORKSHOP_BALANCE,
    LightKind,
    ball_mean,
    directions,
    emitter_colour,
    irradiance,
    mean_radiance,
    radiance_map,
    solid_angles,
    turned,
)

KINDS = list(LightKind)
every_light = pytest.mark.parametrize("kind", KINDS, ids=[kind.name.lower() for kind in KINDS])


def normals_of_the_ball(rings: int) -> np.ndarray:
    """Normals (m, 3) of a ball as a picture from +z sees it: even in projected area."""
    radius = np.sqrt((np.arange(rings) + 0.5) / rings)[:, None]
    # Each ring is set half a step round from the last.
    spokes = np.arange(2 * rings) + 0.5 * (np.arange(rings)[:, None] % 2)
    azimuth = math.pi * spokes / rings
    depth = np.broadcast_to(np.sqrt(1 - radius**2), azimuth.shape)
    parts = [radius * np.cos(azimuth), radius * np.sin(azimuth), depth]
    return np.stack([part.ravel() for part in parts], axis=-1)


def random_normals(n: int) -> np.ndarray:
    vectors = np.random.default_rng(11).normal(size=(n, 3))
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


# ---- The sphere


def test_directions_follow_the_stage_frame() -> None:
    toward = directions(64)
    np.testing.assert_allclose(np.linalg.norm(toward, axis=-1), 1.0)
    step = math.pi / 64
    assert np.all(toward[0, :, 1] > math.cos(step))  # row 0 is overhead
    # A quarter round from +x is the viewer, +z; the middle rows are the horizon.
    np.testing.assert_allclose(toward[31:33, 31:33].mean((0, 1)), [0, 0, 1], atol=step**2)
    np.testing.assert_allclose(toward[31:33, [0, -1]].mean((0, 1)), [1, 0, 0], atol=step**2)


@pytest.mark.parametrize("height", [16, 64, 257])
def test_solid_angles_make_a_sphere(height: int) -> None:
    weights = solid_angles(height)
    assert weights.shape == (height, 2 * height)
    assert weights.sum() == pytest.approx(4 * math.pi, rel=1e-12)
    # Archimedes: the band of the sphere above polar angle 45° has area 2π(1 − cos 45°).
    if height % 4 == 0:
        cap = 2 * math.pi * (1 - math.sqrt(0.5))
        assert weights[: height // 4].sum() == pytest.approx(cap, rel=1e-12)


@pytest.mark.parametrize(("height", "tolerance"), [(64, 1e-3), (256, 1e-4)])
def test_irradiance_of_simple_maps_is_exact(height: int, tolerance: float) -> None:
    # L = a + b·ω gives E = πa + (2π/3) b·n ([Ramamoorthi2001]: A0 = π, A1 = 2π/3).
    b = np.array([0.3, -0.5, 0.4])
    shape = 1.0 + directions(height) @ b
    light = shape[..., None] * np.array([1.0, 2.0, 0.5])
    normals = random_normals(40)
    expected = math.pi + 2 * math.pi / 3 * normals @ b
    got = irradiance(light, normals)
    np.testing.assert_allclose(got, expected[:, None] * [1.0, 2.0, 0.5], rtol=3 * tolerance)
    constant = irradiance(np.ones((height, 2 * height, 3)), normals)
    np.testing.assert_allclose(constant, math.pi, rtol=tolerance)


def test_mean_radiance_of_a_gradient_is_its_middle() -> None:
    # Odd spherical harmonics integrate to nothing over the sphere ([Ramamoorthi2001]).
    light = (1.0 + directions(64) @ [0.3, -0.5, 0.4])[..., None] * np.array([1.0, 2.0, 0.5])
    np.testing.assert_allclose(mean_radiance(light), [1.0, 2.0, 0.5], rtol=1e-9)


def test_ball_under_a_constant_map_reads_it() -> None:
    np.testing.assert_allclose(ball_mean(np.full((128, 256, 3), 0.7)), 0.7, rtol=1e-4)


def test_ball_lit_from_the_eye_is_two_thirds_of_a_disc() -> None:
    # The geometric albedo of a Lambert sphere is 2/3 [Lambert1760] [Russell1916].
    light = np.zeros((256, 512, 3))
    light[127:129, 127:129] = 1.0
    falling = (light[..., 0] * solid_angles(256)).sum()
    np.testing.assert_allclose(ball_mean(light), 2 / 3 * falling / math.pi, rtol=1e-3)


def test_ball_mean_agrees_with_a_ball_drawn_point_by_point() -> None:
    rng = np.random.default_rng(5)
    light = rng.uniform(0, 1, (32, 64, 3)) ** 6
    drawn = (irradiance(light, normals_of_the_ball(60)) / math.pi).mean(0)
    np.testing.assert_allclose(ball_mean(light), drawn, rtol=2e-3)


def test_turned_is_a_right_handed_rotation_about_the_rod() -> None:
    np.testing.assert_allclose(turned([0, 1, 0], math.pi / 2), [0, 0, 1], atol=1e-15)
    np.testing.assert_allclose(turned([0, 0, 1], math.pi / 2), [0, -1, 0], atol=1e-15)
    np.testing.assert_allclose(turned([1, 0, 0], 0.4), [1, 0, 0])
    vectors = random_normals(20)
    np.testing.assert_allclose(turned(turned(vectors, 0.7), -0.7), vectors, atol=1e-15)


# ---- Colour


def test_chromaticities_are_the_published_ones() -> None:
    # colour-science's table of CIE illuminants. It computes D75 from daylight, in the 5th place.
    published = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]
    for name, xy in CHROMATICITY.items():
        np.testing.assert_allclose(xy, published[name], atol=5e-5)


def adapted_by_colour_science(xy: tuple[float, float], white: tuple[float, float]) -> np.ndarray:
    xyz = colour.adaptation.chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(xy),
        colour.xy_to_XYZ(white),
        colour.xy_to_XYZ(CHROMATICITY["D65"]),
        transform="Bradford",
    )
    return np.maximum(colour.XYZ_to_RGB(xyz, "sRGB"), 0.0)


@pytest.mark.parametrize("name", CHROMATICITY)
def test_emitter_colour_agrees_with_colour_science(name: str) -> None:
    xy = CHROMATICITY[name]
    for white, balance in ((CHROMATICITY["D65"], 0.0), (CHROMATICITY["LED-B1"], 1.0)):
        expected = adapted_by_colour_science(xy, white if balance else CHROMATICITY["D65"])
        expected = expected / luminance(expected)
        # The matrices of IEC 61966-2-1 have four places: some 1e-3 in a saturated colour.
        np.testing.assert_allclose(emitter_colour(xy, white, balance), expected, atol=2e-3)
        assert luminance(emitter_colour(xy, white, balance)) == pytest.approx(1.0)


def test_soft_box_white_is_neutral() -> None:
    np.testing.assert_allclose(emitter_colour(CHROMATICITY["D65"]), 1.0, atol=1e-3)


def test_workshop_lamp_stays_as_warm_as_it_says() -> None:
    # Correlated colour temperature by [McCamy1992], distance to the Planckian locus by [Ohno2013],
    # both by colour-science.
    rgb = emitter_colour(CHROMATICITY["LED-B1"], CHROMATICITY["LED-B1"], WORKSHOP_BALANCE)
    xyz = linear_to_xyz(rgb)
    xy = xyz[:2] / xyz.sum()
    assert colour.temperature.xy_to_CCT_McCamy1992(xy) == pytest.approx(4200, abs=150)
    uv = colour.UCS_to_uv(colour.XYZ_to_UCS(xyz))
    assert abs(colour.temperature.uv_to_CCT_Ohno2013(uv)[1]) < 0.006


def test_balance_runs_from_none_to_all() -> None:
    lamp = CHROMATICITY["LED-B1"]
    steps = np.array([emitter_colour(lamp, lamp, balance) for balance in np.linspace(0, 1, 6)])
    assert np.all(np.diff(steps[:, 0] / steps[:, 2]) < 0)  # ever less orange
    np.testing.assert_allclose(steps[-1], 1.0, atol=1e-3)


# ---- The four lights


@every_light
@pytest.mark.parametrize("turn", [0.0, 0.8, -2.5])
def test_maps_are_light(kind: LightKind, turn: float) -> None:
    light = radiance_map(kind, 64, turn)
    assert light.shape == (64, 128, 3)
    assert light.dtype == np.float32
    assert not light.flags.writeable
    assert np.isfinite(light).all()
    assert light.min() > 0.0  # even the dark between the boxes sends a little
    np.testing.assert_array_equal(light, radiance_map(kind, 64, turn))


@every_light
@pytest.mark.parametrize("height", [64, 256])
def test_grey_ball_reads_the_same_mid_tone(kind: LightKind, height: int) -> None:
    # The 18 % grey card of photographic practice (from memory), as a ball, drawn point by point.
    light = radiance_map(kind, height)
    falling = irradiance(light, normals_of_the_ball(20))
    assert 0.18 * luminance(falling).mean() / math.pi == pytest.approx(0.18, rel=0.005)


@every_light
def test_half_a_turn_is_the_map_upside_down(kind: LightKind) -> None:
    # Round x by π: (x, y, z) → (x, −y, −z), which maps the pixel grid on itself.
    light, other = radiance_map(kind, 64), radiance_map(kind, 64, math.pi)
    np.testing.assert_allclose(other, light[::-1, ::-1], rtol=2e-4, atol=1e-5)


@every_light
@pytest.mark.parametrize("turn", [0.3, 1.9, -1.1])
def test_turned_light_falls_on_turned_surfaces(kind: LightKind, turn: float) -> None:
    normals = random_normals(60)
    before = irradiance(radiance_map(kind, 128), normals)
    after = irradiance(radiance_map(kind, 128, turn), turned(normals, turn))
    # The grid meets the edges of emitters elsewhere: their area is kept to about a per cent.
    np.testing.assert_allclose(after, before, rtol=0.01, atol=0.01)


@every_light
def test_a_positive_turn_brings_the_light_above_toward_the_viewer(kind: LightKind) -> None:
    def height_of_the_light(turn: float) -> float:
        light = luminance(radiance_map(kind, 64, turn)) * solid_angles(64)
        return float((light * directions(64)[..., 1]).sum() / light.sum())

    assert height_of_the_light(0.0) > 0.05
    assert height_of_the_light(math.pi / 2) < height_of_the_light(0.0)
    viewer = [[0.0, 0.0, 1.0]]
    above = [[0.0, 1.0, 0.0]]
    np.testing.assert_allclose(
        irradiance(radiance_map(kind, 64, math.pi / 2), viewer),
        irradiance(radiance_map(kind, 64), above),
        rtol=0.03,
    )


@every_light
def test_edges_of_emitters_are_soft(kind: LightKind) -> None:
    # An edge fades over two pixels or more: a smoothstep so wide rises by at most 0.69 a pixel.
    light = luminance(radiance_map(kind, 256))
    for axis in (0, 1):
        assert np.abs(np.diff(light, axis=axis)).max() < 0.69 * light.max()


@every_light
def test_detail_does_not_change_the_light(kind: LightKind) -> None:
    normals = random_normals(30)
    small = irradiance(radiance_map(kind, 128), normals)
    large = irradiance(radiance_map(kind, 256), normals)
    # Edges are twice as wide on the smaller map, which narrows a thin strip or a window bar.
    np.testing.assert_allclose(small, large, rtol=0.03, atol=0.01)


def test_soft_boxes_are_neutral_and_alike_left_and_right() -> None:
    light = radiance_map(LightKind.SOFT_BOXES, 64)
    np.testing.assert_allclose(light / luminance(light)[..., None], 1.0, atol=1e-3)
    mirrored = np.roll(light[:, ::-1], 64, axis=1)  # azimuth p → π − p
    np.testing.assert_allclose(light, mirrored, rtol=1e-4)


def test_each_light_has_its_own_colour() -> None:
    warmth = {kind: ball_mean(radiance_map(kind, 64)) for kind in KINDS}
    ratio = {kind: float(rgb[0] / rgb[2]) for kind, rgb in warmth.items()}
    assert ratio[LightKind.NORTH_WINDOW] < 0.95 < ratio[LightKind.SOFT_BOXES] < 1.05
    assert ratio[LightKind.LOW_SUN] > 1.4
    assert ratio[LightKind.WORKSHOP_LAMP] > ratio[LightKind.LOW_SUN]


@pytest.mark.parametrize("turn", [0.0, 0.37, 1.3])
@pytest.mark.parametrize("height", [96, 256])
def test_the_spread_sun_keeps_its_light(height: int, turn: float) -> None:
    # Sun against zenith, as scenes.light.sky (checked against the paper) has them.
    elevation = math.radians(12)
    sun_zenith = math.pi / 2 - elevation
    light = luminance(radiance_map(LightKind.LOW_SUN, height, turn)).astype(float)
    toward = turned(directions(height), -turn)
    overhead = light[toward[..., 1] > math.cos(math.radians(3))].mean()
    kcd = overhead / sky.zenith_luminance(2.5, sun_zenith)
    sun = toward[np.unravel_index(light.argmax(), light.shape)]
    gamma = np.arccos(np.clip(toward @ (sun / np.linalg.norm(sun)), -1, 1))
    near = gamma < math.radians(6)
    around = np.median(light[(gamma > math.radians(6)) & (gamma < math.radians(8))])
    disc = ((light - around) * solid_angles(height))[near].sum()
    expected = sky.sun_illuminance(2.5, sun_zenith)[1]
    # The glow of the sky in that circle is not flat: a few per cent of the sun's light.
    assert disc / kcd == pytest.approx(expected, rel=0.05)


@pytest.mark.parametrize("height", [0, -4, 15, 5000])
def test_a_senseless_height_is_refused(height: int) -> None:
    for ask in (directions, solid_angles):
        with pytest.raises(ValueError, match="height is"):
            ask(height)
    with pytest.raises(ValueError, match="height is"):
        radiance_map(LightKind.LOW_SUN, height)


@pytest.mark.parametrize("turn", [math.nan, math.inf])
def test_a_senseless_turn_is_refused(turn: float) -> None:
    with pytest.raises(ValueError, match="turn is"):
        radiance_map(LightKind.LOW_SUN, 64, turn)
