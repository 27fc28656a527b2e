"""Decals to print, read back from their PDF: true size, side by side, nothing off the page.

Measured with pdfplumber, which keeps a PDF's points of 1/72 inch [ISO32000-1], section 8.3.2.3.
"""

import numpy as np
import pdfplumber
import pypdfium2
import pytest

from materials.shelf import Shelf
from render.cli import main as cli
from render.common.problems import RequestProblem
from render.paper.decal import save_decals
from render.paper.page import PaperSize
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.kinds.decal.builder import DecalBuilder

POINT = 25.4 / 72

LONG = {
    "placement.from": 220,
    "placement.to": 620,
    "blank.fitted": [],
    "relief.angle": 70,
    "relief.gap": 12,
    "decal.margin": 0,
}
"""A band with room for more letters than paper has."""


def planned(name, changes):
    design = samples.load(name).without_variants()
    return Plan(with_changes(design, changes) if changes else design, Shelf.shipped())


def frames_of(page):
    """Cut lines round the views, from the left: left, top, right, bottom, mm."""
    dashed = [one for one in (*page.curves, *page.rects, *page.lines) if one.get("dash")]
    boxes = [np.array([one["x0"], one["top"], one["x1"], one["bottom"]]) * POINT for one in dashed]
    boxes = [box for box in boxes if box[2] - box[0] > 5 and box[3] - box[1] > 2]
    return sorted(boxes, key=lambda box: (round(float(box[1])), box[0]))


def letters_in(page, frame):
    """The box of the filled outlines in a frame: left, top, right, bottom, mm."""
    filled = [
        np.array([one["x0"], one["top"], one["x1"], one["bottom"]]) * POINT
        for one in (*page.curves, *page.rects)
        if one["fill"]
    ]
    inside = np.array([box for box in filled if (box[:2] > frame[:2]).all() and box[0] < frame[2]])
    inside = inside[inside[:, 3] < frame[3]]
    return np.append(inside[:, :2].min(axis=0), inside[:, 2:].max(axis=0))


@pytest.mark.parametrize("paper", PaperSize)
@pytest.mark.parametrize(
    ("changes", "turned", "beside"),
    [
        ({"decal.height": 3.7}, False, True),
        # Wider than half the paper, narrower than half of it turned.
        ({"decal.height": 4.0, "decal.text": "LAKE OSSERY · KESTREL HYTHE 7"}, True, True),
        # Only one fits, and only on the paper turned.
        ({"decal.height": 5.0, "decal.text": "LAKE OSSERY · KESTREL HYTHE " * 2}, True, False),
    ],
)
def test_letters_are_printed_at_true_size(tmp_path, paper, changes, turned, beside) -> None:
    """A line of capitals: as long and as high by ruler as `check` says, read and mirrored."""
    plan = planned("lettered-band", LONG | changes)
    save_decals(plan, tmp_path / "d.pdf", paper)
    (builder,) = (one for one in plan.builders if isinstance(one, DecalBuilder))
    size = paper.size[::-1] if turned else paper.size
    with pdfplumber.open(tmp_path / "d.pdf") as pdf:
        (page,) = pdf.pages
        assert (page.width * POINT, page.height * POINT) == pytest.approx(size, abs=0.02)
        read, mirrored = frames_of(page)
        assert (abs(read[1] - mirrored[1]) < 0.01) == beside
        assert (read[2] < mirrored[0]) == beside
        assert ("so mirrored it follows" in page.extract_text()) == (not beside)
        for frame in (read, mirrored):
            box = letters_in(page, frame)
            assert box[2] - box[0] == pytest.approx(builder.size[0], abs=0.02)
            assert box[3] - box[1] == pytest.approx(builder.size[1], abs=0.02)
            assert frame[0] > 5
            assert frame[2] < size[0] - 5
    if changes["decal.height"] == 3.7:
        # The O is rounder than 3.7 mm high by its overshoot, the E is exactly that.
        assert builder.size[1] == pytest.approx(3.7, rel=0.06)


def test_one_is_the_mirror_image_of_the_other(tmp_path) -> None:
    plan = planned("heron-plate", {})
    save_decals(plan, tmp_path / "d.pdf", PaperSize.A4)
    with pdfplumber.open(tmp_path / "d.pdf") as pdf:
        images = sorted(pdf.pages[0].images, key=lambda one: one["x0"])
        assert len(images) == 2
        assert images[0]["x1"] < images[1]["x0"]
        assert images[0]["top"] == pytest.approx(images[1]["top"])
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


def test_a_line_longer_than_the_paper_is_cut_in_parts_that_overlap(tmp_path) -> None:
    plan = planned("lettered-band", LONG | {"decal.text": "LAKE OSSERY " * 6, "decal.height": 5.0})
    (builder,) = (one for one in plan.builders if isinstance(one, DecalBuilder))
    assert builder.size[0] > 270
    save_decals(plan, tmp_path / "d.pdf", PaperSize.A4)
    with pdfplumber.open(tmp_path / "d.pdf") as pdf:
        words = "".join(page.extract_text() for page in pdf.pages)
        frames = [frame for page in pdf.pages for frame in frames_of(page)]
    assert "so mirrored it follows, part 1 of 2" in words
    assert "mirrored, to print on the back, part 2 of 2" in words
    # Both parts of a view show 6 mm of one another, and have 2 mm of clear edge each side.
    wide = sum(frame[2] - frame[0] - 4 for frame in frames[:2])
    assert wide == pytest.approx(builder.size[0] + 6, abs=0.05)


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
