"""Decals to print, read back from their PDF: true size, mirrored, nothing off the page.

Measured with pdfplumber, which keeps a PDF's own points of 1/72 inch (ISO 32000-1:2008, 8.3.2.3).
"""

import numpy as np
import pdfplumber
import pypdfium2
import pytest

from materials.shelf import Shelf
from render import cli
from render.paper.decal import save_decals
from render.paper.page import PaperSize
from render.problems import RequestProblem
from scenes import samples
from scenes.build import Plan
from scenes.document import with_changes
from scenes.laying.decal import DecalLaying

POINT = 25.4 / 72


def planned(name, changes):
    design = samples.load(name).without_variants()
    return Plan(with_changes(design, changes) if changes else design, Shelf.shipped())


def lines_of_letters(page):
    """Boxes of the lines of filled outlines, from the top, mm: left, top, right, bottom."""
    boxes = [
        np.array([one["x0"], one["top"], one["x1"], one["bottom"]]) * POINT
        for one in (*page.curves, *page.rects)
        if one["fill"]
    ]
    boxes.sort(key=lambda box: box[1])
    lines = [boxes[0]]
    for box in boxes[1:]:
        if box[1] > lines[-1][3]:
            lines.append(box)
        else:
            lines[-1] = np.append(np.minimum(lines[-1], box)[:2], np.maximum(lines[-1], box)[2:])
    return lines


@pytest.mark.parametrize("paper", PaperSize)
def test_letters_are_printed_at_true_size(tmp_path, paper) -> None:
    """A line of capitals: as long and as high by ruler as `check` says, read and mirrored."""
    plan = planned("lettered-band", {"decal.height": 3.7})
    save_decals(plan, tmp_path / "d.pdf", paper)
    (laying,) = (one for one in plan.layings if isinstance(one, DecalLaying))
    with pdfplumber.open(tmp_path / "d.pdf") as pdf:
        (page,) = pdf.pages
        read, mirrored = lines_of_letters(page)
        for box in (read, mirrored):
            assert box[2] - box[0] == pytest.approx(laying.size[0], abs=0.02)
            assert box[3] - box[1] == pytest.approx(laying.size[1], abs=0.02)
            assert box[0] > 5
            assert box[2] < page.width * POINT - 5
        # The O is rounder than 3.7 mm high by its overshoot, the E is exactly that.
        assert laying.size[1] == pytest.approx(3.7, rel=0.06)


def test_one_is_the_mirror_image_of_the_other(tmp_path) -> None:
    plan = planned("heron-plate", {})
    save_decals(plan, tmp_path / "d.pdf", PaperSize.A4)
    with pdfplumber.open(tmp_path / "d.pdf") as pdf:
        images = pdf.pages[0].images
        assert len(images) == 2
        boxes = [np.array((one["x0"], one["top"], one["x1"], one["bottom"])) for one in images]
        for box in boxes:
            assert (box[3] - box[1]) * POINT == pytest.approx(15.0, abs=0.02)
            assert (box[2] - box[0]) * POINT == pytest.approx(15.0 * 700 / 310, abs=0.02)
    scale = 6
    page = pypdfium2.PdfDocument(tmp_path / "d.pdf")[0].render(scale=scale).to_numpy()[..., :3]
    cut = []
    for x0, top, x1, bottom in boxes:
        left, right, high, low = (round(one * scale) for one in (x0, x1, top, bottom))
        cut.append(page[high : low - 1, left : right - 1].astype(float))
    rows, columns = (min(one.shape[i] for one in cut) for i in (0, 1))
    read, mirrored = (one[:rows, :columns] for one in cut)
    alike, unlike = np.abs(read - mirrored[:, ::-1]).mean(), np.abs(read - mirrored).mean()
    assert alike < unlike / 4


def test_a_long_line_is_cut_in_parts_that_overlap(tmp_path) -> None:
    changes = {
        "placement.from": 220,
        "placement.to": 620,
        "blank.fitted": [],
        "relief.angle": 70,
        "relief.gap": 12,
        "decal.text": "LAKE OSSERY " * 6,
        "decal.height": 4.0,
        "decal.margin": 0,
    }
    plan = planned("lettered-band", changes)
    (laying,) = (one for one in plan.layings if isinstance(one, DecalLaying))
    wide = laying.size[0]
    assert wide > 188
    save_decals(plan, tmp_path / "d.pdf", PaperSize.A4)
    with pdfplumber.open(tmp_path / "d.pdf") as pdf:
        words = "".join(page.extract_text() for page in pdf.pages)
        assert "part 1 of 2" in words
        assert "mirrored, to print on the back, part 2 of 2" in words


def test_it_makes_the_same_bytes_again(tmp_path) -> None:
    for name in ("a.pdf", "b.pdf"):
        save_decals(planned("heron-plate", {}), tmp_path / name, PaperSize.A4)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_a_design_without_a_decal(tmp_path) -> None:
    with pytest.raises(RequestProblem, match="this design has no decal"):
        save_decals(planned("half-scale", {}), tmp_path / "d.pdf", PaperSize.A4)
    assert not (tmp_path / "d.pdf").exists()


def test_the_command(tmp_path, capsys) -> None:
    out = tmp_path / "d.pdf"
    assert cli.main(["decal", "sample:heron-plate", "-o", str(out), "--paper", "letter"]) == 0
    assert "1 page of letter paper; print at 100 %" in capsys.readouterr().out
    assert cli.main(["decal", "sample:heron-plate", "-o", str(tmp_path / "d.png")]) == 2
    assert cli.main(["decal", "sample:half-scale", "-o", str(tmp_path / "e.pdf")]) == 2
    assert capsys.readouterr().err.count("\n") == 2
    assert sorted(one.name for one in tmp_path.iterdir()) == ["d.pdf"]
