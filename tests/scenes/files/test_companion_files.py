"""Files beside a design: what is found, what is refused, and that no other folder is reached."""

import contextlib
import io
import os
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from materials.shelf import Shelf
from scenes.artwork.images import read_image
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples, storage
from scenes.files.companion_files import SHIPPED, CompanionFiles, copy_files, file_names
from scenes.problems import DesignProblem


def png(pixels, **kind) -> bytes:
    data = io.BytesIO()
    Image.fromarray(np.asarray(pixels, np.uint8), **kind).save(data, "PNG")
    return data.getvalue()


def bomb(side: int) -> bytes:
    """A PNG of a few hundred bytes that says it holds side x side pixels [ISO15948]."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    head = struct.pack(">IIBBBBB", side, side, 8, 6, 0, 0, 0)
    lines = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", lines) + chunk(b"IEND", b"")


@pytest.fixture
def folder(tmp_path):
    """A folder with a design of its own in it, and something outside that is nobody's business."""
    outside = tmp_path / "outside.png"
    outside.write_bytes(png(np.zeros((2, 2, 4))))
    inside = tmp_path / "rods"
    inside.mkdir()
    (inside / "rod.toml").write_text(samples.text("heron-plate").replace("heron.png", "own.png"))
    (inside / "own.png").write_bytes(png(np.full((20, 40, 4), 200)))
    return inside


def test_what_is_beside_the_design_is_found_before_what_is_shipped(folder) -> None:
    (folder / "vine.png").write_bytes(b"mine")
    assert CompanionFiles(folder).read("vine.png", "woven.chart") == b"mine"
    assert CompanionFiles(folder).read("shoal.png", "woven.chart") == SHIPPED.read("shoal.png", "x")


def test_a_design_with_its_own_picture(folder) -> None:
    design = storage.load(folder / "rod.toml")
    plan = Plan(design, Shelf.shipped(), CompanionFiles.of(folder / "rod.toml"))
    plan.prepare()
    assert plan.builders[1].proportions == (2.0, 1.0)
    (folder / "own.png").unlink()
    with pytest.raises(DesignProblem, match=r'picture.picture: "own.png" is not there; put the'):
        storage.load(folder / "rod.toml")


@pytest.mark.parametrize(
    "name",
    ["../outside.png", "/etc/passwd.png", "a/b.png", "..png", "C:x.png", "x\\y.png", "x.gif", ""],
)
def test_a_name_that_leads_elsewhere_is_no_name(name) -> None:
    with pytest.raises(DesignProblem, match=r"^picture.picture: "):
        with_changes(samples.load("heron-plate"), {"picture.picture": name})


@pytest.mark.parametrize("name", ["../outside.png", "heron-plate.toml", "rods/own.png"])
def test_not_even_the_reader_goes_elsewhere(folder, name) -> None:
    with pytest.raises(DesignProblem, match="is not there"):
        CompanionFiles(folder).read(name, "decal.picture")


def test_a_link_out_of_the_folder_is_not_followed(folder) -> None:
    os.symlink(folder.parent / "outside.png", folder / "link.png")
    os.symlink(folder / "own.png", folder / "inner.png")
    with pytest.raises(
        DesignProblem, match=r"leads out of the design's folder; put the file itself"
    ):
        CompanionFiles(folder).read("link.png", "decal.picture")
    os.symlink(folder / "nowhere.png", folder / "broken.png")
    with pytest.raises(DesignProblem, match="is not there"):
        CompanionFiles(folder).read("broken.png", "decal.picture")
    assert CompanionFiles(folder).read("inner.png", "decal.picture")


def test_a_pipe_is_not_waited_for(folder) -> None:
    os.mkfifo(folder / "pipe.png")
    with pytest.raises(DesignProblem, match="is no ordinary file"):
        CompanionFiles(folder).read("pipe.png", "decal.picture")


def test_a_file_of_a_variant_is_looked_for_too(folder) -> None:
    text = (folder / "rod.toml").read_text()
    changes = '[[variants]]\nname = "v"\n[variants.changes]\n"picture.picture" = "gone.png"\n'
    (folder / "rod.toml").write_text(text + changes)
    with pytest.raises(DesignProblem, match=r'"gone.png" is not there'):
        storage.load(folder / "rod.toml")


def test_files_go_along_with_a_design(folder, tmp_path) -> None:
    design = storage.load(folder / "rod.toml")
    assert dict(file_names(design))["picture.picture"] == "own.png"
    to = tmp_path / "elsewhere"
    to.mkdir()
    copy_files(design, folder, to)
    assert (to / "own.png").read_bytes() == (folder / "own.png").read_bytes()
    copy_files(design, folder, to)
    (to / "own.png").write_bytes(b"another")
    with pytest.raises(DesignProblem, match=r'another file called "own.png"'):
        copy_files(design, folder, to)
    assert (to / "own.png").read_bytes() == b"another"


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "no PNG picture"),
        (b"GIF89a" + b"\0" * 40, "no PNG picture"),
        (png(np.arange(4 * 90 * 90).reshape(90, 90, 4) % 251)[:200], "broken or cut short"),
        (bomb(40_000), "is 40000 by 40000 pixels; give 100 a side at most|too large"),
        (bomb(200), "is 200 by 200 pixels; give 100 a side at most"),
        (bomb(90), "broken or cut short"),
        (png(np.zeros((2, 101, 4))), "is 101 by 2 pixels"),
    ],
)
def test_a_bad_picture_is_one_sentence(data, told) -> None:
    with pytest.raises(DesignProblem, match=told) as caught:
        read_image(data, "own.png", "decal.picture", 100)
    assert str(caught.value).startswith('decal.picture: "own.png" ')
    assert "\n" not in str(caught.value)
    assert caught.value.field == "decal.picture"


def test_sixteen_bits_are_refused_in_words() -> None:
    data = io.BytesIO()
    Image.fromarray(np.zeros((4, 4), np.uint16)).save(data, "PNG")
    with pytest.raises(DesignProblem, match="is 16-bit grey; save it with 8 bits a channel"):
        read_image(data.getvalue(), "own.png", "decal.picture", 100)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA"])
def test_every_common_kind_of_png_is_read(mode) -> None:
    data = io.BytesIO()
    Image.new("RGBA", (3, 2), (255, 255, 255, 255)).convert(mode).save(data, "PNG")
    pixels = read_image(data.getvalue(), "own.png", "decal.picture", 100)
    assert pixels.shape == (2, 3, 4)
    assert (pixels == 255).all()


def test_any_damage_is_refused_or_read(rng) -> None:
    whole = np.frombuffer(SHIPPED.read("vine.png", "x"), np.uint8)
    for _ in range(60):
        data = whole.copy()
        data[rng.integers(0, data.size, 3)] = rng.integers(0, 256, 3)
        # Anything but a refusal in words fails the test.
        with contextlib.suppress(DesignProblem):
            assert read_image(data.tobytes(), "own.png", "decal.picture", 400).ndim == 3
