"""The shader programs of the browser: the shading of `render.live`, unchanged, in its own host.

The shading is GLSL that desktop OpenGL and WebGL2 compile alike. What stands around it here, in
place of VTK's templates, is the first lines of a WebGL2 shader, `shaders/host.glsl` and a `main`.
"""

import re
from functools import cache
from importlib import resources

from render.live.shading import SHADED, constants_text, file_text, fragment_text

__all__ = ["BODIES", "program_texts"]

BODIES = ("wrap", "plain", "glow", "ground")
"""Kinds of body, as `render.live.shading` names them."""

_FIRST = """#version 300 es
precision highp float;
precision highp int;
precision highp sampler2D;
"""

_WHOLE = {
    "unpack_looks": ("between", "unpack_looks"),
    "unpack_rows": ("unpack_rows",),
    "unpack_slopes": ("between", "unpack_slopes"),
    "unpack_light": ("unpack_light",),
    "light_source": ("light_bare", "light_source"),
    "light_mean": ("light_mean",),
    "light_unshaded": ("light_unshaded",),
    "light_card": ("light_card",),
    "light_sharp": ("light_place", "light_bare", "light_on_card", "light_sharp"),
    "light_around": ("light_on_card", "light_around"),
    "light_wide": ("light_place", "light_lobe", "light_wide"),
    "light_narrow": ("light_place", "light_lobe", "light_narrow"),
    "light_spread": ("light_spread",),
    "shrink": ("shrink",),
}
"""Files of the programs that fill a target."""

_BETWEEN = "uniform vec2 targetSize;\n"

_SHARED = {"light_wide": ("octahedral", "reflectance")}
"""Files of `render.live` that the programs of a moved light read, if not `octahedral` alone."""


@cache
def program_texts() -> dict[str, tuple[str, str]]:
    """Vertex and fragment shader of each program, by its name; GLSL ES 3.00, without comments."""
    vertex = _FIRST + _text("body_vertex")
    whole = _FIRST + _text("whole_vertex")
    texts = {kind: (vertex, _body(kind)) for kind in BODIES}
    for name, files in _WHOLE.items():
        shared = _SHARED.get(name, ("octahedral",)) if name.startswith("light_") else ()
        head = (_FIRST + _BETWEEN, *((constants_text(),) if shared else ()))
        texts[name] = (whole, "\n".join((*head, *map(file_text, shared), *map(_text, files))))
    return {name: (_bare(vertex), _bare(fragment)) for name, (vertex, fragment) in texts.items()}


def _bare(text: str) -> str:
    """GLSL without comments, indents and empty lines: a third of its length."""
    return re.sub(r"\n\s*", "\n", re.sub(r"[ \t]*//.*", "", text)).lstrip()


def _body(kind: str) -> str:
    main = f"void main()\n{{\n  vec3 normalVCVSOutput = normalize(normalIn);\n  {SHADED}\n}}\n"
    return "\n".join((_FIRST + _text("host"), fragment_text(kind), main))


def _text(name: str) -> str:
    folder = resources.files("render.browser") / "shaders"
    return (folder / f"{name}.glsl").read_text(encoding="utf-8")
