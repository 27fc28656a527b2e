"""Parts of a stage as JSON that names its bulk data: what the scripts of this folder read.

Maps, shapes and lights are bytes. The JSON names each by what is in it, so what two stages have in
common has one name.
"""

import math
from dataclasses import replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from materials.colour import from_bytes, to_bytes
from materials.finish import FINISH
from render.live.textures import near_power_of_two
from scenes.building.build import Plan
from scenes.cache.light import kept_light
from scenes.light import tone
from scenes.light.lights import mean_radiance
from scenes.light.prefilter import SIDE, prefiltered
from scenes.packing.companding import MOST_SLOPE, coarser, code_image
from scenes.packing.light import CODES, LOW_CODES, packed_light
from scenes.packing.looks import Looks
from scenes.packing.maps import OUTSIDE_KNEE, SLOPE_KNEE, PackedMaps, fewer_bits
from scenes.packing.meshes import PackedMesh, PackedTube, packed_tube
from scenes.parts.view import LightSpec
from scenes.stage.bodies import WrapBody
from scenes.stage.camera import Camera
from scenes.stage.ground import GroundPattern
from scenes.stage.maps import TUBE_ROUNDING
from scenes.stage.outline import Outline, rod_outline
from scenes.stage.stage import Lighting, lighting
from scenes.stage.wrap_mesh import MESH_POINTS, wrap_shape

__all__ = [
    "LONGEST_SIDE",
    "Blobs",
    "Json",
    "body_json",
    "bounded",
    "camera_json",
    "light_json",
    "looks_json",
    "maps_json",
    "numbers",
    "slopes_json",
    "unpacking_json",
    "wrap_json",
]

LONGEST_SIDE = 4096
"""Texels of a side of a map at most: what every WebGL2 browser in use draws (from memory)."""

_BYTE = 255

_CARD_FIGURES = 5
"""Figures of a card's points: hundredths of a millimetre."""

Json = dict[str, Any]


class Blobs(Protocol):
    """Keeps bulk data, and names it by what is in it."""

    def picture(self, image: NDArray[np.uint8]) -> str:
        """Keep a map, (height, width, 3), and return its name.

        Parameters
        ----------
        image : (height, width, 3) uint8
        """

    def columns(self, whole: NDArray[np.integer]) -> str:
        """Keep whole numbers, (n, k), and return their name.

        Parameters
        ----------
        whole : (n, k) integer
        """


def bounded(body: WrapBody) -> WrapBody:
    """Thin a wrap so that its maps fit into a texture.

    Parameters
    ----------
    body : WrapBody
    """
    stride = 1
    while max(body.surface.shape) > LONGEST_SIDE * stride and body.surface.divides_by(2 * stride):
        stride *= 2
    if stride == 1:
        return body
    return replace(
        body,
        surface=body.surface.thinned(stride),
        beneath=body.beneath.thinned(stride),
        outside=None if body.outside is None else body.outside.thinned(stride),
    )


def unpacking_json() -> Json:
    """Constants that a browser unpacks and shows all stages with."""
    return {
        "slopeKnee": SLOPE_KNEE,
        "outsideKnee": OUTSIDE_KNEE,
        "mostSlope": MOST_SLOPE,
        "tubeRounding": TUBE_ROUNDING / _BYTE,
        "lightSide": SIDE,
        "lightIor": FINISH.ior,
        "lightCodes": CODES,
        "lightLowCodes": LOW_CODES,
        "tone": {"exposure": tone.EXPOSURE, "linearTo": tone.LINEAR_TO, "white": tone.WHITE},
    }


def maps_json(maps: PackedMaps, blobs: Blobs) -> Json:
    """Maps of a wrap.

    Places across rows are a column round the wrap, station by station: their differences are nearly
    constant, so they take a third less room than as a channel of the picture beside them.

    Parameters
    ----------
    maps : PackedMaps
    blobs : Blobs
    """
    nz, nt = maps.shape
    rows = maps.rows.copy()
    rows[..., 0] = 0
    high = maps.threads_high
    return {
        "size": (nt, nz),
        "textures": (near_power_of_two(nt), near_power_of_two(nz)),
        "threads": blobs.picture(maps.threads),
        "threadsHigh": None if high is None else blobs.picture(high),
        "reach": blobs.picture(maps.reach),
        "rows": blobs.picture(rows),
        "places": blobs.columns(maps.rows[..., 0].reshape(-1, 1)),
        "thickest": maps.thickest,
        **slopes_json(maps, blobs, (0, 0, 0)),
    }


def slopes_json(maps: PackedMaps, blobs: Blobs, left_out: tuple[int, int, int]) -> Json:
    """Slopes of thread and of the outside, and thickness of the finish.

    Parameters
    ----------
    maps : PackedMaps
    blobs : Blobs
    left_out : (int, int, int)
        Bits that are left out of the slopes of thread, of those of the outside, and of thickness.
    """
    threads, outside, thickness = left_out
    share = np.zeros((*maps.shape, 3), np.uint8)
    share[..., 0] = fewer_bits(maps.thickness, 8 - thickness)
    return {
        "slopes": blobs.picture(code_image(coarser(maps.slopes, threads))),
        "outside": blobs.picture(code_image(coarser(maps.outside, outside))),
        "thickness": blobs.picture(share),
    }


def looks_json(looks: Looks) -> Json:
    """A table of four floats a look: mirror, then body, then thread.

    Parameters
    ----------
    looks : Looks
    """
    rows = np.zeros((3, len(looks.body), 4))
    rows[0], rows[1, :, :3], rows[2, :, :2] = looks.mirror, looks.body, looks.thread
    # All are bytes in the maps of the live picture, colours of sRGB: dark ones are coarse there.
    shares = np.rint(_BYTE * rows) / _BYTE
    rows[:2, :, :3] = from_bytes(to_bytes(rows[:2, :, :3]))
    rows[0, :, 3], rows[2] = shares[0, :, 3], shares[2]
    return {"count": len(looks.body), "rows": numbers(rows)}


def wrap_json(body: WrapBody, blobs: Blobs) -> Json:
    """Shape and scale of a wrap.

    Parameters
    ----------
    body : WrapBody
    blobs : Blobs
    """
    shape = wrap_shape(body, MESH_POINTS)
    nz, _ = body.surface.shape
    around = 2 * math.pi * float((body.outside or body.surface).radius.mean())
    return {
        "tube": _tube_json(packed_tube(shape), blobs),
        "ior": 1.0 if body.outside is None else body.finish_ior,
        "mapsPerMm": (1 / around, 1 / (nz * body.surface.step)),
    }


def _tube_json(tube: PackedTube, blobs: Blobs) -> Json:
    return {
        "size": tube.radii.shape,
        "radii": blobs.columns(tube.radii.reshape(-1, 1)),
        "low": tube.low,
        "step": tube.step,
        "start": tube.start,
        "end": tube.end,
    }


def body_json(mesh: PackedMesh, blobs: Blobs) -> Json:
    """A body of one appearance.

    Parameters
    ----------
    mesh : PackedMesh
    blobs : Blobs
    """
    return {
        "points": blobs.columns(mesh.points),
        "normals": blobs.columns(mesh.normals),
        "colours": blobs.columns(mesh.colours),
        "faces": blobs.columns(mesh.faces),
        "low": mesh.low,
        "step": mesh.step,
        "metallic": mesh.metallic,
        "roughness": mesh.roughness,
    }


def camera_json(camera: Camera) -> Json:
    """A camera.

    Parameters
    ----------
    camera : Camera
    """
    return {
        "position": camera.position,
        "target": camera.target,
        "up": camera.up,
        "angle": camera.view_angle,
        "distance": camera.distance,
    }


def light_json(plan: Plan, spec: LightSpec, camera: Camera, aspect: float, blobs: Blobs) -> Json:
    """A light, ready to be moved, and the card behind the rod in it.

    The sharpest map comes without the card, which stays where it is when the light is moved; the
    blurred ones come with it.

    Parameters
    ----------
    plan : Plan
    spec : LightSpec
    camera : Camera
        The card ends just outside its picture.
    aspect : float
        Width over height of the picture.
    blobs : Blobs
    """
    lit = lighting(plan, spec, camera, aspect)
    sharp = prefiltered(lit.radiance, FINISH.ior, levels=(0,))
    blurred = kept_light(lit.surroundings, FINISH.ior)[1:]
    maps = [
        {
            "high": blobs.picture(packed.high),
            "low": blobs.picture(packed.low),
            "stops": (packed.darkest, packed.brightest),
        }
        for packed in (*packed_light(sharp), *packed_light(blurred, 1))
    ]
    return {
        "maps": maps,
        "mean": numbers(mean_radiance(lit.radiance)),
        "turn": spec.turn,
        "card": _card_json(lit, rod_outline(plan), blobs),
    }


def _card_json(lit: Lighting, rod: Outline, blobs: Blobs) -> Json:
    """The card and the rod before it; and what the rod sees: first point, last, half the width."""
    profile, seen = lit.card.points[:, 0, 1:], lit.in_picture.points[:, 0, 1:]
    ground = {} if lit.card.ground is None else {"ground": _ground_json(lit.card.ground, blobs)}
    first = int(np.flatnonzero((profile == seen[0]).all(axis=1))[0])
    return {
        "profile": numbers(lit.card.points[:, 0, 1:], _CARD_FIGURES),
        "strips": numbers(lit.card.strips, _CARD_FIGURES),
        "columns": (lit.card.radiance.shape[1] - 1) // (len(lit.card.strips) - 1),
        "seen": (first, first + len(seen) - 1, float(lit.in_picture.points[..., 0].max())),
        "albedo": lit.card.albedo,
        "rod": {"start": rod.start, "step": rod.step, "radius": rod.radius},
        **ground,
    }


def _ground_json(ground: GroundPattern, blobs: Blobs) -> Json:
    """The pattern of a card: one tile of it, and its colours divided by their mean."""
    dark, light = ground.relative
    shares = np.repeat(ground.shares[..., None], 3, axis=-1)
    return {"shares": blobs.picture(shares), "size": ground.size, "dark": dark, "light": light}


def numbers(array: NDArray[np.floating], figures: int = 7) -> list[float]:
    """Numbers with so many significant figures; by default as many as a float32 has.

    Parameters
    ----------
    array : (...) float
    figures : int

    Returns
    -------
    list of float
        In the order of memory.
    """
    return [float(f"{number:.{figures}g}") for number in array.ravel().tolist()]
