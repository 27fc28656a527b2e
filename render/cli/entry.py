"""Entry point of the program: handles Ctrl-C and closed streams before anything else is loaded.

Loading the command line takes a second or two, so this module imports nothing slow.

- While the command line loads, Ctrl-C ends the program at once: nothing is open yet.
- While a command works, Ctrl-C raises `KeyboardInterrupt`, so that open files are closed and
  unfinished ones removed. A watching thread ends the program if that takes too long, because a
  library call does not return or threads are joined. The thread needs Python's global interpreter
  lock: a library call that holds the lock ends first.
- When everything is closed, the process ends without freeing its modules, which takes another
  second. From then on Ctrl-C ends the program at once again.
"""

import atexit
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from types import FrameType, TracebackType

__all__ = ["GRACE", "guarded", "main"]

GRACE = 0.3
"""Seconds after Ctrl-C in which a command may close what it has open.

Measured: a turntable closes its window and files in 0.06 s on a busy machine. A picture that is
being drawn is not waited for.
"""

_STOPPED = 130
"""Exit code: 128 + SIGINT."""

_BLAS_THREADS = "OPENBLAS_NUM_THREADS"
"""Environment variable that NumPy's linear algebra reads when it is loaded, in every process.

One thread is enough: `geometry.array_blocks` shares the work out to all cores, and between two
small products the threads of OpenBLAS wait by spinning. Measured on two busy cores, process time: a
draft of the two-start-band sample takes 35 ms instead of 102, one of half-scale 99 instead of 148.
The last bits of a product also no longer depend on the number of cores.
"""

_WORKING = threading.Event()
_INTERRUPTED = threading.Event()
_REPORTED = threading.Event()


def main() -> int:
    """Run the command line and return its exit code."""
    os.environ.setdefault(_BLAS_THREADS, "1")
    return guarded(_command_line)


def _command_line() -> Callable[[], int]:
    from render.cli.main import main as run

    return run


def guarded(load: Callable[[], Callable[[], int]]) -> int:
    """Run a program as the main program of this process.

    Parameters
    ----------
    load : callable
        Imports the slow modules and returns the work. The work returns the exit code, after it
        has printed its errors on standard error.

    Returns
    -------
    int
        The exit code; 1 if the work succeeded and its output could not be written. After Ctrl-C
        the function does not return: the process ends with 130.
    """
    # Runs after all other exit functions: from then on there is nothing left to interrupt.
    atexit.register(signal.signal, signal.SIGINT, signal.SIG_IGN)
    sys.excepthook, sys.unraisablehook = _excepthook, _unraisablehook
    _install_handler()
    from render.cli.streams import Streams

    streams = Streams()
    try:
        run = load()
        _WORKING.set()
        code = run()
    except BaseException as error:
        # A library may have turned the interrupt into another exception.
        if not (_INTERRUPTED.is_set() or isinstance(error, KeyboardInterrupt)):
            raise
        code = _STOPPED
    else:
        if code == _STOPPED:
            _REPORTED.set()
    finally:
        _WORKING.clear()
    if _INTERRUPTED.is_set() or code == _STOPPED:
        streams.finish(_STOPPED)
        _exit()
    _install_handler()
    return streams.finish(code)


def _install_handler() -> None:
    """Install the handler of Ctrl-C; also again, after a library has replaced it."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        return  # a shell sets this for programs in the background
    signal.signal(signal.SIGINT, _interrupted)
    reader, writer = os.pipe() if os.name != "nt" else _sockets()
    os.set_blocking(writer, False)
    signal.set_wakeup_fd(writer, warn_on_full_buffer=False)
    threading.Thread(target=_watch, args=(reader,), daemon=True).start()


def _sockets() -> tuple[int, int]:
    import socket

    reader, writer = socket.socketpair()
    return reader.detach(), writer.detach()


def _interrupted(_signal: int, frame: FrameType | None) -> None:
    """Handle Ctrl-C: raise an exception during the work, exit at once before and after it."""
    first = not _INTERRUPTED.is_set()
    _INTERRUPTED.set()
    if first and _WORKING.is_set() and not _is_importing(frame):
        raise KeyboardInterrupt
    _exit()


def _is_importing(frame: FrameType | None) -> bool:
    """Whether a module is being imported: compiled modules may crash if that is interrupted."""
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


def _watch(reader: int) -> None:
    """End the program after the grace period, if it has not ended by itself."""
    while signal.SIGINT not in os.read(reader, 64):
        pass
    time.sleep(GRACE)
    _exit()


def _exit() -> None:
    _remove_unfinished()
    _report()
    os._exit(_STOPPED)


def _remove_unfinished() -> None:
    files = sys.modules.get("scenes.files.atomic")
    if files is not None:
        files.remove_unfinished()


def _report() -> None:
    """Print once which files were written."""
    if _REPORTED.is_set():
        return
    _REPORTED.set()
    files = sys.modules.get("scenes.files.atomic")
    sentence = "Stopped; nothing was written." if files is None else files.stopped_message()
    # A progress bar hides the cursor and may be on this line.
    clean = "\x1b[?25h\r\x1b[K" if os.isatty(2) else ""
    try:
        os.write(2, f"{clean}{sentence}\n".encode(errors="replace"))
    except OSError:
        pass


def _excepthook(
    kind: type[BaseException], error: BaseException, trace: TracebackType | None
) -> None:
    # An interrupt in a library's callback is not shown: the sentence at the end reports it.
    if not issubclass(kind, KeyboardInterrupt):
        sys.__excepthook__(kind, error, trace)


def _unraisablehook(given: "sys.UnraisableHookArgs") -> None:
    if not issubclass(given.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(given)
