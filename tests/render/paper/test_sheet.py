"""The bench sheet, read back from its PDF: everything is on it, nothing runs off it."""

import dataclasses
import itertools
import re
from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pdfplumber
import pytest
from pdfminer.pdftypes import resolve1
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from materials.eye import ARC_MINUTE, visual_angle
from materials.shelf import Shelf
from render.cli import main as cli
from render.common.progress import Progress
from render.paper import fonts, sheet
from render.paper.drawings import SideView, UnrolledView
from render.paper.flow import Block, Flow
from render.paper.fonts import (
    cap_height,
    clean,
    markup,
    shortened,
    width_of,
    wrap_text,
)
from render.paper.page import PaperSize
from render.paper.tables import SheetTable, TextTable, fit_table
from render.paper.typography import BODY, TABLE, paragraph
from render.request.subject import Pixels, Subject
from scenes.artwork import typesetting
from scenes.bench.pattern import pattern_of
from scenes.bench.report import bench_report
from scenes.building.build import Wrap
from scenes.customer.number import design_number
from scenes.customer.reply import Scheme, reply_text, with_agreement
from scenes.design.document import Design, with_changes
from scenes.design.field_words import in_words
from scenes.design.variants import design_hash
from scenes.figures.figures import (
    Amount,
    BenchReport,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Step,
    Table,
    sentence,
)
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.kinds.builder import as_cut
from scenes.quantities import Units
from scenes.stage.camera import ARMS_LENGTH
from tests.kept import kept
from tests.varied_samples import VARIED

POINT = 25.4 / 72
PRINTER = 5.0  # mm at each edge that an office printer leaves white (from memory)


def grain(subject: Subject, progress: Progress) -> Pixels:
    return np.random.default_rng(1).integers(60, 90, (56, 377, 3), np.uint8)


@kept
def made(name: str) -> tuple[Subject, Wrap, BenchReport]:
    subject = Subject(samples.load(name), Shelf.shipped())
    wrap = subject.build_for_bench(Progress.none())
    return subject, wrap, bench_report(wrap)


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet, "picture_of", grain)


@kept
def sample(name: str, paper: PaperSize) -> Any:
    """The sheet of a sample as it is, with grain for its picture, read back.

    It is kept for other tests, so it must not depend on the fixtures of the first one.
    """
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(sheet, "picture_of", grain)
        return printed(Path(folder) / "a.pdf", name, paper)


def printed(
    file: Path, name: str = "half-scale", paper: PaperSize = PaperSize.A4, **changes: Any
) -> Any:
    """Print a sheet of a sample, its figures changed; give it as read back."""
    subject, wrap, bench = made(name)
    bench = dataclasses.replace(bench, **changes)
    sheet.write_sheet(subject, bench, wrap, file, paper=paper)
    return pdfplumber.open(BytesIO(file.read_bytes()))


def words_of(pdf: Any) -> str:
    """All letters in the order in which they were set, so that columns are read one by one."""
    return "".join(char["text"] for page in pdf.pages for char in page.chars)


def letters(text: str) -> str:
    """All but white space: lines are broken anywhere."""
    return re.sub(r"\s", "", text)


def check_bounds(pdf: Any) -> None:
    for page in pdf.pages:
        things = [*page.chars, *page.lines, *page.curves, *page.rects, *page.images]
        assert min(one["x0"] for one in things) * POINT > PRINTER
        assert max(one["x1"] for one in things) * POINT < page.width * POINT - PRINTER
        assert min(one["top"] for one in things) * POINT > PRINTER
        assert max(one["bottom"] for one in things) * POINT < page.height * POINT - PRINTER


def check_apart(pdf: Any) -> None:
    """No letter lies on another, across all pages: nothing is set over anything."""
    for page in pdf.pages:
        boxes = np.array(
            [
                (c["x0"], c["top"] + 0.3 * c["size"], c["x1"], c["bottom"] - 0.3 * c["size"])
                for c in page.chars
                if c["text"].strip()
            ]
        )
        boxes = boxes[np.argsort(boxes[:, 1])]
        # Of those that begin further down, the ones that begin above the foot of a letter.
        ends = np.searchsorted(boxes[:, 1], boxes[:, 3] - 0.5)
        for place, end in enumerate(ends):
            one, others = boxes[place], boxes[place + 1 : end]
            inner = np.minimum(one[2:], others[:, 2:]) - np.maximum(one[:2], others[:, :2])
            assert not (inner > (1.0, 0.5)).all(axis=1).any()


@pytest.mark.parametrize(
    ("name", "paper"),
    [*((name, PaperSize.A4) for name in VARIED), ("graded-trim", PaperSize.LETTER)],
)
def test_every_kind_of_design_fits(name: str, paper: PaperSize) -> None:
    pdf = sample(name, paper)
    check_bounds(pdf)
    check_apart(pdf)
    total = len(pdf.pages)
    for number, page in enumerate(pdf.pages, start=1):
        assert f"page {number} of {total}" in page.extract_text()
    assert (pdf.pages[0].width * POINT, pdf.pages[0].height * POINT) == pytest.approx(
        paper.size, abs=0.01
    )


@pytest.mark.parametrize("name", VARIED)
def test_everything_the_bench_is_told_is_there(name: str) -> None:
    subject, _, bench = made(name)
    told = letters(words_of(sample(name, PaperSize.A4)))
    written = FigureFormatter(subject.design.units, bench.currency)
    wanted = [bench.title, bench.design, design_hash(subject.design), *bench.cautions]
    for section in bench.sections:
        for figure in section.figures:
            wanted += [figure.name, written.figure(figure)]
        wanted += [written.sentence(note) for note in section.notes]
        for table in section.tables:
            wanted += [
                written.cell(column, cell)
                for row in table.rows
                for column, cell in zip(table.columns, row, strict=True)
                if column.key != "colour"
            ]
    for step in bench.steps:
        wanted += [step.title, written.sentence(step.work)]
        wanted += [written.sentence(step.check)] if step.check else []
        wanted += [step.caution] if step.caution else []
    # Paper names fields in words.
    assert [one for one in wanted if letters(in_words(one)) not in told] == []


def test_what_was_agreed_stands_on_it_and_so_does_a_change_since(
    tmp_path: Path, undrawn: None
) -> None:
    subject, wrap, bench = made("half-scale")
    order = {"order.customer": "Wren Alder {x}", "order.rod": "2026-14"}
    asked = with_changes(subject.design, order)
    number = design_number(asked, subject.shelf, subject.beside)
    answer = reply_text(Scheme("", number), asked) + "\nRemark: a little more <teal> & less silver"
    agreed = with_agreement(asked, answer, subject.shelf, subject.beside, date(2026, 11, 30))

    def words(design: Design) -> str:
        told = dataclasses.replace(subject, design=design.without_variants())
        plan = as_cut(told.plan())
        file = tmp_path / "a.pdf"
        sheet.write_sheet(told, bench, dataclasses.replace(wrap, plan=plan), file)
        pdf = pdfplumber.open(BytesIO(file.read_bytes()))
        check_bounds(pdf)
        check_apart(pdf)
        return letters("".join(char["text"] for char in pdf.pages[0].chars))

    said = letters(
        f'AgreedbyWren Alder {{x}} on 2026-11-30: "as designed", design number {number}.'
    )
    here = words(agreed)
    assert letters("For Wren Alder {x}. Rod 2026-14.") + said in here
    assert letters("The customer adds: a little more <teal> & less silver") in here
    assert "Stop:" not in here
    later = with_changes(agreed, {"cover.thread": "Gorse Gold A"})
    there = words(later)
    assert said in there
    now = design_number(later, subject.shelf, subject.beside)
    assert letters(f"Stop: This is not what was agreed: the design is {now} now") in there
    assert "Agreed" not in words(subject.design)


def test_every_row_with_a_box_has_its_name() -> None:
    """Of two bands the first ends and the second begins with the same thread."""
    _, _, bench = made("marbled-band")
    table = bench.table("rings_rings")
    assert table is not None
    names = list(table.column("thread"))
    assert any(first == second for first, second in itertools.pairwise(names))
    written = FigureFormatter(Units.MM)
    assert [row[0] for row in SheetTable(table, written, True, BODY).rows] == names
    assert "" in [row[0] for row in SheetTable(table, written, False, BODY).rows]


def test_what_is_read_at_the_bench_comes_first_and_on_three_pages_at_most() -> None:
    for name in ("half-scale", "cord-lattice"):
        pages = [page.extract_text() for page in sample(name, PaperSize.A4).pages]
        whole = "\n".join(pages[:3])
        assert "For the desk" in "\n".join(pages[:4])
        first = whole.split("For the desk")[0]
        for heading in ("Unrolled", "Order of work", "Threads"):
            assert f"\n{heading}" in first or f"{heading}\n" in first


@pytest.mark.parametrize(
    ("name", "marks"), [("half-scale", "Marks"), ("cord-lattice", "Marks round the blank")]
)
def test_two_pages_hold_all_that_is_read_at_the_bench_and_each_table_has_its_heading(
    name: str, marks: str
) -> None:
    pages = [page.extract_text() for page in sample(name, PaperSize.A4).pages]
    bench, desk = "\n".join(pages[:2]), pages[2]
    for heading in (marks, "Order of work", "4 Square the ends", "8 Further coats", "Threads"):
        assert f"\n{heading}" in bench or f"{heading}\n" in bench
    assert "For the desk" not in bench
    assert desk.splitlines()[1] == "For the desk"
    (weighed,) = (page for page in pages if "Mixes, by weight on a scale" in page)
    assert "Coat by coat" in weighed


def heights() -> tuple[float, float]:
    """Heights of a small letter and of a capital, mm a point: the table (OS/2) of the font's file.

    It is the file that is embedded.
    """
    from fontTools.ttLib import TTFont

    from render.paper import fonts

    package, path = fonts._FONTS["Turnlight"]
    assert package == "render.paper"
    font = TTFont(Path(fonts.__file__).with_name("font_files") / Path(path).name)
    point = 25.4 / 72 / font["head"].unitsPerEm
    return font["OS/2"].sxHeight * point, font["OS/2"].sCapHeight * point


def test_letters_are_large_enough_at_arms_length() -> None:
    """Twice the acuity limit of 20/20, whose letters are 5 minutes of arc high [ISO8596]."""
    small, capital = heights()
    assert visual_angle(small * BODY, ARMS_LENGTH) >= 2 * 5 * ARC_MINUTE
    assert visual_angle(capital * TABLE, ARMS_LENGTH) >= 2 * 5 * ARC_MINUTE


def test_print_is_as_tall_as_it_is_taken_for() -> None:
    assert cap_height(10) == pytest.approx(10 * heights()[1], rel=2e-3)


def torture() -> dict[str, Any]:
    """What a bench may be told at worst: long words, many rows, signs that mean something."""
    _, _, bench = made("half-scale")
    name = "a trim of a quite considerable length & <i>more</i>"
    thread = "Unbroken" * 12
    columns = (
        Column("use", "layer"),
        Column("thread", "thread"),
        Column("colour", "colour"),
        *(
            Column(f"n{n}", f"a column of figures {n}", Kind.LENGTH, sentence("by hand"))
            for n in range(9)
        ),
    )
    rows = tuple(
        (f"{name} {n // 6}", f"{thread} {n}", "#5a6b70", *(1234.5 + n + k for k in range(9)))
        for n in range(12 * 6)
    )
    figures = tuple(
        Figure(f"f{n}", f"figure {n} " + "of a name that goes on and on " * 3, 1.5, Kind.LENGTH,
               sentence("how " * 40), 0.1, tuple(Mark), main=n % 2 == 0)
        for n in range(20)
    )  # fmt: skip
    sections = (
        Section(SectionKey.PATTERN, figures, (Table("t", "odd", columns, rows),)),
        Section(SectionKey.THREADS, figures[:3], (Table("threads", "all", columns, rows),),
                (sentence("A note. " * 60),)),
    )  # fmt: skip
    steps = tuple(
        Step(f"Step {n}", sentence("Do {it}. " * 12, it=Amount(25.4, Kind.LENGTH)),
             sentence("Look. " * 30), "Care. " * 10)
        for n in range(30)
    )  # fmt: skip
    title = ("Überlange «½″ × ¼″» Łukasz Žižka <b>Ω & Søn</b> — Обмотка, Ελληνικά " * 4)[:200]
    return {
        "title": title,
        "sections": (*bench.sections[:2], *sections),
        "steps": steps,
        "warnings": (sentence("Look out. " * 20),) * 3,
        "cautions": bench.cautions * 3,
    }


def test_the_worst_flows_on_and_is_never_cut(tmp_path: Path, undrawn: None) -> None:
    changes = torture()
    pdf = printed(tmp_path / "a.pdf", "half-scale", PaperSize.LETTER, **changes)
    check_bounds(pdf)
    told = letters(words_of(pdf))
    assert letters(changes["title"]) in told
    for n in range(72):
        assert letters(f"{'Unbroken' * 12} {n}") in told or f"Unbroken{n}" in told
    assert told.count("Step") >= 30
    assert "&<i>more</i>11" in told


def test_no_heading_stands_alone_at_the_foot_of_a_page() -> None:
    for paper in PaperSize:
        for page in sample("graded-trim", paper).pages:
            lines = page.extract_text_lines(return_chars=True)
            feet = [n for n, line in enumerate(lines) if line["text"].startswith("Care. ")]
            last = lines[feet[-1] - 1]
            # Headings are half as large again as small print, and set in the bold face.
            bold = all("Semi" in c["fontname"] or "Bold" in c["fontname"] for c in last["chars"])
            assert not (bold and last["chars"][0]["size"] > BODY)


def test_the_file_is_described_and_the_same_again(tmp_path: Path, undrawn: None) -> None:
    pdf = printed(tmp_path / "a.pdf")
    printed(tmp_path / "b.pdf")
    design = samples.load("half-scale")
    assert pdf.metadata["Title"] == f"{design.title} | bench sheet"
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_all_faces_are_embedded(tmp_path: Path, undrawn: None) -> None:
    """[ISO32000-1], section 9.9: a font that travels with its file has a FontFile2."""
    pdf = printed(tmp_path / "a.pdf", title="Ostsee ℵ")
    used = {char["fontname"] for page in pdf.pages for char in page.chars}
    assert any("SourceSans3" in name for name in used)
    assert any("DejaVu" in name for name in used)
    for page in pdf.pages:
        for reference in resolve1(resolve1(page.page_obj.resources)["Font"]).values():
            font = resolve1(reference)
            if font["BaseFont"].name.split("+")[-1] in {name.split("+")[-1] for name in used}:
                assert "FontFile2" in resolve1(font["FontDescriptor"])


def test_colour_is_only_in_picture_and_swatches() -> None:
    pdf = sample("half-scale", PaperSize.A4)
    shelf = Shelf.shipped()
    _, wrap, _ = made("half-scale")
    used = {use.thread.name: use.thread.colour for use in wrap.threads()}
    filled = set()
    for page in pdf.pages:
        for char in page.chars:
            assert len(set(np.atleast_1d(char["non_stroking_color"]))) == 1
        for one in page.rects:
            colour = np.atleast_1d(one["non_stroking_color"])
            if one["fill"] and len(set(colour)) > 1:
                filled.add("#" + "".join(f"{round(255 * part):02x}" for part in colour))
                assert one["stroke"], "a swatch has a frame for those who print in grey"
    assert filled <= set(used.values())
    assert filled >= {c for c in used.values() if len({c[1:3], c[3:5], c[5:7]}) > 1}
    words = letters(words_of(pdf))
    assert all(letters(shelf.thread(name).name) in words for name in used)


def test_diameters_stand_above_the_side_view_and_places_below() -> None:
    page = sample("half-scale", PaperSize.A4).pages[0]
    (diameter,) = page.search(r"Ø 17\.21 mm")
    (caption,) = page.search("mm from the butt")
    places = [page.search(place)[0]["top"] for place in (r"318\.0", r"326\.0")]
    assert diameter["bottom"] < min(places)
    assert min(abs(caption["top"] - place) for place in places) < 1
    # The caption begins at the left of its row, not beside a diameter.
    assert "Ø" not in page.crop((0, caption["top"], page.width, caption["bottom"])).extract_text()


def test_the_side_view_is_to_scale() -> None:
    """At 1 : 1 the lines at both ends of the relief stand as far apart as it is long."""
    _, wrap, _ = made("half-scale")
    page = sample("half-scale", PaperSize.A4).pages[0]
    assert "scale 1 : 1" in page.extract_text()
    start, end = wrap.plan.start, wrap.plan.end
    dashes = [
        one
        for one in (*page.lines, *page.curves)
        if one["dash"]
        and one["dash"][0]
        and abs(one["dash"][0][0] * POINT - 0.5) < 1e-3
        # The unrolled drawing, further down, is at 1 : 2.
        and one["bottom"] * POINT < 130
    ]
    places = sorted({round((one["x0"] + one["x1"]) / 2 * POINT, 1) for one in dashes})
    apart = {round(b - a, 1) for a in places for b in places}
    assert end - start in apart
    # The bare blank between them is as thick as the caliper read.
    tall = max(one["y1"] - one["y0"] for one in dashes) * POINT
    assert tall == pytest.approx(2 * float(wrap.plan.blank.radius(start)), abs=0.1)


def test_drawings_fit_whatever_is_wrapped() -> None:
    for name in VARIED:
        _, wrap, _ = made(name)
        plan = as_cut(wrap.plan)
        for drawing in (SideView(plan, pattern_of(plan)), UnrolledView(plan, pattern_of(plan))):
            for width in (90 * mm, 188 * mm):
                wide, high = drawing.wrap(width, 500)
                assert wide == width
                assert 0 < high < 100 * mm


# ---- Faces


@pytest.mark.parametrize("text", ["a  b\tc\nd", "tab\x00bell\x07", "½ × 25 mm ± 0.1", "<b>&amp;"])
def test_text_is_taken_as_it_is(text: str) -> None:
    assert "\n" not in clean(text)
    # What is marked up says what was clean.
    stripped = re.sub(r"</?font[^>]*>", "", markup(text))
    plain = stripped.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
    assert plain == clean(text)


def test_lines_hold_what_they_must() -> None:
    text = "a word and an " + "un" * 80 + " breakable one"
    lines = wrap_text(text, 11, 60)
    assert all(width_of(line, 11) <= 60 for line in lines)
    assert letters("".join(lines)) == letters(text)


def test_a_short_room_is_kept() -> None:
    assert width_of(shortened("long " * 40, 11, 50), 11) <= 50
    assert shortened("short", 11, 50) == "short"


def test_a_title_that_cannot_be_set_is_told(
    tmp_path: Path,
    undrawn: None,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(typesetting, "face_with", lambda _: None)
    fonts._runs.cache_clear()
    subject, wrap, bench = made("half-scale")
    bench = dataclasses.replace(bench, title="巻 wrap")
    with Progress(1) as progress:
        sheet.write_sheet(subject, bench, wrap, tmp_path / "a.pdf", progress=progress)
    assert 'a.pdf: no font of this system has "巻"; an empty box' in capsys.readouterr().err


# ---- Flow and tables


class Brick(Flowable):
    """A block of one height that notes where it is put."""

    placed: list[tuple[int, float, float]]

    def __init__(self, height: float, canvas_pages: Callable[[], int]) -> None:
        super().__init__()
        self.height, self.pages = height, canvas_pages

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return available_width, self.height

    def drawOn(self, canvas: Any, x: float, y: float, _sW: float = 0) -> None:
        Brick.placed.append((self.pages(), x, y))


@pytest.fixture
def flow() -> Flow:
    Brick.placed = []
    canvas = Canvas(BytesIO())
    return Flow(canvas, lambda: (10.0, 20.0, 110.0, 220.0))


def test_columns_are_of_one_height(flow: Flow) -> None:
    bricks = [Block([Brick(20 * mm, lambda: flow.pages)], 0) for _ in range(6)]
    flow.columns(bricks)
    left = [place for place in Brick.placed if place[1] < 50 * mm]
    assert len(left) == 3
    assert {page for page, _, _ in Brick.placed} == {1}


def test_a_head_goes_with_what_it_heads(flow: Flow) -> None:
    flow.full(Block([Brick(180 * mm, lambda: flow.pages)], 0))
    head = Brick(10 * mm, lambda: flow.pages)
    flow.columns([Block([Brick(60 * mm, lambda: flow.pages)], 0)], Block([head], 0))
    assert [page for page, _, _ in Brick.placed] == [1, 2, 2]


def test_everything_stays_between_top_and_foot(flow: Flow) -> None:
    for high in (90, 150, 30, 199, 10, 80):
        flow.full(Block([Brick(high * mm, lambda: flow.pages)], 5))
    assert all(y >= 20 * mm - 0.1 for _, _, y in Brick.placed)
    assert flow.pages == 4


def test_what_is_taller_than_a_page_is_an_error(flow: Flow) -> None:
    with pytest.raises(ValueError, match="taller than a page"):
        flow.full(Block([Spacer(1, 201 * mm)], 0))


def test_a_long_paragraph_goes_over_pages(flow: Flow) -> None:
    flow.full(Block([paragraph("word " * 4000)]))
    assert flow.pages > 1


@pytest.mark.parametrize("room", [40.0, 90.0, 188.0])
def test_columns_share_the_room_that_there_is(room: float) -> None:
    words = TextTable(
        ["thread", "on the blank, m", "note"],
        [["Heron Silver A", "1234.5", "a note of some length"], ["Un" * 30, "2.0", ""]],
        [True, False, True],
    )
    fitting = fit_table(words, room)
    assert sum(fitting.widths) <= room + 1e-9
    if room > 60:
        # A number is never broken.
        assert fitting.widths[1] > width_of("1234.5", fitting.size)


# ---- The command


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("-o", "a.docx"), 'output: "a.docx" ends in ".docx", which says no kind; give .pdf'),
        (("-o", "a.pdf", "--paper", "A3"), 'paper: "A3" is not a paper size; give A4 or letter.'),
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
    assert cli.main(("sheet", "sample:half-scale", *arguments)) == 2
    assert capsys.readouterr().err.startswith(sentence)
    assert list(tmp_path.iterdir()) == []


def test_stopping_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> Pixels:
        raise KeyboardInterrupt

    monkeypatch.setattr(sheet, "picture_of", stop)
    file = tmp_path / "a.pdf"
    file.write_bytes(b"before")
    with pytest.raises(KeyboardInterrupt):
        printed(file)
    assert file.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.render
def test_the_picture_is_the_wrap_on_a_light_card(tmp_path: Path) -> None:
    subject, wrap, bench = made("cord-lattice")
    sheet.write_sheet(subject, bench, wrap, tmp_path / "a.pdf")
    page = pdfplumber.open(BytesIO((tmp_path / "a.pdf").read_bytes())).pages[0]
    (image,) = page.images
    width, height = (image[side] * POINT for side in ("width", "height"))
    assert width == pytest.approx(210 - 22, abs=0.1)
    drawn = np.asarray(page.crop(page.bbox).to_image(resolution=72).original.convert("RGB"))
    top, left = round(image["top"]), round(image["x0"])
    picture = drawn[top : top + round(image["height"]), left : left + round(image["width"])]
    corner, middle = picture[2:12, 2:40].mean(), picture[len(picture) // 2]
    assert corner > 150
    # Gold cords: far more red than blue along the middle of the wrap.
    red, blue = middle[150:350, 0].astype(float).mean(), middle[150:350, 2].astype(float).mean()
    assert red > 1.5 * blue
    assert height == pytest.approx(width * 224 / 1508, rel=1e-3)
