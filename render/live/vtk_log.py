"""VTK's messages: notes and warnings kept from the builder, errors made exceptions.

By itself VTK prints all of them and goes on: a shader that does not compile leaves a black picture
and 300 lines of text.
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
    """Choose how VTK draws on this machine and keep its log off the terminal; do it first.

    Raises
    ------
    DrawingProblem
        If nothing here can draw: VTK would end the whole program.
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
    """What VTK reported as an error while it was watched."""

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
            told = _gist("\n".join(self.texts))
            raise DrawingProblem(f"The picture could not be drawn: {printable(told, _LONGEST)}")


def _gist(text: str) -> str:
    """Find the line that says what went wrong.

    VTK says where in its own source it was and which object, and lists a whole shader with a
    number before each line; the compiler's words come after that.
    """
    lines = [re.sub(r"^vtk\w+ \(\w+\): ", "", line.strip()) for line in text.splitlines()]
    said = [line for line in lines if line and not re.match(r"ERROR: In |\d+:( |$)", line)]
    return next((line for line in said if "error" in line.casefold()), (said or [text])[0])


@contextmanager
def errors_caught() -> Iterator[Errors]:
    """Watch VTK for errors, and raise at the end if `Errors.check` has not done so before.

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
