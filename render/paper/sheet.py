"""The bench sheet: everything needed to build a wrap, on paper to pin over the bench."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

from PIL import Image
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from geometry.grid import Detail
from render.common.files import check_suffix, replacing
from render.common.progress import Progress
from render.common.tags import Tag
from render.output.capture import SETTING, scene_of
from render.paper.drawings import SideView, UnrolledView
from render.paper.flow import Block, Flow
from render.paper.fonts import clean, missing_letters_noted, width_of, wrap_text
from render.paper.page import (
    BLACK,
    MARGIN,
    SUFFIXES,
    PageFrame,
    PaperSize,
    Stroke,
    new_canvas,
    polyline,
    text,
    write,
)
from render.paper.sheet_blocks import (
    framed_block,
    glance_block,
    method_blocks,
    order_blocks,
    section_blocks,
    signs_of,
    step_block,
)
from render.paper.typography import BODY, DESK, heading, paragraph
from render.request.subject import BUILDING, Pixels, Subject
from scenes.bench.pattern import pattern_of
from scenes.building.build import Plan, Wrap
from scenes.design.document import with_changes
from scenes.figures.figures import BenchReport, Figure, Section, SectionKey
from scenes.figures.formatter import FigureFormatter
from scenes.kinds.builder import as_cut
from scenes.parts.view import Ground, View

__all__ = ["STEPS", "WrapSheet", "picture_of", "write_sheet", "write_sheets"]

STEPS = BUILDING + SETTING + 2
"""Steps of progress of `write_sheet`."""

_PICTURE = 1508, 224
"""Size of the picture, pixels: about 200 per inch on A4, as photographs are printed."""

_WHAT = "bench sheet"

_QUALITY = 90
"""JPEG quality of the picture; its artefacts are finer than a printer's screen."""

_TITLE_SIZES = (22.0, 18.0, 15.0)
_MOST_TITLE_LINES = 2
_CAUTION = 9.5
_RUNNING = 10.0
_RULE = Stroke(0.3, BLACK)

_TICKED = frozenset({SectionKey.MARKS, SectionKey.CORDS, SectionKey.PATTERN})
"""Sections whose rows are steps of work, to tick off."""

_AT_A_GLANCE = _TICKED | {SectionKey.CUT}
"""Sections whose main figures are large at the top, to be read while working."""

_AFTER_STEPS = frozenset({SectionKey.THREADS})
"""Sections that follow the order of work."""

_AT_THE_DESK = frozenset({SectionKey.FINISH, SectionKey.WEIGHT, SectionKey.COST})
"""Sections that are not needed at the bench, where the steps give each mix: they come last."""

_BELOW_HEADING = 45.0
"""Free space below the heading of the desk's part, mm: a table's heading and some rows."""

_BENCH_PAGES = 2
"""Usual number of pages to pin over the bench; the desk's part begins on a new page."""

_ALL_AT_BENCH = frozenset({SectionKey.CORDS, SectionKey.PATTERN})
"""Sections that belong to the bench completely; of others only the first table does."""


@dataclass(frozen=True, slots=True)
class WrapSheet:
    """One wrap and its figures, for its own pages.

    Parameters
    ----------
    subject : Subject
    bench : BenchReport
        Figures of the wrap.
    wrap : Wrap
        At any detail.
    """

    subject: Subject
    bench: BenchReport
    wrap: Wrap


def write_sheet(
    subject: Subject,
    bench: BenchReport,
    wrap: Wrap,
    output: Path,
    *,
    paper: PaperSize = PaperSize.A4,
    progress: Progress | None = None,
) -> int:
    """Write the bench sheet of a design as PDF.

    Parameters
    ----------
    subject : Subject
    bench : BenchReport
        Figures of the design.
    wrap : Wrap
        Wrap of the design, at any detail.
    output : Path
        A PDF file.
    paper : PaperSize
    progress : Progress, optional
        Advanced by `STEPS`.

    Returns
    -------
    int
        Number of pages.

    Raises
    ------
    RequestProblem
        If the file cannot be written.
    DrawingProblem
        If the picture cannot be drawn.
    """
    sheet = WrapSheet(subject, bench, wrap)
    return write_sheets((sheet,), None, output, paper=paper, progress=progress)


def write_sheets(
    sheets: Sequence[WrapSheet],
    rod: BenchReport | None,
    output: Path,
    *,
    paper: PaperSize = PaperSize.A4,
    progress: Progress | None = None,
) -> int:
    """Write one bench sheet for each wrap of a rod, and a page for the rod before them, as one PDF.

    Parameters
    ----------
    sheets : sequence of WrapSheet
    rod : BenchReport or None
        Sums of the rod; without them there is no page for it.
    output : Path
        A PDF file.
    paper : PaperSize
    progress : Progress, optional
        Advanced by `STEPS` for each wrap, and for the rod.

    Returns
    -------
    int
        Number of pages.

    Raises
    ------
    RequestProblem
        If the file cannot be written.
    DrawingProblem
        If a picture cannot be drawn.
    """
    progress = progress or Progress.none()
    check_suffix(output, SUFFIXES)
    drawn: list[_Drawn] = []
    with replacing(output) as file:
        if rod is not None:
            subject = sheets[0].subject
            picture = picture_of(subject, progress, View.WHOLE_ROD)
            drawn.append(_Drawn(rod, subject.plan(), picture, is_rod=True))
            progress.advance()
        for sheet in sheets:
            picture = picture_of(sheet.subject, progress)
            drawn.append(_Drawn(sheet.bench, sheet.wrap.plan, picture))
            progress.describe("sheet")
            progress.advance()
        tag = Tag(drawn[0].bench.title, drawn[0].bench.design)

        def all_pages(totals: Sequence[int], data: BytesIO) -> list[int]:
            canvas = new_canvas(data, paper, tag, _WHAT)
            counts = [
                _pages(one, canvas, paper, total) for one, total in zip(drawn, totals, strict=True)
            ]
            canvas.save()
            return counts

        counts = all_pages([0] * len(drawn), BytesIO())
        data = BytesIO()
        with missing_letters_noted(output, progress.note):
            all_pages(counts, data)
        write(data, file)
    return sum(counts)


def picture_of(subject: Subject, progress: Progress, view: View = View.WHOLE_WRAP) -> Pixels:
    """Take the picture of the sheet before a light backdrop, which saves ink.

    Parameters
    ----------
    subject : Subject
    progress : Progress
        Advanced by `BUILDING`, `SETTING` and 1.
    view : View
        What it shows: the whole wrap, or the whole rod.
    """
    changes: dict[str, object] = {
        "camera": {"view": view.value},
        "light.backdrop": "light",
        "light.ground": Ground.CARD.value,
    }
    design = with_changes(subject.design.without_variants(), changes)
    wrap = Subject(design, subject.shelf, subject.beside).build(Detail.NORMAL, progress)
    with scene_of(wrap, _PICTURE, progress) as scene:
        progress.describe("picture")
        return scene.picture()


@dataclass(frozen=True, slots=True)
class _Drawn:
    """What the pages of one wrap, or of the rod, are drawn from.

    Parameters
    ----------
    bench : BenchReport
    plan : Plan
    picture : Pixels
    is_rod : bool
    """

    bench: BenchReport
    plan: Plan
    picture: Pixels
    is_rod: bool = False


class _Picture(Flowable):
    """A picture across the whole width."""

    def __init__(self, pixels: Pixels) -> None:
        super().__init__()
        data = BytesIO()
        Image.fromarray(pixels).save(data, format="JPEG", quality=_QUALITY, subsampling=0)
        data.seek(0)
        self.image = ImageReader(data)
        self.shape = pixels.shape

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Take the whole width; the height follows."""
        self.width = available_width
        self.height = available_width * self.shape[0] / self.shape[1]
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        self.canv.drawImage(self.image, 0, 0, self.width, self.height)


@dataclass(slots=True)
class _Pages:
    """Frame of the pages of a sheet: head, cautions and footer."""

    canvas: Canvas
    page_frame: PageFrame
    bench: BenchReport
    plan: Plan
    total: int
    signs: tuple[str, ...]
    number: int = 0

    def begin(self) -> tuple[float, float, float, float]:
        """Draw the frame of a new page; return its free area: left, bottom, right and top, mm."""
        self.number += 1
        width, height = self.page_frame.paper.size
        self.page_frame.draw_footer(self.canvas, self.number, self.total, self.signs)
        bottom = self._cautions(MARGIN + 6.0, width - 2 * MARGIN)
        top = height - MARGIN
        top = self._head(top, width) if self.number == 1 else self._running_head(top, width)
        return MARGIN, bottom, width - MARGIN, top

    def _cautions(self, y: float, width: float) -> float:
        cautions = " ".join(clean(caution) for caution in self.bench.cautions)
        lines = wrap_text(f"Care. {cautions}", _CAUTION, width) if cautions else []
        step = 1.24 * _CAUTION / mm
        for number, line in enumerate(reversed(range(len(lines)))):
            text(self.canvas, MARGIN, y + line * step, lines[number], _CAUTION)
        y += len(lines) * step
        _RULE.apply_to(self.canvas)
        polyline(self.canvas, ((MARGIN, y + 0.4), (MARGIN + width, y + 0.4)))
        return y + 2.6

    def _head(self, y: float, width: float) -> float:
        room = width - 2 * MARGIN
        size, lines = _title(self.bench.title, room)
        for line in lines:
            y -= 1.12 * size / mm
            text(self.canvas, MARGIN, y + 0.2 * size / mm, line, size, bold=True)
        label = "Bench sheet"
        if width_of(lines[-1], size, bold=True) + width_of(label, BODY) + 8 > room:
            y -= 5.6
        text(self.canvas, width - MARGIN, y + 0.2 * size / mm, label, BODY, align="right")
        return y - 2.0

    def _running_head(self, y: float, width: float) -> float:
        room = width - 2 * MARGIN
        y -= 4.0
        text(self.canvas, MARGIN, y, self.bench.title, _RUNNING, bold=True, room=0.72 * room)
        text(self.canvas, width - MARGIN, y, "Bench sheet", _RUNNING, align="right")
        _RULE.apply_to(self.canvas)
        polyline(self.canvas, ((MARGIN, y - 1.8), (width - MARGIN, y - 1.8)))
        return y - 6.5


def _title(title: str, room: float) -> tuple[float, list[str]]:
    """Largest type size at which the title takes few lines, else the smallest; and its lines."""
    for size in _TITLE_SIZES:
        lines = wrap_text(title, size, room, bold=True)
        if len(lines) <= _MOST_TITLE_LINES:
            return size, lines
    return _TITLE_SIZES[-1], lines


def _pages(drawn: _Drawn, canvas: Canvas, paper: PaperSize, total: int) -> int:
    """Draw the pages of one wrap, or of the rod; return their number."""
    bench, plan = drawn.bench, drawn.plan
    page_frame = PageFrame(paper, Tag(bench.title, bench.design), _WHAT)
    signs = signs_of(bench.sections)
    pages = _Pages(canvas, page_frame, bench, plan, total, (signs,) if signs else ())
    flow = Flow(canvas, pages.begin)
    written = FigureFormatter(plan.design.units, bench.currency)
    widths = flow.column_width, flow.full_width
    if drawn.is_rod:
        _rod_page(drawn, flow, written)
        return flow.pages
    ordered = order_blocks(plan.designed, written, flow.full_width)
    # With its strips as they are cut, as in the figures.
    plan = as_cut(plan)
    pattern = pattern_of(plan)

    flow.full(Block([_Picture(drawn.picture)], 0.0))
    for block in ordered:
        flow.full(block)
    flow.full(Block([SideView(plan, pattern)], 3.0))
    main = [
        figure
        for section in bench.sections
        if section.key in _AT_A_GLANCE
        for figure in section.figures
        if figure.main
    ]
    if main:
        flow.full(glance_block(main, written, flow.full_width))
    if bench.warnings:
        flow.full(framed_block("Look out", bench.warnings, written, flow.full_width))

    def put(section: Section, *, size: float = BODY) -> None:
        """Place a section; narrow blocks wait until a pair of columns is placed."""
        ticked = section.key in _TICKED
        for block, wide in section_blocks(section, written, widths, ticked=ticked, size=size):
            if wide:
                flow.columns(waiting)
                waiting.clear()
                flow.full(block)
            else:
                waiting.append(block)

    waiting = [Block([*heading("unrolled"), UnrolledView(plan, pattern)])]
    parted = [_split_section(section, main) for section in bench.sections]
    for here, _ in parted:
        if _has_content(here) and here.key not in _AFTER_STEPS:
            put(here)
    flow.columns(waiting)
    waiting.clear()
    steps = [
        step_block(number, step, written, widths[0])
        for number, step in enumerate(bench.steps, start=1)
    ]
    across: list[Block] = []
    for here, _ in parted:
        if _has_content(here) and here.key in _AFTER_STEPS:
            for block, wide in section_blocks(here, written, widths):
                (across if wide else steps).append(block)
    flow.columns(steps, Block(heading("order of work")[:1]) if bench.steps else None)
    for block in across:
        flow.full(block)

    if flow.pages <= _BENCH_PAGES:
        flow.new_page()
    flow.full(Block([paragraph("For the desk", 1.3 * BODY, bold=True)]), _BELOW_HEADING)
    for _, later in parted:
        if _has_content(later):
            put(later, size=DESK)
    flow.columns(waiting)
    how = method_blocks(bench.sections, written)
    flow.columns(how, Block(heading("how the figures were got", DESK)[:1]))
    flow.finish()
    return flow.pages


def _rod_page(drawn: _Drawn, flow: Flow, written: FigureFormatter) -> None:
    """Draw the sums of the rod: its picture, then each section."""
    bench, widths = drawn.bench, (flow.column_width, flow.full_width)
    flow.full(Block([_Picture(drawn.picture)], 0.0))
    for block in order_blocks(drawn.plan.designed, written, flow.full_width, of_rod=True):
        flow.full(block)
    if bench.warnings:
        flow.full(framed_block("Look out", bench.warnings, written, flow.full_width))
    waiting: list[Block] = []
    # Threads layer by layer are on the sheets of the wraps.
    sections = [
        replace(section, tables=tuple(one for one in section.tables if one.key != "threads"))
        for section in bench.sections
    ]
    for section in sections:
        ticked = section.key is SectionKey.GUIDES
        for block, wide in section_blocks(section, written, widths, ticked=ticked, size=DESK):
            if wide:
                flow.columns(waiting)
                waiting.clear()
                flow.full(block)
            else:
                waiting.append(block)
    flow.columns(waiting)
    steps = [
        step_block(number, step, written, widths[0])
        for number, step in enumerate(bench.steps, start=1)
    ]
    flow.columns(steps, Block(heading("order of work over the rod")[:1]))
    how = method_blocks(sections, written)
    flow.columns(how, Block(heading("how the figures were got", DESK)[:1]))
    flow.finish()


def _split_section(section: Section, main: Sequence[Figure]) -> tuple[Section, Section]:
    """Split a section into the part for the bench and the part for the desk."""
    figures = tuple(figure for figure in section.figures if figure not in main)
    nothing = replace(section, figures=(), tables=(), notes=())
    rest = replace(section, figures=figures)
    if section.key in _AT_THE_DESK:
        return nothing, rest
    if section.key is SectionKey.CUT:
        # Other widths to choose from are for the desk: at the bench one is cut.
        return replace(rest, tables=()), replace(nothing, tables=section.tables)
    if section.key in _ALL_AT_BENCH:
        return rest, nothing
    tables = [table for table in section.tables if table.rows]
    here = replace(nothing, tables=tuple(tables[:1]))
    later = replace(rest, tables=tuple(tables[1:]))
    if section.key in _TICKED:
        return replace(here, notes=section.notes), replace(later, notes=())
    return here, later


def _has_content(section: Section) -> bool:
    return bool(section.figures or section.notes or any(table.rows for table in section.tables))
