"""The scripts of the browser's drawing, as one text that defines `drawingOf` and `modelView`."""

import json
from functools import cache
from importlib import resources

from render.browser.shader_texts import program_texts
from render.browser.stage_json import LONGEST_SIDE, unpacking_json

__all__ = ["drawing_script", "drawing_script_of_page"]

_FILES = ("gl.js", "unpack.js", "bodies.js", "maps.js", "light.js", "drawing.js", "model_view.js")


@cache
def drawing_script() -> str:
    """Functions of all files, to stand at the top of a script or of a function in one."""
    folder = resources.files("render.browser")
    return "\n".join((folder / name).read_text(encoding="utf-8") for name in _FILES)


@cache
def drawing_script_of_page() -> str:
    """The same with all that does not depend on a stage, as a script of its own.

    It defines ``turnlight_drawing``, with the functions that a page needs and the ``model`` that
    they draw with; the page adds the stage to each view.
    """
    model = {"programs": program_texts(), "longestSide": LONGEST_SIDE, **unpacking_json()}
    strict = '"use strict";\n'
    body = drawing_script().replace(strict, "")
    given = (
        "{ modelView, drawingOf, openContext, rendererOf, isSoftware, bitmapOf, columnsOf, model }"
    )
    return (
        f"{strict}(() => {{\n{body}\nconst model = {json.dumps(model)};\n"
        f"window.turnlight_drawing = {given};\n}})();\n"
    )
