"""Where the program begins: Ctrl-C and closed streams are looked after before all else is loaded.

The command line takes a second or two to load, so this module imports nothing that takes time.
While that loads, Ctrl-C ends the program at once: nothing is open yet. While a command works,
Ctrl-C raises `KeyboardInterrupt`, so that what is open is closed and what is half-made removed. A
thread beside the work ends the program where that takes too long, because a library does not let go
or threads are waited for. It needs Python's lock for it: a call of a library that holds the lock
ends first. When all is closed, the process ends without freeing what it has loaded, which takes
another second. When all is done, Ctrl-C ends the program at once again.
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

By measurement a turntable closes its window and files in 0.06 s on a busy machine; a picture that
is being drawn is not waited for.
"""

_STOPPED = 130
"""Exit code: 128 + SIGINT."""

_WORKING = threading.Event()
_ASKED = threading.Event()
_TOLD = threading.Event()


def main() -> int:
    """Run the command line of this program and give its exit code."""
    return guarded(_command_line)


def _command_line() -> Callable[[], int]:
    from render.cli.main import main as run

    return run


def guarded(load: Callable[[], Callable[[], int]]) -> int:
    """Run a program whose process this is.

    Parameters
    ----------
    load : callable
        Imports what takes time, and gives what does the work. The work gives the exit code and
        has told, on standard error, what else there is to tell.

    Returns
    -------
    int
        The exit code; 1 where the work was done and what it says could not be written. After
        Ctrl-C it does not return: the process ends with 130.
    """
    # Runs after whatever else is registered: from then on there is nothing left to stop.
    atexit.register(signal.signal, signal.SIGINT, signal.SIG_IGN)
    sys.excepthook, sys.unraisablehook = _excepthook, _unraisablehook
    _heed()
    from render.cli.streams import Streams

    streams = Streams()
    try:
        run = load()
        _WORKING.set()
        code = run()
    except BaseException as error:
        # A library may have made something else of the interrupt.
        if not (_ASKED.is_set() or isinstance(error, KeyboardInterrupt)):
            raise
        code = _STOPPED
    else:
        if code == _STOPPED:
            _TOLD.set()
    finally:
        _WORKING.clear()
    if _ASKED.is_set() or code == _STOPPED:
        streams.finish(_STOPPED)
        _end()
    _heed()
    return streams.finish(code)


def _heed() -> None:
    """Take Ctrl-C over: at first, and again from whoever took it over since."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        return  # as a shell wants it for what runs in the background
    signal.signal(signal.SIGINT, _interrupted)
    reader, writer = os.pipe() if os.name != "nt" else _sockets()
    os.set_blocking(writer, False)
    signal.set_wakeup_fd(writer, warn_on_full_buffer=False)
    threading.Thread(target=_watch, args=(reader,), daemon=True).start()


def _sockets() -> tuple[int, int]:
    import socket

    one, other = socket.socketpair()
    return one.detach(), other.detach()


def _interrupted(_signal: int, frame: FrameType | None) -> None:
    """Stop: by an exception in the midst of the work, at once before and after it."""
    first = not _ASKED.is_set()
    _ASKED.set()
    if first and _WORKING.is_set() and not _is_importing(frame):
        raise KeyboardInterrupt
    _end()


def _is_importing(frame: FrameType | None) -> bool:
    """Tell whether a module is being loaded: compiled ones may crash where that is broken off."""
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


def _watch(reader: int) -> None:
    """End the program some time after Ctrl-C, if it has not ended by itself."""
    while signal.SIGINT not in os.read(reader, 64):
        pass
    time.sleep(GRACE)
    _end()


def _end() -> None:
    _sweep()
    _tell()
    os._exit(_STOPPED)


def _sweep() -> None:
    files = sys.modules.get("scenes.files.atomic")
    if files is not None:
        files.remove_unfinished()


def _tell() -> None:
    """Say what has been written, once."""
    if _TOLD.is_set():
        return
    _TOLD.set()
    files = sys.modules.get("scenes.files.atomic")
    sentence = "Stopped; nothing was written." if files is None else files.stopped_message()
    # The bar of progress hides the cursor, and may stand in this line.
    clean = "\x1b[?25h\r\x1b[K" if os.isatty(2) else ""
    try:
        os.write(2, f"{clean}{sentence}\n".encode(errors="replace"))
    except OSError:
        pass


def _excepthook(
    kind: type[BaseException], error: BaseException, trace: TracebackType | None
) -> None:
    # From a callback that a library made, which goes on: one sentence will be told at the end.
    if not issubclass(kind, KeyboardInterrupt):
        sys.__excepthook__(kind, error, trace)


def _unraisablehook(given: "sys.UnraisableHookArgs") -> None:
    if not issubclass(given.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(given)
