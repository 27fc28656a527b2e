"""The maps of a wrap as textures of a glTF 2.0 material.

The first row of each texture is the station nearest the tip, and columns run round the blank with
theta. So the tangent, which points to larger u, is the hoop direction, and the bitangent, which
points to the top of the picture, is the direction to the tip.

Normals are relative to those of the mesh (`render.gltf.wrap_mesh`).

A glTF material has no refraction between its coat and what lies below. A thread below the finish is
therefore given the slope that would mirror the same light into the eye without refraction.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from materials.colour import from_bytes, to_bytes
from render.gltf.wrap_mesh import WrapMesh
from scenes.stage.bodies import WrapBody
from scenes.stage.maps import SurfaceMaps

__all__ = ["WrapTextures", "anisotropy_strength", "seen_slopes", "seen_tilt", "wrap_textures"]

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]

_LEVELS = np.float32(255)

_STEEPEST = 20.0
"""Steepest slope (87 degrees) that a normal is given."""

_LEAST_FACING = 0.05
"""Least third component of a normal: below 0 it would point into the surface."""

_LEAST_SCALE = 1e-3
"""Least scale of the coat's normals: a tube without ripples would have 0."""


@dataclass(frozen=True, slots=True)
class WrapTextures:
    """Textures of (nz, nt) texels.

    Parameters
    ----------
    base_colour : (nz, nt, 3) uint8
        sRGB: the mirror tint of what is metal, the body colour of what is not.
    surface : (nz, nt, 3) uint8
        Share of the surroundings that reaches the place; perceptual roughness along the thread;
        metallic. Linear.
    normal : (nz, nt, 3) uint8
        Normals of the thread in tangent space, -1 to 1 as 0 to 255.
    anisotropy : (nz, nt, 3) uint8 or None
        Direction across the thread in tangent space, -1 to 1 as 0 to 255; strength of
        KHR_materials_anisotropy. None where nothing has rows.
    coat_normal : (nz, nt, 3) uint8 or None
        Normals of the outside of the finish, as `normal`; None for a dry wrap.
    coat_scale : float
        Factor of the first two components of `coat_normal`.
    """

    base_colour: Bytes
    surface: Bytes
    normal: Bytes
    anisotropy: Bytes | None
    coat_normal: Bytes | None
    coat_scale: float


def wrap_textures(body: WrapBody, maps: SurfaceMaps, mesh: WrapMesh, seen: Floats) -> WrapTextures:
    """Turn the maps of a wrap into textures.

    Parameters
    ----------
    body : WrapBody
    maps : SurfaceMaps
        Of that wrap.
    mesh : WrapMesh
        Of that wrap; the normals are relative to its own.
    seen : (nz, nt, 2) float32
        Its slopes from `seen_slopes`.
    """
    grid = body.surface.shape
    index = _index(body)
    base, surface, normal, anisotropy = (np.empty((*grid, 3), np.uint8) for _ in range(4))
    coat = np.empty((*grid, 2), np.float32)

    def work(part: slice) -> None:
        base[part] = to_bytes(from_bytes(maps.mirror[part, :, :3]) + from_bytes(maps.body[part]))
        properties = maps.thread[part].astype(np.float32) / _LEVELS
        along = np.minimum(index * properties[..., 0] ** 2, 1)
        surface[part, :, 0] = maps.thread[part, :, 2]
        surface[part, :, 1] = np.rint(_LEVELS * np.sqrt(along))
        surface[part, :, 2] = maps.mirror[part, :, 3]
        lay = (properties[..., 3] - np.float32(0.5)) * np.float32(np.pi)
        anisotropy[part, :, :2] = _signed_bytes(np.stack((-np.sin(lay), np.cos(lay)), axis=-1))
        strength = anisotropy_strength(along, _across(along, properties[..., 1], index))
        anisotropy[part, :, 2] = np.rint(_LEVELS * strength)
        frame = mesh.between(part)
        normal[part] = _signed_bytes(_in_tangent_space(seen[part], frame))
        if body.outside is not None:
            leaning = _in_tangent_space(maps.outside[part, :, :2], frame)
            coat[part] = -leaning[..., :2] / leaning[..., 2:]

    over_blocks(work, slice(0, grid[0]), grid[1])
    scale = max(float(np.abs(coat).max()), _LEAST_SCALE) if body.outside is not None else 1.0
    return WrapTextures(
        base[::-1],
        surface[::-1],
        normal[::-1],
        anisotropy[::-1] if anisotropy[..., 2].any() else None,
        None if body.outside is None else _coat_bytes(coat / np.float32(scale))[::-1],
        scale,
    )


def anisotropy_strength(along: Floats, across: Floats) -> Floats:
    """Strength of KHR_materials_anisotropy between two GGX alphas.

    The alpha in the direction of the texture is along + (1 - along) strength².

    Parameters
    ----------
    along, across : (...) float32
        GGX alpha, 0 to 1; `across` is raised to `along` where it is less.

    Returns
    -------
    (...) float32
        0 to 1.
    """
    rest = np.maximum(1 - along, np.float32(1e-6))
    return np.asarray(np.sqrt(np.clip((across - along) / rest, 0, 1)))


def seen_tilt(tilt: Floats, index: float) -> Floats:
    """Tilt of a mirror that throws light where a tilted mirror below a coat does.

    Straight from above, the mirror below turns light by twice its tilt, and refraction at the
    outside turns it further (Snell's law). Light that the outside keeps in leaves at a low angle.

    Parameters
    ----------
    tilt : (...) float32
        Between the mirror and the outside, rad, 0 to pi/2.
    index : float
        Refractive index of the coat; 1 for none.

    Returns
    -------
    (...) float32
        rad; pi/4 or less where the coat has an index above 1.
    """
    if index <= 1:
        return tilt
    kept = np.minimum(2 * tilt, np.float32(np.pi / 2))
    return np.asarray(np.arcsin(np.minimum(np.float32(index) * np.sin(kept), 1)) / 2)


def _index(body: WrapBody) -> float:
    return 1.0 if body.outside is None else body.finish_ior


def _across(along: Floats, rounding: Floats, index: float) -> Floats:
    """GGX alpha across rows of some rounding: the reverse of `scenes.stage.maps.row_rounding`."""
    sine = np.sin(seen_tilt(np.arcsin(rounding), index))
    return np.asarray(np.minimum(np.sqrt(along**2 + sine**2 / np.float32(1.5)), 1))


def seen_slopes(body: WrapBody, maps: SurfaceMaps) -> Floats:
    """Slopes of the thread as refraction lets them appear (`seen_tilt`).

    Parameters
    ----------
    body : WrapBody
    maps : SurfaceMaps
        Of that wrap.

    Returns
    -------
    (nz, nt, 2) float32
        Hoop and axial slope.
    """
    seen = np.clip(maps.slopes[..., :2], -_STEEPEST, _STEEPEST)
    index = _index(body)
    if index <= 1:
        return seen

    def work(part: slice) -> None:
        outside = maps.outside[part, :, :2]
        lean = seen[part] - outside
        steepness = np.hypot(lean[..., 0], lean[..., 1])
        tilt = seen_tilt(np.arctan(steepness), index)
        factor = np.tan(tilt) / np.maximum(steepness, np.float32(1e-6))
        seen[part] = outside + lean * factor[..., None]

    over_blocks(work, slice(0, len(seen)), seen.shape[1])
    return seen


def _in_tangent_space(leaning: Floats, frame: Floats) -> Floats:
    """Unit normals of a surface that leans by slopes, relative to a frame that leans by others.

    With N ~ (1, -h, -a) along radius, hoop and axis, T ~ (h, 1, 0) and B = N x T ~ (a, -a h,
    1 + h²), the normal (1, -hoop, -axial) has the components below.
    """
    held = np.clip(leaning, -_STEEPEST, _STEEPEST)
    hoop, axial = held[..., 0], held[..., 1]
    h, a = frame[..., 0], frame[..., 1]
    flat = 1 + h * h
    size = np.sqrt(flat + a * a)
    normal = np.stack(
        (
            (h - hoop) / np.sqrt(flat),
            (a + a * h * hoop - axial * flat) / (np.sqrt(flat) * size),
            (1 + h * hoop + a * axial) / size,
        ),
        axis=-1,
    )
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    normal[..., 2] = np.maximum(normal[..., 2], _LEAST_FACING)
    return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))


def _coat_bytes(leaning: Floats) -> Bytes:
    """Normals with slopes of at most 1, (nz, nt, 2), as bytes."""
    normal = np.concatenate((-leaning, np.ones_like(leaning[..., :1])), axis=-1)
    return _signed_bytes(normal / np.linalg.norm(normal, axis=-1, keepdims=True))


def _signed_bytes(numbers: Floats) -> Bytes:
    """-1 to 1 as 0 to 255 [GLTF2], section 3.9.3."""
    return np.asarray(np.rint((numbers + 1) * (_LEVELS / 2)).clip(0, 255), np.uint8)
