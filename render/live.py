"""The live picture: a stage drawn by VTK with our own shading.

VTK gives the window, the depth buffer and the prefiltered light; what light does on thread and
under finish is `shaders/*.glsl`, which replace VTK's own shading of a surface. Shape comes from a
thinned mesh, everything finer from the maps of `scenes.maps`, so that triangles stay larger than
pixels: software GL shades every triangle in blocks of 4 x 4 pixels.
"""

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from PIL import Image
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonCore import vtkDataArray, vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkImageData, vtkPolyData
from vtkmodules.vtkCommonMath import vtkMatrix4x4
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkPolyDataMapper,
    vtkRenderWindow,
    vtkTexture,
    vtkUniforms,
)

from geometry.blocks import over_blocks
from geometry.grid import THINNEST
from geometry.mesh import Mesh, skin
from materials.colour import from_bytes, linear_to_srgb, to_bytes
from render.closing import Closing
from render.shading import LIGHT_LEVELS, shade
from render.textures import at_powers_of_two
from scenes import tone
from scenes.backdrop import Backdrop
from scenes.bodies import PlainBody, WrapBody
from scenes.camera import Camera
from scenes.maps import crests, surface_maps
from scenes.stage import Stage

__all__ = ["LiveScene"]

Pixels = NDArray[np.uint8]

_MESH_POINTS = 12_000
"""About how many points of a wrap are kept as mesh."""

_HASTY_MESH_POINTS = 3_000
"""The same while things move: pictures are half as large then, and triangles as large again."""

_TAPS = 9
"""Normals tried across a row of thread; the roughness covers their spacing."""

_HASTY_TAPS = 5
"""The same while things move: streaks get a little coarser, their brightness stays."""

_LIGHT_SAMPLES = 256
"""Samples a texel when VTK blurs the light for rough reflections; more is not seen."""


class LiveScene(Closing):
    """A stage in a VTK window, ready to be turned and drawn.

    Must be used from one thread only: VTK drawn from another gives a black picture.

    Parameters
    ----------
    stage : Stage
    size : (int, int)
        Width and height of the pictures, pixels.
    supersample : int
        Each pixel is the mean of this many squared.
    plotter : pyvista.Plotter, optional
        Draw into this one instead of an off-screen window.
    """

    def __init__(
        self,
        stage: Stage,
        size: tuple[int, int],
        *,
        supersample: int = 2,
        plotter: pv.Plotter | None = None,
    ) -> None:
        self.size = size
        self.supersample = supersample
        window = (size[0] * supersample, size[1] * supersample)
        self.plotter = plotter or pv.Plotter(
            off_screen=True, window_size=list(window), lighting="none"
        )
        renderer = self.plotter.renderer
        renderer.AutomaticLightCreationOff()
        renderer.UseImageBasedLightingOn()
        renderer.GetEnvMapPrefiltered().SetPrefilterMaxSamples(_LIGHT_SAMPLES)
        renderer.GetEnvMapPrefiltered().SetPrefilterLevels(LIGHT_LEVELS)
        # VTK fills two tables that only its own shading reads; small ones cost it a second less.
        renderer.GetEnvMapLookupTable().SetLUTSize(16)
        renderer.GetEnvMapIrradiance().SetIrradianceSize(16)
        self._hasty = False
        self._edge_samples = self._window.GetMultiSamples()
        self._wraps: list[_DrawnWrap] = []
        self._plain: list[tuple[PlainBody, vtkActor]] = []
        self._turning: list[vtkActor] = []
        self._standing: list[vtkActor] = []
        self._light: NDArray[np.float32] | None = None
        self.show_stage(stage)
        self.look_from(stage.camera)
        self.turn_to(stage.turn)

    def show_stage(self, stage: Stage) -> None:
        """Put another stage in the place of this one; camera and turn stay as they are."""
        renderer = self.plotter.renderer
        for actor in (*self._turning, *self._standing):
            renderer.RemoveActor(actor)
        self.stage = stage
        # What was there before needs no new maps and meshes.
        wraps = {_parts(one.body): one for one in self._wraps}
        plain = {_parts(body): actor for body, actor in self._plain}
        self._wraps = [wraps.get(_parts(body)) or _DrawnWrap(body) for body in stage.wraps]
        self._plain = [
            (body, plain.get(_parts(body)) or _plain_actor(body)) for body in stage.bodies
        ]
        self._turning = [*(one.actor for one in self._wraps), *(actor for _, actor in self._plain)]
        self.hasten(self._hasty)
        self._standing = [_backdrop_actor(stage.backdrop)]
        beyond = linear_to_srgb(tone.display_light(stage.backdrop.radiance[-1]))
        self.plotter.set_background(beyond.tolist())
        for actor in (*self._turning, *self._standing):
            renderer.AddActor(actor)
        # Blurring a light takes a second or more: keep it if it is the same.
        if self._light is None or not np.array_equal(self._light, stage.surroundings):
            self._light = stage.surroundings
            renderer.SetEnvironmentTexture(_light_texture(stage.surroundings), False)

    def resize(self, size: tuple[int, int], supersample: int) -> None:
        """Take pictures of another size, or of another number of samples."""
        self.size, self.supersample = size, supersample
        self._window.SetSize(size[0] * supersample, size[1] * supersample)

    def hasten(self, hasty: bool, samples: int | None = None) -> None:
        """Shade more coarsely while things move, or finely again.

        Parameters
        ----------
        hasty : bool
        samples : int, optional
            Samples across a pixel, where the window averages more of them than `supersample`.
        """
        self._hasty = hasty
        # Samples for smooth outlines cost more than half of a picture: every triangle is tested and
        # shaded for them, at the outline or not.
        self._window.SetMultiSamples(0 if hasty else self._edge_samples)
        for wrap in self._wraps:
            wrap.hasten(hasty, float(samples or self.supersample))

    @property
    def _window(self) -> vtkRenderWindow:
        window = self.plotter.render_window
        assert window is not None
        return window

    def close(self) -> None:
        """Let the window and its memory go."""
        self.plotter.close()

    def turn_to(self, turn: float) -> None:
        """Turn the rod to `turn` rad about its axis."""
        matrix = vtkMatrix4x4()
        matrix.DeepCopy(self.stage.placing(turn).ravel().tolist())
        for actor in self._turning:
            actor.SetUserMatrix(matrix)

    def look_from(self, camera: Camera) -> None:
        """Put the camera there."""
        view = self.plotter.camera
        view.position, view.focal_point, view.up = camera.position, camera.target, camera.up
        view.view_angle = float(np.rad2deg(camera.view_angle))
        view.clipping_range = (0.2 * camera.distance, 5 * camera.distance + 4000)

    def picture(self, turn: float | None = None) -> Pixels:
        """Draw and read back.

        Parameters
        ----------
        turn : float, optional
            Turn the rod there first, rad.

        Returns
        -------
        (height, width, 3) uint8
            sRGB.
        """
        if turn is not None:
            self.turn_to(turn)
        self.plotter.render()
        pixels = np.asarray(self.plotter.screenshot(None, return_img=True))
        return _shrunk(pixels, self.supersample)


def _parts(body: WrapBody | PlainBody) -> tuple[int, ...]:
    """What a body is made of: two of the same parts look the same."""
    if isinstance(body, WrapBody):
        return id(body.surface), id(body.beneath), id(body.outside), hash(body.palette)
    return id(body.mesh), id(body.tint), hash(body.appearance)


def _shrunk(pixels: Pixels, factor: int) -> Pixels:
    """Mean of `factor` x `factor` blocks, in the display's own numbers.

    The curve has been applied to every sample, so that one very bright sample cannot
    outweigh its neighbours and leave a jagged edge.
    """
    return np.asarray(Image.fromarray(pixels).reduce(factor)) if factor > 1 else pixels


class _DrawnWrap:
    """A wrap in the window: one actor, and a mesh for each manner in which it is drawn.

    Parameters
    ----------
    body : WrapBody
    """

    def __init__(self, body: WrapBody) -> None:
        self.body = body
        self.actor = _actor(vtkPolyData(), ())
        self._meshes: dict[bool, vtkPolyData] = {}
        maps = surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)
        mixed: dict[str, NDArray[np.generic]] = {
            "form": maps.form,
            "manner": maps.manner,
            "outside": maps.outside,
        }
        for name, image in mixed.items():
            self.actor.GetProperty().SetTexture(f"{name}Map", _texture(image))
        for name, colour in {"mirror": maps.mirror, "body": maps.body}.items():
            lit = _texture(_reached(colour, maps.manner[..., 2]), colour=True)
            self.actor.GetProperty().SetTexture(f"{name}Map", lit)
        self.actor.GetProperty().SetTexture("rowsMap", _texture(maps.rows, exact=True))
        shade(
            self.actor,
            "wrap",
            attributes="out vec3 axisVS;\ncentroid out vec3 coveredVS;\n",
            assignments="  axisVS = normalMatrix * vec3(0.0, 0.0, 1.0);\n"
            "  coveredVS = normalVCVSOutput;\n",
        )
        nz, nt = body.surface.shape
        outer = body.outside or body.surface
        uniforms = self._uniforms
        uniforms.SetUniformf("finishIor", body.finish_ior if body.outside is not None else 0.0)
        uniforms.SetUniform2f("mapSize", (nt, nz))
        around = 2 * np.pi * float(outer.radius.mean())
        uniforms.SetUniform2f("mapsPerMm", (1 / around, 1 / (nz * body.surface.step)))

    def hasten(self, hasty: bool, samples: float) -> None:
        """Draw it coarsely or finely, with so many samples across a pixel."""
        if hasty not in self._meshes:
            self._meshes[hasty] = _wrap_mesh(
                self.body, _HASTY_MESH_POINTS if hasty else _MESH_POINTS
            )
        self.actor.GetMapper().SetInputDataObject(self._meshes[hasty])
        self._uniforms.SetUniformi("taps", _HASTY_TAPS if hasty else _TAPS)
        self._uniforms.SetUniformi("hasty", int(hasty))
        # A pixel of the finished picture is so many samples wide, and rows must not beat with it.
        self._uniforms.SetUniformf("samplesAcross", samples)

    @property
    def _uniforms(self) -> vtkUniforms:
        return self.actor.GetShaderProperty().GetFragmentCustomUniforms()


def _wrap_mesh(wrap: WrapBody, points: int) -> vtkPolyData:
    stride = 1
    while stride < THINNEST and wrap.surface.radius.size / stride**2 > 2 * points:
        stride *= 2
    outer = wrap.outside or wrap.surface
    if wrap.outside is None:
        # A few points of many threads would draw their round as a jagged outline.
        outer = outer.with_arrays(radius=crests(outer).astype(np.float64))
    mesh = skin(outer.thinned(stride))
    nz, nt = wrap.surface.shape
    radial = mesh.points * np.array((1, 1, 0), np.float32)
    radial /= np.linalg.norm(radial, axis=1, keepdims=True)
    # Texel centres: station i is at (i + 1/2) / nz, angle j at (j + 1/2) / nt.
    uv = np.stack((mesh.uv[:, 0] + 0.5 / nt, (mesh.uv[:, 1] * (nz - 1) + 0.5) / nz), axis=1).astype(
        np.float32
    )
    return _poly_data(mesh, radial, uv)


def _plain_actor(body: PlainBody) -> vtkActor:
    mesh, look = body.mesh, body.appearance
    data = _poly_data(mesh, mesh.normals, mesh.uv)
    colour = np.clip(body.tint * np.array(look.base_colour, np.float32), 0, 1)
    _attach(data, baseColour=colour.astype(np.float32))
    actor = _actor(data, ("baseColour",))
    shade(
        actor,
        "plain",
        attributes="in vec3 baseColour;\nout vec3 baseColourVS;\n",
        assignments="  baseColourVS = baseColour;\n",
    )
    uniforms = actor.GetShaderProperty().GetFragmentCustomUniforms()
    uniforms.SetUniformf("metallicOf", look.metallic)
    uniforms.SetUniformf("roughnessOf", look.roughness_along)
    return actor


def _backdrop_actor(card: Backdrop) -> vtkActor:
    count = len(card.points)
    points = card.points.reshape(-1, 3)
    base = 2 * np.arange(count - 1, dtype=np.int32)
    faces = np.stack((base, base + 1, base + 3, base, base + 3, base + 2), axis=1).reshape(-1, 3)
    data = vtkPolyData()
    _fill(data, points, faces)
    normals = np.zeros_like(points)
    normals[:, 1] = 1
    data.GetPointData().SetNormals(_array(normals))
    _attach(data, baseColour=np.repeat(card.radiance, 2, axis=0))
    actor = _actor(data, ("baseColour",))
    shade(
        actor,
        "glow",
        attributes="in vec3 baseColour;\nout vec3 baseColourVS;\n",
        assignments="  baseColourVS = baseColour;\n",
    )
    return actor


def _poly_data(
    mesh: Mesh,
    normals: NDArray[np.float32],
    uv: NDArray[np.float32],
) -> vtkPolyData:
    data = vtkPolyData()
    _fill(data, mesh.points, mesh.faces)
    data.GetPointData().SetNormals(_array(normals))
    data.GetPointData().SetTCoords(_array(uv))
    return data


def _fill(data: vtkPolyData, points: NDArray[np.float32], faces: NDArray[np.int32]) -> None:
    corners = vtkPoints()
    corners.SetData(_array(points))
    data.SetPoints(corners)
    cells = vtkCellArray()
    cells.SetData(3, _array(faces.ravel()))
    data.SetPolys(cells)


def _attach(data: vtkPolyData, **arrays: NDArray[np.float32]) -> None:
    for name, array in arrays.items():
        attribute = _array(array)
        attribute.SetName(name)
        data.GetPointData().AddArray(attribute)


def _array(array: NDArray[np.generic]) -> vtkDataArray:
    made: vtkDataArray = numpy_to_vtk(np.ascontiguousarray(array), deep=True)  # type: ignore[no-untyped-call]
    return made


def _actor(data: vtkPolyData, attributes: tuple[str, ...]) -> vtkActor:
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(data)
    mapper.ScalarVisibilityOff()
    for name in attributes:
        mapper.MapDataArrayToVertexAttribute(name, name, 0, -1)
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetInterpolationToPBR()
    actor.GetProperty().BackfaceCullingOn()
    return actor


def _reached(colour: Pixels, reach: Pixels) -> Pixels:
    """A colour times the share of light that reaches it.

    Threads of one colour often lie deep beside higher ones of another: a pixel of both must take
    the mean of the product.
    """
    lit = colour.copy()

    def work(part: slice) -> None:
        share = reach[part, :, None].astype(np.float32) / np.float32(255)
        lit[part, :, :3] = to_bytes(from_bytes(colour[part, :, :3]) * share)

    over_blocks(work, slice(0, colour.shape[0]), colour.shape[1])
    return lit


def _texture(
    image: NDArray[np.generic], *, exact: bool = False, colour: bool = False
) -> vtkTexture:
    """A map as a texture: theta along s, stations along t, averaged as it shrinks.

    An exact one keeps its own points and is not averaged. Of a colour, which is sRGB, light is
    averaged and looked up.
    """
    image = image if exact else at_powers_of_two(image, colour=colour)
    nz, nt, channels = image.shape
    data = vtkImageData()
    data.SetDimensions(nt, nz, 1)
    data.GetPointData().SetScalars(_array(image.reshape(-1, channels)))
    texture = vtkTexture()
    texture.SetInputData(data)
    texture.SetColorModeToDirectScalars()
    texture.SetUseSRGBColorSpace(colour)
    texture.SetInterpolate(not exact)
    texture.SetMipmap(not exact)
    # The shader says which halving it wants. VTK would have every look-up filtered anisotropically
    # beside that, and Mesa's software OpenGL then reads another place of the map altogether where
    # the samples of a block of 2 x 2 want different halvings.
    texture.SetMaximumAnisotropicFiltering(1)
    texture.RepeatOn()
    return texture


def _light_texture(radiance: NDArray[np.float32]) -> vtkTexture:
    """The light for VTK: its first row is at the bottom, its first column looks along -x.

    (`vtkEquirectangularToCubeMapTexture`: u = atan(z, x) / 2 pi + 1/2.)
    """
    # VTK halves a light for each roughness, and of a smaller one nothing would be left.
    enlarged = -(-(2 ** (LIGHT_LEVELS - 1)) // radiance.shape[0])
    radiance = radiance.repeat(enlarged, axis=0).repeat(enlarged, axis=1)
    height, width, _ = radiance.shape
    turned = np.roll(radiance[::-1], width // 2, axis=1)
    data = vtkImageData()
    data.SetDimensions(width, height, 1)
    data.GetPointData().SetScalars(_array(turned.reshape(-1, 3)))
    texture = vtkTexture()
    texture.SetInputData(data)
    texture.SetColorModeToDirectScalars()
    texture.InterpolateOn()
    texture.MipmapOn()
    return texture
