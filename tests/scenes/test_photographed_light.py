"""A thread's colour read off photographs taken in each of the project's lights.

The photographs are computed here: a spool is a cylinder wound with round rows, its body colour lit
by the irradiance of a light's map (Lambert), its shine by GGX over the whole map; a matt card lies
beside it. Camera: exposed for the card, grain, eight bits. No renderer has a part in it.

The aim is ΔE00 4. Light here is three numbers that multiply the thread's three, as nowhere in the
world; Bradford's rule is made for spectra, and under a warm lamp strong colours pay for that with
up to ΔE00 6 (tests/materials/test_photographed.py has spectra). Black thread pays for its sheen.
"""

from functools import cache

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from materials.microfacet import conductor_brdf
from materials.photographed import read_thread
from materials.shelf import Shelf
from materials.thread import Thread, ThreadKind
from scenes.lights import LightKind, directions, irradiance, radiance_map, solid_angles

Array = NDArray[np.float64]

KINDS = list(LightKind)
every_light = pytest.mark.parametrize("kind", KINDS, ids=[kind.name.lower() for kind in KINDS])
SHELF = Shelf.shipped()
NYLON = [thread for thread in SHELF.threads if thread.kind is ThreadKind.NCP_NYLON]
METALLIC = [thread for thread in SHELF.threads if thread.kind is ThreadKind.METALLIC]

ROUND = np.radians(8.0)
"""Half of what is marked of the spool's round."""
TILT = np.radians(50) * np.sin(np.linspace(0, 2 * np.pi, 8, endpoint=False))
"""Of a row's round, across it."""
_ROWS, _TURNS = 12, 24
_GLOSS = 0.04  # reflectance of nylon at right angles, n = 1.5
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # of sRGB's primaries (IEC 61966-2-1)
FACING = np.array([[0.0, 0.0, 1.0]])


@cache
def lit(kind: LightKind) -> tuple[Array, Array, Array]:
    """What falls on each part of a spool and what it mirrors, and the card's share.

    Returns
    -------
    body : (turns, tilts, 3) float
        Irradiance / π.
    shine : (2, turns, tilts, 3) float
        Radiance mirrored by a reflectance of 1 at right angles; and what Schlick's curve adds for a
        reflectance of 0.
    card : (3,) float
        Irradiance / π where it faces the viewer.
    """
    light = np.asarray(radiance_map(kind, 48), np.float64)
    turn = np.linspace(-ROUND, ROUND, _TURNS)[:, None]
    normal = np.stack(
        np.broadcast_arrays(np.sin(TILT), np.sin(turn) * np.cos(TILT), np.cos(turn) * np.cos(TILT)),
        axis=-1,
    )
    body = irradiance(light, normal.reshape(-1, 3)).reshape(normal.shape) / np.pi
    # The shelf's colour is that of rows laid flat, round and dips and all: rows share out among
    # their parts what falls on the spool there.
    out = np.concatenate((0 * turn, np.sin(turn), np.cos(turn)), axis=1)
    falling = irradiance(light, out) / np.pi
    body *= (falling / body.mean(axis=1))[:, None]
    shine = np.array([[mirrored(light, one) for one in row] for row in normal])
    return body, np.moveaxis(shine, 2, 0), irradiance(light, FACING)[0] / np.pi


def mirrored(light: Array, normal: Array, alpha: float = 0.25) -> Array:
    """What a rough surface throws back to the viewer of the whole map, as `lit` parts it."""
    along = np.cross([0.0, 1.0, 0.0], normal)
    along /= np.linalg.norm(along)
    frame = np.stack((along, np.cross(normal, along), normal))
    toward = directions(len(light)).reshape(-1, 3) @ frame.T
    viewer = np.broadcast_to(frame @ FACING[0], toward.shape)
    power = (light * solid_angles(len(light))[..., None]).reshape(-1, 3)
    with_none, with_all = (
        (conductor_brdf(viewer, toward, alpha, alpha, np.full(1, f0)) * power).sum(axis=0)
        for f0 in (0.0, 1.0)
    )
    return np.stack((with_all - with_none, with_none))


def spool(thread: Thread, kind: LightKind) -> Array:
    """Radiance of the part of a spool that is marked, (h, w, 3); the spool lies along x."""
    body, (by_f0, rest), _ = lit(kind)
    if thread.kind is ThreadKind.METALLIC:
        seen = thread.linear_rgb * by_f0 + rest
    else:
        seen = thread.linear_rgb * body + _GLOSS * by_f0 + rest
    dip = 1 - 0.35 * np.sin(np.abs(TILT))
    seen = seen * (dip / dip.mean())[:, None]
    return np.repeat(np.tile(seen, (1, _ROWS, 1)), 4, axis=0)


def photograph(radiance: Array, exposure: float, seed: int) -> Array:
    """Encoded sRGB, 0 to 1, of eight bits, as a camera with some grain gives it."""
    rng = np.random.default_rng(seed)
    grain = radiance * exposure * (1 + rng.normal(0, 0.03, radiance.shape))
    encoded = colour.models.eotf_inverse_sRGB(np.clip(grain, 0, 1))
    return np.asarray(np.rint(255 * encoded) / 255)


@cache
def read(thread: Thread, kind: LightKind, reflectance: float) -> tuple[float, float, float]:
    """ΔE00 of what is read, of what was photographed, and the uncertainty that is told."""
    falling, wound = lit(kind)[2], spool(thread, kind)
    exposure = min(0.62 / falling.max(), 0.9 / np.percentile(wound, 98))
    card = photograph(np.tile(reflectance * falling, (40, 40, 1)), exposure, 1)
    found = read_thread(
        photograph(wound, exposure, 2),
        card,
        reflectance=reflectance,
        kind=thread.kind,
        light=float(thread.linear_rgb @ LUMINANCE),
    )
    true = lab(thread.linear_rgb)
    off, before = (
        float(colour.delta_E(lab(rgb), true, method="CIE 2000"))
        for rgb in (found.linear_rgb, found.thread.mean)
    )
    return off, before, found.uncertainty


def lab(rgb: Array) -> Array:
    return np.asarray(colour.XYZ_to_Lab(colour.RGB_to_XYZ(rgb, "sRGB"), (0.3127, 0.3290)))


@every_light
@pytest.mark.parametrize("reflectance", [0.18, 0.9], ids=["grey card", "white card"])
def test_nylon_comes_back(kind: LightKind, reflectance: float) -> None:
    off, before, told = np.array([read(thread, kind, reflectance) for thread in NYLON]).T
    assert off.mean() < 4
    assert (off < 4).mean() >= (0.3 if kind is LightKind.WORKSHOP_LAMP else 0.9)
    # What is told holds, and what was photographed was far off.
    assert (off <= told).all()
    assert off.mean() < 0.4 * before.mean()


@every_light
def test_metallic_comes_back_but_for_its_lightness(kind: LightKind) -> None:
    off, _, told = np.array([read(thread, kind, 0.18) for thread in METALLIC]).T
    assert off.mean() < 3
    assert (off < (5 if kind is LightKind.WORKSHOP_LAMP else 4)).all()
    assert (off <= np.maximum(1, 1.1 * told)).all()


def test_a_white_card_serves_as_a_grey_one() -> None:
    for thread in NYLON[:4]:
        grey, white = (read(thread, LightKind.NORTH_WINDOW, share) for share in (0.18, 0.9))
        assert grey[0] == pytest.approx(white[0], abs=0.3)
