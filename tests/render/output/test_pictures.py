"""Stills: what is in their files, that they come out the same, and how they look."""

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import uniform_filter

from render.common.problems import RequestProblem
from render.common.tags import SOFTWARE, Tag
from render.output.still import save_still
from render.request.subject import check_size
from scenes.building.build import Wrap
from scenes.design.variants import design_hash, variant
from scenes.files import samples

REFERENCES = Path(__file__).parent / "references"
REMAKE = "TURNLIGHT_REMAKE_REFERENCES"
"""Set to 1 to store what is drawn now as what is to be drawn from now on."""

SIZE = (320, 180)

SampleWrap = Callable[[str], Wrap]


@pytest.mark.render
@pytest.mark.parametrize("name", samples.names())
def test_samples_look_as_they_did(name: str, sample_wrap: SampleWrap, artefacts: Path) -> None:
    """Compare with a stored picture, drawn by Mesa's software renderer.

    Another driver rounds and filters a little differently, pixel by pixel, but its picture looks
    the same: so the whole is held close, and each neighbourhood of 9 x 9 pixels loosely.
    """
    reference = REFERENCES / f"{name}.png"
    target = reference if os.environ.get(REMAKE) == "1" else artefacts / "drawn.png"
    save_still(sample_wrap(name), target, size=SIZE)
    drawn = np.asarray(Image.open(target)).astype(float)
    stored = np.asarray(Image.open(reference)).astype(float)
    difference = np.abs(drawn - stored)
    Image.fromarray(np.uint8(np.clip(4 * difference, 0, 255))).save(artefacts / "difference.png")
    Image.fromarray(np.uint8(stored)).save(artefacts / "reference.png")
    assert difference.mean() < 2.0
    soft = np.abs(uniform_filter(drawn, (9, 9, 0)) - uniform_filter(stored, (9, 9, 0)))
    assert soft.max() < 20


@pytest.fixture(scope="module")
def stills(sample_wrap: SampleWrap, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Take the same still twice, from scratch."""
    folder = tmp_path_factory.mktemp("stills")
    for name in ("a.png", "b.png"):
        save_still(sample_wrap("half-scale"), folder / name, size=(160, 90))
    return [folder / "a.png", folder / "b.png"]


@pytest.mark.render
def test_the_same_design_gives_the_same_pixels(stills: list[Path]) -> None:
    assert stills[0].read_bytes() == stills[1].read_bytes()


@pytest.mark.render
def test_a_still_carries_title_hash_and_colour_space(stills: list[Path]) -> None:
    chunks = png_chunks(stills[0].read_bytes())
    kinds = [kind for kind, _ in chunks]
    # [PNG3], section 11.3.2.5: before the image data; 0 is perceptual.
    assert dict(chunks)[b"sRGB"] == b"\x00"
    assert kinds.index(b"sRGB") < kinds.index(b"IDAT")
    with Image.open(stills[0]) as image:
        assert image.mode == "RGB"
        assert image.size == (160, 90)
        assert image.text == {  # type: ignore[attr-defined]
            "Title": "Ossery half-scale",
            "Design": design_hash(samples.load("half-scale")),
            "Software": SOFTWARE,
        }


def png_chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Take a PNG apart [PNG3], section 5.3."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    chunks, at = [], 8
    while at < len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        chunks.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + length]))
        at += 12 + length
    return chunks


def test_the_tag_of_a_comparison_names_every_design() -> None:
    design = samples.load("half-scale")
    wide = variant(design, "wide gap")
    tag = Tag.of(design, wide)
    assert tag.design.split() == [design_hash(design), design_hash(wide)]
    assert design_hash(design) in tag.line


@pytest.mark.parametrize("size", [(16, 16), (8192, 16), (7000, 5700)])
def test_sizes_that_can_be_drawn(size: tuple[int, int]) -> None:
    check_size(size)


@pytest.mark.parametrize(
    ("size", "words"),
    [
        ((0, 0), "0x0 has a side that is not between 16 and 8192"),
        ((15, 100), "15x100"),
        ((100_000, 100), "100000x100"),
        ((8000, 8000), "64 megapixels; give 40 at most"),
    ],
)
def test_sizes_that_cannot(size: tuple[int, int], words: str) -> None:
    with pytest.raises(RequestProblem, match=words):
        check_size(size)
