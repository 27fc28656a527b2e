"""The glTF 2.0 model of a wrap: what is seen of it, with the materials that it is drawn with.

Materials are those of core glTF with KHR_materials_anisotropy for rows of thread,
KHR_materials_clearcoat for the finish, and KHR_materials_ior for thread, whose index is relative to
what it lies in.

Three things cannot be carried. Light that goes from thread to thread below the finish, or that the
finish keeps in, has no term in a glTF material. Refraction is followed only to where light is seen
from straight above (`render.gltf.textures.seen_tilt`), so the thread does not shift below thick
finish. A viewer averages normals over distant texels without widening the highlight, so the flash
of single facets is lost sooner than in the pictures made here.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.bodies.mesh import Mesh
from geometry.grid import Detail
from materials.appearance import Appearance
from render.browser.stage_json import LONGEST_SIDE, bounded
from render.common.tags import SOFTWARE, Tag
from render.gltf.container import Document, Json
from render.gltf.textures import WrapTextures, seen_slopes, wrap_textures
from render.gltf.wrap_mesh import strides_for, wrap_mesh
from scenes.building.build import Plan, Wrap
from scenes.stage.bodies import DRY_THREAD_IOR, FINISHED_THREAD_IOR, PlainBody, WrapBody
from scenes.stage.feet import foot_grid, foot_plans
from scenes.stage.fittings import fittings
from scenes.stage.lacquered_blank import lacquered_bodies, lacquered_grids
from scenes.stage.maps import surface_maps
from scenes.stage.stage import wraps_of

__all__ = ["Model", "forecast_model", "model_of"]

Floats = NDArray[np.float32]

_MM_IN_M = 1e-3

# Columns: directions of the geometry's x, y and z axes in glTF, with x along the rod and y up.
_UPRIGHT = np.array([[0, 0, 1], [1, 0, 0], [0, 1, 0]], dtype=np.float64)

_BYTES_PER_TEXEL = 1.4
"""Bytes of all textures for a texel: the mean of the samples at draft and normal detail, which lie
between 0.2 and 3."""

_BYTES_PER_POINT = 48
"""Position and normal, tangent, texture coordinates: twelve floats of four bytes."""

_BYTES_PER_TRIANGLE = 6
"""Three indices of two bytes."""

_BYTES_PER_PLAIN_POINT, _BYTES_PER_PLAIN_TRIANGLE = 24, 12
"""Of guides and blank: position and normal, six floats; three indices of four bytes."""


@dataclass(frozen=True, slots=True)
class Model:
    """A model as a file.

    Parameters
    ----------
    data : bytes
        GLB.
    triangles : int
    textures : tuple of (int, int)
        Width and height of the textures of each wrapped length, texels.
    """

    data: bytes
    triangles: int
    textures: tuple[tuple[int, int], ...]


def model_of(wrap: Wrap, tag: Tag) -> Model:
    """Make the model of a wrap.

    It holds the wrap with its finish, the wrapped feet of guides, and the guides and the blank
    between these. Grips and the blank beyond are left out, because viewers fit the whole model into
    their window.

    Parameters
    ----------
    wrap : Wrap
    tag : Tag
    """
    document = Document(SOFTWARE, {"title": tag.title, "design": tag.design})
    middle = wrap.plan.middle
    triangles, sizes = 0, []
    bare = lacquered_bodies(wrap.plan)
    bodies = tuple(bounded(body) for body in wraps_of(wrap)[: -len(bare) or None])
    others = tuple(other.design.wrap_name for other in wrap.plan.others)
    guides = range(1, len(bodies) - len(others))
    names = ("wrap", *others, *(f"wrap on guide {number}" for number in guides))
    start = min(float(body.surface.z[0]) for body in bodies)
    end = max(float(body.surface.z[-1]) for body in bodies)
    between = tuple(bounded(body) for body in bare if start < _middle(body.surface.z) < end)
    named = zip((*names, *["blank"] * len(between)), (*bodies, *between), strict=True)
    for name, body in named:
        triangles += _add_wrap(document, name, body, middle)
        nz, nt = body.surface.shape
        sizes.append((nt, nz))
    for plain in _between(wrap.plan, start, end):
        triangles += _add_plain(document, plain, middle)
    return Model(document.binary(tag.title), triangles, tuple(sizes))


def forecast_model(plan: Plan, detail: Detail) -> tuple[int, int]:
    """Predict the size of a model without laying the wrap.

    Parameters
    ----------
    plan : Plan
    detail : Detail
        Resolution at which the wrap will be built.

    Returns
    -------
    triangles, size : int
        Number of triangles, and about how many bytes: textures are compressed.
    """
    wraps = (one.grid(detail) for one in (plan, *plan.others))
    grids = [*wraps, *(foot_grid(plan, foot, detail) for foot in foot_plans(plan))]
    triangles, size = 0, 0.0
    start = min(float(grid.z[0]) for grid in grids)
    end = max(float(grid.z[-1]) for grid in grids)
    grids += [grid for grid in lacquered_grids(plan) if start < _middle(grid.z) < end]
    for grid in grids:
        stations, angles = grid.z.size, grid.theta.size
        stride = 1
        while max(stations, angles) > LONGEST_SIDE * stride:
            stride *= 2
        stations, angles = (stations - 1) // stride + 1, angles // stride
        rings, columns = strides_for((stations, angles)).points((stations, angles))
        wound = 2 * (columns - 1) * rings
        triangles += wound
        size += _BYTES_PER_POINT * rings * columns + _BYTES_PER_TRIANGLE * wound
        size += _BYTES_PER_TEXEL * stations * angles
    for plain in _between(plan, start, end):
        triangles += len(plain.mesh.faces)
        size += _BYTES_PER_PLAIN_POINT * len(plain.mesh.points)
        size += _BYTES_PER_PLAIN_TRIANGLE * len(plain.mesh.faces)
    return triangles, round(size)


def _middle(stations: NDArray[np.floating]) -> float:
    return (float(stations.min()) + float(stations.max())) / 2


def _between(plan: Plan, start: float, end: float) -> Iterator[PlainBody]:
    """Guides and parts of the blank whose middle lies between two distances from the butt, mm."""
    for plain in fittings(plan):
        if start < _middle(plain.mesh.points[:, 2]) < end:
            yield plain


def _add_wrap(document: Document, name: str, body: WrapBody, middle: float) -> int:
    """Add a wrapped length, closed at both ends; return its number of triangles."""
    maps = surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)
    seen = seen_slopes(body, maps)
    mesh = wrap_mesh(body, seen)
    tangents = np.ones((*mesh.tangents.shape[:2], 4), np.float32)
    # The last component is the sign of the bitangent.
    tangents[..., :3] = _turned(mesh.tangents)
    side = document.primitive(
        {
            "POSITION": _placed(mesh.points, middle).reshape(-1, 3),
            "NORMAL": _turned(mesh.normals).reshape(-1, 3),
            "TANGENT": tangents.reshape(-1, 4),
            "TEXCOORD_0": mesh.uv.astype(np.float32).reshape(-1, 2),
        },
        mesh.faces,
        document.material(_wrap_material(document, name, wrap_textures(body, maps, mesh, seen))),
    )
    ends = [_end(mesh.points, last, middle) for last in (False, True)]
    blank = document.material(_plain_material(body.palette[int(body.surface.material[0, 0])]))
    primitives = [document.primitive(attributes, faces, blank) for attributes, faces in ends]
    document.node(name, [side, *primitives])
    return len(mesh.faces) + sum(len(faces) for _, faces in ends)


def _end(
    rings: NDArray[np.float64], last: bool, middle: float
) -> tuple[dict[str, NDArray[np.generic]], NDArray[np.intp]]:
    """The disc that closes an end: attributes and faces."""
    rim = rings[-1 if last else 0, :-1]
    points = np.concatenate((rim, [[0, 0, rim[0, 2]]]))
    normals = np.zeros_like(points)
    normals[:, 2] = 1 if last else -1
    column = np.arange(len(rim))
    following = np.roll(column, -1)
    turn = (column, following) if last else (following, column)
    faces = np.stack((np.full(len(rim), len(rim)), *turn), axis=1)
    return {"POSITION": _placed(points, middle), "NORMAL": _turned(normals)}, faces


def _wrap_material(document: Document, name: str, textures: WrapTextures) -> Json:
    surface = {"index": document.picture(textures.surface, f"{name}: occlusion, roughness, metal")}
    colour = document.picture(textures.base_colour, f"{name}: base colour")
    normal = document.picture(textures.normal, f"{name}: normals of the thread")
    finished = textures.coat_normal is not None
    extensions: Json = {
        "KHR_materials_ior": {"ior": FINISHED_THREAD_IOR if finished else DRY_THREAD_IOR}
    }
    if textures.anisotropy is not None:
        direction = document.picture(textures.anisotropy, f"{name}: direction across the thread")
        extensions["KHR_materials_anisotropy"] = {
            "anisotropyStrength": 1.0,
            "anisotropyTexture": {"index": direction},
        }
    if textures.coat_normal is not None:
        coat = document.picture(textures.coat_normal, f"{name}: normals of the finish")
        extensions["KHR_materials_clearcoat"] = {
            "clearcoatFactor": 1.0,
            "clearcoatRoughnessFactor": 0.0,
            "clearcoatNormalTexture": {"index": coat, "scale": textures.coat_scale},
        }
    return {
        "name": name,
        "pbrMetallicRoughness": {
            "baseColorTexture": {"index": colour},
            "metallicRoughnessTexture": surface,
        },
        "normalTexture": {"index": normal},
        "occlusionTexture": surface,
        "extensions": extensions,
    }


def _add_plain(document: Document, plain: PlainBody, middle: float) -> int:
    """Add a body of one appearance; return its number of triangles."""
    mesh: Mesh = plain.mesh
    attributes: dict[str, NDArray[np.generic]] = {
        "POSITION": _placed(mesh.points, middle),
        "NORMAL": _turned(mesh.normals),
    }
    brightest = float(plain.tint.max())
    if plain.tint.min() < 1 or brightest > 1:
        shares = np.ones((len(plain.tint), 4), np.float32)
        shares[:, :3] = plain.tint / brightest
        attributes["COLOR_0"] = np.rint(np.iinfo(np.uint16).max * shares).astype(np.uint16)
    material = document.material(_plain_material(plain.appearance, brightest))
    document.node(plain.name, [document.primitive(attributes, mesh.faces, material)])
    return len(mesh.faces)


def _plain_material(look: Appearance, factor: float = 1.0) -> Json:
    colour = [min(factor * part, 1.0) for part in look.base_colour]
    return {
        "name": look.name,
        "pbrMetallicRoughness": {
            "baseColorFactor": [*colour, 1.0],
            "metallicFactor": look.metallic,
            "roughnessFactor": look.roughness_along,
        },
    }


def _placed(points: NDArray[np.floating], middle: float) -> Floats:
    upright = (points.astype(np.float64) - (0, 0, middle)) @ _UPRIGHT.T * _MM_IN_M
    return np.asarray(upright, np.float32)


def _turned(directions: NDArray[np.floating]) -> Floats:
    return np.asarray(directions @ _UPRIGHT.T, np.float32)
