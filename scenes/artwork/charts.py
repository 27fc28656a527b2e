"""Charts: small pictures with one pixel for each crossing of threads; read, made and changed."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from materials.colour import format_hex, linear_to_lab, parse_hex, srgb_to_linear
from materials.difference import delta_e_2000
from materials.thread import Thread

__all__ = [
    "MOST_COLOURS",
    "MOST_SIDE",
    "WARP",
    "Run",
    "colour_indices",
    "colours_of",
    "flipped",
    "nearest_threads",
    "recoloured",
    "reduced",
    "runs_of",
    "tiled",
]

Image8 = NDArray[np.uint8]
Index = NDArray[np.intp]

WARP = ""
"""Stands for a clear pixel in lists of colours: the warp is on top."""

MOST_SIDE = 400
"""Most pixels along a side of a chart: 70 mm of the finest thread."""

MOST_COLOURS = 24
"""Most colours of one chart."""

_CLEAR = 128
"""Alpha below which a pixel counts as clear."""


@dataclass(frozen=True, slots=True)
class Run:
    """Adjacent crossings of a row with the same thread on top.

    Parameters
    ----------
    count : int
        Number of crossings.
    thread : int
        Number of the thread.
    """

    count: int
    thread: int


def colours_of(pixels: Image8) -> tuple[str, ...]:
    """List the colours of a chart, the most frequent first.

    Parameters
    ----------
    pixels : (h, w, 4) uint8

    Returns
    -------
    tuple of str
        As ``#rrggbb``; `WARP` stands for clear pixels.
    """
    values, count = np.unique(_packed(pixels), return_counts=True)
    order = np.argsort(-count, kind="stable")
    return tuple(_named(int(values[i])) for i in order)


def colour_indices(pixels: Image8, colours: Sequence[str]) -> Index:
    """Give the number of each pixel's colour.

    Parameters
    ----------
    pixels : (h, w, 4) uint8
    colours : sequence of str
        As from `colours_of`.

    Returns
    -------
    (h, w) int
        Position in `colours`; -1 for a colour that is not among them.
    """
    packed = _packed(pixels)
    result = np.full(packed.shape, -1, np.intp)
    for number, colour in enumerate(colours):
        result[packed == _value(colour)] = number
    return result


def runs_of(row: Index) -> tuple[Run, ...]:
    """Group adjacent equal crossings of a row, from left to right.

    Parameters
    ----------
    row : (w,) int
        Numbers of threads.
    """
    return tuple(Run(len(list(same)), int(key)) for key, same in itertools.groupby(row.tolist()))


def _packed(pixels: Image8) -> NDArray[np.int64]:
    wide = pixels.astype(np.int64)
    packed = (wide[..., 0] << 16) | (wide[..., 1] << 8) | wide[..., 2]
    return np.where(wide[..., 3] < _CLEAR, -1, packed)


def _value(colour: str) -> int:
    return -1 if colour == WARP else int(colour[1:], 16)


def _named(value: int) -> str:
    return WARP if value < 0 else f"#{value:06x}"


# ---- Making charts


def reduced(
    pixels: Image8, columns: int, rows: int, threads: Sequence[Thread], count: int
) -> tuple[Image8, tuple[Thread, ...]]:
    """Reduce a picture to a chart in the colours of a few threads.

    The threads minimise the sum of CIEDE2000 [Sharma2005] over all crossings, as far as a search
    that exchanges one thread at a time finds.

    Parameters
    ----------
    pixels : (h, w, 4) uint8
    columns, rows : int
        Crossings across and up.
    threads : sequence of Thread
        Threads to choose from.
    count : int
        Most threads to use.

    Returns
    -------
    chart : (rows, columns, 4) uint8
    threads : tuple of Thread
        Those used, the most frequent first.
    """
    from PIL import Image

    image = Image.fromarray(pixels).convert("RGBa").resize((columns, rows), Image.Resampling.BOX)
    small = np.asarray(image.convert("RGBA"))
    clear = small[..., 3] < _CLEAR
    wanted, where = np.unique(small[~clear][:, :3], axis=0, return_inverse=True)
    weight = np.bincount(where.ravel(), minlength=len(wanted)).astype(np.float64)
    distances = _distances(wanted, threads)
    chosen = _best_columns(distances * weight[:, None], min(count, len(threads)))
    chart = np.zeros_like(small)
    if not len(wanted):
        return chart, ()
    picked = np.array(chosen)[np.argmin(distances[:, chosen], axis=1)][where.ravel()]
    palette = np.array([_bytes(thread.colour) for thread in threads], np.uint8)
    chart[~clear, :3] = palette[picked]
    chart[~clear, 3] = 255
    used, times = np.unique(picked, return_counts=True)
    return chart, tuple(threads[i] for i in used[np.argsort(-times, kind="stable")])


def _best_columns(far: NDArray[np.float64], count: int) -> list[int]:
    """Choose columns so that the sum of each row's smallest entry is small.

    Columns are added one by one, then exchanged one by one.

    Parameters
    ----------
    far : (n, k) float
    count : int
        Most columns; fewer if more do not help.
    """
    chosen: list[int] = []
    least = np.full(len(far), np.inf)
    for _ in range(count):
        totals = np.minimum(least[:, None], far).sum(axis=0)
        best = int(np.argmin(totals))
        if best in chosen:
            break
        chosen.append(best)
        least = np.minimum(least, far[:, best])
    total = float(least.sum())
    better = True
    while better and len(chosen) > 1:
        better = False
        for place in range(len(chosen)):
            rest = far[:, chosen[:place] + chosen[place + 1 :]].min(axis=1)
            totals = np.minimum(rest[:, None], far).sum(axis=0)
            best = int(np.argmin(totals))
            if totals[best] < total * (1 - 1e-9):
                chosen[place], total, better = best, float(totals[best]), True
    return chosen


def nearest_threads(colours: Sequence[str], threads: Sequence[Thread]) -> tuple[Thread, ...]:
    """Find the thread nearest to each colour, by CIEDE2000.

    Parameters
    ----------
    colours : sequence of str
        As ``#rrggbb``.
    threads : sequence of Thread
        Threads to choose from.
    """
    wanted = np.array([_bytes(colour) for colour in colours], np.uint8)
    return tuple(threads[i] for i in np.argmin(_distances(wanted, threads), axis=1).tolist())


def recoloured(pixels: Image8, changes: dict[str, str]) -> Image8:
    """Replace colours of a chart.

    Parameters
    ----------
    pixels : (h, w, 4) uint8
    changes : dict
        New colour by old one, as ``#rrggbb``; `WARP` for clear.

    Returns
    -------
    (h, w, 4) uint8
    """
    result = pixels.copy()
    packed = _packed(pixels)
    for old, new in changes.items():
        at = packed == _value(old)
        result[at] = (0, 0, 0, 0) if new == WARP else (*_bytes(new), 255)
    return result


def flipped(pixels: Image8, *, upright: bool) -> Image8:
    """Mirror a chart.

    Parameters
    ----------
    pixels : (h, w, 4) uint8
    upright : bool
        Whether top and bottom are exchanged, instead of left and right.

    Returns
    -------
    (h, w, 4) uint8
    """
    return np.ascontiguousarray(pixels[::-1] if upright else pixels[:, ::-1])


def tiled(pixels: Image8, up: int, beside: int) -> Image8:
    """Repeat a chart.

    Parameters
    ----------
    pixels : (h, w, 4) uint8
    up, beside : int
        Number of copies above and beside each other.

    Returns
    -------
    (up h, beside w, 4) uint8
    """
    return np.tile(pixels, (up, beside, 1))


def _bytes(colour: str) -> tuple[int, int, int]:
    red, green, blue = np.rint(255 * parse_hex(format_hex(parse_hex(colour)))).astype(int).tolist()
    return red, green, blue


def _distances(colours: Image8, threads: Sequence[Thread]) -> NDArray[np.float64]:
    """CIEDE2000 from each of (n, 3) sRGB colours to each thread's swatch, (n, k)."""
    lab = linear_to_lab(srgb_to_linear(colours.reshape(-1, 3) / 255))
    swatches = linear_to_lab(np.array([thread.linear_rgb for thread in threads]))
    return np.asarray(delta_e_2000(lab[:, None, :], swatches[None, :, :]))
