"""The parent's side: passes files to child processes, and kills a child that exceeds its limits.

A hostile file can make any decoder run for ever, and C code does not respond to Ctrl-C. In a child
it costs one process, which is killed after its time limit, at Ctrl-C, or when the work is
cancelled. A child that has answered is used again, which saves its start.

The answer is JSON and plain bytes, checked like any external data. The child imports neither NumPy
nor pydantic, so it starts in 40 ms. Answers and refusals are cached by content
(`scenes.decoding.cache`). Files that ship with Turnlight are decoded without a child. So are the
texts of designs and shelves: `materials.toml_limits` limits their content before they are parsed,
and the largest design within those limits is checked in half a second.
"""

import atexit
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scenes.decoding.cancelling import check_cancelled
from scenes.decoding.errors import DecodingError, Reason
from scenes.decoding.frames import Frame, FrameError, frame_header, read_frame

__all__ = ["Limits", "decode"]

_MB = 1_000_000

_ROOT = Path(__file__).resolve().parents[2]
"""Folder of the packages, for the child's import path."""

_START = (
    f"import sys; sys.path.append({str(_ROOT)!r}); from scenes.decoding.child import main; main()"
)

_POLL = 0.1
"""Seconds between checks for cancellation; an answer is noticed at once."""

_END_TIMEOUT = 5.0
"""Seconds to wait for a killed child to end."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What decoding one file may use.

    Parameters
    ----------
    cpu_s : float
        Processor time, seconds, where the system limits it.
    wall_s : float
        Elapsed time, seconds; much more, because the machine may be busy.
    memory : int
        Bytes in addition to those of the idle child, where the system limits them.
    output : int
        Most bytes of the answer.
    """

    cpu_s: float
    wall_s: float
    memory: int
    output: int


def decode(
    job: str, data: bytes, arguments: Mapping[str, Any], limits: Limits
) -> tuple[dict[str, Any], bytearray]:
    """Decode a file in a child process.

    Parameters
    ----------
    job : str
        Name of the job, from `scenes.decoding.child`.
    data : bytes
        The file.
    arguments : mapping
        Arguments of the job, of JSON types.
    limits : Limits

    Returns
    -------
    header : dict
        Of JSON types. To be checked: a decoder that a file controls may have written it.
    block : bytearray

    Raises
    ------
    DecodingError
    CancelledError
        If the work was cancelled.
    """
    check_cancelled()
    request = {
        "job": job,
        "arguments": dict(arguments),
        "cpu_s": limits.cpu_s,
        "memory": limits.memory,
    }
    child = _idle_child()
    answer = None if child is None else _answer_of(child, request, data, limits)
    if answer is None:
        # There was no idle child, or it had just ended.
        child = _Child()
        answer = _answer_of(child, request, data, limits)
    if answer is None:
        raise DecodingError(Reason.BROKEN)
    assert child is not None
    _keep(child)
    header, _ = answer
    if "reason" in header:
        raise _error_of(header)
    return answer


class _Child:
    """A child process.

    Raises
    ------
    DecodingError
        If none can be started.
    """

    def __init__(self) -> None:
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-I", "-c", _START],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                bufsize=0,
                cwd=_ROOT,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError:
            raise DecodingError(Reason.PROCESS) from None

    def exchange(self, request: Mapping[str, Any], data: bytes, most: int) -> Frame:
        """Send a request and wait for the answer; EOFError or OSError if the child ends first."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        for part in (frame_header(request, len(data)), data):
            rest = memoryview(part)
            while rest:
                rest = rest[self._process.stdin.write(rest) :]
        answers = self._process.stdout.fileno()
        return read_frame(lambda size: os.read(answers, size), most)

    def end(self, exchange: threading.Thread | None = None) -> None:
        """Kill the child, and end the thread that waits for it."""
        self._process.kill()
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(_END_TIMEOUT)
        if exchange is not None and exchange.is_alive():
            exchange.join(_END_TIMEOUT)
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()

    def exit_code(self) -> int | None:
        """Exit code of a child that has closed its end of the pipe."""
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(_END_TIMEOUT)
        return self._process.returncode


class _Exchange(threading.Thread):
    """A thread that waits for a child, so that the caller can watch the clock and Ctrl-C."""

    def __init__(self, child: _Child, request: Mapping[str, Any], data: bytes, most: int) -> None:
        super().__init__(name="decoding", daemon=True)
        self._given = (child, request, data, most)
        self.answer: Frame | None = None
        self.error: Exception | None = None
        self.over = threading.Event()

    def run(self) -> None:
        child, request, data, most = self._given
        try:
            self.answer = child.exchange(request, data, most)
        except Exception as error:
            self.error = error
        finally:
            self.over.set()


def _answer_of(
    child: _Child, request: Mapping[str, Any], data: bytes, limits: Limits
) -> Frame | None:
    """Request an answer from a child; None if it ended without one, for an unknown reason."""
    exchange = _Exchange(child, request, data, limits.output)
    end = time.monotonic() + limits.wall_s
    try:
        exchange.start()
        while not exchange.over.wait(_POLL):
            check_cancelled()
            if time.monotonic() > end:
                raise DecodingError(Reason.TIME)
        if exchange.answer is not None:
            return exchange.answer
        if isinstance(exchange.error, FrameError):
            raise DecodingError(Reason.MEMORY)
        if _is_out_of_time(child.exit_code()):
            raise DecodingError(Reason.TIME)
    except BaseException:
        child.end(exchange)
        raise
    child.end()
    return None


def _is_out_of_time(code: int | None) -> bool:
    """Whether the system ended a process at its limit of processor time."""
    return code is not None and code == -getattr(signal, "SIGXCPU", 0)


def _error_of(header: Mapping[str, Any]) -> DecodingError:
    try:
        reason = Reason(header["reason"])
    except ValueError:
        return DecodingError(Reason.BROKEN)
    details = header.get("details")
    if not isinstance(details, dict):
        return DecodingError(reason)
    plain = {key: value for key, value in details.items() if isinstance(value, str | int)}
    return DecodingError(reason, **plain)


# ---- idle children

_LOCK = threading.Lock()
_IDLE: list[_Child] = []


def _idle_child() -> _Child | None:
    with _LOCK:
        return _IDLE.pop() if _IDLE else None


def _keep(child: _Child) -> None:
    """Keep one child for the next file."""
    with _LOCK:
        if not _IDLE:
            _IDLE.append(child)
            return
    child.end()


@atexit.register
def _end_idle() -> None:
    while (child := _idle_child()) is not None:
        child.end()
