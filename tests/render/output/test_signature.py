"""Title, builder and mark in the corners of pictures."""

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from materials.shelf import Shelf
from render.output.signature import Signature
from render.request.subject import Subject
from scenes.customer.number import design_number
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.files.companion_files import CompanionFiles, file_names
from scenes.problems import DesignProblem

GROUND = np.full((300, 400, 3), (90, 96, 104), np.uint8)


def subject_with(**order: str) -> Subject:
    design = samples.load("half-scale").without_variants()
    changed = with_changes(design, {f"order.{name}": value for name, value in order.items()})
    return Subject(changed, Shelf.shipped())


def png(pixels: np.ndarray) -> bytes:
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG")
    return file.getvalue()


def test_the_mark_is_laid_over_the_right_corner_by_its_alpha() -> None:
    # Porter and Duff, Compositing Digital Images (1984): "over" with coverage of a half.
    mark = np.zeros((40, 80, 4), np.uint8)
    mark[:, :40] = (250, 40, 20, 255)
    mark[:, 40:] = (250, 40, 20, 128)
    signed = Signature("", mark).on(GROUND)
    # A mark of 80 x 40 becomes 72 x 36 in a picture 300 high, 9 from its edges.
    left, top = 400 - 9 - 72, 300 - 9 - 36
    np.testing.assert_array_equal(signed[top + 18, left + 10], (250, 40, 20))
    half = GROUND[0, 0] + (128 / 255) * (np.array((250, 40, 20)) - GROUND[0, 0])
    np.testing.assert_allclose(signed[top + 18, left + 60], half, atol=1.5)
    untouched = signed.copy()
    untouched[top : top + 36, left : left + 72] = GROUND[0, 0]
    np.testing.assert_array_equal(untouched, GROUND)


def test_transparent_pixels_lend_no_colour_to_the_edge() -> None:
    mark = np.zeros((100, 100, 4), np.uint8)
    mark[..., 1] = 255  # green where nothing is to be seen
    mark[:, 30:70] = (200, 200, 200, 255)
    signed = Signature("", mark).on(GROUND).astype(int)
    assert (signed[..., 1] - signed[..., 0]).max() <= GROUND[0, 0, 1] - GROUND[0, 0, 0]


@pytest.mark.parametrize("ground", [0, 255])
def test_the_text_stands_in_the_left_corner_and_is_read_on_any_ground(ground: int) -> None:
    blank = np.full((540, 960, 3), ground, np.uint8)
    signed = Signature("Bronze and green · Lake Ossery Rods").on(blank)
    changed = np.argwhere((signed != blank).any(axis=-1))
    (top, left), (bottom, right) = changed.min(axis=0), changed.max(axis=0)
    assert top > 480
    assert bottom < 540 - 10
    assert left >= 10
    assert right < 0.65 * 960
    # Light letters with a dark edge.
    text = signed[top : bottom + 1, left : right + 1].astype(int)
    assert text.max() >= 200
    assert text.min() < 130


def test_a_design_is_signed_with_its_title_builder_and_mark(tmp_path: Path) -> None:
    (tmp_path / "mine.png").write_bytes(png(np.full((20, 20, 4), 255, np.uint8)))
    subject = replace(
        subject_with(builder="Lake Ossery Rods", mark="mine.png"), beside=CompanionFiles(tmp_path)
    )
    made = Signature.of(subject)
    assert made.text == f"{subject.design.title} · Lake Ossery Rods"
    assert made.mark is not None
    assert made.mark.shape == (20, 20, 4)
    # The mark goes with the design to another folder, and is not part of what the customer orders.
    assert ("order.mark", "mine.png") in list(file_names(subject.design))
    plain = subject_with()
    assert design_number(subject.design, subject.shelf, subject.beside) == design_number(
        plain.design, plain.shelf, plain.beside
    )


def test_a_mark_that_is_missing_or_no_picture_is_refused(tmp_path: Path) -> None:
    missing = replace(subject_with(mark="mine.png"), beside=CompanionFiles(tmp_path))
    with pytest.raises(DesignProblem, match=r'order\.mark: "mine\.png" is not there; put'):
        Signature.of(missing)
    (tmp_path / "mine.png").write_bytes(b"not a picture")
    with pytest.raises(DesignProblem, match=r'order\.mark: "mine\.png" is no PNG'):
        Signature.of(missing)
