"""VTK's messages: notes and warnings are suppressed, errors become exceptions.

By default VTK prints all of them and continues: a shader that does not compile leaves a black
picture and 300 lines of text.
"""

import ctypes
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from vtkmodules.vtkCommonCore import (
    vtkCommand,
    vtkLogger,
    vtkOutputWindow,
    vtkStringOutputWindow,
)

from render.common.display import has_display
from render.common.problems import DrawingProblem
from scenes.problems import printable

__all__ = ["Errors", "errors_caught", "quieten"]

_WINDOW = "VTK_DEFAULT_OPENGL_WINDOW"
_WITHOUT_DISPLAY = "vtkEGLRenderWindow"
_LONGEST = 160


@cache
def quieten() -> None:
    """Select VTK's OpenGL backend and silence its log. Call it before VTK makes a window.

    Raises
    ------
    DrawingProblem
        If this machine has neither a display nor EGL: VTK would end the whole program.
    """
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_OFF)
    if not sys.platform.startswith("linux") or has_display() or os.environ.get(_WINDOW):
        return
    if not _loads("libEGL.so.1"):
        raise DrawingProblem(
            "There is no display and no EGL library to draw without one; on Debian or Ubuntu "
            "install libegl1, libegl-mesa0 and libgl1-mesa-dri."
        )
    # VTK tries a window of X first and complains that it has no display.
    os.environ[_WINDOW] = _WITHOUT_DISPLAY


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


class Errors:
    """Errors that VTK reported while they were collected."""

    def __init__(self) -> None:
        self.texts: list[str] = []

    def check(self) -> None:
        """Raise if there was an error.

        Raises
        ------
        DrawingProblem
            With the line that says what went wrong.
        """
        if self.texts:
            message = printable(_gist("\n".join(self.texts)), _LONGEST)
            raise DrawingProblem(f"The picture could not be drawn: {message}")


def _gist(text: str) -> str:
    """Find the line that says what went wrong.

    VTK first prints the place in its own source and the object, then the whole shader with line
    numbers; the compiler's message comes after that.
    """
    lines = [re.sub(r"^vtk\w+ \(\w+\): ", "", line.strip()) for line in text.splitlines()]
    messages = [line for line in lines if line and not re.match(r"ERROR: In |\d+:( |$)", line)]
    return next((line for line in messages if "error" in line.casefold()), (messages or [text])[0])


@contextmanager
def errors_caught() -> Iterator[Errors]:
    """Collect VTK's errors; raise at the end unless `Errors.check` has raised before.

    Raises
    ------
    DrawingProblem
    """
    errors = Errors()

    def note(_window: object, _event: str, text: str) -> None:
        if text.strip():
            errors.texts.append(text.strip())

    note.CallDataType = "string0"  # type: ignore[attr-defined]  # how VTK asks what to pass
    window = vtkStringOutputWindow()
    window.AddObserver(vtkCommand.ErrorEvent, note)
    before = vtkOutputWindow.GetInstance()
    vtkOutputWindow.SetInstance(window)
    try:
        yield errors
    finally:
        vtkOutputWindow.SetInstance(before)
    errors.check()
