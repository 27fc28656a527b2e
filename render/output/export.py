"""Export of the wrap: GLB with its look for viewers, STL and PLY for measuring and printing."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray

from geometry.bodies.solid import solid
from geometry.grid import Detail
from materials.colour import linear_to_srgb
from render.common.files import check_suffix, replacing
from render.common.progress import Progress
from render.common.tags import Tag
from render.gltf.model import forecast_model, model_of
from scenes.building.build import Plan, Wrap

__all__ = ["STEPS", "SUFFIXES", "Exported", "forecast", "save_mesh"]

_GLB = ".glb"

SUFFIXES = (_GLB, ".stl", ".ply")

STEPS = 2
"""Steps of progress of `save_mesh`."""

_STL_HEADER = 80

_BYTES = {".stl": (0, 50), ".ply": (16, 13)}
"""Bytes of a vertex and of a triangle in each format.

STL: a normal and three corners as floats, and two bytes. PLY: position as three floats and a colour
of four bytes; a count of one byte and three indices of four bytes.
"""


@dataclass(frozen=True, slots=True)
class Exported:
    """A mesh that was written.

    Parameters
    ----------
    unit : str
        Unit of length in the file.
    triangles : int
        Number of triangles.
    textures : tuple of (int, int), optional
        Width and height of the textures of each wrapped length, texels.
    """

    unit: str
    triangles: int
    textures: tuple[tuple[int, int], ...] = ()


def forecast(plan: Plan, detail: Detail, suffix: str) -> tuple[int, int]:
    """Predict the size of the mesh of a wrap, without building it.

    Parameters
    ----------
    plan : Plan
    detail : Detail
        Resolution at which the wrap will be built.
    suffix : str
        One of `SUFFIXES`.

    Returns
    -------
    triangles, size : int
        Number of triangles, and bytes without the file's header of up to two thousand bytes. Of
        GLB about, because textures are compressed.
    """
    if suffix == _GLB:
        return forecast_model(plan, detail)
    grid = plan.grid(detail)
    stations, angles = grid.z.size, grid.theta.size
    # Two triangles to each cell of the grid, and a fan at each end round a vertex of its own.
    triangles = 2 * angles * (stations - 1) + 2 * angles
    each_vertex, each_triangle = _BYTES[suffix]
    return triangles, each_vertex * (stations * angles + 2) + each_triangle * triangles


def save_mesh(wrap: Wrap, path: Path, progress: Progress | None = None) -> Exported:
    """Write the wrap as it is seen, or without its finish as a closed mesh.

    Parameters
    ----------
    wrap : Wrap
    path : Path
        GLB: as it is seen (`render.gltf.model`), in metres and y up, as in [GLTF2], section 3.4;
        the rod along x and the middle of the wrap at the origin. STL and PLY: the mesh in mm, z
        along the rod from the butt, the guide line at +x.
    progress : Progress, optional
        Advanced by `STEPS`.

    Returns
    -------
    Exported

    Raises
    ------
    RequestProblem
        If the file cannot be written.
    """
    progress = progress or Progress.none()
    suffix = check_suffix(path, SUFFIXES)
    tag = Tag.of(wrap.design)
    with replacing(path) as file:
        progress.describe("mesh")
        if suffix == _GLB:
            model = model_of(wrap, tag)
            progress.advance()
            progress.describe("file")
            file.write_bytes(model.data)
            written = Exported("m", model.triangles, model.textures)
        else:
            mesh = solid(wrap.surface)
            progress.advance()
            progress.describe("file")
            _WRITERS[suffix](file, mesh, wrap, tag)
            written = Exported("mm", len(mesh.faces))
        progress.advance()
    return written


def _colours(wrap: Wrap) -> NDArray[np.float64]:
    """Linear RGB of each vertex of the solid, (n, 3): first the grid's, then the two end centres.

    The colour of a metal is its reflectance at normal incidence.
    """
    palette = np.array([appearance.base_colour for appearance in wrap.palette])
    material = wrap.surface.material
    ends = [material[0, 0], material[-1, 0]]
    return palette[np.concatenate((material.ravel(), ends))]


def _bytes(share: NDArray[np.float64]) -> NDArray[np.uint8]:
    return np.rint(255 * np.clip(share, 0, 1)).astype(np.uint8)


def _write_stl(path: Path, mesh: trimesh.Trimesh, wrap: Wrap, tag: Tag) -> None:
    data = bytearray(trimesh.exchange.stl.export_stl(mesh))
    title = f"mm | {tag.line}".encode("ascii", "replace")
    data[:_STL_HEADER] = title[:_STL_HEADER].ljust(_STL_HEADER)
    path.write_bytes(data)


def _write_ply(path: Path, mesh: trimesh.Trimesh, wrap: Wrap, tag: Tag) -> None:
    srgb = _bytes(linear_to_srgb(_colours(wrap)))
    mesh.visual = trimesh.visual.ColorVisuals(mesh, vertex_colors=srgb)
    data = trimesh.exchange.ply.export_ply(mesh)
    line = json.dumps(f"mm | {tag.line}").strip('"')
    first = data.index(b"\n", data.index(b"format")) + 1
    path.write_bytes(data[:first] + f"comment {line}\n".encode("ascii") + data[first:])


_WRITERS: dict[str, Callable[[Path, trimesh.Trimesh, Wrap, Tag], None]] = {
    ".stl": _write_stl,
    ".ply": _write_ply,
}
