"""Frames of one turn, written as a moving picture.

The last frame stands one step before the first, so that the loop has no jump at its join.
"""

import errno
import os
import signal
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
from PIL import Image

from render.common.files import check_suffix, replacing
from render.common.problems import DrawingProblem, RequestProblem
from render.common.tags import Tag, save_png
from render.output.ffmpeg import ENCODER, ffmpeg_program
from render.output.palette import Palette
from render.request.subject import Pixels, Size, check_size
from scenes.files.atomic import end_before_sweep
from scenes.problems import printable

__all__ = [
    "MOST_HELD",
    "SUFFIXES",
    "Film",
    "FilmFile",
    "Picture",
    "centiseconds",
    "check_film",
    "film_at",
]

SUFFIXES = (".gif", ".mp4", ".webp")

_LEAST_FRAMES, _MOST_FRAMES = 2, 720
_LEAST_SECONDS, _MOST_SECONDS = 0.1, 600.0

_QUICKEST = 2
"""Least delay of a GIF's frame, hundredths of a second: browsers play 0 and 1 as 10."""

_SLOWEST = 65_535
"""Greatest delay that its two bytes hold."""

MOST_HELD = 900_000_000
"""Bytes of frames that are held until all are drawn."""

_MOST_PIXELS = 600_000_000
"""Pixels of all frames of a GIF or WebP: they are held until the file is written."""

_PALETTE_FRAMES = 6
"""Frames that a GIF's palette is made from, spread over the turn."""

_FAREWELL = 2.0
"""Seconds in which an encoder that is ended has gone."""

_WEBP_QUALITY = 88
_MP4_CRF = 17
"""Constant rate factor of x264: 18 is called visually lossless in FFmpeg's H.264 guide."""


@dataclass(frozen=True, slots=True)
class Film:
    """One turn of the rod.

    Parameters
    ----------
    size : (int, int)
        Width and height, pixels.
    frames : int
    seconds : float
        For the whole turn.

    Raises
    ------
    RequestProblem
        If it cannot be made.
    """

    size: Size
    frames: int = 60
    seconds: float = 6.0

    def __post_init__(self) -> None:
        check_size(self.size)
        if not _LEAST_FRAMES <= self.frames <= _MOST_FRAMES:
            raise RequestProblem(
                f"frames: {self.frames} is not between {_LEAST_FRAMES} and {_MOST_FRAMES}; give "
                "the number of pictures in one turn, such as 60."
            )
        # Written so that NaN is refused too.
        if not _LEAST_SECONDS <= self.seconds <= _MOST_SECONDS:
            raise RequestProblem(
                f"seconds: {self.seconds:g} is not between {_LEAST_SECONDS:g} and "
                f"{_MOST_SECONDS:g}; give the seconds of one turn, such as 6."
            )

    def turn(self, number: int, start: float = 0.0) -> float:
        """Where the rod is turned to in a frame, rad."""
        return start + 2 * np.pi * number / self.frames


def check_film(path: Path, film: Film) -> str:
    """Check that a film can be written to a file of that name.

    Returns
    -------
    str
        The name's suffix in lower case; empty for a folder of pictures.

    Raises
    ------
    RequestProblem
    """
    suffix = check_suffix(path, SUFFIXES, folder=True)
    width, height = film.size
    if suffix in (".gif", ".webp") and width * height * film.frames > _MOST_PIXELS:
        most = _MOST_PIXELS // (width * height)
        raise RequestProblem(
            f"frames: {film.frames} of {width}x{height} are more than a {suffix} is made of here; "
            f"give {most} or fewer, or a smaller size."
        )
    if suffix == ".gif":
        delays = centiseconds(film)
        if min(delays) < _QUICKEST:
            most = int(film.seconds * 100 / _QUICKEST)
            raise RequestProblem(
                f"frames: {film.frames} in {film.seconds:g} seconds are quicker than a GIF can "
                f"play; give {most} or fewer, or more seconds."
            )
        if max(delays) > _SLOWEST:
            raise RequestProblem(
                f"frames: {film.frames} in {film.seconds:g} seconds are slower than a GIF can "
                "play; give more frames."
            )
    if suffix == ".mp4":
        if width % 2 or height % 2:
            raise RequestProblem(
                f"size: {width}x{height} has an odd side, which an MP4 cannot have; give "
                f"{width + width % 2}x{height + height % 2}."
            )
        ffmpeg_program()
    return suffix


def centiseconds(film: Film) -> list[int]:
    """Delay of each frame in whole hundredths of a second; their sum is the turn's.

    Rounding where each frame ends, not how long it lasts, spreads what is left over evenly.
    """
    ends = [round(film.seconds * 100 * k / film.frames) for k in range(film.frames + 1)]
    return [after - before for before, after in pairwise(ends)]


Picture = Callable[[int], Pixels]
"""Takes the picture of a frame by its number."""


class FilmFile:
    """A film in the making: call it to write it.

    Parameters
    ----------
    path : Path
        Written straight.
    suffix : str
        What is made; empty for a folder.
    film : Film
    tag : Tag
    """

    def __init__(self, path: Path, suffix: str, film: Film, tag: Tag) -> None:
        self._path, self._suffix, self._film, self._tag = path, suffix, film, tag

    def __call__(self, picture: Picture, film: Film | None = None) -> int:
        """Write it, over what was written before.

        Parameters
        ----------
        picture : callable
            Takes the picture of a frame by its number; is asked for each frame once.
        film : Film, optional
            Another size or number of frames.

        Returns
        -------
        int
            Bytes of the file; 0 for a folder.

        Raises
        ------
        DrawingProblem
            If it cannot be encoded.
        """
        _WRITERS[self._suffix](self._path, film or self._film, self._tag, picture)
        return self._path.stat().st_size if self._suffix else 0


@contextmanager
def film_at(path: Path, film: Film, tag: Tag) -> Iterator[FilmFile]:
    """Make ready to write a film, wholly or not at all.

    Parameters
    ----------
    path : Path
        Its suffix says what is made: GIF, MP4 or WebP; a folder of PNG pictures without one.
    film : Film
    tag : Tag

    Raises
    ------
    RequestProblem
        If the file cannot be written; at once.
    """
    suffix = check_film(path, film)
    with replacing(path) if suffix else replacing(path, folder=True) as file:
        yield FilmFile(file, suffix, film, tag)


def _write_folder(path: Path, film: Film, tag: Tag, picture: Picture) -> None:
    digits = len(str(film.frames - 1))
    for number in range(film.frames):
        save_png(picture(number), path / f"turn-{number:0{digits}d}.png", tag)


def _write_gif(path: Path, film: Film, tag: Tag, picture: Picture) -> None:
    """Write a GIF.

    A frame that is the same as the one before in every pixel is not written again: the one before
    is shown the longer.
    """
    step = max(1, film.frames // _PALETTE_FRAMES)
    early = {number: picture(number) for number in range(0, film.frames, step)}
    palette = Palette.of(list(early.values()))

    def frames() -> Iterator[Image.Image]:
        for number in range(film.frames):
            pixels = early.pop(number) if number in early else picture(number)
            yield palette.image(pixels)

    rest = frames()
    # Pillow would leave a file that it opens itself open on Ctrl-C.
    with path.open("wb") as file:
        next(rest).save(
            file,
            format="GIF",
            save_all=True,
            append_images=rest,
            duration=[10 * delay for delay in centiseconds(film)],
            loop=0,
            disposal=1,
            palette=palette.data,
            optimize=True,
            comment=tag.line.encode("utf-8"),
        )


def _write_webp(path: Path, film: Film, tag: Tag, picture: Picture) -> None:
    ends = [round(film.seconds * 1000 * k / film.frames) for k in range(film.frames + 1)]
    images = [Image.fromarray(picture(number)) for number in range(film.frames)]
    images[0].save(
        path,
        format="WEBP",
        save_all=True,
        append_images=images[1:],
        duration=np.diff(ends).tolist(),
        loop=0,
        quality=_WEBP_QUALITY,
        method=4,
        xmp=tag.xmp(),
    )


def _write_mp4(path: Path, film: Film, tag: Tag, picture: Picture) -> None:
    width, height = film.size
    rate = (film.frames / Fraction(film.seconds)).limit_denominator(100_000)
    command = [
        ffmpeg_program(),
        *("-y", "-hide_banner", "-loglevel", "error", "-nostdin"),
        *("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}"),
        *("-framerate", str(rate), "-i", "pipe:0", "-an"),
        # The primaries of sRGB are those of BT.709; players take the curve to be BT.709's too.
        *("-vf", "scale=out_color_matrix=bt709:out_range=tv:flags=accurate_rnd+full_chroma_int"),
        *("-c:v", ENCODER, "-preset", "medium", "-crf", str(_MP4_CRF), "-pix_fmt", "yuv420p"),
        *("-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709"),
        *("-color_range", "tv", "-movflags", "+faststart", "-fflags", "+bitexact"),
        *("-metadata", f"title={tag.title}", "-metadata", f"comment={tag.line}"),
        *("-f", "mp4", str(path)),
    ]
    process = subprocess.Popen(
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        # Ctrl-C is for us: the encoder must not close a half-made file by itself.
        start_new_session=True,
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
    )
    assert process.stdin is not None
    assert process.stderr is not None
    try:
        with end_before_sweep(lambda: _end(process)):
            for number in range(film.frames):
                process.stdin.write(np.ascontiguousarray(picture(number)).tobytes())
            process.stdin.close()
            told = process.stderr.read().decode("utf-8", "replace").strip()
            failed = process.wait() != 0
    except BrokenPipeError:
        told, failed = process.stderr.read().decode("utf-8", "replace").strip(), True
    finally:
        _end(process)
        process.stderr.close()
        if not process.stdin.closed:
            with suppress(OSError):
                process.stdin.close()
    if failed:
        _raise_written(process.returncode, told)
        last = told.splitlines()[-1] if told else "no reason given"
        raise DrawingProblem(
            f"The film could not be encoded; make a GIF instead (FFmpeg says: {printable(last)})."
        )


def _end(process: "subprocess.Popen[bytes]") -> None:
    """End the encoder at once, so that it does not make its file anew."""
    process.kill()
    with suppress(subprocess.TimeoutExpired):
        process.wait(_FAREWELL)


def _raise_written(exit_code: int, told: str) -> None:
    """Raise the system's own error if that is why FFmpeg failed.

    Raises
    ------
    OSError
    """
    for number in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        if os.strerror(number) in told:
            raise OSError(number, os.strerror(number))
    if exit_code == -getattr(signal, "SIGXFSZ", 0) != 0:  # its file may not grow further
        raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))


_WRITERS: dict[str, Callable[[Path, Film, Tag, Picture], None]] = {
    "": _write_folder,
    ".gif": _write_gif,
    ".webp": _write_webp,
    ".mp4": _write_mp4,
}
