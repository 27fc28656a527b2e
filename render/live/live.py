"""The live picture: a stage drawn by VTK with our own shading.

VTK provides the window and the depth buffer. The shaders in `shaders/` compute what light does on
thread and under finish; they replace VTK's own shading of a surface.
Shape comes from a thinned mesh, everything finer from the maps of `scenes.stage.maps`. Triangles
therefore stay larger than pixels: software OpenGL shades every triangle in blocks of 4 x 4 pixels.

The rod is lit by `Stage.surroundings`: the radiance map, with the card's own light where the card
stands in the way, blurred by `scenes.light.prefilter`. VTK would blur it too, from 256 samples of a
map that wraps its zenith round to its nadir: undersides were lit by the ceiling, 63 levels of 255
where 43 are right. VTK's clear coat is not used either, since it applies the Fresnel factor twice.
Bodies turn by a matrix; nothing is rebuilt between frames.

Previews, while something moves (`LiveScene.set_preview`), take five normals across a row in place
of nine, a mesh with a quarter of the points and no multisampling, which tests and shades every
triangle several times. The last two brought a draft of 440 x 310 pixels from 250 ms of processor
time to 60. One sample a pixel meets a bright end of thread in one frame and misses it in the next,
so slopes are averaged a little further there, and their variance is capped later than in a still.

Traps of VTK:

- It turns anisotropic filtering on. Mesa's software OpenGL then reads another place of the map
  where neighbouring samples need different mip levels (stray dots).
- It mixes up the channels of a float texture of two channels; three work.
- It declares uniforms that are set through `GetFragmentCustomUniforms` itself.
- A window drawn from another thread gives a black picture and no error.
- It hands over matrices row by row, which GLSL reads column by column.
- Without a light of its own it declares neither position nor normal.
"""

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonCore import vtkDataArray, vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkImageData, vtkPolyData
from vtkmodules.vtkCommonMath import vtkMatrix3x3, vtkMatrix4x4
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkPolyDataMapper,
    vtkTexture,
    vtkUniforms,
)

from geometry.bodies.mesh import Mesh, skin
from materials.colour import linear_to_srgb
from materials.finish import FINISH
from render.common.closing import Closing
from render.common.heap import give_back_freed_memory
from render.live.bands import Band, bands
from render.live.shading import shade
from render.live.textures import at_powers_of_two, in_16_bits, linear_light, with_roughness
from render.live.window import Window
from scenes.cache.light import kept_light
from scenes.light import tone
from scenes.light.prefilter import prefiltered
from scenes.stage.backdrop import Backdrop, card_in_picture
from scenes.stage.bodies import PlainBody, WrapBody
from scenes.stage.camera import Camera
from scenes.stage.maps import surface_maps
from scenes.stage.stage import Stage
from scenes.stage.wrap_mesh import MESH_POINTS, wrap_shape

__all__ = ["LiveScene"]

Pixels = NDArray[np.uint8]

_PREVIEW_MESH_POINTS = 3_000
"""The same in previews, which are half as wide, so that triangles cover as many pixels."""

_TAPS = 9
"""Normals evaluated across a row of thread; the lobe of each covers the distance to the next."""

_PREVIEW_TAPS = 5
"""The same in previews: streaks are a little coarser and as bright."""


class LiveScene(Closing):
    """A stage in a VTK window, ready to be turned and drawn.

    Use it from one thread only: drawn from another, VTK gives a black picture and no error.

    Parameters
    ----------
    stage : Stage
    size : (int, int)
        Width and height of the pictures, pixels.
    supersample : int
        Samples along either side of a pixel; a pixel is the mean of their square.
    outlines : bool
        Test outlines for several places of each sample, in stills.
    """

    def __init__(
        self,
        stage: Stage,
        size: tuple[int, int],
        *,
        supersample: int = 2,
        outlines: bool = True,
    ) -> None:
        self.size = size
        self.supersample = supersample
        self.outlines = outlines
        self._bands = list(bands(size[0] * supersample, size[1] * supersample, supersample))
        self.window = Window((size[0] * supersample, self._bands[0].rows))
        self._preview = False
        self._samples: int | None = None
        self._wraps: list[_DrawnWrap] = []
        self._plain: list[tuple[PlainBody, vtkActor]] = []
        self._turning: list[vtkActor] = []
        self._standing: list[vtkActor] = []
        self._light: NDArray[np.float32] | None = None
        self._light_map = vtkTexture()
        self.show_stage(stage)
        self.look_from(stage.camera)
        self.turn_to(stage.turn)

    def show_stage(self, stage: Stage, *, keep_light: bool = True) -> None:
        """Replace the stage; camera and turn stay as they are.

        Parameters
        ----------
        stage : Stage
            Wraps and bodies that the previous stage had too keep their maps and meshes.
        keep_light : bool
            Keep a new light, blurred, in the user's cache; not for one of many while it moves.
        """
        self.stage = stage
        staying = {_identity(body) for body in stage.wraps}
        wraps = {name: wrap for wrap in self._wraps if (name := _identity(wrap.body)) in staying}
        plain = {_identity(body): actor for body, actor in self._plain}
        # What is removed loses its textures, so wraps stay; the rest is drawn after them as ever.
        kept = [wrap.actor for wrap in wraps.values()]
        for actor in (*self._turning, *self._standing):
            if actor not in kept:
                self.window.remove(actor)
        self._wraps = [
            wraps.get(_identity(body)) or _DrawnWrap(body, self.window) for body in stage.wraps
        ]
        self._plain = [
            (body, plain.get(_identity(body)) or _plain_actor(body)) for body in stage.bodies
        ]
        self._turning = [wrap.actor for wrap in self._wraps]
        self._turning += [actor for _, actor in self._plain]
        self._set_quality()
        self._standing = [_backdrop_actor(stage.backdrop)]
        above_card = linear_to_srgb(tone.display_light(stage.backdrop.radiance[-1].mean(axis=0)))
        self.window.set_background(above_card)
        for actor in (*self._turning, *self._standing):
            if actor not in kept:
                self.window.add(actor)
        if self._light is None or not np.array_equal(self._light, stage.surroundings):
            self._light = stage.surroundings
            self._light_map = _light_texture(stage.surroundings, keep_light)
        self._set_light()

    def resize(self, size: tuple[int, int], supersample: int, *, outlines: bool = True) -> None:
        """Change the size of pictures, or the number of samples.

        Parameters
        ----------
        size : (int, int)
            Width and height, pixels.
        supersample : int
            Samples along either side of a pixel.
        outlines : bool
            Test outlines for several places of each sample, in stills.
        """
        self.size, self.supersample, self.outlines = size, supersample, outlines
        self._bands = list(bands(size[0] * supersample, size[1] * supersample, supersample))
        self.window.resize((size[0] * supersample, self._bands[0].rows))
        self._set_quality()

    def set_preview(self, preview: bool, samples: int | None = None) -> None:
        """Choose between the quality of a preview, for what moves, and that of a still.

        Parameters
        ----------
        preview : bool
            A coarser mesh, fewer normals across a row, and no multisampling.
        samples : int, optional
            Samples along either side of a pixel of the final picture, where the caller averages
            more of them than `supersample`.
        """
        self._preview, self._samples = preview, samples
        self._set_quality()

    def _set_quality(self) -> None:
        # Multisampling takes more than half of the time: every triangle is tested and shaded for
        # it, at an outline or not.
        self.window.set_multisampling(self.outlines and not self._preview)
        for wrap in self._wraps:
            wrap.set_preview(self._preview, float(self._samples or self.supersample))

    def close(self) -> None:
        """Release the window and its memory."""
        self.window.close()

    def turn_to(self, turn: float) -> None:
        """Turn the rod about its axis.

        Parameters
        ----------
        turn : float
            Angle, rad.
        """
        matrix = vtkMatrix4x4()
        matrix.DeepCopy(self.stage.transform(turn).ravel().tolist())
        for actor in self._turning:
            actor.SetUserMatrix(matrix)

    def look_from(self, camera: Camera) -> None:
        """Move the camera.

        Parameters
        ----------
        camera : Camera
        """
        view = self.window.camera
        view.SetPosition(*camera.position)
        view.SetFocalPoint(*camera.target)
        view.SetViewUp(*camera.up)
        self._view_angle = camera.view_angle
        view.SetClippingRange(0.2 * camera.distance, 5 * camera.distance + 4000)
        self._set_light()

    def _set_light(self) -> None:
        """Hand every lit body the light, and the rotation from view coordinates to the light's."""
        to_view = self.window.camera.GetModelViewTransformMatrix()
        # Handed over row by row and read column by column, it is transposed: a rotation's inverse.
        turned = [to_view.GetElement(i, j) for i in range(3) for j in range(3)]
        rotation = vtkMatrix3x3()
        rotation.DeepCopy(turned)
        aspect = self.size[0] / self.size[1]
        below = card_in_picture(self.stage.backdrop, self.stage.camera, aspect).below
        for actor in self._turning:
            actor.GetProperty().SetTexture("lightMap", self._light_map)
            uniforms = actor.GetShaderProperty().GetFragmentCustomUniforms()
            uniforms.SetUniformMatrix("lightFromView", rotation)
            uniforms.SetUniformf("cardBelow", below)

    def picture(self, turn: float | None = None) -> Pixels:
        """Draw a picture and read it back.

        Parameters
        ----------
        turn : float, optional
            Turn the rod to this angle first, rad.

        Returns
        -------
        (height, width, 3) uint8
            sRGB.
        """
        if turn is not None:
            self.turn_to(turn)
        parts = [_shrunk(self._drawn(band), self.supersample) for band in self._bands]
        # The first row of a picture is its uppermost.
        whole = np.concatenate(parts[::-1]) if len(parts) > 1 else parts[0]
        return whole[len(whole) - self.size[1] :]

    def _drawn(self, band: Band) -> Pixels:
        """Draw a band of the picture."""
        view = self.window.camera
        view.SetViewAngle(float(np.rad2deg(band.view_angle(self._view_angle))))
        view.SetWindowCenter(0, band.middle)
        for actor in (*self._turning, *self._standing):
            uniforms = actor.GetShaderProperty().GetFragmentCustomUniforms()
            uniforms.SetUniform2f("pictureCorner", (0, band.first))
        return self.window.picture()


def _identity(body: WrapBody | PlainBody) -> tuple[int, ...]:
    """Equal for two bodies that are made of the same parts, and so look the same."""
    if isinstance(body, WrapBody):
        return id(body.surface), id(body.beneath), id(body.outside), hash(body.palette)
    return id(body.mesh), id(body.tint), hash(body.appearance)


def _shrunk(pixels: Pixels, factor: int) -> Pixels:
    """Mean of `factor` x `factor` blocks of sRGB values.

    The tone curve has been applied to every sample, so that one very bright sample cannot outweigh
    its neighbours and leave a jagged edge.
    """
    return np.asarray(Image.fromarray(pixels).reduce(factor)) if factor > 1 else pixels


class _DrawnWrap:
    """A wrap in the window: one actor, and a mesh for each quality in which it is drawn.

    Parameters
    ----------
    body : WrapBody
    window : Window
        It is drawn in no other.
    """

    def __init__(self, body: WrapBody, window: Window) -> None:
        self.body = body
        self.actor = _actor(vtkPolyData(), ())
        self._meshes: dict[bool, vtkPolyData] = {}
        self._load_maps(window)
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
        uniforms.SetUniformf("finishIor", body.finish_ior if body.outside is not None else 1.0)
        uniforms.SetUniform2f("mapSize", (nt, nz))
        around = 2 * np.pi * float(outer.radius.mean())
        uniforms.SetUniform2f("mapsPerMm", (1 / around, 1 / (nz * body.surface.step)))

    def _load_maps(self, window: Window) -> None:
        """Compute the maps, and hand one after the other to the driver."""
        body = self.body

        def load(name: str, image: NDArray[np.generic], *, exact: bool = False) -> None:
            texture = _texture(image, exact=exact)
            window.load(texture)
            self.actor.GetProperty().SetTexture(f"{name}Map", texture)

        maps = surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)
        thread, body_colour, mirror = maps.thread, maps.body, maps.mirror
        give_back_freed_memory()
        load("slopes", maps.slopes)
        load("outside", maps.outside)
        load("rows", maps.rows, exact=True)
        del maps
        give_back_freed_memory()
        lit = linear_light(body_colour, thread[..., 2])
        del body_colour
        roughness, colour = with_roughness(in_16_bits(thread), lit, mirror[..., 3])
        del thread, lit
        load("thread", roughness)
        load("body", colour)
        del roughness, colour
        load("mirror", linear_light(mirror))

    def set_preview(self, preview: bool, samples: float) -> None:
        """Select preview or still quality.

        Parameters
        ----------
        preview : bool
        samples : float
            Samples along either side of a pixel of the final picture.
        """
        if preview not in self._meshes:
            self._meshes[preview] = _wrap_mesh(
                self.body, _PREVIEW_MESH_POINTS if preview else MESH_POINTS
            )
        self.actor.GetMapper().SetInputDataObject(self._meshes[preview])
        self._uniforms.SetUniformi("taps", _PREVIEW_TAPS if preview else _TAPS)
        self._uniforms.SetUniformi("preview", int(preview))
        # Rows are averaged over a pixel of the final picture; averaged over a sample they would
        # beat with the pixels.
        self._uniforms.SetUniformf("samplesAcross", samples)

    @property
    def _uniforms(self) -> vtkUniforms:
        return self.actor.GetShaderProperty().GetFragmentCustomUniforms()


def _wrap_mesh(wrap: WrapBody, points: int) -> vtkPolyData:
    """Mesh of about `points` points; of more where the grid cannot be thinned further."""
    shape = wrap_shape(wrap, points)
    mesh = skin(shape.surface)
    radial = mesh.points * np.array((1, 1, 0), np.float32)
    radial /= np.linalg.norm(radial, axis=1, keepdims=True)
    across, along = np.meshgrid(shape.across, shape.along)
    return _poly_data(mesh, radial, np.stack((across.ravel(), along.ravel()), axis=1))


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
    """The card, cut into strips; its radiance is a map, a texel for each point and column."""
    rows, columns = card.radiance.shape[:2]
    strips = len(card.strips)
    points = np.empty((rows, strips, 3), np.float32)
    points[..., 0], points[..., 1:] = card.strips, card.points[:, :1, 1:]
    every = (columns - 1) // (strips - 1)
    across, along = np.meshgrid(
        (np.arange(strips) * every + 0.5) / columns, (np.arange(rows) + 0.5) / rows
    )
    corner = (np.arange(rows - 1)[:, None] * strips + np.arange(strips - 1)).ravel()
    a, b, c, d = corner, corner + 1, corner + strips + 1, corner + strips
    faces = np.stack((a, b, c, a, c, d), axis=1).reshape(-1, 3).astype(np.int32)
    data = vtkPolyData()
    _fill(data, points.reshape(-1, 3), faces)
    normals = np.zeros_like(points)
    normals[..., 1] = 1
    data.GetPointData().SetNormals(_array(normals.reshape(-1, 3)))
    places = np.stack((across.ravel(), along.ravel()), axis=1).astype(np.float32)
    data.GetPointData().SetTCoords(_array(places))
    if card.ground is None:
        actor = _actor(data, ())
        shade(actor, "glow", attributes="", assignments="")
    else:
        actor = _ground_actor(data, card, points)
    actor.GetProperty().SetTexture("cardMap", _float_texture(card.radiance))
    return actor


def _ground_actor(data: vtkPolyData, card: Backdrop, points: NDArray[np.float32]) -> vtkActor:
    """The card with its pattern; `points` are its own, (m, strips, 3)."""
    ground = card.ground
    assert ground is not None
    width, height = ground.size
    run = np.broadcast_to(card.run[:, None], points.shape[:2])
    place = np.stack((points[..., 0] / width, run / height), axis=-1)
    _attach(data, groundPlaceIn=place.reshape(-1, 2).astype(np.float32))
    actor = _actor(data, ("groundPlaceIn",))
    shade(
        actor,
        "ground",
        attributes="in vec2 groundPlaceIn;\nout vec2 groundPlace;\n",
        assignments="  groundPlace = groundPlaceIn;\n",
    )
    # Three channels alike: VTK mixes up the channels of other numbers.
    shares = np.repeat(in_16_bits(ground.shares)[..., None], 3, axis=-1)
    actor.GetProperty().SetTexture("groundMap", _texture(shares))
    dark, light = ground.relative
    uniforms = actor.GetShaderProperty().GetFragmentCustomUniforms()
    uniforms.SetUniform3f("groundDark", dark)
    uniforms.SetUniform3f("groundLight", light)
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
    result: vtkDataArray = numpy_to_vtk(np.ascontiguousarray(array), deep=True)  # type: ignore[no-untyped-call]
    return result


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


def _texture(image: NDArray[np.generic], *, exact: bool = False) -> vtkTexture:
    """A map as a texture: theta along s, stations along t, with mipmaps.

    An exact map keeps its size and has no mipmaps.
    """
    image = image if exact else at_powers_of_two(image)
    nz, nt, channels = image.shape
    data = vtkImageData()
    data.SetDimensions(nt, nz, 1)
    data.GetPointData().SetScalars(_array(image.reshape(-1, channels)))
    texture = vtkTexture()
    texture.SetInputData(data)
    texture.SetColorModeToDirectScalars()
    texture.SetInterpolate(not exact)
    texture.SetMipmap(not exact)
    # The shader chooses the mipmap level. VTK would add anisotropic filtering, and with it Mesa's
    # software OpenGL reads another place of the map where the samples of a 2 x 2 block ask for
    # different levels.
    texture.SetMaximumAnisotropicFiltering(1)
    texture.RepeatOn()
    return texture


def _light_texture(radiance: NDArray[np.float32], keep: bool) -> vtkTexture:
    """The light blurred for each roughness, one octahedral map above the other."""
    maps = (kept_light if keep else prefiltered)(radiance, FINISH.ior)
    return _float_texture(maps.reshape(-1, *maps.shape[2:]))


def _float_texture(image: NDArray[np.float32]) -> vtkTexture:
    """Radiance, (height, width, 3), interpolated between texels and held at its edges."""
    height, width, _ = image.shape
    data = vtkImageData()
    data.SetDimensions(width, height, 1)
    data.GetPointData().SetScalars(_array(image.reshape(-1, 3)))
    texture = vtkTexture()
    texture.SetInputData(data)
    texture.SetColorModeToDirectScalars()
    texture.InterpolateOn()
    texture.MipmapOff()
    texture.SetMaximumAnisotropicFiltering(1)
    texture.SetWrap(vtkTexture.ClampToEdge)
    return texture
