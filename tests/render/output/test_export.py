"""Meshes, read again by trimesh: size, unit, closed, coloured, tagged."""

import json
import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from geometry.bodies.solid import solid
from geometry.grid import Detail
from geometry.surface import Surface
from materials.shelf import Shelf
from render.common.progress import Progress
from render.output.export import forecast, save_mesh
from render.request.subject import Subject
from scenes.building.build import Wrap
from scenes.design.variants import design_hash
from scenes.files import samples


@pytest.fixture(scope="module")
def wrap(sample_wrap: Callable[[str], Wrap]) -> Wrap:
    return sample_wrap("two-start-band")


@pytest.fixture(scope="module")
def folder(wrap: Wrap, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("export")
    for suffix in ("glb", "stl", "ply"):
        save_mesh(wrap, folder / f"a.{suffix}")
    return folder


def extents_mm(surface: Surface) -> np.ndarray:
    """Measure on the grid itself: across the rod twice, and along it."""
    x = surface.radius * np.cos(surface.theta)
    y = surface.radius * np.sin(surface.theta)
    return np.array([np.ptp(x), np.ptp(y), np.ptp(surface.z)])


def merged(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    """Join vertices at one place, as STL gives each triangle its own."""
    mesh.merge_vertices(merge_tex=True, merge_norm=True)
    return mesh


def test_glb_is_in_metres_with_the_rod_along_x(wrap: Wrap, folder: Path) -> None:
    scene = trimesh.load_scene(folder / "a.glb")
    mesh = scene.to_mesh()
    # What is seen is the outside of the finish, here with fewer points.
    x, y, z = extents_mm(wrap.outside)
    np.testing.assert_allclose(mesh.extents, np.array([z, x, y]) / 1000, rtol=4e-3)
    # The guide line, at theta 0, is up; the middle of the wrap is at the origin.
    np.testing.assert_allclose(
        mesh.bounds[:, 0] * 1000 + wrap.plan.middle, wrap.surface.z[[0, -1]], atol=1e-3
    )


@pytest.mark.parametrize("suffix", ["stl", "ply"])
def test_stl_and_ply_are_in_mm(wrap: Wrap, folder: Path, suffix: str) -> None:
    mesh = trimesh.load_mesh(folder / f"a.{suffix}")
    np.testing.assert_allclose(mesh.extents, extents_mm(wrap.surface), rtol=1e-5)
    np.testing.assert_allclose(mesh.bounds[:, 2], wrap.surface.z[[0, -1]], rtol=1e-5)


@pytest.mark.parametrize("suffix", ["glb", "stl", "ply"])
def test_closed_and_outward(wrap: Wrap, folder: Path, suffix: str) -> None:
    mesh = merged(trimesh.load_scene(folder / f"a.{suffix}").to_mesh())
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    scale, surface, rel = (1000, wrap.outside, 2e-3) if suffix == "glb" else (1, wrap.surface, 1e-4)
    assert mesh.volume * scale**3 == pytest.approx(solid(surface).volume, rel=rel)


def test_each_material_keeps_its_colour(wrap: Wrap, folder: Path) -> None:
    (mesh,) = trimesh.load_scene(folder / "a.ply").geometry.values()
    colours = mesh.visual.vertex_colors[:, :3]
    assert len(np.unique(colours, axis=0)) == len(np.unique(wrap.surface.material))
    text = wrap.design.blank.colour
    srgb = [int(text[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    np.testing.assert_allclose(colours[0] / 255, srgb, atol=1 / 255)


def test_glb_carries_title_and_hash(wrap: Wrap, folder: Path) -> None:
    data = (folder / "a.glb").read_bytes()
    # glTF 2.0, section 4.4: a header of 12 bytes, then the chunk of JSON.
    assert data[:4] == b"glTF"
    length, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    tree = json.loads(data[20 : 20 + length])
    assert tree["asset"]["extras"] == {
        "title": wrap.design.title,
        "design": design_hash(wrap.design),
    }


def test_stl_and_ply_carry_title_hash_and_unit(wrap: Wrap, folder: Path) -> None:
    for suffix in ("stl", "ply"):
        head = (folder / f"a.{suffix}").read_bytes()[:400]
        for word in (wrap.design.title, design_hash(wrap.design), "mm |"):
            assert word.encode() in head
    # A binary STL must not begin like a text one.
    assert not (folder / "a.stl").read_bytes().startswith(b"solid")


def test_what_was_written_is_said(wrap: Wrap, tmp_path: Path) -> None:
    written = save_mesh(wrap, tmp_path / "a.stl")
    nz, nt = wrap.surface.shape
    assert written.unit == "mm"
    assert written.triangles == 2 * nt * (nz - 1) + 2 * nt
    assert (tmp_path / "a.stl").stat().st_size == 84 + 50 * written.triangles


@pytest.mark.parametrize("suffix", ["stl", "ply"])
def test_the_size_is_known_before_anything_is_laid(wrap: Wrap, folder: Path, suffix: str) -> None:
    """Against the written file and trimesh's own count; the head of the file is not counted."""
    triangles, size = forecast(wrap.plan, wrap.detail, f".{suffix}")
    mesh = trimesh.load_scene(folder / f"a.{suffix}").to_mesh()
    assert triangles == len(mesh.faces)
    assert size == pytest.approx((folder / f"a.{suffix}").stat().st_size, rel=0.01)


def test_the_size_of_a_model_with_a_guide_is_known_too(tmp_path: Path) -> None:
    """Against the written file; its textures are compressed, which no forecast knows."""
    subject = Subject(samples.load("filled-chevrons"), Shelf.shipped())
    triangles, size = forecast(subject.plan(), Detail.DRAFT, ".glb")
    made = subject.build(Detail.DRAFT, Progress.none())
    written = save_mesh(made, tmp_path / "a.glb")
    assert triangles == pytest.approx(written.triangles, rel=0.002)
    assert size == pytest.approx((tmp_path / "a.glb").stat().st_size, rel=0.5)
