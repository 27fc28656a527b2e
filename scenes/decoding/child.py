"""The child process: decodes one file after another, within limits of time and memory.

Started by `scenes.decoding.process`. It imports neither pydantic nor NumPy, so it starts quickly.
"""

import array
import math
import os
import select
import signal
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from scenes.decoding.errors import DecodingError, Reason
from scenes.decoding.frames import frame_header, read_frame

__all__ = ["main"]

Answer = tuple[dict[str, Any], bytes]

_IDLE = 30.0
"""Seconds without work after which the child ends and so frees its memory."""

_MOST_FILE = 100_000_000
"""Most bytes of a file to decode."""


def main() -> None:
    """Answer requests on standard input until it is closed."""
    with suppress(ValueError, OSError):
        # Ctrl-C is the parent's to handle; it ends this process at once.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.dup(1)
    # Output printed by a library must not mix with the answers.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    with suppress(EOFError, OSError):
        while _has_request():
            request, data = read_frame(lambda size: os.read(0, size), _MOST_FILE)
            header, block = _answer(request, bytes(data))
            _write(answers, frame_header(header, len(block)))
            _write(answers, block)


def _has_request() -> bool:
    """Wait for a request; False if none comes within `_IDLE` seconds."""
    if sys.platform == "win32":  # where only sockets can be waited for
        return True
    return bool(select.select([0], [], [], _IDLE)[0])


def _write(descriptor: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(descriptor, rest) :]


def _answer(request: dict[str, Any], data: bytes) -> Answer:
    _limit(request["cpu_s"], request["memory"])
    try:
        return _JOBS[request["job"]](data, request["arguments"])
    except DecodingError as error:
        return {"reason": error.reason.value, "details": error.details}, b""
    except MemoryError:
        return {"reason": Reason.MEMORY.value, "details": {}}, b""


def _limit(cpu_s: float, memory: int) -> None:
    """Limit the processor time and memory of the next job, where the system can.

    Linux limits both, macOS the time; on Windows only the parent's clock applies.
    """
    try:
        import resource
    except ImportError:
        return
    for name, value in (
        ("RLIMIT_CPU", math.ceil(time.process_time() + cpu_s)),
        ("RLIMIT_AS", _address_space() + memory),
        ("RLIMIT_CORE", 0),
        ("RLIMIT_FSIZE", 0),
    ):
        if name == "RLIMIT_AS" and not _address_space():
            continue
        kind = getattr(resource, name)
        hard = resource.getrlimit(kind)[1]
        within = value if hard == resource.RLIM_INFINITY else min(value, hard)
        with suppress(ValueError, OSError):
            resource.setrlimit(kind, (within, hard))


def _address_space() -> int:
    """Bytes of address space in use; 0 where the system does not say."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    except (OSError, ValueError):
        return 0
    return pages * os.sysconf("SC_PAGE_SIZE")


# ---- the jobs; each imports only what it needs


def _png(data: bytes, arguments: dict[str, Any]) -> Answer:
    from scenes.decoding import pictures

    pictures.refuse_what_pillow_warns_of()
    width, height, pixels = pictures.png(data, arguments["most_side"])
    return {"width": width, "height": height}, pixels


def _photograph(data: bytes, arguments: dict[str, Any]) -> Answer:
    from scenes.decoding import pictures

    pictures.refuse_what_pillow_warns_of()
    width, height, pixels = pictures.photograph(data, arguments["most_pixels"])
    return {"width": width, "height": height}, pixels


def _font(data: bytes, _: dict[str, Any]) -> Answer:
    from scenes.decoding import outlines

    outlines.check_font(data)
    return {}, b""


def _letters(data: bytes, arguments: dict[str, Any]) -> Answer:
    from scenes.decoding import outlines

    runs = [(str(text), bool(rtl)) for text, rtl in arguments["runs"]]
    made = outlines.letters_of(data, runs, arguments["number"])
    contours = [contour for run in made.runs for contour in run]
    numbers = array.array("d", made.advances)
    numbers.extend(x for contour in contours for point in contour for x in point)
    # Contours of each run, then points of each contour.
    counts = array.array("I", [*map(len, made.runs), *map(len, contours)])
    return (
        {"capital": made.capital, "unit": made.unit, "contours": len(contours)},
        counts.tobytes() + numbers.tobytes(),
    )


def _missing_letters(data: bytes, arguments: dict[str, Any]) -> Answer:
    from scenes.decoding import outlines

    return {"letters": outlines.missing_letters(data, arguments["text"], arguments["number"])}, b""


_JOBS: dict[str, Callable[[bytes, dict[str, Any]], Answer]] = {
    "png": _png,
    "photograph": _photograph,
    "font": _font,
    "letters": _letters,
    "missing_letters": _missing_letters,
}
