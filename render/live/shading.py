"""The shader text of each kind of body, and how it takes the place of VTK's own shading.

The text is GLSL that desktop OpenGL and WebGL2 compile alike. Each kind of body has a function
`shaded` that gives the sRGB of a sample; what it reads is named at the head of each file.
"""

from functools import cache
from importlib import resources

from vtkmodules.vtkRenderingCore import vtkActor

from scenes.light import tone
from scenes.stage.bodies import METAL_F0
from scenes.stage.maps import ROW_STEPS

__all__ = ["LIGHT_LEVELS", "OWN_FILES", "SHADED", "fragment_text", "shade"]

LIGHT_LEVELS = 7
"""Roughnesses, evenly from 0 to 1, that the light is blurred for; between them it is mixed."""

_SHARED_FILES = ("display", "reflectance", "surroundings")
"""Files of `shaders/` that every kind of body is shaded with, in the order of the text."""

OWN_FILES = {
    "wrap": ("wrap_place", "wrap_thread", "wrap_rows", "wrap_light", "wrap"),
    "plain": ("plain",),
    "glow": ("glow",),
}
"""The files of each kind of body; the last one defines `shaded`."""

SHADED = "fragOutput0 = vec4(shaded(normalVCVSOutput, vertexVC.xyz), 1.0);"
"""What is done for each sample, in VTK's names for its output and inputs."""


@cache
def fragment_text(kind: str) -> str:
    """The fragment shader's declarations and functions for a kind of body.

    Parameters
    ----------
    kind : str
        A key of `OWN_FILES`.

    Returns
    -------
    str
        GLSL ES 3.00 without its first line, precision, and what VTK declares.
    """
    folder = resources.files("render.live") / "shaders"
    files = (*_SHARED_FILES, *OWN_FILES[kind])
    texts = [(folder / f"{name}.glsl").read_text(encoding="utf-8") for name in files]
    return "\n".join((_constants(), *texts))


def shade(actor: vtkActor, kind: str, *, attributes: str, assignments: str) -> None:
    """Put our shading in the place of VTK's.

    Parameters
    ----------
    actor : vtkActor
    kind : str
        A key of `OWN_FILES`.
    attributes : str
        GLSL declarations of what the vertex shader takes and passes on.
    assignments : str
        GLSL statements of the vertex shader that pass it on.
    """
    shader = actor.GetShaderProperty()
    shader.AddVertexShaderReplacement(
        "//VTK::Normal::Dec", True, f"//VTK::Normal::Dec\n{attributes}", False
    )
    shader.AddVertexShaderReplacement(
        "//VTK::Normal::Impl", True, f"//VTK::Normal::Impl\n{assignments}", False
    )
    # Texture coordinates are what VTK declares last of all that is read.
    shader.AddFragmentShaderReplacement(
        "//VTK::TCoord::Dec", True, f"//VTK::TCoord::Dec\n{fragment_text(kind)}", False
    )
    shader.AddFragmentShaderReplacement(
        "//VTK::Light::Impl", False, f"  {SHADED}\n//VTK::Light::Impl\n", False
    )


def _constants() -> str:
    return (
        f"const float EXPOSURE = {tone.EXPOSURE:.6f};\n"
        f"const float LINEAR_TO = {tone.LINEAR_TO:.6f};\n"
        f"const float WHITE = {tone.WHITE:.6f};\n"
        f"const float METAL = {METAL_F0:.6f};\n"
        f"const float ROW_STEPS = {ROW_STEPS:.1f};\n"
        f"const float ROUGHEST = {LIGHT_LEVELS - 1:.1f};\n"
    )
