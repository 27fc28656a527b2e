"""Standard output and error that may be closed, full or no longer read: the work goes on."""

import io
import os
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.table import Table

__all__ = ["Streams", "print_table", "say"]

_FAILED = 1

_WIDE = 160
"""Columns of a table that goes into no terminal."""


def say(text: str) -> None:
    """Answer on standard output."""
    sys.stdout.write(f"{text}\n")


def print_table(table: "Table") -> None:
    """Write a table, in a file or a pipe wide enough that no line is broken."""
    from rich.console import Console

    console = Console(width=None if sys.stdout.isatty() else _WIDE)
    console.print(table, markup=False, highlight=False)


class _Forgiving(io.RawIOBase):
    """A raw stream that drops what cannot be written, and remembers why."""

    def __init__(self, raw: io.RawIOBase) -> None:
        self._raw = raw
        self.failure: OSError | None = None

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int | None:
        if self.failure is None:
            try:
                return self._raw.write(data)
            except OSError as error:
                self.failure = error
        return len(memoryview(data).cast("B"))

    def isatty(self) -> bool:
        return self._raw.isatty()

    def fileno(self) -> int:
        return self._raw.fileno()


class Streams:
    """Standard output and error of this process, from which no failure comes back.

    Where one is closed, its number is taken by the null device: else the next file that is opened
    would get it, and with it whatever a library prints.
    """

    def __init__(self) -> None:
        for number in (0, 1, 2):
            try:
                os.fstat(number)
            except OSError:
                os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free
        self._output = _Forgiving(_raw(sys.stdout))
        sys.stdout = _text(self._output, sys.stdout)
        sys.stderr = _text(_Forgiving(_raw(sys.stderr)), sys.stderr, by_line=True)

    def finish(self, code: int) -> int:
        """Write what is still to be written, and give the exit code.

        Parameters
        ----------
        code : int
            Of the work.
        """
        sys.stdout.flush()
        failure = self._output.failure
        if failure is None or code:
            return code
        if not isinstance(failure, BrokenPipeError):  # else whoever reads has seen enough
            reason = failure.strerror or type(failure).__name__
            sys.stderr.write(f"All is done, but what it says cannot be written ({reason}).\n")
            sys.stderr.flush()
        return _FAILED


def _raw(stream: Any) -> io.RawIOBase:
    buffer = getattr(stream, "buffer", None)
    if buffer is None:
        return open(os.devnull, "wb", buffering=0)
    raw: io.RawIOBase = getattr(buffer, "raw", buffer)  # Python may be told not to buffer
    return raw


def _text(raw: io.RawIOBase, like: Any, *, by_line: bool = False) -> io.TextIOWrapper:
    return io.TextIOWrapper(
        io.BufferedWriter(raw),
        encoding=getattr(like, "encoding", None) or "utf-8",
        errors="replace",
        line_buffering=by_line or raw.isatty(),
        write_through=getattr(like, "write_through", False),
    )
