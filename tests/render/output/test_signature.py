"""Title, builder and mark in the corners of pictures."""

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from materials.shelf import Shelf
from render.common.progress import Progress
from render.output import captions
from render.output.signature import Signature
from render.request.subject import Subject
from scenes.customer.number import design_number
from scenes.design.document import with_changes
from scenes.files import samples, storage
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


def test_the_mark_is_laid_over_the_picture_by_its_alpha() -> None:
    # Porter and Duff, Compositing Digital Images (1984): "over" with coverage of a half.
    mark = np.zeros((40, 80, 4), np.uint8)
    mark[:, :40] = (250, 40, 20, 255)
    mark[:, 40:] = (250, 40, 20, 128)
    signed = Signature((), mark).placed(GROUND).on(GROUND)
    # A mark of 80 x 40 becomes 72 x 36 in a picture 300 high, 9 from its edges.
    left, top = 9, 300 - 9 - 36
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
    signed = Signature((), mark).placed(GROUND).on(GROUND).astype(int)
    assert (signed[..., 1] - signed[..., 0]).max() <= GROUND[0, 0, 1] - GROUND[0, 0, 0]


@pytest.mark.parametrize("ground", [0, 255])
def test_the_text_stands_in_a_corner_and_is_read_on_any_ground(ground: int) -> None:
    blank = np.full((540, 960, 3), ground, np.uint8)
    signed = Signature(("Bronze and green", "Lake Ossery Rods")).placed(blank).on(blank)
    changed = np.argwhere((signed != blank).any(axis=-1))
    (top, left), (bottom, right) = changed.min(axis=0), changed.max(axis=0)
    assert top > 460
    assert bottom < 540 - 10
    assert left >= 10
    assert right < 0.65 * 960
    # Light letters on a dark ground, dark ones on a light ground.
    text = signed[top : bottom + 1, left : right + 1].astype(int)
    assert abs(text - ground).max() > 190


def test_nothing_stands_on_the_rod_where_there_is_a_plainer_corner() -> None:
    busy = GROUND.copy()
    busy[200:, :200] = np.random.default_rng(1).integers(0, 255, (100, 200, 3))
    mark = np.full((40, 40, 4), 255, np.uint8)
    signed = Signature(("Bronze and green",), mark).placed(busy).on(busy)
    np.testing.assert_array_equal(signed[200:, :200], busy[200:, :200])
    changed = (signed != busy).any(axis=-1)
    assert changed[200:, 200:].any()
    assert changed[:100, :200].any()


def test_a_long_title_leaves_the_builder_room() -> None:
    blank = np.zeros((960, 540, 3), np.uint8)
    short = Signature(("Short", "Lake Ossery Rods")).placed(blank)
    long = Signature(
        ("A very long title with silver and green and much more " * 2, "Lake Ossery Rods")
    )
    (few, _), (many, _) = short.parts[0], long.placed(blank).parts[0]
    assert few.height <= many.height + 8
    assert many.width <= 0.45 * 540 + 4
    # The builder's name, the lower line, is as wide in both.
    assert abs(_width_below(few) - _width_below(many)) <= 2


def _width_below(letters: Image.Image) -> int:
    lower = np.asarray(letters.getchannel("A"))[-letters.height // 3 :]
    return int(np.ptp(np.flatnonzero((lower > 128).any(axis=0))))


def test_a_design_is_signed_with_its_title_builder_and_mark(tmp_path: Path) -> None:
    (tmp_path / "mine.png").write_bytes(png(np.full((20, 20, 4), 255, np.uint8)))
    subject = replace(
        subject_with(builder="Lake Ossery Rods", mark="mine.png"), beside=CompanionFiles(tmp_path)
    )
    made = Signature.of(subject)
    assert made.lines == (subject.design.title, "Lake Ossery Rods")
    assert made.mark is not None
    assert made.mark.shape == (20, 20, 4)
    # The mark goes with the design to another folder, and is not part of what the customer orders.
    assert ("order.mark", "mine.png") in list(file_names(subject.design))
    plain = subject_with()
    assert design_number(subject.design, subject.shelf, subject.beside) == design_number(
        plain.design, plain.shelf, plain.beside
    )


def test_letters_that_no_font_has_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(captions, "missing_letters", lambda lines: "巻" if "巻" in lines[0] else "")
    progress = Progress.none()
    notes: list[str] = []
    monkeypatch.setattr(progress, "note", notes.append)
    Signature(("3 巻",)).note_missing("a.png", progress)
    Signature(("Rod",)).note_missing("a.png", progress)
    (sentence,) = notes
    assert sentence.startswith('a.png: no font of this system has "巻"; an empty box is printed')


def test_a_mark_that_is_missing_or_no_picture_is_refused(tmp_path: Path) -> None:
    missing = replace(subject_with(mark="mine.png"), beside=CompanionFiles(tmp_path))
    with pytest.raises(DesignProblem, match=r'order\.mark: "mine\.png" is not there; put'):
        Signature.of(missing)
    # What needs no mark goes on without it.
    text = samples.text("half-scale").replace("[blank]", '[order]\nmark = "mine.png"\n\n[blank]', 1)
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    assert storage.load(tmp_path / "a.toml").order.mark == "mine.png"
    (tmp_path / "mine.png").write_bytes(b"not a picture")
    with pytest.raises(DesignProblem, match=r'order\.mark: "mine\.png" is no PNG'):
        Signature.of(missing)
