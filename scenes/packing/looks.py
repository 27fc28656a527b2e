"""The look of each texel of a wrap, as an index into a table of looks.

A texel also has the index of a neighbour that covers part of it, and its share. Wraps that differ
only in their looks (other threads in the same places, or the same wrap dry) share the indices; each
wrap has its own table.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from materials.appearance import Appearance
from scenes.stage.bodies import WrapBody
from scenes.stage.edges import sides_of
from scenes.stage.maps import row_rounding

__all__ = ["IndexedLooks", "Looks", "index_looks"]


@dataclass(frozen=True, slots=True)
class Looks:
    """A table of looks.

    Parameters
    ----------
    mirror : (n, 4) float32
        Linear mirror tint times metallic, then metallic.
    body : (n, 3) float32
        Linear body colour times (1 - metallic).
    thread : (n, 2) float32
        Perceptual roughness along the thread, and rounding of the rows (`row_rounding`).
    """

    mirror: NDArray[np.float32]
    body: NDArray[np.float32]
    thread: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class IndexedLooks:
    """Indices of looks for each texel, and the tables.

    Parameters
    ----------
    own, other : (nz, nt) uint16
        Index of the look, and of the neighbour's where the side of a thread runs through the texel;
        equal elsewhere.
    share : (nz, nt) uint8
        Share of the texel that the other look covers, times 255.
    tables : tuple of Looks
        One for each wrap.
    """

    own: NDArray[np.uint16]
    other: NDArray[np.uint16]
    share: NDArray[np.uint8]
    tables: tuple[Looks, ...]


def index_looks(bodies: Sequence[WrapBody]) -> IndexedLooks:
    """Index the looks of wraps of one shape.

    Parameters
    ----------
    bodies : sequence of WrapBody
        At least one; they may differ only in palettes and materials.

    Returns
    -------
    Numbered
        Where two other threads reach into a texel, that with the greater share is kept.

    Raises
    ------
    ValueError
        If there are more than 65,536 looks.
    """
    own = np.zeros(bodies[0].surface.shape, np.int64)
    seen: list[NDArray[np.int64]] = [np.zeros((1, 0), np.int64)]
    for body in bodies:
        pairs = _pairs(body)
        count = int(pairs.max()) + 1
        both, own = _compact(own * count + pairs)
        seen.append(np.column_stack((seen[-1][both // count], both % count)))
    rows = seen[-1]
    if len(rows) > 1 << 16:
        raise ValueError(f"{len(rows)} looks are more than 65536")
    other, share = own, np.zeros(own.shape, np.float32)
    for body in bodies:
        beside, part = _beside(body, own)
        more = part > share
        other, share = np.where(more, beside, other), np.where(more, part, share)
    tables = tuple(_table(body, rows[:, place]) for place, body in enumerate(bodies))
    return IndexedLooks(
        own.astype(np.uint16),
        other.astype(np.uint16),
        np.rint(255 * share).astype(np.uint8),
        tables,
    )


def _beside(
    body: WrapBody, own: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
    """Index and share of the neighbouring thread that covers part of each texel."""
    printed = np.array([look.printed for look in body.palette])
    sides = sides_of(body.surface, body.row_width, printed)
    other, share = own.copy(), np.zeros(own.shape, np.float32)
    for station, beside, part in (
        (sides.below, sides.below + 1, -sides.share),
        (sides.below + 1, sides.below, sides.share),
    ):
        number, before = own[beside, sides.column], share[station, sides.column]
        # A thin thread has a neighbour on both sides, mostly the same.
        both = np.where(other[station, sides.column] == number, before, 0) + part
        cut = (part > 0) & (both > before)
        at = station[cut], sides.column[cut]
        other[at], share[at] = number[cut], both[cut]
    return other, share


def _pairs(body: WrapBody) -> NDArray[np.int64]:
    """One number for each pair of a material and the material seen through it, if any."""
    clear = np.array([look.translucency for look in body.palette]) > 0
    material = body.surface.material.astype(np.int64)
    under = np.where(clear[material], body.beneath.material + 1, 0)
    return np.asarray(material * (len(body.palette) + 1) + under)


def _compact(numbers: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The numbers that occur, ascending, and the position of each texel's number among them."""
    occurs = np.bincount(numbers.ravel()) > 0
    places = np.cumsum(occurs) - 1
    return np.flatnonzero(occurs), places[numbers]


def _table(body: WrapBody, pairs: NDArray[np.int64]) -> Looks:
    look = [_look_of(body.palette, *divmod(pair, len(body.palette) + 1)) for pair in pairs.tolist()]
    mirror, bodies, thread = (np.array(part, np.float32) for part in zip(*look, strict=True))
    return Looks(mirror, bodies, thread)


def _look_of(
    palette: tuple[Appearance, ...], top: int, under: int
) -> tuple[list[float], list[float], list[float]]:
    """Mirror, body and thread of a material; `under` counts from 1, and is 0 for none."""
    look = palette[top]
    colour = np.array(look.base_colour)
    if under:
        share = look.translucency
        colour = colour * (1 - share) + np.array(palette[under - 1].base_colour) * share
    tint = colour if look.mirror_colour is None else np.array(look.mirror_colour)
    return (
        [*(tint * look.metallic).tolist(), look.metallic],
        (colour * (1 - look.metallic)).tolist(),
        [look.roughness_along, row_rounding(look)],
    )
