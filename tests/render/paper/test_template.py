"""The template, read back from its PDF: true size, true angles, whole over its pages.

What is measured here is what a PDF reader finds on the pages (pdfplumber, which keeps a PDF's own
points of 1/72 inch, [ISO32000-1], section 8.3.2.3), held against the cone worked by hand.
"""

from collections.abc import Callable
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pdfplumber
import pypdfium2
import pytest
from pdfminer.pdftypes import resolve1
from scipy.integrate import quad

from materials.shelf import Shelf
from render.cli import main as cli
from render.common.progress import Progress
from render.paper import template as drawing
from render.paper.page import PaperSize
from render.paper.template import BARE_ENDS, save_template
from scenes.bench import pattern
from scenes.bench.pattern import pattern_of
from scenes.building.build import Plan
from scenes.design.document import Design, design_from, document_of
from scenes.design.variants import design_hash
from scenes.files import samples
from scenes.kinds.builder import as_cut
from scenes.kinds.kind import Kind
from scenes.kinds.lines import OTHER, BlankLine, ring
from tests.varied_samples import VARIED

POINT = 25.4 / 72
TRUE = 0.1  # mm over 200 mm
PRINTER = 5.0  # mm at each edge that an office printer leaves white (from memory)

Array = np.ndarray[Any, Any]


def changed(name: str, **changes: Any) -> Design:
    """Change a sample: its blank is made a straight cone, and its fittings are taken off."""
    document = document_of(samples.load(name))
    document.pop("variants", None)
    document["blank"].pop("fitted", None)
    for path, value in changes.items():
        table, _, key = path.rpartition("__")
        (document[table] if table else document)[key] = value
    return design_from(document)


def cone_blank(low: float, high: float) -> list[dict[str, float]]:
    return [{"at": 200, "diameter": low}, {"at": 700, "diameter": high}]


def printed(design: Design, file: Path, paper: PaperSize = PaperSize.A4) -> list[Any]:
    save_template(Plan(design, Shelf.shipped()), file, paper)
    return list(pdfplumber.open(BytesIO(file.read_bytes())).pages)


def lines_on(page: Any, wanted: Callable[[dict[str, Any]], bool]) -> list[Array]:
    """Lines on a page but the legend's samples, each (n, 2) in mm from the lower left corner."""
    found = []
    for one in (*page.lines, *page.curves):
        points = np.array(one["pts"], dtype=float)
        line = np.column_stack((points[:, 0], page.height - points[:, 1])) * POINT
        sample = len(line) == 2 and np.allclose(np.ptp(line, axis=0), (14, 0), atol=0.01)
        if one["stroke"] and not sample and wanted(one):
            found.append(line)
    return found


def strokes(page: Any, width: float) -> list[Array]:
    """Every line of one stroke width, mm."""
    return lines_on(page, lambda one: abs(one["linewidth"] * POINT - width) < 1e-3)


def dashed(page: Any, first: float) -> list[Array]:
    """Every line whose first dash is so long, mm."""

    def wanted(one: dict[str, Any]) -> bool:
        dash = one["dash"] and one["dash"][0]
        return bool(dash) and abs(dash[0] * POINT - first) < 1e-3

    return lines_on(page, wanted)


def length(line: Array) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def sides(page: Any) -> tuple[Array, list[Array]]:
    """The outline's two long edges and its two ends, from the page."""
    outline = [part for part in strokes(page, 0.2) if len(part) > 100]
    (whole,) = outline
    # Counted from the butt's end on the left: 181 points, up the right edge, 181, and down.
    corners = np.array([whole[0], whole[180], whole[183], whole[363]])
    return corners, [whole[:181], whole[183:364]]


@pytest.fixture(scope="module")
def straight(tmp_path_factory: pytest.TempPathFactory) -> tuple[Design, Any]:
    """A lattice at 36 degrees on a straight cone, r from 10 down to 7.5 mm over 500 mm."""
    design = changed(
        "cord-lattice",
        blank__stations=cone_blank(20, 15),
        placement__from=260,
        placement__to=448,
        title="Straight <b>cone</b> & cords",
    )
    (page,) = printed(design, tmp_path_factory.mktemp("straight") / "a.pdf")
    return design, page


def test_both_bars_are_100_mm(straight: tuple[Design, Any]) -> None:
    _, page = straight
    spans = [np.ptp(line, axis=0) for line in strokes(page, 0.25)]
    for wanted in ((100, 0), (0, 100)):
        assert any(np.allclose(span, wanted, atol=1e-3) for span in spans)


def test_the_page_has_the_size_of_its_paper(tmp_path: Path) -> None:
    # [ISO216]: A4 is 210 by 297 mm. ANSI letter is 8 1/2 by 11 inches.
    for paper, size in ((PaperSize.A4, (210, 297)), (PaperSize.LETTER, (8.5 * 25.4, 11 * 25.4))):
        (page,) = printed(samples.load("half-scale"), tmp_path / "a.pdf", paper)
        assert (page.width * POINT, page.height * POINT) == pytest.approx(size, abs=0.01)


def test_ends_are_as_long_as_the_circumference(straight: tuple[Design, Any]) -> None:
    """2 pi r by hand: r = 10 - (z - 200) / 200, the outline reaches 13 mm beyond the relief."""
    _, page = straight
    _, ends = sides(page)
    start, end = 260 - 7 - BARE_ENDS, 448 + 7 + BARE_ENDS
    for line, z in zip(ends, (start, end), strict=True):
        assert length(line) == pytest.approx(2 * np.pi * (10 - (z - 200) / 200), abs=TRUE / 5)


def test_sides_are_as_long_as_the_slant(straight: tuple[Design, Any]) -> None:
    _, page = straight
    corners, _ = sides(page)
    slant = (448 - 260 + 2 * (7 + BARE_ENDS)) * np.hypot(1, 1 / 200)
    assert slant > 200
    for low, high in ((0, 3), (1, 2)):
        assert np.linalg.norm(corners[low] - corners[high]) == pytest.approx(slant, abs=TRUE)


def apex(page: Any) -> Array:
    """Where the two long edges on the page meet."""
    corners, _ = sides(page)
    left, right = corners[3] - corners[0], corners[2] - corners[1]
    along, _ = np.linalg.solve(np.column_stack((left, -right)), corners[1] - corners[0])
    return corners[0] + along * left


def test_the_edges_meet_at_the_angle_of_the_sector(straight: tuple[Design, Any]) -> None:
    """The sector's angle is 2 pi sin(beta), with tan(beta) = 1/200."""
    _, page = straight
    corners, _ = sides(page)
    to = corners[:2] - apex(page)
    angle = np.arccos(to[0] @ to[1] / np.prod(np.linalg.norm(to, axis=1)))
    assert angle == pytest.approx(2 * np.pi * np.sin(np.arctan(1 / 200)), rel=1e-3)


def test_cords_keep_their_angle_to_the_axis(straight: tuple[Design, Any]) -> None:
    """A line at one angle to the generators of a cone unrolls to a logarithmic spiral.

    It meets every ray from the apex at that angle: 36 degrees here, either way.
    """
    _, page = straight
    centre = apex(page)
    seen = []
    for line in strokes(page, 0.35):
        run, ray = np.diff(line, axis=0), centre - (line[1:] + line[:-1]) / 2
        turn = np.arctan2(
            run[:, 0] * ray[:, 1] - run[:, 1] * ray[:, 0], np.einsum("ij,ij->i", run, ray)
        )
        # Rounding to a thousandth of a point turns short chords.
        long = np.linalg.norm(run, axis=1) > 0.3
        seen.append(np.rad2deg(turn[long]))
    angles = np.concatenate(seen)
    assert {-1, 1} == set(np.sign(angles))
    np.testing.assert_allclose(np.abs(angles), 36, atol=0.2)
    assert np.abs(angles).mean() == pytest.approx(36, abs=0.01)


def test_all_cords_are_there_at_full_length(straight: tuple[Design, Any]) -> None:
    """At one angle a cord is as long as its slant by the cosine: 16 of them."""
    _, page = straight
    slant = (448 - 260) * np.hypot(1, 1 / 200)
    total = sum(length(line) for line in strokes(page, 0.35))
    assert total == pytest.approx(16 * slant / np.cos(np.deg2rad(36)), abs=16 * TRUE)


def test_words_are_on_the_page(straight: tuple[Design, Any]) -> None:
    design, page = straight
    words = " ".join(page.extract_text().split())
    for told in (
        "Straight <b>cone</b> & cords",
        "page 1 of 1",
        "Print at 100 %, no fit to page",
        design_hash(design),
        # By hand: r = 10 - 47/200 at 247 mm, and so on.
        "247.0 19.53 61.4",
        "461.0 17.39 54.6",
        "R8",
        "L8",
    ):
        assert told in words


@pytest.fixture(scope="module")
def joined(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, list[Any], list[Array]]:
    """A strip over two pages and more, and by how much each page is shifted onto the first."""
    design = changed(
        "half-scale",
        blank__stations=cone_blank(20, 15),
        placement__from=230,
        placement__to=660,
    )
    pages = printed(design, tmp_path_factory.mktemp("joined") / "a.pdf")
    shift, shifts = np.zeros(2), [np.zeros(2)]
    for below, above in pairwise(pages):
        upper, lower = crosses(below), crosses(above)
        upper = upper[upper[:, 1] > below.height * POINT / 2]
        lower = lower[lower[:, 1] < above.height * POINT / 2]
        apart = upper[np.argsort(upper[:, 0])] - lower[np.argsort(lower[:, 0])]
        # Both crosses fit at once: the pages are joined without turning one.
        np.testing.assert_allclose(apart[0], apart[1], atol=0.01)
        shift = shift + apart[0]
        shifts.append(shift)
    return as_cut(Plan(design, Shelf.shipped())), pages, shifts


@pytest.mark.parametrize(("name", "drops"), [("marbled-panel", 70), ("marbled-band", 60)])
def test_every_drop_has_its_number(name: str, drops: int, tmp_path: Path) -> None:
    """Nearer to its own tick than a name may be moved, and clear of the paper's edges."""
    (page,) = printed(samples.load(name), tmp_path / "a.pdf")
    numbers = [one for one in page.chars if one["size"] == pytest.approx(6.5)]
    assert len(numbers) == drops
    ticks = [line for line in strokes(page, 0.25) if abs(np.ptp(line[:, 0]) - 3.2) < 0.01]
    middles = np.array([line.mean(axis=0) for line in ticks])
    _, (left, right) = sides(page)
    for one in numbers:
        at = np.array(((one["x0"] + one["x1"]) / 2, (one["y0"] + one["y1"]) / 2)) * POINT
        assert np.hypot(*(middles - at).T).min() < 6
        assert left[:, 0].min() < at[0] < right[:, 0].max()
    assert "a drop, with the number of its pigment" in (page.extract_text() or "")


def crosses(page: Any) -> Array:
    """Centres of the register marks, (n, 2) mm: circles of 1.6 mm."""
    found = [
        ((one["x0"] + one["x1"]) / 2, (one["y0"] + one["y1"]) / 2)
        for one in page.curves
        if abs((one["x1"] - one["x0"]) * POINT - 3.2) < 0.02
        and abs((one["y1"] - one["y0"]) * POINT - 3.2) < 0.02
    ]
    return np.array(found) * POINT


def test_joined_pages_are_as_long_as_the_blank(
    joined: tuple[Plan, list[Any], list[Array]],
) -> None:
    _, pages, shifts = joined
    assert len(pages) == 2
    ends = []
    for page, shift in zip(pages, shifts, strict=True):
        (guide,) = dashed(page, 6.0)
        assert np.ptp(guide[:, 0]) < 1e-3
        ends += (guide + shift)[:, 1].tolist()
    slant = (660 - 230 + 2 * (8 + BARE_ENDS)) * np.hypot(1, 1 / 200)
    assert max(ends) - min(ends) == pytest.approx(slant, abs=TRUE)
    # The pages overlap: what one ends with the other begins with.
    assert min(ends[2:]) < max(ends[:2]) - 10


def test_joined_strip_edges_lie_where_they_are_wound(
    joined: tuple[Plan, list[Any], list[Array]],
) -> None:
    """Every point of the strip's edges, rolled up again by hand, lies half a width from its middle.

    On a blank so slender the cylinder's relation, (z - z_c) sin(alpha) = w / 2, is the one by which
    strips are laid (`geometry.strip_frame.StripFrame`); z_c is from the winding.
    """
    plan, pages, shifts = joined
    strip = plan.relief
    assert strip is not None
    winding, half = strip.winding, strip.width / 2
    # The apex, by hand: r = 10 - (z - 200)/200 is 0 at 2200 mm.
    start = 230 - 8 - BARE_ENDS
    sine = np.sin(np.arctan(1 / 200))
    slant = np.hypot(1, 1 / 200)
    guide = dashed(pages[0], 6.0)[0]
    origin = np.array([guide[0, 0], guide[:, 1].min()])
    top = origin + np.array((0, (2200 - start) * slant))
    checked = 0
    for page, shift in zip(pages, shifts, strict=True):
        for line in strokes(page, 0.45):
            to = line + shift - top
            rho = np.linalg.norm(to, axis=1)
            theta = np.arctan2(to[:, 0], -to[:, 1]) / sine
            z = 2200 - rho / slant
            phase = winding.hand.sign * theta
            step = 2 * np.pi / winding.starts
            turns = np.rint((winding.phase_at(z) - phase) / step)[:, None] + np.arange(-2, 3)
            centre = winding.z_at(phase[:, None] + step * turns)
            off = np.abs(np.abs((z[:, None] - centre) * np.sin(winding.angle_at(centre))) - half)
            assert off.min(axis=1).max() < TRUE / 2
            checked += len(line)
    assert checked > 500


def test_marks_are_those_of_the_bench(joined: tuple[Plan, list[Any], list[Array]]) -> None:
    """Ticks on the guide line stand where edges cross it, and are named in order."""
    plan, pages, shifts = joined
    guide = dashed(pages[0], 6.0)[0]
    x, low = guide[0, 0], guide[:, 1].min()
    start = 230 - 8 - BARE_ENDS
    ticks = set()
    for page, shift in zip(pages, shifts, strict=True):
        for line in strokes(page, 0.25):
            if abs(np.ptp(line[:, 0]) - 3.2) < 0.01 and abs(line[:, 0].mean() - x) < 0.01:
                ticks.add(round(float(line[0, 1] + shift[1] - low), 2))
    slant = np.hypot(1, 1 / 200)
    wanted = [(mark.at - start) * slant for mark in pattern_of(plan).marks]
    for place in wanted:
        assert min(abs(tick - place) for tick in ticks) < TRUE / 2
    assert len(ticks) <= len(wanted) + 4  # those in the overlap are printed twice


@pytest.mark.parametrize("paper", list(PaperSize))
@pytest.mark.parametrize("name", VARIED)
def test_nothing_leaves_the_paper(name: str, paper: PaperSize, tmp_path: Path) -> None:
    for page in printed(samples.load(name), tmp_path / "a.pdf", paper):
        things = [*page.chars, *page.lines, *page.curves, *page.rects]
        assert min(one["x0"] for one in things) * POINT > PRINTER
        assert max(one["x1"] for one in things) * POINT < page.width * POINT - PRINTER
        assert min(one["top"] for one in things) * POINT > PRINTER
        assert max(one["bottom"] for one in things) * POINT < page.height * POINT - PRINTER


@pytest.mark.parametrize("name", ["graded-trim", "cord-lattice"])
def test_all_ink_is_black_or_grey(name: str, tmp_path: Path) -> None:
    file = tmp_path / "a.pdf"
    for page in printed(samples.load(name), file):
        for one in (*page.lines, *page.curves, *page.chars):
            colour = one["stroking_color"] if "pts" in one else one["non_stroking_color"]
            assert len(set(np.atleast_1d(colour))) == 1
    drawn = np.asarray(
        pypdfium2.PdfDocument(file.read_bytes())[0].render(scale=1).to_pil().convert("RGB")
    )
    assert np.ptp(drawn.astype(int), axis=2).max() == 0
    assert drawn.min() < 60


def test_a_wide_blank_goes_over_pages_both_ways(tmp_path: Path) -> None:
    design = changed("half-scale", blank__stations=cone_blank(59, 50), placement__to=640)
    pages = printed(design, tmp_path / "a.pdf")
    told = [page.extract_text() for page in pages]
    assert "read this first" in told[0]
    assert any("part 2 of 2 up the blank, 2 of 2 round it" in words for words in told)
    # Each page of four has two neighbours, and two crosses towards each.
    assert [len(crosses(page)) for page in pages] == [0, 4, 4, 4, 4]


def test_a_crooked_blank_comes_in_pieces(tmp_path: Path) -> None:
    stations = [
        {"at": 100, "diameter": 20.5},
        {"at": 500, "diameter": 18},
        {"at": 1000, "diameter": 12},
    ]
    design = changed("half-scale", blank__stations=stations, placement__to=900)
    pages = printed(design, tmp_path / "a.pdf")
    blank = design.blank.measured()
    start, end = 326 - 8 - BARE_ENDS, 900 + 8 + BARE_ENDS
    assert "piece 1 of 3 from the butt" in pages[0].extract_text()
    cuts = np.linspace(start, end, 4)
    total = 0.0
    for page, low, high in zip(pages, cuts[:-1], cuts[1:], strict=True):
        corners, ends = sides(page)
        for line, z in zip(ends, (low, high), strict=True):
            assert length(line) == pytest.approx(2 * np.pi * float(blank.radius(z)), abs=0.2)
        total += float(np.linalg.norm(corners[3] - corners[0]))
    meridian, _ = quad(lambda z: np.sqrt(1 + float(blank.slope(z)) ** 2), start, end)
    assert total == pytest.approx(meridian, abs=TRUE)


def test_inches_are_told_in_inches(tmp_path: Path) -> None:
    design = samples.load("two-start-band")
    assert design.units.value == "in"
    (page,) = printed(design, tmp_path / "a.pdf", PaperSize.LETTER)
    words = page.extract_text()
    assert "inches from the butt" in words
    assert "thick, in" in words
    assert " mm" not in words.replace("100 mm", "")


def test_the_same_design_makes_the_same_file(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        printed(samples.load("half-scale"), tmp_path / name)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_the_file_says_what_it_is(tmp_path: Path) -> None:
    design = samples.load("half-scale")
    printed(design, tmp_path / "a.pdf")
    pdf = pdfplumber.open(BytesIO((tmp_path / "a.pdf").read_bytes()))
    assert pdf.metadata["Title"] == f"{design.title} | true-size template"
    assert design_hash(design) in pdf.metadata["Subject"]
    # [ISO32000-1], section 12.2: the reader's print dialogue begins without scaling.
    assert resolve1(pdf.doc.catalog["ViewerPreferences"])["PrintScaling"].name == "None"


def test_a_layer_draws_itself_by_one_function(monkeypatch: pytest.MonkeyPatch) -> None:
    class Drawn:
        path = layer = "drawn"

    class Mute:
        path = layer = "mute"

    unlike: Any = object
    drawn = Kind(
        unlike, unlike, unlike, lines=lambda builder: iter([BlankLine(ring(310.0), OTHER)])
    )
    kinds = {"drawn": drawn, "mute": Kind(unlike, unlike, unlike)}
    monkeypatch.setattr(pattern, "kind_of", kinds.__getitem__)
    plan: Any = SimpleNamespace(builders=(Drawn(), Mute()), wound_span=(300.0, 320.0))
    found = pattern_of(plan)
    assert [line.pen for line in found.lines] == [OTHER]
    assert found.undrawn == ("mute",)


def test_stopping_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    progress = Progress.none()
    monkeypatch.setattr(progress, "advance", stop)
    plan = Plan(samples.load("half-scale"), Shelf.shipped())
    with pytest.raises(KeyboardInterrupt):
        save_template(plan, tmp_path / "a.pdf", PaperSize.A4, progress)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("-o", "a.png"), 'output: "a.png" ends in ".png", which says no kind; give .pdf.'),
        (("-o", "a.pdf", "--paper", "b9"), 'paper: "b9" is not a paper size; give A4 or letter.'),
        (("-o", "no/a.pdf"), 'output: "no/a.pdf" cannot be written'),
    ],
)
def test_what_cannot_be_done_is_refused(
    arguments: tuple[str, ...],
    sentence: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli.main(("template", "sample:half-scale", *arguments)) == 2
    assert capsys.readouterr().err.startswith(sentence)
    assert list(tmp_path.iterdir()) == []


def test_the_command_writes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli.main(("template", "sample:half-scale", "-o", "a.pdf", "--paper", "Letter")) == 0
    assert capsys.readouterr().out.startswith("a.pdf: 1 page of letter paper; print at 100 %")
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF-")


def test_pages_are_cut_into_the_fewest_that_do() -> None:
    # 100 mm in stretches of 40 that overlap by 12: (100 - 12) / (40 - 12) = 3.14, so four.
    cuts = drawing._cuts(0.0, 100.0, 40.0)
    assert len(cuts) == 4
    assert cuts[0][0] == 0
    assert cuts[-1][1] == pytest.approx(100)
    assert all(high - low <= 40 for low, high in cuts)
    assert all(a[1] - b[0] == pytest.approx(12) for a, b in pairwise(cuts))
