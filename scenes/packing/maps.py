"""The maps of a wrap packed as bytes: 2 MB instead of 60 MB.

Indices of looks, the direction of thread and the run of rows are kept exactly: the place across a
row moves the light on it. Visibility has 6 bits, which change a picture less than its rounding does
and take half the room. Slopes, the largest part, are companded to 9 bits each, and their square is
computed on unpacking. The outside of the finish is 0 for a dry wrap; its thickness is a map of its
own, because one predictor for slopes and thickness compresses both badly.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.kept import KEPT
from materials.colour import to_bytes
from scenes.packing.companding import companded, expanded
from scenes.packing.looks import Looks, index_looks
from scenes.stage.bodies import WrapBody
from scenes.stage.borders import ON_TUBE
from scenes.stage.maps import TUBE_ROUNDING, SurfaceMaps, surface_maps

__all__ = [
    "OUTSIDE_KNEE",
    "SLOPE_KNEE",
    "PackedMaps",
    "fewer_bits",
    "have_common_maps",
    "packed",
    "unpacked",
]

SLOPE_KNEE = 0.5
"""Knee of thread slopes: steps of 0.002 (an eighth of a degree) at slope 0.

The roughness of thread hides them, and steps twice as wide nearly everywhere; but not in a small
lamp on smooth thread."""

OUTSIDE_KNEE = 0.15
"""Knee of the slopes of the outside: steps of 0.0006, because it is a mirror."""

Bytes = NDArray[np.uint8]

_VISIBILITY_BITS = 6


@dataclass(frozen=True, slots=True)
class PackedMaps:
    """Maps of (nz, nt) texels; theta is periodic.

    Parameters
    ----------
    threads : (nz, nt, 3) uint8
        Index of the look, index of the neighbour's, and the share of the neighbour times 255.
    threads_high : (nz, nt, 3) uint8 or None
        Upper bytes of the indices, and 0; None for at most 256 looks.
    reach : (nz, nt, 3) uint8
        Visibility and thread direction as in `SurfaceMaps.thread`, visibility in steps of 1 / 63;
        the fourth channel of `SurfaceMaps.rows`.
    rows : (nz, nt, 3) uint8
        The first three channels of `SurfaceMaps.rows`.
    slopes : (nz, nt, 2) uint16
        Codes of hoop and axial slope (`scenes.packing.companding`).
    outside : (nz, nt, 2) uint16
        Codes of the outside's slopes.
    thickness : (nz, nt) uint8
        Thickness of the finish relative to `thickest`, times 255.
    thickest : float
        Greatest thickness of the finish, mm; 0 for a dry wrap.
    """

    threads: Bytes
    threads_high: Bytes | None
    reach: Bytes
    rows: Bytes
    slopes: NDArray[np.uint16]
    outside: NDArray[np.uint16]
    thickness: Bytes
    thickest: float

    @property
    def shape(self) -> tuple[int, int]:
        """Stations and angles, (nz, nt)."""
        nz, nt, _ = self.threads.shape
        return nz, nt


def have_common_maps(first: SurfaceMaps, second: SurfaceMaps) -> bool:
    """Tell whether two wraps have the same maps apart from their looks and finish.

    Parameters
    ----------
    first, second : SurfaceMaps
    """
    if first.slopes.shape != second.slopes.shape:
        return False
    pairs = (
        (first.slopes, second.slopes),
        (first.rows, second.rows),
        (first.thread[..., 2:], second.thread[..., 2:]),
    )
    return all(np.array_equal(left, right) for left, right in pairs)


def packed(
    bodies: Sequence[WrapBody], maps: SurfaceMaps | None = None
) -> tuple[PackedMaps, tuple[Looks, ...]]:
    """Pack the common maps of some wraps.

    Parameters
    ----------
    bodies : sequence of WrapBody
        At least one, with common maps (`have_common_maps`); the first has the finish if any has.
    maps : SurfaceMaps, optional
        Maps of the first body, if they exist already.

    Returns
    -------
    maps : PackedMaps
    looks : tuple of Looks
        One for each body.
    """
    first = bodies[0]
    shape = _kept_shape(first) if maps is None else _shape_of(first, maps)
    looks = index_looks(bodies)
    numbers = np.stack((looks.own, looks.other), axis=-1)
    high = _with(numbers >> 8, 0) if numbers.max() > 255 else None
    packed_maps = PackedMaps(
        threads=_with(numbers & 255, looks.share),
        threads_high=high,
        reach=shape.reach,
        rows=shape.rows,
        slopes=shape.slopes,
        outside=shape.outside,
        thickness=shape.thickness,
        thickest=shape.thickest,
    )
    return packed_maps, looks.tables


def unpacked(maps: PackedMaps, looks: Looks) -> SurfaceMaps:
    """Unpack maps for a renderer; every host repeats this arithmetic.

    Parameters
    ----------
    maps : PackedMaps
    looks : Looks

    Returns
    -------
    SurfaceMaps
    """
    numbers = maps.threads[..., :2].astype(np.intp)
    if maps.threads_high is not None:
        numbers += maps.threads_high[..., :2].astype(np.intp) << 8
    own, other = numbers[..., 0], numbers[..., 1]
    share = maps.threads[..., 2, None].astype(np.float32) / np.float32(255)
    mirror = looks.mirror[own] * (1 - share) + looks.mirror[other] * share
    body = looks.body[own] * (1 - share) + looks.body[other] * share
    thread = np.rint(255 * looks.thread).astype(np.uint8)[own]
    thread[..., 1][maps.reach[..., 2] >= ON_TUBE] = TUBE_ROUNDING
    slopes = expanded(maps.slopes, SLOPE_KNEE)
    square = (slopes * slopes).sum(axis=-1, keepdims=True)
    thickness = maps.thickness[..., None].astype(np.float32) * np.float32(maps.thickest / 255)
    coat = expanded(maps.outside, OUTSIDE_KNEE)
    metallic = np.rint(255 * mirror[..., 3:]).astype(np.uint8)
    return SurfaceMaps(
        slopes=np.concatenate((slopes, square), axis=-1),
        mirror=np.concatenate((to_bytes(mirror[..., :3]), metallic), axis=-1),
        body=to_bytes(body),
        thread=np.concatenate((thread, maps.reach[..., :2]), axis=-1),
        outside=np.concatenate((coat, thickness), axis=-1),
        rows=np.concatenate((maps.rows, maps.reach[..., 2:]), axis=-1),
    )


def fewer_bits(shares: Bytes, bits: int) -> Bytes:
    """Shares in fewer steps: they take less room, and are read as before.

    Parameters
    ----------
    shares : (...) uint8
        0 to 1 as 0 to 255.
    bits : int
        Bits that are left, 1 to 8; 0 and 1 stay what they are.

    Returns
    -------
    (...) uint8
    """
    last = (1 << bits) - 1
    levels = np.arange(256) / 255
    return np.rint(np.rint(levels * last) / last * 255).astype(np.uint8)[shares]


@dataclass(frozen=True, slots=True)
class _Shape:
    """What is the same in whatever colours: the fields of `PackedMaps` without the looks."""

    reach: Bytes
    rows: Bytes
    slopes: NDArray[np.uint16]
    outside: NDArray[np.uint16]
    thickness: Bytes
    thickest: float


def _kept_shape(body: WrapBody) -> _Shape:
    """Pack the shape of a wrap, or take what was kept of it.

    Of a palette it depends on the facets of metallic threads alone.
    """
    sparkle = tuple(look.sparkle for look in body.palette)
    return KEPT.result(
        "packed shape",
        (body.surface, body.outside, sparkle, body.row_width),
        lambda: _shape_of(body, _maps_of(body)),
        points=body.surface.radius.size,
    )


def _shape_of(body: WrapBody, maps: SurfaceMaps) -> _Shape:
    outside = maps.outside
    if body.outside is None:
        outside = np.zeros_like(outside)
    thickest = float(outside[..., 2].max())
    thickness = np.clip(outside[..., 2] / (thickest or 1), 0, 1)
    reach = _with(maps.thread[..., 2:], maps.rows[..., 3])
    reach[..., 0] = fewer_bits(reach[..., 0], _VISIBILITY_BITS)
    return _Shape(
        reach=reach,
        rows=np.ascontiguousarray(maps.rows[..., :3]),
        slopes=companded(maps.slopes[..., :2], SLOPE_KNEE),
        outside=companded(outside[..., :2], OUTSIDE_KNEE),
        thickness=np.rint(255 * thickness).astype(np.uint8),
        thickest=thickest,
    )


def _maps_of(body: WrapBody) -> SurfaceMaps:
    return surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)


def _with(two: NDArray[np.generic], third: NDArray[np.generic] | int) -> Bytes:
    """Three channels as bytes, from two and one."""
    result = np.empty((*two.shape[:2], 3), np.uint8)
    result[..., :2], result[..., 2] = two, third
    return result
