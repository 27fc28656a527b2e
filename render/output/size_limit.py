"""Films that fit a size limit: dimensions and frames are lowered until the file is small enough.

Frames are drawn once, at full size, and scaled down. To lower their number, every second, third or
nth frame is kept, so that no frame needs to be drawn again.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Protocol

import numpy as np
from PIL import Image

from materials.toml_text import named
from render.common.file_size import megabytes
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.output.film import MAX_BYTES_IN_MEMORY, Film, Picture
from render.request.subject import Pixels, Size

__all__ = ["Frames", "check_held", "check_limit", "fit", "scaled", "smaller", "writing_steps"]

_MIN_MB, _MAX_MB = 0.01, 10_000.0
_MB = 1_000_000

_SCALE_BEFORE_FRAMES = 0.62
"""Frames are left out only when the sides would be shorter than this share of the full size."""

_MIN_FRAMES = 12
_MIN_SCALE = 0.25
_MIN_WIDTH = 240
"""Lower bounds: frames in a turn, share of the full sides, and width in pixels. A film that was
requested with less keeps what it has."""

_MIN_DENSITY = 0.3
"""Lower bound of bytes per pixel of a large frame, relative to those of the smallest."""

_AIM = 0.97
"""Share of the limit that the next attempt aims for."""

_FRAMES_A_STEP = 5
"""Frames that are scaled and encoded, over all attempts, in about the time of drawing one."""

_MAX_STEP = 0.92
"""Maximum share of pixels that the next attempt keeps."""


class Frames(Protocol):
    """Frames of one turn at any smaller scale."""

    def size(self, scale: float) -> Size:
        """Width and height at a scale, pixels.

        Parameters
        ----------
        scale : float
            Factor of both sides, 0 to 1.
        """

    def picture(self, number: int, scale: float) -> Pixels:
        """Picture of a frame at a scale.

        Parameters
        ----------
        number : int
            Frame, from 0.
        scale : float
            Factor of both sides, 0 to 1.
        """


def check_limit(max_mb: float, path: Path, suffixes: tuple[str, ...]) -> None:
    """Check a limit of a file's size.

    Parameters
    ----------
    max_mb : float
        Limit in megabytes of 1,000,000 bytes.
    path : Path
    suffixes : tuple of str
        Formats that can be made smaller.

    Raises
    ------
    RequestProblem
        If the limit is out of range, or the file's format cannot be made smaller.
    """
    # Written so that NaN is refused too.
    if not _MIN_MB <= max_mb <= _MAX_MB:
        raise RequestProblem(
            f"max-mb: {max_mb:g} is not between {_MIN_MB:g} and {_MAX_MB:g}; give the most "
            "megabytes that the file may have, such as 2."
        )
    if path.suffix.casefold() not in suffixes:
        raise RequestProblem(
            f"max-mb: only a moving picture is made to fit, and {named(path)} is none; leave "
            "--max-mb out, or give a name that ends in .gif."
        )


def check_held(frames: int, size: Size, panels: int = 1) -> None:
    """Check that all frames fit in memory.

    Parameters
    ----------
    frames : int
        Number of frames.
    size : (int, int)
        Of a panel, pixels.
    panels : int, optional
        In each frame.

    Raises
    ------
    RequestProblem
        If they do not.
    """
    held = frames * panels * size[0] * size[1] * 3
    if held > MAX_BYTES_IN_MEMORY:
        each = f"{panels} x " if panels > 1 else ""
        raise RequestProblem(
            f"frames: {frames} of {each}{size[0]}x{size[1]} are more than fit in memory; give "
            f"{frames * MAX_BYTES_IN_MEMORY // held} or fewer, or a smaller size."
        )


def writing_steps(frames: int) -> int:
    """Number of steps of progress of `fit`, beside those of drawing the frames.

    Parameters
    ----------
    frames : int
        Number of frames.
    """
    return max(1, frames // _FRAMES_A_STEP)


def fit(
    write: Callable[[Picture, Film], int],
    film: Film,
    frames: Frames,
    max_mb: float,
    progress: Progress,
) -> Film:
    """Write the largest film that a limit allows.

    Parameters
    ----------
    write : callable
        Writes a film, overwrites an earlier one, and returns its size in bytes; such as a
        `render.output.film.FilmFile`.
    film : Film
        The requested film.
    frames : Frames
        Its pictures.
    max_mb : float
        Maximum size of the file, megabytes.
    progress : Progress
        Shows each attempt; advanced by `writing_steps` in all.

    Returns
    -------
    Film
        The film that was written.

    Raises
    ------
    RequestProblem
        If even the smallest film does not fit.
    """
    limit = int(max_mb * _MB)
    left = float(writing_steps(film.frames))

    def attempt(scale: float, kept: int) -> tuple[Film, int]:
        # How many attempts there will be is not known: each takes half of what is left of the bar.
        nonlocal left
        left -= (part := left / 2)
        written = replace(film, size=frames.size(scale), frames=kept)
        stride = film.frames // kept
        wide, high = written.size

        def picture(number: int) -> Pixels:
            progress.describe(f"writing {wide}x{high}, {kept} frames")
            pixels = frames.picture(number * stride, scale)
            progress.advance(part / kept)
            return pixels

        return written, write(picture, written)

    # The smallest first: it needs the fewest frames, so an impossible limit is refused early.
    least = _min_scale(film)
    smallest, least_bytes = attempt(least, _frame_counts(film)[-1])
    if least_bytes > limit:
        wide, high = smallest.size
        raise RequestProblem(
            f"max-mb: {max_mb:g} MB cannot be reached; the smallest, {wide}x{high} with "
            f"{smallest.frames} frames, has {megabytes(least_bytes)}."
        )
    density = _MIN_DENSITY * least_bytes / _pixels(smallest)
    share = min(1.0, limit / (density * _pixels(film)))
    while True:
        scale, kept = _shape(film, share, least)
        written, size = attempt(scale, kept)
        if size <= limit:
            progress.advance(left)
            return written
        share = min(share, _pixels(written) / _pixels(film)) * min(_MAX_STEP, _AIM * limit / size)


def smaller(size: Size, scale: float) -> Size:
    """Scale a size down to even numbers, as an MP4 needs; a scale of 1 or more changes nothing.

    Parameters
    ----------
    size : (int, int)
        Pixels.
    scale : float
        Factor of both sides.
    """
    if scale >= 1:
        return size
    wide, high = (2 * max(8, round(side * scale / 2)) for side in size)
    return wide, high


def scaled(pixels: Pixels, size: Size) -> Pixels:
    """Scale a picture down.

    Parameters
    ----------
    pixels : (height, width, 3) uint8
    size : (int, int)
        Width and height of the result, pixels.
    """
    if pixels.shape[1::-1] == size:
        return pixels
    return np.asarray(Image.fromarray(pixels).resize(size, Image.Resampling.LANCZOS))


def _pixels(film: Film) -> int:
    return film.size[0] * film.size[1] * film.frames


def _frame_counts(film: Film) -> list[int]:
    """Possible numbers of evenly spread frames, largest first."""
    fewest = min(_MIN_FRAMES, film.frames)
    parts = range(1, film.frames // fewest + 1)
    return [film.frames // part for part in parts if film.frames % part == 0]


def _min_scale(film: Film) -> float:
    return min(1.0, max(_MIN_SCALE, _MIN_WIDTH / film.size[0]))


def _shape(film: Film, share: float, least: float) -> tuple[float, int]:
    """Scale and number of frames for a share of the pixels; the scale is lowered first."""
    for kept in _frame_counts(film):
        scale = min(1.0, math.sqrt(share * film.frames / kept))
        if scale >= max(_SCALE_BEFORE_FRAMES, least):
            return scale, kept
    return max(scale, least), kept
