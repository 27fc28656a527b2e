"""A stage as a Mitsuba scene: bodies, light, card and camera.

The rod stays where it was built and everything else is rotated around it, so that turning it costs
no new triangles. The finish is traced as a refracting surface, so what lies under it is described
without the finish. `Appearance.base_colour` of a wet body includes the light that the finish
reflects back and the body absorbs again; the tracer computes that itself, so the colour is first
converted back to the dry one (`_dry_colour`).
"""

from dataclasses import dataclass
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from materials.appearance import Appearance
from materials.metal import diffuse_internal_reflectance
from render.pathtraced.denoiser_guides import Substrate
from render.pathtraced.engine import engine, make_opaque, selected_engine
from render.pathtraced.shape import Stretch, stretches
from scenes.stage.backdrop import Backdrop
from scenes.stage.bodies import METAL_F0, PlainBody, WrapBody
from scenes.stage.maps import surface_maps
from scenes.stage.stage import Stage

__all__ = ["LitScene", "Piece", "rod_pieces"]

Floats = NDArray[np.float32]
Matrix = NDArray[np.float64]
Part = Any
"""A Mitsuba object; Mitsuba's classes exist only after a variant has been selected."""

_BODY_IOR = 1.5
"""Refractive index of dry dielectrics (from memory: nylon, lacquer, suberin 1.5 to 1.55)."""


_CARD_BUFFERS = "card.vertex_positions", "card.vertex_normals", "card.vertex_texcoords"

_QUARTER = np.array([[0, 0, -1, 0], [0, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 1.0]])
"""A quarter turn about y: Mitsuba's own maps begin behind the camera, ours at the tip."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A mesh of the rod.

    Parameters
    ----------
    mesh : Mitsuba mesh
    substrate : Substrate, optional
        What lies below, if the mesh is the outside of the finish.
    """

    mesh: Part
    substrate: Substrate | None = None


def rod_pieces(stage: Stage, *, every: int = 1) -> list[Piece]:
    """Everything that turns with the rod, in the rod's frame.

    That is the frame of the geometry with its origin moved to the middle of the wrap: Mitsuba
    offsets a ray from a surface by about 1e-4 of its distance from the origin, and finish is thin.

    Parameters
    ----------
    stage : Stage
    every : int
        Stride over the angles of a wrap's grid; 1 keeps all of them.
    """
    middle = np.array((0, 0, stage.middle), np.float32)
    pieces = [piece for wrap in stage.wraps for piece in _wrap(wrap, every, middle)]
    return [*pieces, *(Piece(_plain_body(body, middle)) for body in stage.bodies)]


class LitScene:
    """The scene of the rod, the light and the card.

    Parameters
    ----------
    pieces : list of Piece
        From `rod_pieces`.
    light : (h, 2h, 3) float32
        Radiance map, linear sRGB.
    around : (4, 4) float
        From the stage's frame to the rod's.
    card : Backdrop or None
        Part of the backdrop to include.
    """

    def __init__(
        self, pieces: list[Piece], light: Floats, around: Matrix, card: Backdrop | None
    ) -> None:
        mi = engine()
        self._pieces = pieces
        vertices = () if card is None else _card_vertices(card, around)
        self._placed: tuple[Matrix, ...] = (around, *vertices)
        self._card = None if card is None else _card(card, around)
        lamp = {
            "type": "envmap",
            "bitmap": mi.Bitmap(np.array(light, np.float32)),
            "to_world": mi.ScalarTransform4f(around @ _QUARTER),
        }
        content: dict[str, Any] = {f"shape{n:03}": piece.mesh for n, piece in enumerate(pieces)}
        if self._card is not None:
            content["card"] = self._card
        self.mitsuba = mi.load_dict({"type": "scene", "light": lamp, **content})

    def move(self, around: Matrix, card: Backdrop | None) -> bool:
        """Move light and card around the rod; False if it takes a new scene.

        Parameters
        ----------
        around : (4, 4) float
        card : Backdrop or None
        """
        mi = engine()
        if (card is None) != (self._card is None):
            return False
        vertices = () if card is None else _card_vertices(card, around)
        if _are_equal((around, *vertices), self._placed):
            return True  # a processor would build the search tree again
        buffers = mi.traverse(self.mitsuba)
        for name, array in zip(_CARD_BUFFERS, vertices, strict=False):
            like = buffers[name]
            if array.size != len(like):
                return False
            buffers[name] = _buffer(like, array, np.float32)
        place = type(buffers["light.to_world"])(mi.ScalarTransform4f(around @ _QUARTER))
        make_opaque(place)
        buffers["light.to_world"] = place
        buffers.update()
        self._placed = around, *vertices
        return True

    @property
    def films(self) -> dict[int, Substrate]:
        """What lies below each film of finish, by the number of its shape in `shape_index`."""
        return {
            self._number(piece.mesh): piece.substrate
            for piece in self._pieces
            if piece.substrate is not None
        }

    @property
    def is_patterned(self) -> bool:
        """Whether the card has a pattern."""
        return len(self._placed) > len(_CARD_BUFFERS)

    @property
    def card(self) -> int:
        """Number of the card's shape in `shape_index`; 0, which is no shape's, without a card."""
        return 0 if self._card is None else self._number(self._card)

    def _number(self, mesh: Part) -> int:
        if selected_engine().on_arrays:
            mi, drjit = engine(), import_module("drjit")
            return int(drjit.reinterpret_array(mi.UInt32, mi.ShapePtr(mesh))[0])
        return 1 + list(self.mitsuba.shapes()).index(mesh)


def _are_equal(some: tuple[Matrix, ...], others: tuple[Matrix, ...]) -> bool:
    return len(some) == len(others) and all(map(np.array_equal, some, others))


def _wrap(wrap: WrapBody, every: int, middle: Floats) -> list[Piece]:
    maps = surface_maps(wrap.surface, wrap.beneath, wrap.outside, wrap.palette, wrap.row_width)
    pieces = []
    for stretch in stretches(wrap, maps, every=every):
        pieces.append(Piece(_base_mesh(stretch, wrap.finish_ior, middle)))
        if stretch.film is not None:
            film = stretch.film
            glass = {"type": "dielectric", "int_ior": wrap.finish_ior, "ext_ior": 1.0}
            mesh = _mesh(film.points - middle, film.normals, film.faces, glass)
            pieces.append(Piece(mesh, Substrate(wrap, maps, float(middle[2]))))
    return pieces


def _base_mesh(stretch: Stretch, finish_ior: float, middle: Floats) -> Part:
    base = stretch.base
    points = base.points - middle
    if stretch.film is not None:
        colour = _dry_colour(base.body, finish_ior)
        body = {"type": "diffuse", "reflectance": _attribute("body")}
    else:
        colour = base.body
        body = _dielectric(_attribute("body"), stretch.roughness)
    metals = base.mirror[base.metal > 0.5]
    f0 = max(METAL_F0, float(metals.max(initial=0)))
    mirror = _conductor(_attribute("mirror"), f0, stretch.metal_roughness)
    shine = np.minimum(base.mirror / np.float32(f0), 1)
    if base.metal.max() < 0.01:
        return _mesh(points, base.normals, base.faces, body, body=colour)
    if base.metal.min() > 0.99:
        return _mesh(points, base.normals, base.faces, mirror, mirror=shine)
    both = {"type": "blendbsdf", "weight": _attribute("metal"), "body": body, "mirror": mirror}
    return _mesh(
        points,
        base.normals,
        base.faces,
        both,
        body=colour,
        mirror=shine,
        metal=base.metal[:, None],
    )


def _plain_body(body: PlainBody, middle: Floats) -> Part:
    look, mesh = body.appearance, body.mesh
    base = np.clip(body.tint * np.array(look.base_colour, np.float32), 0, 1)
    surface, colour = _plain_surface(look, base)
    return _mesh(mesh.points - middle, mesh.normals, mesh.faces, surface, body=colour)


def _plain_surface(look: Appearance, base: Floats) -> tuple[Part, Floats]:
    if look.metallic > 0.5:
        brightest = max(look.base_colour)
        surface = _conductor(_attribute("body"), brightest, look.roughness_along)
        return surface, np.minimum(base / np.float32(brightest), 1)
    return _dielectric(_attribute("body"), look.roughness_along), base


def _dielectric(colour: Part, roughness: float) -> Part:
    return {"type": "principled", "base_color": colour, "roughness": roughness, "eta": _BODY_IOR}


def _conductor(tint: Part, f0: float, roughness: float) -> Part:
    """A metal with normal reflectance `f0` at every wavelength, behind a tint.

    With n = 1, F0 = k² / (4 + k²), which is near aluminium's n + ik. The tint colours the
    reflection at every angle: dye lies in front of the whole of the metal.
    """
    return {
        "type": "roughconductor",
        "distribution": "ggx",
        "alpha": roughness**2,
        "eta": {"type": "spectrum", "value": 1.0},
        "k": {"type": "spectrum", "value": 2 * float(np.sqrt(f0 / max(1 - f0, 1e-6)))},
        "specular_reflectance": tint,
    }


def _dry_colour(colour: Floats, ior: float) -> Floats:
    """Reflectance of a body without finish, from its reflectance `colour` under finish.

    The inverse of `materials.appearance.wet_reflectance`: the share p of light that the finish's
    outside reflects back is traced here.
    """
    p = np.float32(diffuse_internal_reflectance(ior))
    return np.asarray(colour / (1 - p + p * colour))


def _card(card: Backdrop, around: Matrix) -> Part:
    base = 2 * np.arange(len(card.points) - 1, dtype=np.int32)
    faces = np.stack((base, base + 1, base + 3, base, base + 3, base + 2), axis=1).reshape(-1, 3)
    colour: Part = {"type": "rgb", "value": list(card.albedo)}
    if card.ground is not None:
        bitmap = engine().Bitmap(np.ascontiguousarray(card.ground.reflectance))
        colour = {"type": "bitmap", "bitmap": bitmap, "raw": True}
    surface = {"type": "twosided", "matt": {"type": "diffuse", "reflectance": colour}}
    points, normals, *tiles = _card_vertices(card, around)
    return _mesh(points, normals, faces, surface, places=tiles[0] if tiles else None)


def _card_vertices(card: Backdrop, around: Matrix) -> tuple[Matrix, ...]:
    """Positions and normals of the card in the rod's frame, (n, 3) each.

    If it has a pattern, also its places on the tiles of the pattern, (n, 2).
    """
    run = np.gradient(card.points[:, 0, 1:], axis=0)
    normals = np.zeros((len(card.points), 2, 3), np.float32)
    normals[..., 1], normals[..., 2] = -run[:, None, 1], run[:, None, 0]
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    turned = around[:3, :3].T
    placed = card.points.reshape(-1, 3) @ turned + around[:3, 3], normals.reshape(-1, 3) @ turned
    if card.ground is None:
        return placed
    width, height = card.ground.size
    run = np.broadcast_to(card.run[:, None], (len(card.points), 2))
    tiles = np.stack((card.points[..., 0] / width, run / height), axis=-1)
    return *placed, tiles.reshape(-1, 2)


def _attribute(name: str) -> Part:
    return {"type": "mesh_attribute", "name": f"vertex_{name}"}


def _mesh(
    points: NDArray[np.floating],
    normals: NDArray[np.floating],
    faces: NDArray[np.int32],
    surface: Part,
    *,
    places: NDArray[np.floating] | None = None,
    **attributes: Floats,
) -> Part:
    mi = engine()
    properties = mi.Properties()
    properties["surface"] = mi.load_dict(surface)
    mesh = mi.Mesh(
        "mesh",
        len(points),
        len(faces),
        has_vertex_normals=True,
        has_vertex_texcoords=places is not None,
        props=properties,
    )
    for name, values in attributes.items():
        # It is converted number by number; a list of one object ten times as fast as an array.
        mesh.add_attribute(f"vertex_{name}", values.shape[1], [0.0] * values.size)
    buffers = mi.traverse(mesh)
    for name, values in attributes.items():
        key = f"vertex_{name}"
        buffers[key] = _buffer(buffers[key], values, np.float32)
    buffers["vertex_positions"] = _buffer(buffers["vertex_positions"], points, np.float32)
    buffers["vertex_normals"] = _buffer(buffers["vertex_normals"], normals, np.float32)
    if places is not None:
        buffers["vertex_texcoords"] = _buffer(buffers["vertex_texcoords"], places, np.float32)
    buffers["faces"] = _buffer(buffers["faces"], faces, np.uint32)
    buffers.update()
    return mesh


def _buffer(like: Part, array: NDArray[np.generic], kind: type[np.generic]) -> Part:
    return type(like)(np.ascontiguousarray(array, kind).ravel())
