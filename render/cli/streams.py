"""Standard output and error: work goes on if they are closed, full or no longer read."""

import io
import os
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.table import Table

__all__ = ["Streams", "print_line", "print_sentence", "print_table"]

_OUTPUT_FAILED = 1

_PIPE_WIDTH = 160
"""Width of a table that is not written to a terminal, characters."""


def print_line(text: str) -> None:
    """Print a line on standard output.

    Parameters
    ----------
    text : str
    """
    sys.stdout.write(f"{text}\n")


def print_sentence(sentence: str, lead: str = "") -> None:
    """Print a sentence as `print_line` does, with the fields in it in words.

    Parameters
    ----------
    sentence : str
        May hold paths of fields.
    lead : str
        Printed before it as it stands.
    """
    # A design was read before, so that this loads nothing that is slow.
    from scenes.design.field_words import in_words_with_paths

    print_line(f"{lead}{in_words_with_paths(sentence)}")


def print_table(table: "Table") -> None:
    """Print a table on standard output; in a file or pipe no line is broken.

    Parameters
    ----------
    table : rich.table.Table
    """
    from rich.console import Console

    console = Console(width=None if sys.stdout.isatty() else _PIPE_WIDTH)
    console.print(table, markup=False, highlight=False)


class _ForgivingStream(io.RawIOBase):
    """A raw stream that drops what cannot be written and keeps the first error."""

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
    """Standard output and error of this process, which never raise.

    The file descriptor of a closed stream is opened on the null device. Otherwise the next file
    that is opened gets it, and with it whatever a library prints.
    """

    def __init__(self) -> None:
        for number in (0, 1, 2):
            try:
                os.fstat(number)
            except OSError:
                os.open(os.devnull, os.O_RDWR)  # takes the lowest free descriptor
        self._output = _ForgivingStream(_raw(sys.stdout))
        sys.stdout = _text(self._output, sys.stdout)
        sys.stderr = _text(_ForgivingStream(_raw(sys.stderr)), sys.stderr, by_line=True)

    def finish(self, code: int) -> int:
        """Flush both streams and return the exit code.

        Parameters
        ----------
        code : int
            Exit code of the work.

        Returns
        -------
        int
            `code`, or 1 if the work succeeded and its output could not be written.
        """
        sys.stdout.flush()
        failure = self._output.failure
        if failure is None or code:
            return code
        if not isinstance(failure, BrokenPipeError):  # a closed pipe: the reader has read enough
            reason = failure.strerror or type(failure).__name__
            sys.stderr.write(f"All is done, but what it says cannot be written ({reason}).\n")
            sys.stderr.flush()
        return _OUTPUT_FAILED


def _raw(stream: Any) -> io.RawIOBase:
    buffer = getattr(stream, "buffer", None)
    if buffer is None:
        return open(os.devnull, "wb", buffering=0)
    raw: io.RawIOBase = getattr(buffer, "raw", buffer)  # unbuffered, as with python -u
    return raw


def _text(raw: io.RawIOBase, like: Any, *, by_line: bool = False) -> io.TextIOWrapper:
    return io.TextIOWrapper(
        io.BufferedWriter(raw),
        encoding=getattr(like, "encoding", None) or "utf-8",
        errors="replace",
        line_buffering=by_line or raw.isatty(),
        write_through=getattr(like, "write_through", False),
    )
