"""The shader text of each kind of body, and how it takes the place of VTK's own shading.

The text is GLSL that desktop OpenGL and WebGL2 compile alike. Each kind of body has a function
`shaded` that gives the sRGB of a sample; what it reads is named at the head of each file.

How a wrap is shaded. The maps hold slopes of thread and of finish, colour, roughness, thread
direction, and how rows run. The reflection is averaged over the part of a row that a pixel sees: a
whole row is an anisotropic streak, a part of one is the row itself. Averaging is of radiance; each
sample then passes the display curve, before samples are averaged, so that one very bright sample
leaves no jagged edge.

Rows. A row is two or three texels wide, too few to interpolate the position across it. Each texel
of `SurfaceMaps.rows` holds its position across a row and the direction of the rows, and only the
nearest texel is read. Normals are evaluated at fixed positions on the row (taps); what changes with
the pixel is how much of each tap it sees. Nine taps miss a small lamp or meet it too often, always
at the same positions. The four samples of a 2 x 2 block therefore place their taps between one
another's, 36 for a pixel. Taps are distributed over a row in proportion to what the eye sees of it:
more of the flank that faces the eye, more of the crest of a round thread, less of the flanks of
thread that lies deep. Otherwise a row would grow brighter with distance.

Close up, where a texel is larger than a sample, the same numbers locate the sides of round
threads (`wrap_sides.glsl`). The maps of a thread are then read on its crest, or where it is not
covered, and those of what lies beside it clear of it, so that nothing is blended over the side. The
slopes of the outside are interpolated by a spline: linearly interpolated, they mirror a lamp in
steps.

Slopes that are averaged within a pixel widen the lobe (LEAN mapping; Olano & Baker 2010). GGX has
longer tails than the slope distribution it replaces, so its width is chosen such that the same cone
holds three quarters of both. Slopes are looked up one mip level finer than the rest, which keeps
the two sides of a ridge apart, and their variance is capped by the texels that the sample covers.
Slopes are never taken across the gap between two separate threads (`slopes_of(apart=...)`): that
drew beads along trims and beats that are not in the wrap.

Finish. A sample looks its maps up where the refracted ray meets the thread. Light that metal
mirrors and the finish's outside reflects back meets metal again some distance away, so colours are
averaged over three thicknesses of the finish. Every mirroring keeps the light's part along the
threads: it leaves on a cone about them, as from a fibre of hair, and is looked up in two directions
of that cone. So is light from one thread to the next. Taken as light from all around, it made metal
between dark threads twice as bright as in a path-traced picture wherever no lamp was mirrored.
Light that a thread scatters is kept in more often and spreads further: its colour is averaged over
ten.

Metal beside dull thread. Roughness is averaged separately for metal and for the rest, each times
its share, and both are weighted by what they mirror: averaged alike, dull threads widened the
streak of metal between them. A thread that lies deep mirrors what it sees between its neighbours in
full; how much that is depends on the direction, not on the share of the surroundings that reaches
it.

The mirror lobe of the outside is widened by its bend within a sample and no further: wider lobes
pick up lamps that nothing there mirrors.

Outlines. Triangles there are narrower than a sample, and a direction extrapolated to the sample's
middle may point below the horizon. The direction is then taken at a position that the triangle
covers (`centroid`), and only there, because that position changes from frame to frame. Light that
leaves at a low angle along its own thread meets no neighbour; light that leaves across it does.
"""

from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING

from materials.finish import FINISH
from materials.metal import diffuse_internal_reflectance
from scenes.light import tone
from scenes.light.prefilter import IN_AIR, IN_FINISH, LEVELS, SIDE
from scenes.stage.bodies import DRY_THREAD_IOR, FINISHED_THREAD_IOR, METAL_F0
from scenes.stage.borders import ON_TUBE, POINTER_REACH
from scenes.stage.maps import ROW_STEPS

if TYPE_CHECKING:
    # The text alone is read by hosts that do without VTK.
    from vtkmodules.vtkRenderingCore import vtkActor

__all__ = ["FILES", "SHADED", "constants_text", "file_text", "fragment_text", "shade"]

_LIT = ("display", "reflectance", "octahedral", "surroundings")
"""Files of `shaders/` for every body that reflects light."""

FILES = {
    "wrap": (*_LIT, "wrap_place", "wrap_thread", "wrap_rows", "wrap_sides", "wrap_light", "wrap"),
    "plain": (*_LIT, "plain"),
    "glow": ("display", "glow"),
    "ground": ("display", "ground"),
}
"""The files of `shaders/` for each kind of body, in the order of the text; the last one defines
`shaded`."""

SHADED = "fragOutput0 = vec4(shaded(normalVCVSOutput, vertexVC.xyz), 1.0);"
"""Statement executed for each sample, in VTK's names for its output and inputs."""


@lru_cache(maxsize=8)
def fragment_text(kind: str) -> str:
    """The fragment shader's declarations and functions for a kind of body.

    Parameters
    ----------
    kind : str
        A key of `FILES`.

    Returns
    -------
    str
        GLSL ES 3.00 without its first line, precision, and what VTK declares.
    """
    return "\n".join((constants_text(), *map(file_text, FILES[kind])))


def file_text(name: str) -> str:
    """The text of a file of `shaders/`.

    Parameters
    ----------
    name : str
        Without its ending.
    """
    folder = resources.files("render.live") / "shaders"
    return (folder / f"{name}.glsl").read_text(encoding="utf-8")


def shade(actor: "vtkActor", kind: str, *, attributes: str, assignments: str) -> None:
    """Replace VTK's shading of an actor by ours.

    Parameters
    ----------
    actor : vtkActor
    kind : str
        A key of `FILES`.
    attributes : str
        GLSL declarations of the vertex shader's inputs and outputs.
    assignments : str
        GLSL statements of the vertex shader that set the outputs.
    """
    shader = actor.GetShaderProperty()
    shader.AddVertexShaderReplacement(
        "//VTK::Normal::Dec", True, f"//VTK::Normal::Dec\n{attributes}", False
    )
    shader.AddVertexShaderReplacement(
        "//VTK::Normal::Impl", True, f"//VTK::Normal::Impl\n{assignments}", False
    )
    # VTK declares texture coordinates last of all that our functions read.
    shader.AddFragmentShaderReplacement(
        "//VTK::TCoord::Dec", True, f"//VTK::TCoord::Dec\n{fragment_text(kind)}", False
    )
    shader.AddFragmentShaderReplacement(
        "//VTK::Light::Impl", False, f"  {SHADED}\n//VTK::Light::Impl\n", False
    )


def constants_text() -> str:
    """The constants that the files of `shaders/` read, as GLSL."""
    return (
        f"const float EXPOSURE = {tone.EXPOSURE:.6f};\n"
        f"const float LINEAR_TO = {tone.LINEAR_TO:.6f};\n"
        f"const float WHITE = {tone.WHITE:.6f};\n"
        f"const float METAL = {METAL_F0:.6f};\n"
        f"const float DRY_IOR = {DRY_THREAD_IOR:.6f};\n"
        f"const float FINISHED_IOR = {FINISHED_THREAD_IOR:.6f};\n"
        f"const float FINISH_RETURNS = {float(diffuse_internal_reflectance(FINISH.ior)):.6f};\n"
        f"const float ROW_STEPS = {ROW_STEPS:.1f};\n"
        f"const int ON_TUBE = {ON_TUBE};\n"
        f"const int POINTER_REACH = {POINTER_REACH};\n"
        f"const float LIGHT_LEVELS = {LEVELS:.1f};\n"
        f"const float LIGHT_IN_AIR = {IN_AIR:.1f};\n"
        f"const float LIGHT_IN_FINISH = {IN_FINISH:.1f};\n"
        f"const float LIGHT_SIDE = {SIDE:.1f};\n"
    )
