"""Films of one turn of the rod: GIF, MP4, WebP, or a folder of PNG pictures.

The last frame is one step before the first, so that the loop has no jump.
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
    "MAX_BYTES_IN_MEMORY",
    "SUFFIXES",
    "Film",
    "FilmFile",
    "Picture",
    "centiseconds",
    "check_film",
    "film_at",
]

SUFFIXES = (".gif", ".mp4", ".webp")

_MIN_FRAMES, _MAX_FRAMES = 2, 720
_MIN_SECONDS, _MAX_SECONDS = 0.1, 600.0

_MIN_DELAY = 2
"""Minimum delay of a GIF frame, 1/100 s: browsers play 0 and 1 as 10."""

_MAX_DELAY = 65_535
"""Maximum delay of a GIF frame, 1/100 s: it is stored in two bytes."""

MAX_BYTES_IN_MEMORY = 900_000_000
"""Maximum bytes of frames that are held in memory at once."""

_MAX_PIXELS = 600_000_000
"""Maximum pixels of all frames of a GIF or WebP, which are in memory until the file is written."""

_PALETTE_FRAMES = 6
"""Number of frames, spread over the turn, that a GIF's palette is computed from."""

_KILL_TIMEOUT = 2.0
"""Seconds to wait for a killed encoder to end."""

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
        Pictures in the turn.
    seconds : float
        Duration of the turn, s.

    Raises
    ------
    RequestProblem
        If a value is out of range.
    """

    size: Size
    frames: int = 60
    seconds: float = 6.0

    def __post_init__(self) -> None:
        check_size(self.size)
        if not _MIN_FRAMES <= self.frames <= _MAX_FRAMES:
            raise RequestProblem(
                f"frames: {self.frames} is not between {_MIN_FRAMES} and {_MAX_FRAMES}; give "
                "the number of pictures in one turn, such as 60."
            )
        # Written so that NaN is refused too.
        if not _MIN_SECONDS <= self.seconds <= _MAX_SECONDS:
            raise RequestProblem(
                f"seconds: {self.seconds:g} is not between {_MIN_SECONDS:g} and "
                f"{_MAX_SECONDS:g}; give the seconds of one turn, such as 6."
            )

    def turn(self, number: int, start: float = 0.0) -> float:
        """Turn of the rod in a frame, rad.

        Parameters
        ----------
        number : int
            Frame, from 0.
        start : float, optional
            Turn of frame 0, rad.
        """
        return start + 2 * np.pi * number / self.frames


def check_film(path: Path, film: Film) -> str:
    """Check that a film can be written to a file.

    Parameters
    ----------
    path : Path
    film : Film

    Returns
    -------
    str
        The suffix in lower case; empty for a folder of pictures.

    Raises
    ------
    RequestProblem
        If it cannot be written there, or its format cannot hold such a film.
    """
    suffix = check_suffix(path, SUFFIXES, folder=True)
    width, height = film.size
    if suffix in (".gif", ".webp") and width * height * film.frames > _MAX_PIXELS:
        most = _MAX_PIXELS // (width * height)
        raise RequestProblem(
            f"frames: {film.frames} of {width}x{height} are more than a {suffix} is made of here; "
            f"give {most} or fewer, or a smaller size."
        )
    if suffix == ".gif":
        delays = centiseconds(film)
        if min(delays) < _MIN_DELAY:
            most = int(film.seconds * 100 / _MIN_DELAY)
            raise RequestProblem(
                f"frames: {film.frames} in {film.seconds:g} seconds are quicker than a GIF can "
                f"play; give {most} or fewer, or more seconds."
            )
        if max(delays) > _MAX_DELAY:
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
    """Delay of each frame in whole hundredths of a second; their sum is the duration of the turn.

    The end of each frame is rounded, not its duration, so that the remainder is spread evenly.

    Parameters
    ----------
    film : Film
    """
    ends = [round(film.seconds * 100 * k / film.frames) for k in range(film.frames + 1)]
    return [after - before for before, after in pairwise(ends)]


Picture = Callable[[int], Pixels]
"""Returns the picture of a frame by its number."""


class FilmFile:
    """An output file of a film; a call writes the film.

    Parameters
    ----------
    path : Path
        Written in place.
    suffix : str
        One of `SUFFIXES`; empty for a folder.
    film : Film
    tag : Tag
    """

    def __init__(self, path: Path, suffix: str, film: Film, tag: Tag) -> None:
        self._path, self._suffix, self._film, self._tag = path, suffix, film, tag

    def __call__(self, picture: Picture, film: Film | None = None) -> int:
        """Write the film, and overwrite an earlier one.

        Parameters
        ----------
        picture : callable
            Returns the picture of a frame by its number; called once for each frame.
        film : Film, optional
            With another size or number of frames.

        Returns
        -------
        int
            Bytes of the file; 0 for a folder.

        Raises
        ------
        DrawingProblem
            If the film cannot be encoded.
        """
        _WRITERS[self._suffix](self._path, film or self._film, self._tag, picture)
        return self._path.stat().st_size if self._suffix else 0


@contextmanager
def film_at(path: Path, film: Film, tag: Tag) -> Iterator[FilmFile]:
    """Open a film for writing; it replaces `path` when it is complete.

    Parameters
    ----------
    path : Path
        Its suffix selects GIF, MP4 or WebP; without one, it is a folder of PNG pictures.
    film : Film
    tag : Tag

    Yields
    ------
    FilmFile

    Raises
    ------
    RequestProblem
        At once, if the film cannot be written there.
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

    A frame equal to the one before is not written; the one before is shown longer instead.
    """
    step = max(1, film.frames // _PALETTE_FRAMES)
    early = {number: picture(number) for number in range(0, film.frames, step)}
    palette = Palette.of(list(early.values()))

    def drawn() -> Iterator[Pixels]:
        for number in range(film.frames):
            yield early.pop(number) if number in early else picture(number)

    rest = map(palette.image, drawn())
    # After Ctrl-C, Pillow leaves open a file that it has opened itself.
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
        # sRGB has the primaries of BT.709; players assume the curve of BT.709 too.
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
        # Ctrl-C must not reach the encoder, which would close an incomplete file.
        start_new_session=True,
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
    )
    assert process.stdin is not None
    assert process.stderr is not None
    try:
        with end_before_sweep(lambda: _kill(process)):
            for number in range(film.frames):
                process.stdin.write(np.ascontiguousarray(picture(number)).tobytes())
            process.stdin.close()
            messages = process.stderr.read().decode("utf-8", "replace").strip()
            failed = process.wait() != 0
    except BrokenPipeError:
        messages, failed = process.stderr.read().decode("utf-8", "replace").strip(), True
    finally:
        _kill(process)
        process.stderr.close()
        if not process.stdin.closed:
            with suppress(OSError):
                process.stdin.close()
    if failed:
        _raise_system_error(process.returncode, messages)
        last = messages.splitlines()[-1] if messages else "no reason given"
        raise DrawingProblem(
            f"The film could not be encoded; make a GIF instead (FFmpeg says: {printable(last)})."
        )


def _kill(process: "subprocess.Popen[bytes]") -> None:
    """Kill the encoder, so that it does not create its file again."""
    process.kill()
    with suppress(subprocess.TimeoutExpired):
        process.wait(_KILL_TIMEOUT)


def _raise_system_error(exit_code: int, messages: str) -> None:
    """Raise the operating system's error if it is the reason why FFmpeg failed.

    Raises
    ------
    OSError
    """
    for number in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        if os.strerror(number) in messages:
            raise OSError(number, os.strerror(number))
    if exit_code == -getattr(signal, "SIGXFSZ", 0) != 0:  # the limit of file size
        raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))


_WRITERS: dict[str, Callable[[Path, Film, Tag, Picture], None]] = {
    "": _write_folder,
    ".gif": _write_gif,
    ".webp": _write_webp,
    ".mp4": _write_mp4,
}
