"""Colours and greys that a picture must give back: closed scenes whose answer is known.

A swatch is measured as colour instruments do, lit all round aslant and seen square on, with the
shine looking elsewhere (CIE 15:2018, geometry 45°:0°, annular; here 55° to 70°, since satin spreads
its shine as far as 50°). A grey ball is 18 % under a light that falls on it as on a photographer's
grey card; matt cards have no shine of their own, so that of a black ball beside it is taken off.
"""

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from geometry.bodies.mesh import Mesh
from materials.appearance import Appearance, thread_appearance
from materials.photographed import read_thread
from materials.shelf import Shelf
from materials.thread import ThreadKind
from render.live.live import LiveScene
from scenes.light.lights import LightKind, directions, irradiance, radiance_map
from scenes.stage.backdrop import backdrop
from scenes.stage.bodies import PlainBody
from scenes.stage.camera import Camera
from scenes.stage.outline import Outline
from scenes.stage.stage import Stage

pytestmark = pytest.mark.render

Array = NDArray[np.float64]

SIZE = 360
SCALE = 4.0  # pixels a mm
FAR = Camera((0, 0, 4000), (0, 0, 0), (0, 1, 0), float(2 * np.arctan(SIZE / SCALE / 2 / 4000)))
SWATCHES = [t for t in Shelf.shipped().threads if t.kind is ThreadKind.NCP_NYLON]


def body(name: str, points: Array, normals: Array, faces: Array, look: Appearance) -> PlainBody:
    """A body from stage coordinates: the stage's (x, y, z) are the geometry's (z, x, y)."""
    count = len(points)
    points, normals = (np.ascontiguousarray(a[:, [1, 2, 0]], np.float32) for a in (points, normals))
    zero = np.zeros(count, np.float32)
    mesh = Mesh(
        points,
        normals,
        np.zeros_like(points),
        np.zeros((count, 2), np.float32),
        faces.astype(np.int32),
        zero.astype(np.int16),
        zero,
        zero,
    )
    return PlainBody(name, mesh, look, np.ones_like(points))


def card(middle: Array, look: Appearance) -> PlainBody:
    """A square of 8 mm that faces the viewer."""
    corners = middle + 4.0 * np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    faces = np.array([[0, 1, 2], [0, 2, 3]])
    return body(look.name, corners, np.tile([0.0, 0.0, 1.0], (4, 1)), faces, look)


def ball(middle: Array, radius: float, look: Appearance) -> PlainBody:
    """A fine ball."""
    rows, columns = 90, 180
    t, p = np.meshgrid(
        np.linspace(0, np.pi, rows), np.linspace(0, 2 * np.pi, columns), indexing="ij"
    )
    out = np.stack((np.sin(t) * np.cos(p), np.cos(t), np.sin(t) * np.sin(p)), axis=-1)
    out = out.reshape(-1, 3)
    a = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    faces = np.concatenate(
        (
            np.stack((a, a + 1, a + columns), axis=1),
            np.stack((a + 1, a + columns + 1, a + columns), axis=1),
        )
    )
    return body(look.name, middle + radius * out, out, faces, look)


def photographed(light: NDArray[np.float32], bodies: list[PlainBody]) -> Array:
    """The picture in linear light."""
    rod = Outline.tube(1.0, -400.0, 400.0)
    card_behind = backdrop(light, (0.0, 0.0, 0.0), rod=rod, drop=900.0, behind=900.0, reach=1500.0)
    stage = Stage("test", (), tuple(bodies), 0.0, light, light, card_behind, FAR, 0.0)
    with LiveScene(stage, (SIZE, SIZE), supersample=1) as scene:
        picture = scene.picture()
    return np.asarray(colour.models.eotf_sRGB(picture / 255))


def place(middle: Array) -> tuple[float, float]:
    """Row and column of a point of the plane z = 0."""
    return SIZE / 2 - SCALE * middle[1] - 0.5, SIZE / 2 + SCALE * middle[0] - 0.5


def test_every_shelf_colour_comes_back_as_a_satin_swatch() -> None:
    away = np.degrees(np.arccos(directions(128)[..., 2]))
    ring = ((away > 55) & (away < 70))[..., None] * np.ones(3)
    ring /= irradiance(ring, [[0, 0, 1]])[0, 0] / np.pi
    middles = np.array(
        [[-36.0 + 12 * (i % 7), -24.0 + 12 * (i // 7), 0] for i in range(len(SWATCHES))]
    )
    bodies = [
        card(middle, thread_appearance(thread, False))
        for middle, thread in zip(middles, SWATCHES, strict=True)
    ]
    picture = photographed(ring.astype(np.float32), bodies)
    off = {}
    for thread, middle in zip(SWATCHES, middles, strict=True):
        row, column = (round(at) for at in place(middle))
        seen = picture[row - 8 : row + 8, column - 8 : column + 8].mean(axis=(0, 1))
        labs = [
            colour.XYZ_to_Lab(colour.RGB_to_XYZ(rgb, "sRGB"), (0.3127, 0.3290))
            for rgb in (seen, thread.linear_rgb)
        ]
        off[thread.name] = round(float(colour.delta_E(*labs, method="CIE 2000")), 2)
    assert {name: delta for name, delta in off.items() if delta > 3} == {}


@pytest.mark.parametrize("kind", list(LightKind))
def test_a_grey_ball_reads_its_grey_in_every_light(kind: LightKind) -> None:
    light = radiance_map(kind, 256)
    grey, black = np.array([-22.0, 0, 0]), np.array([22.0, 0, 0])
    radius = 20.0
    looks = [
        Appearance(f"{share}", (share,) * 3, roughness_along=1.0, roughness_across=1.0)
        for share in (0.18, 0.0)
    ]
    bodies = [ball(middle, radius, look) for middle, look in zip((grey, black), looks, strict=True)]
    picture = photographed(light, bodies)
    row, column = place(grey)
    y, x = np.mgrid[:SIZE, :SIZE].astype(np.float64)
    side, up = (x - column) / SCALE / radius, (row - y) / SCALE / radius
    disc = side**2 + up**2 < 0.97**2
    shift = round(SCALE * (black[0] - grey[0]))
    own = (picture - np.roll(picture, -shift, axis=1))[disc]
    # 4 %: the disc leaves out the outermost rim.
    read = float((own @ [0.2126, 0.7152, 0.0722]).mean())
    assert read == pytest.approx(0.18, rel=0.04)
    # Light comes from where the map says: point by point against the sum over all of the map.
    towards = np.sqrt(1 - side[disc] ** 2 - up[disc] ** 2)
    normals = np.stack((side[disc], up[disc], towards), axis=-1)
    some = slice(None, None, 37)
    expected = 0.18 / np.pi * irradiance(light, normals[some])
    assert np.median(np.abs(own[some] - expected)) < 0.06 * 0.18


@pytest.mark.parametrize("kind", list(LightKind))
def test_a_photograph_beside_a_card_gives_the_threads_colour(kind: LightKind) -> None:
    # Exposed low enough that the picture's curve leaves light as it is; a matt card's shine, read
    # off a black one, is taken away.
    light = (0.45 * radiance_map(kind, 256)).astype(np.float32)
    middles = np.array(
        [[-36.0 + 12 * (i % 7), -24.0 + 12 * (i // 7), 0] for i in range(len(SWATCHES))]
    )
    grey, black = np.array([-36.0, 36.0, 0]), np.array([-12.0, 36.0, 0])
    bodies = [
        card(middle, thread_appearance(thread, False))
        for middle, thread in zip(middles, SWATCHES, strict=True)
    ]
    bodies += [
        card(middle, Appearance(f"{share}", (share,) * 3, roughness_along=1, roughness_across=1))
        for middle, share in ((grey, 0.18), (black, 0.0))
    ]
    picture = photographed(light, bodies)

    def cut(middle: Array) -> Array:
        row, column = (round(at) for at in place(middle))
        return picture[row - 10 : row + 10, column - 10 : column + 10]

    beside = colour.models.eotf_inverse_sRGB(cut(grey) - cut(black).mean(axis=(0, 1)))
    off, told = [], []
    for thread, middle in zip(SWATCHES, middles, strict=True):
        found = read_thread(colour.models.eotf_inverse_sRGB(cut(middle)), beside)
        labs = [
            colour.XYZ_to_Lab(colour.RGB_to_XYZ(rgb, "sRGB"), (0.3127, 0.3290))
            for rgb in (found.linear_rgb, thread.linear_rgb)
        ]
        off.append(float(colour.delta_E(*labs, method="CIE 2000")))
        told.append(found.uncertainty)
    assert np.mean(off) < 4
    # Nine of ten threads come out as near as is told.
    assert np.mean(np.array(off) <= np.maximum(told, 4)) >= 0.9
