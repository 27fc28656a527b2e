"""Shapes as whole numbers: a wrap as a grid of radii, other bodies as points on a lattice."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from materials.colour import to_bytes
from scenes.stage.bodies import PlainBody
from scenes.stage.wrap_mesh import WrapShape

__all__ = ["PackedMesh", "PackedTube", "packed_mesh", "packed_tube"]

_LATTICE = (1 << 16) - 1
"""Steps from the lowest to the highest number: 0.015 mm over a metre of rod; over a
radius, less than a wavelength of light."""

_NORMAL_STEPS = 127


@dataclass(frozen=True, slots=True)
class PackedTube:
    """A closed tube round the rod's axis.

    Parameters
    ----------
    radii : (nz, nt) uint16
        Steps above `low`; angles are evenly spaced, starting at the guide line.
    low, step : float
        Least radius and size of a step, mm.
    start, end : float
        Distances of the first and last stations from the butt, mm; stations are evenly spaced.
    """

    radii: NDArray[np.uint16]
    low: float
    step: float
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class PackedMesh:
    """Triangles of one appearance.

    Parameters
    ----------
    points : (n, 3) uint16
        Steps above `low`.
    low, step : 3 float
        Least coordinates and sizes of a step, mm.
    normals : (n, 3) int8
        Components times 127.
    colours : (n, 3) uint8
        sRGB.
    faces : (m, 3) int32
    metallic, roughness : float
        As in `materials.appearance.Appearance`.
    """

    points: NDArray[np.uint16]
    low: tuple[float, ...]
    step: tuple[float, ...]
    normals: NDArray[np.int8]
    colours: NDArray[np.uint8]
    faces: NDArray[np.int32]
    metallic: float
    roughness: float


def packed_tube(shape: WrapShape) -> PackedTube:
    """Pack the shape of a wrap.

    Parameters
    ----------
    shape : WrapShape
    """
    surface = shape.surface
    radii, low, step = _on_lattice(surface.radius.reshape(-1, 1))
    return PackedTube(
        radii.reshape(surface.shape),
        float(low[0]),
        float(step[0]),
        float(surface.z[0]),
        float(surface.z[-1]),
    )


def packed_mesh(body: PlainBody) -> PackedMesh:
    """Pack a body of one appearance; its colours include its tint.

    Parameters
    ----------
    body : PlainBody
    """
    look, mesh = body.appearance, body.mesh
    points, low, step = _on_lattice(mesh.points.astype(np.float64))
    colours = np.clip(body.tint * np.array(look.base_colour, np.float32), 0, 1)
    return PackedMesh(
        points,
        tuple(low.tolist()),
        tuple(step.tolist()),
        np.rint(_NORMAL_STEPS * mesh.normals).astype(np.int8),
        to_bytes(colours),
        mesh.faces,
        look.metallic,
        look.roughness_along,
    )


def _on_lattice(
    numbers: NDArray[np.float64],
) -> tuple[NDArray[np.uint16], NDArray[np.float64], NDArray[np.float64]]:
    """Columns as whole steps above their lowest number, with that number and the size of a step."""
    low, high = numbers.min(axis=0), numbers.max(axis=0)
    step = (high - low) / _LATTICE
    steps = np.divide(numbers - low, step, out=np.zeros_like(numbers), where=step > 0)
    return np.rint(steps).astype(np.uint16), low, step
