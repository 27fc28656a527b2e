"""Moving pictures made small enough to send: smaller and with fewer frames, until the file fits.

Frames are drawn once, at the size asked for, and scaled down from that. Of the frames every
second, third or further one is kept, so that each that is shown has been drawn for its place.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Protocol

import numpy as np
from PIL import Image

from materials.toml_text import named
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.output.film import MOST_HELD, Film, Picture
from render.request.subject import Pixels, Size

__all__ = ["Frames", "check_held", "check_limit", "fit", "megabytes", "scaled", "smaller"]

_LEAST_MB, _MOST_MB = 0.01, 10_000.0
_MB = 1_000_000

_KEPT_SHARP = 0.62
"""While sides are longer than this share of what was asked, no frame is left out for it."""

_FEWEST_FRAMES = 12
_LEAST_SCALE = 0.25
_NARROWEST = 240
"""What is left at the least of a film, but for one that was asked for with less: frames in a
turn, share of its sides, and pixels of its width."""

_DENSITY = 0.3
"""A frame four times as large takes more bytes, by at least this share of four times."""

_AIM = 0.97
"""Share of the room that the next try is made for."""

_LEAST_STEP = 0.92
"""A next try has at most this share of the pixels of the one before."""


class Frames(Protocol):
    """Frames of one turn that can be had in smaller sizes."""

    def size(self, scale: float) -> Size:
        """Width and height with sides scaled so, pixels."""

    def picture(self, number: int, scale: float) -> Pixels:
        """Show a frame, by its number, with sides scaled so."""


def check_limit(max_mb: float, path: Path, suffixes: tuple[str, ...]) -> None:
    """Check what a file may weigh.

    Parameters
    ----------
    max_mb : float
        Megabytes, of 1,000,000 bytes.
    path : Path
    suffixes : tuple of str
        What of it can be made smaller.

    Raises
    ------
    RequestProblem
    """
    # Written so that NaN is refused too.
    if not _LEAST_MB <= max_mb <= _MOST_MB:
        raise RequestProblem(
            f"max-mb: {max_mb:g} is not between {_LEAST_MB:g} and {_MOST_MB:g}; give the most "
            "megabytes that the file may have, such as 2."
        )
    if path.suffix.casefold() not in suffixes:
        raise RequestProblem(
            f"max-mb: only a moving picture is made to fit, and {named(path)} is none; leave "
            "--max-mb out, or give a name that ends in .gif."
        )


def check_held(frames: int, size: Size, panels: int = 1) -> None:
    """Check that all frames, each of so many panels of `size`, can be held in memory at once.

    Raises
    ------
    RequestProblem
    """
    held = frames * panels * size[0] * size[1] * 3
    if held > MOST_HELD:
        each = f"{panels} x " if panels > 1 else ""
        raise RequestProblem(
            f"frames: {frames} of {each}{size[0]}x{size[1]} are more than fit in memory; give "
            f"{frames * MOST_HELD // held} or fewer, or a smaller size."
        )


def fit(
    write: Callable[[Picture, Film], int],
    film: Film,
    frames: Frames,
    max_mb: float,
    progress: Progress,
) -> Film:
    """Write a film as large as it may be.

    Parameters
    ----------
    write : callable
        Writes pictures as a film, over what was written before, and gives its bytes; such as a
        `render.output.film.FilmFile`.
    film : Film
        As asked for.
    frames : Frames
        Its pictures.
    max_mb : float
        Most megabytes that the file may have.
    progress : Progress
        Told what is tried.

    Returns
    -------
    Film
        What was made.

    Raises
    ------
    RequestProblem
        If even the smallest does not fit.
    """
    limit = int(max_mb * _MB)

    def tried(scale: float, kept: int) -> tuple[Film, int]:
        made = replace(film, size=frames.size(scale), frames=kept)
        every = film.frames // kept
        wide, high = made.size
        progress.say(f"{wide}x{high}, {kept} frames")
        return made, write(lambda number: frames.picture(number * every, scale), made)

    # The smallest first: it needs the fewest frames, and what cannot be is told before long.
    least = _least_scale(film)
    smallest, least_bytes = tried(least, _counts(film)[-1])
    if least_bytes > limit:
        wide, high = smallest.size
        raise RequestProblem(
            f"max-mb: {max_mb:g} MB cannot be reached; the smallest, {wide}x{high} with "
            f"{smallest.frames} frames, has {megabytes(least_bytes)}."
        )
    density = _DENSITY * least_bytes / _pixels(smallest)
    share = min(1.0, limit / (density * _pixels(film)))
    while True:
        scale, kept = _shape(film, share, least)
        made, size = tried(scale, kept)
        if size <= limit:
            return made
        share = min(share, _pixels(made) / _pixels(film)) * min(_LEAST_STEP, _AIM * limit / size)


def smaller(size: Size, scale: float) -> Size:
    """A size with its sides scaled; even, as an MP4 needs, unless it stays what it was."""
    if scale >= 1:
        return size
    wide, high = (2 * max(8, round(side * scale / 2)) for side in size)
    return wide, high


def scaled(pixels: Pixels, size: Size) -> Pixels:
    """Scale a picture down to `size`."""
    if pixels.shape[1::-1] == size:
        return pixels
    return np.asarray(Image.fromarray(pixels).resize(size, Image.Resampling.LANCZOS))


def megabytes(count: int) -> str:
    """Write a number of bytes, with two figures at least."""
    return f"{count / _MB:.1f} MB" if count >= _MB else f"{count / _MB:.2g} MB"


def _pixels(film: Film) -> int:
    return film.size[0] * film.size[1] * film.frames


def _counts(film: Film) -> list[int]:
    """Numbers of frames that can be kept, spread evenly over the turn, most first."""
    fewest = min(_FEWEST_FRAMES, film.frames)
    parts = range(1, film.frames // fewest + 1)
    return [film.frames // part for part in parts if film.frames % part == 0]


def _least_scale(film: Film) -> float:
    return min(1.0, max(_LEAST_SCALE, _NARROWEST / film.size[0]))


def _shape(film: Film, share: float, least: float) -> tuple[float, int]:
    """Scale and number of frames for a share of the pixels: smaller first, then fewer."""
    for kept in _counts(film):
        scale = min(1.0, math.sqrt(share * film.frames / kept))
        if scale >= max(_KEPT_SHARP, least):
            return scale, kept
    return max(scale, least), kept
