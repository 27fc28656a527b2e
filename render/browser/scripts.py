"""The scripts of the browser's drawing, as one text that defines `drawingOf`."""

from functools import cache
from importlib import resources

__all__ = ["drawing_script"]

_FILES = ("gl.js", "unpack.js", "bodies.js", "maps.js", "drawing.js")


@cache
def drawing_script() -> str:
    """Functions of all files, to stand at the top of a script or of a function in one."""
    folder = resources.files("render.browser")
    return "\n".join((folder / name).read_text(encoding="utf-8") for name in _FILES)
