"""Finds the FFmpeg program that encodes MP4 films, and checks that it has the encoder.

FFmpeg runs as a separate program and is never loaded into this process, because the build of
imageio-ffmpeg is under the GPL. imageio-ffmpeg also finds the system's FFmpeg, and prefers the one
that ``IMAGEIO_FFMPEG_EXE`` names.
"""

import subprocess
from functools import lru_cache
from pathlib import Path

import imageio_ffmpeg

from materials.toml_text import named
from render.common.problems import RequestProblem
from scenes.problems import printable

__all__ = ["ENCODER", "ffmpeg_program"]

ENCODER = "libx264"
"""FFmpeg's name of its H.264 encoder. For a turntable of half-scale at equal error, OpenH264 needs
60 % more bytes; AV1 and VP9 need fewer, but older phones and messengers do not play them."""

_INSTEAD = "give a name that ends in .gif"


def ffmpeg_program() -> str:
    """Find FFmpeg.

    Returns
    -------
    str
        A path, or a name on the search path.

    Raises
    ------
    RequestProblem
        If FFmpeg is not found, cannot be run, or lacks the encoder.
    """
    try:
        program = imageio_ffmpeg.get_ffmpeg_exe()
    except RuntimeError:
        raise RequestProblem(
            "output: an MP4 needs FFmpeg, which is not on this machine; install FFmpeg, or "
            f"{_INSTEAD}."
        ) from None
    if not _has_encoder(program):
        raise RequestProblem(
            f"output: the FFmpeg at {named(Path(program))} has no {ENCODER}, which encodes MP4; "
            f"set IMAGEIO_FFMPEG_EXE to one that has, or {_INSTEAD}."
        )
    return program


@lru_cache(maxsize=4)
def _has_encoder(program: str) -> bool:
    try:
        listed = subprocess.run(
            [program, "-hide_banner", "-loglevel", "error", "-encoders"],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            check=False,
            timeout=60,
        )
    except (OSError, ValueError, subprocess.TimeoutExpired) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise RequestProblem(
            f"output: FFmpeg, which makes MP4, cannot be run at {named(Path(program))} "
            f"({printable(reason)}); set IMAGEIO_FFMPEG_EXE to the right place, or {_INSTEAD}."
        ) from None
    return ENCODER.encode() in listed.stdout.split()
