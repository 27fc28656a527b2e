"""The glTF model, against the published schema, the specification's rules and the geometry."""

import io
import json
import struct
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
import trimesh
from matplotlib.tri import LinearTriInterpolator, Triangulation
from numpy.typing import NDArray
from PIL import Image

from geometry.bodies.mesh import tube_faces
from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.progress import Progress
from render.common.tags import Tag
from render.gltf.model import forecast_model, model_of
from render.gltf.textures import anisotropy_strength, seen_tilt
from render.gltf.wrap_mesh import Strides, WrapMesh, strides_for
from render.request.subject import Subject
from scenes.building.build import Wrap
from scenes.design.variants import with_changes
from scenes.files import samples

SAMPLES = ("two-start-band", "ringed-guide", "marbled-panel", "dry")
"""Two starts of a strip; two wrapped lengths with a guide; no thread; no finish."""

COMPONENTS = {5123: "<u2", 5125: "<u4", 5126: "<f4"}
WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}


@dataclass
class File:
    """A GLB file taken apart as in [GLTF2], section 4.4."""

    tree: dict[str, Any]
    binary: bytes

    def view(self, number: int) -> bytes:
        view = self.tree["bufferViews"][number]
        return self.binary[view["byteOffset"] :][: view["byteLength"]]

    def numbers(self, accessor: int) -> NDArray[Any]:
        about = self.tree["accessors"][accessor]
        data = np.frombuffer(self.view(about["bufferView"]), COMPONENTS[about["componentType"]])
        return data.reshape(about["count"], WIDTHS[about["type"]])

    def pixels(self, texture: dict[str, Any]) -> NDArray[np.uint8]:
        image = self.tree["images"][self.tree["textures"][texture["index"]]["source"]]
        with Image.open(io.BytesIO(self.view(image["bufferView"]))) as picture:
            assert picture.format == "PNG"
            return np.asarray(picture)

    @property
    def side(self) -> dict[str, Any]:
        """The textured primitive of the wrap itself."""
        return self.tree["meshes"][0]["primitives"][0]

    @property
    def material(self) -> dict[str, Any]:
        return self.tree["materials"][self.side["material"]]

    def attribute(self, name: str) -> NDArray[Any]:
        return self.numbers(self.side["attributes"][name]).astype(np.float64)


def dry_wrap() -> Wrap:
    design = with_changes(samples.load("two-start-band"), {"finish.coats": 0})
    return Subject(design, Shelf.shipped()).build(Detail.DRAFT, Progress.none())


@pytest.fixture(scope="module")
def wraps(sample_wrap: Callable[[str], Wrap]) -> dict[str, Wrap]:
    return {name: dry_wrap() if name == "dry" else sample_wrap(name) for name in SAMPLES}


@pytest.fixture(scope="module")
def files(wraps: dict[str, Wrap]) -> dict[str, File]:
    found = {}
    for name, wrap in wraps.items():
        data = model_of(wrap, Tag.of(wrap.design)).data
        magic, version, size = struct.unpack_from("<4sII", data)
        assert (magic, version, size) == (b"glTF", 2, len(data))
        length, kind = struct.unpack_from("<I4s", data, 12)
        assert (kind, length % 4) == (b"JSON", 0)
        rest, kind = struct.unpack_from("<I4s", data, 20 + length)
        assert (kind, rest % 4) == (b"BIN\0", 0)
        found[name] = File(json.loads(data[20 : 20 + length]), data[28 + length :])
    return found


# ---- The rules of the format


@pytest.mark.parametrize("name", SAMPLES)
def test_the_document_follows_the_published_schema(files: dict[str, File], name: str) -> None:
    """The schema of [GLTF2], as trimesh carries it."""
    tree = files[name].tree
    trimesh.exchange.gltf.validate(tree)
    used = {one for material in tree["materials"] for one in material.get("extensions", ())}
    assert set(tree["extensionsUsed"]) == used
    assert "extensionsRequired" not in tree


def test_the_schema_would_refuse_a_wrong_document(files: dict[str, File]) -> None:
    from jsonschema import ValidationError

    wrong = files["dry"].tree | {"meshes": [{"primitives": []}]}
    with pytest.raises(ValidationError):
        trimesh.exchange.gltf.validate(wrong)


@pytest.mark.parametrize("name", SAMPLES)
def test_vertices_follow_the_rules(files: dict[str, File], name: str) -> None:
    """[GLTF2], sections 3.6.2.4 (alignment), 3.6.2.5 (bounds), 3.7.2.1 (vertices, indices)."""
    file = files[name]
    for view in file.tree["bufferViews"]:
        assert view["byteOffset"] % 4 == 0
        assert view["byteOffset"] + view["byteLength"] <= file.tree["buffers"][0]["byteLength"]
    for mesh in file.tree["meshes"]:
        for part in mesh["primitives"]:
            place = file.tree["accessors"][part["attributes"]["POSITION"]]
            points = file.numbers(part["attributes"]["POSITION"])
            np.testing.assert_array_equal(np.float32(place["min"]), points.min(axis=0))
            np.testing.assert_array_equal(np.float32(place["max"]), points.max(axis=0))
            index = file.numbers(part["indices"])
            assert index.max() < min(len(points), np.iinfo(index.dtype).max)
            normals = file.numbers(part["attributes"]["NORMAL"])
            np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1, atol=1e-5)
            if "TANGENT" in part["attributes"]:
                tangents = file.numbers(part["attributes"]["TANGENT"])
                np.testing.assert_allclose(np.linalg.norm(tangents[:, :3], axis=1), 1, atol=1e-5)
                np.testing.assert_array_equal(tangents[:, 3], 1)
                along = np.einsum("ij,ij->i", tangents[:, :3].astype(float), normals)
                np.testing.assert_allclose(along, 0, atol=1e-5)


@pytest.mark.parametrize("name", SAMPLES)
def test_materials_of_wraps(files: dict[str, File], wraps: dict[str, Wrap], name: str) -> None:
    """Fields and ranges of KHR_materials_anisotropy, _clearcoat and _ior."""
    file = files[name]
    extensions = file.material["extensions"]
    assert ("KHR_materials_clearcoat" in extensions) == (wraps[name].outside is not None)
    assert ("KHR_materials_anisotropy" in extensions) == (name != "marbled-panel")
    # Of nylon, in air or in finish.
    assert extensions["KHR_materials_ior"]["ior"] == (1.54 if name == "dry" else 1.09)
    shape = file.pixels(file.material["normalTexture"]).shape
    nz, nt = wraps[name].surface.shape
    assert shape == (nz, nt, 3)
    if "KHR_materials_anisotropy" in extensions:
        anisotropy = extensions["KHR_materials_anisotropy"]
        assert 0 <= anisotropy["anisotropyStrength"] <= 1
        assert file.pixels(anisotropy["anisotropyTexture"]).shape == shape
    if "KHR_materials_clearcoat" in extensions:
        coat = extensions["KHR_materials_clearcoat"]
        assert (coat["clearcoatFactor"], coat["clearcoatRoughnessFactor"]) == (1, 0)
        assert file.pixels(coat["clearcoatNormalTexture"]).shape == shape


def test_guides_come_with_their_wraps_and_grips_stay_away(files: dict[str, File]) -> None:
    names = [node["name"] for node in files["ringed-guide"].tree["nodes"]]
    assert names[:2] == ["wrap", "wrap on guide 1"]
    assert {"guide", "guide ring"} <= set(names)
    assert not {"cork", "foam"} & set(names)


# ---- What the textures say


def seen_normals(file: File, texture: dict[str, Any]) -> NDArray[np.float64]:
    """Normals at the mesh's points as a viewer finds them [GLTF2], sections 3.7.2.1 and 3.9.3."""
    pixels = file.pixels(texture).astype(np.float64)
    height, width, _ = pixels.shape
    uv = file.attribute("TEXCOORD_0")
    column = np.floor(uv[:, 0] * width).astype(int) % width
    row = np.floor(uv[:, 1] * height).astype(int)
    # Points lie at the centres of texels.
    np.testing.assert_allclose(uv[:, 1] * height - row, 0.5, atol=0.01)
    local = 2 * pixels[row, column] / 255 - 1
    local[:, :2] *= texture.get("scale", 1.0)
    normal, tangent = file.attribute("NORMAL"), file.attribute("TANGENT")
    bitangent = np.cross(normal, tangent[:, :3]) * tangent[:, 3:]
    found = local[:, :1] * tangent[:, :3] + local[:, 1:2] * bitangent + local[:, 2:] * normal
    return found / np.linalg.norm(found, axis=1, keepdims=True)


def normals_of(wrap: Wrap, radius: NDArray[np.float64], points: int) -> NDArray[np.float64]:
    """Normals of a surface r(theta, z) by NumPy's own differences, at the points of the mesh."""
    surface = wrap.surface
    around = np.concatenate((radius[:, -1:], radius, radius[:, :1]), axis=1)
    hoop = np.gradient(around, surface.theta[1], axis=1)[:, 1:-1] / radius
    axial = np.gradient(radius, surface.step, axis=0)
    cosine, sine = np.cos(surface.theta), np.sin(surface.theta)
    # e_r - hoop e_theta - axial e_z, with the rod along x and the guide line up.
    normal = np.stack((-axial, cosine + hoop * sine, sine - hoop * cosine), axis=-1)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    strides = strides_for(surface.shape)
    picked = normal[:: strides.along, :: strides.around]
    picked = np.concatenate((picked, picked[:, :1]), axis=1).reshape(-1, 3)
    assert len(picked) == points
    return picked


def degrees_apart(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", first, second), -1, 1)))


def test_normals_of_a_bare_coat_are_those_of_its_shape(
    files: dict[str, File], wraps: dict[str, Wrap]
) -> None:
    """Without rows and sparkle, the normals of dry cells are those of the radius."""
    file, wrap = files["two-start-band"], wraps["two-start-band"]
    texture = file.material["extensions"]["KHR_materials_clearcoat"]["clearcoatNormalTexture"]
    found = seen_normals(file, texture)
    assert wrap.outside is not None
    wrong = degrees_apart(found, normals_of(wrap, wrap.outside.radius, len(found)))
    # Half a step of 8 bits, both ways, at this scale.
    step = np.degrees(texture["scale"] / 255) * np.sqrt(2)
    assert np.quantile(wrong, 0.99) < step + 0.2
    assert wrong.max() < 2


def test_normals_of_dry_thread_are_those_of_its_shape(
    files: dict[str, File], wraps: dict[str, Wrap]
) -> None:
    file, wrap = files["dry"], wraps["dry"]
    found = seen_normals(file, file.material["normalTexture"])
    surface = wrap.surface
    expected = normals_of(wrap, surface.radius, len(found))
    strides = strides_for(surface.shape)
    # Rows of a trim are round in the radius, and threads that sparkle have facets.
    sparkle = np.array([look.sparkle for look in wrap.palette])[surface.material]
    plain = (sparkle == 0) & ~surface.tube
    # Nor does a difference across the side of a layer count.
    for axis in (0, 1):
        plain &= np.roll(plain, 1, axis) & np.roll(plain, -1, axis)
    plain = plain[:: strides.along, :: strides.around]
    plain = np.concatenate((plain, plain[:, :1]), axis=1).ravel()
    assert plain.sum() > 500
    wrong = degrees_apart(found[plain], expected[plain])
    assert np.quantile(wrong, 0.99) < 0.5


def test_bitangents_point_up_the_picture(files: dict[str, File]) -> None:
    """So a viewer that works tangents out from the texture coordinates finds the same."""
    file = files["dry"]
    index = file.numbers(file.side["indices"]).reshape(-1, 3).astype(int)[::97]
    points, uv = file.attribute("POSITION")[index], file.attribute("TEXCOORD_0")[index]
    edges, steps = points[:, 1:] - points[:, :1], uv[:, 1:] - uv[:, :1]
    # Position as a linear function of u and of the picture's upward direction, 1 - v.
    steps[..., 1] *= -1
    along_u, upward = np.moveaxis(np.linalg.solve(steps, edges), 1, 0)
    tangent = file.attribute("TANGENT")[index[:, 0]]
    bitangent = np.cross(file.attribute("NORMAL")[index[:, 0]], tangent[:, :3])
    assert (np.einsum("ij,ij->i", along_u, tangent[:, :3]) > 0).all()
    # Where thread ends in a cliff, normals follow the thread and not the cliff.
    assert (np.einsum("ij,ij->i", upward, bitangent) > 0).mean() > 0.98


def test_roughness_and_direction_of_dry_metal(
    files: dict[str, File], wraps: dict[str, Wrap]
) -> None:
    """The formula of KHR_materials_anisotropy gives back the two roughnesses of the thread."""
    file, wrap = files["dry"], wraps["dry"]
    textures = file.material["pbrMetallicRoughness"]
    anisotropy = file.material["extensions"]["KHR_materials_anisotropy"]["anisotropyTexture"]
    surface = wrap.surface
    for number, look in enumerate(wrap.palette):
        wound = (surface.material == number) & (surface.lay == 0) & (surface.row != 0)
        # In the picture the first row is at the tip.
        wound = (wound & ~surface.tube)[::-1]
        if look.metallic == 0 or not wound.any():
            continue
        _, roughness, _ = file.pixels(textures["metallicRoughnessTexture"])[wound].T / 255
        red, green, strength = file.pixels(anisotropy)[wound].T / 255
        alpha = roughness**2
        across = alpha * (1 - strength**2) + strength**2
        np.testing.assert_allclose(np.sqrt(alpha), look.roughness_along, atol=1 / 255)
        np.testing.assert_allclose(np.sqrt(across), look.roughness_across, atol=0.01)
        # Along the blank, which is the bitangent; hoops are the tangent.
        np.testing.assert_allclose(2 * red - 1, 0, atol=0.03)
        np.testing.assert_allclose(2 * green - 1, 1, atol=0.01)
        return
    pytest.fail("no metal thread is wound along the hoop")


@pytest.mark.parametrize("name", ["two-start-band", "marbled-panel"])
def test_the_blank_keeps_its_colour(
    files: dict[str, File], wraps: dict[str, Wrap], name: str
) -> None:
    file = files[name]
    (pixel,) = np.unique(
        file.pixels(file.material["pbrMetallicRoughness"]["baseColorTexture"])[-1], axis=0
    )
    text = wraps[name].design.blank.colour
    assert pixel.tolist() == pytest.approx([int(text[i : i + 2], 16) for i in (1, 3, 5)], abs=1)


def test_normals_between_points_are_those_of_the_triangles(rng: np.random.Generator) -> None:
    """Against Matplotlib's interpolation on the same triangles."""
    strides, rings, columns = Strides(4, 8), 3, 4
    slopes = rng.uniform(-1, 1, (rings, columns, 2)).astype(np.float32)
    faces, nothing = tube_faces(rings, columns), np.zeros((rings, columns, 3))
    mesh = WrapMesh(nothing, nothing, nothing, nothing[..., :2], faces, slopes, strides)
    station, angle = np.mgrid[: 4 * (rings - 1) + 1, : 8 * (columns - 1)]
    low, left = np.mgrid[:rings, :columns]
    triangles = Triangulation(8.0 * left.ravel(), 4.0 * low.ravel(), faces)
    normals = np.concatenate((np.ones((rings, columns, 1)), -slopes), axis=-1)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    radial, hoop, axial = (
        LinearTriInterpolator(triangles, part.ravel())(angle, station)
        for part in np.moveaxis(normals, -1, 0)
    )
    found = mesh.between(slice(0, len(station)))
    np.testing.assert_allclose(found[..., 0], -hoop / radial, atol=1e-5)
    np.testing.assert_allclose(found[..., 1], -axial / radial, atol=1e-5)


# ---- Below the finish


def test_a_mirror_below_the_finish_by_vectors() -> None:
    """Snell's law in vectors, light from straight above: against the closed form in angles."""
    index = 1.53
    for tilt in (0.05, 0.2, 0.33):
        mirror = np.array((np.sin(tilt), np.cos(tilt)))
        ray = np.array((0.0, -1.0))
        ray = ray - 2 * (ray @ mirror) * mirror
        sine = index * ray[0]
        outward = np.array((sine, np.sqrt(1 - sine**2)))
        half = outward + np.array((0.0, 1.0))
        found = float(seen_tilt(np.float32(tilt), index))
        assert found == pytest.approx(np.arctan2(*half), abs=1e-6)
    # Total reflection from a tilt of 20.4 degrees: such light leaves along the outside.
    assert float(seen_tilt(np.float32(0.6), index)) == pytest.approx(np.pi / 4)
    assert float(seen_tilt(np.float32(0.6), 1.0)) == pytest.approx(0.6)


def test_strength_of_anisotropy() -> None:
    along, across = np.float32([0.05, 0.3, 1.0, 0.5]), np.float32([0.3, 0.3, 1.0, 0.2])
    strength = anisotropy_strength(along, across)
    np.testing.assert_allclose(along + (1 - along) * strength**2, np.maximum(along, across), 1e-6)


# ---- Sizes


@pytest.mark.parametrize("shape", [(2113, 960), (4225, 1920), (17, 192), (737, 256), (4097, 4096)])
def test_meshes_have_indices_of_two_bytes_and_square_cells(shape: tuple[int, int]) -> None:
    strides = strides_for(shape)
    rings, columns = strides.points(shape)
    if max(strides.along, strides.around) < 16:
        assert rings * columns < 1 << 16
        assert 0.5 <= strides.along / strides.around <= 2
    assert (shape[0] - 1) % strides.along == 0
    assert shape[1] % strides.around == 0


def test_a_forecast_holds_without_guides(wraps: dict[str, Wrap]) -> None:
    wrap = wraps["two-start-band"]
    model = model_of(wrap, Tag.of(wrap.design))
    triangles, size = forecast_model(wrap.plan, wrap.detail)
    assert triangles == model.triangles
    # The samples' textures take 0.2 to 3 bytes a texel.
    assert 0.6 < size / len(model.data) < 1.8


def test_a_forecast_bounds_textures_as_the_model_does() -> None:
    # Half-scale has 4225 stations in fine detail; a texture has 4096 texels a side at most.
    plan = Subject(samples.load("half-scale"), Shelf.shipped()).plan()
    assert plan.grid(Detail.FINE).z.size > 4096
    assert forecast_model(plan, Detail.FINE) == forecast_model(plan, Detail.NORMAL)
