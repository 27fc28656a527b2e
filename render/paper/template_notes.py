"""Notes beside a template: how to use it, what to measure, and what each line means."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from geometry.unroll import Cone
from render.paper.fonts import wrap_text
from render.paper.page import Stroke, polyline, text
from scenes.bench.pattern import Pattern
from scenes.building.build import Plan
from scenes.design.layers import kind_of
from scenes.figures.figures import Kind
from scenes.figures.formatter import FigureFormatter
from scenes.quantities import Units

__all__ = ["Legend", "Notes"]

_PAPER = 0.1
"""Thickness of office paper, mm (from memory); it adds pi times that to the circumference."""

_SIZE, _LINE = 10.0, 4.5
_HEAD, _HEAD_LINE = 11.0, 5.6
_SPACE = 1.6
_INDENT = 5.5


@dataclass(frozen=True, slots=True)
class Legend:
    """Legend of a template.

    Parameters
    ----------
    lines : sequence of (str, Stroke)
        Name and stroke of each kind of line.
    """

    lines: Sequence[tuple[str, Stroke]]


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of the notes: text, type size, line height, indent, and what precedes it."""

    words: str
    size: float
    step: float
    indent: float = 0.0
    bold: bool = False
    before: str = ""
    stroke: Stroke | None = None
    cells: tuple[str, ...] = ()


class Notes:
    """The notes of one template.

    Parameters
    ----------
    plan : Plan
    pattern : Pattern
    cones : sequence of Cone
    legend : Legend
    pages : int
        Number of pages of the pattern.
    """

    def __init__(
        self,
        plan: Plan,
        pattern: Pattern,
        cones: Sequence[Cone],
        legend: Legend,
        pages: int,
    ) -> None:
        self.plan, self.pattern, self.cones = plan, pattern, cones
        self.written, self.legend, self.pages = FigureFormatter(plan.design.units), legend, pages

    def height(self, width: float) -> float:
        """Height of the notes in a column, mm.

        Parameters
        ----------
        width : float
            mm.
        """
        return sum(line.step for line in self._lines(width))

    def draw(self, canvas: Canvas, box: tuple[float, float, float, float]) -> None:
        """Draw the notes from the top of a box.

        Parameters
        ----------
        canvas : Canvas
        box : (float, float, float, float)
            Left, bottom, right, top, mm.
        """
        left, _, right, y = box
        for line in self._lines(right - left):
            y -= line.step
            x = left + line.indent
            if line.before:
                text(canvas, left, y, line.before, line.size, bold=True)
            if line.stroke is not None:
                line.stroke.apply_to(canvas)
                polyline(canvas, ((left, y + 1.2), (left + _SAMPLE - 2, y + 1.2)))
            if line.cells:
                room = (right - left) / len(line.cells)
                for number, cell in enumerate(line.cells, start=1):
                    at = left + number * room
                    text(canvas, at, y, cell, line.size, bold=line.bold, align="right")
            text(canvas, x, y, line.words, line.size, bold=line.bold)

    def _lines(self, width: float) -> Iterator[_Line]:
        yield from _heading("Measure before you cut", width, first=True)
        yield from _numbered(self._how(), width)
        yield from _heading("Round the blank", width)
        yield from self._ends(width)
        yield from self._cut(width)
        yield from _heading("Lines", width)
        for name, stroke in self.legend.lines:
            for number, words in enumerate(wrap_text(name, _SIZE, width - _SAMPLE)):
                drawn = stroke if number == 0 else None
                yield _Line(words, _SIZE, _LINE, _SAMPLE, stroke=drawn)
        unit = "mm" if self.plan.design.units is Units.MM else "inches"
        remark = f"Figures up the left edge are {unit} from the butt."
        if self.pattern.marks:
            remark += " Marks have the numbers that they have on the bench sheet"
            cords = any(mark.row for mark in self.pattern.marks)
            remark += ", with R and L for right-hand and left-hand cords." if cords else "."
        yield from _paragraph(remark, width)
        if self.pattern.undrawn:
            listed = ", ".join(self.pattern.undrawn)
            yield from _paragraph(f"Not drawn here: {listed}.", width)

    def _how(self) -> Iterator[str]:
        lower, upper = (
            self.written.amount(at, Kind.PLACE, zeros=True)
            for at in (self.cones[0].start, self.cones[-1].end)
        )
        paper, left_open, wrong = (
            self.written.coarse(mm, Kind.LENGTH) for mm in (_PAPER, math.pi * _PAPER, 1.0)
        )
        yield (
            "Print at 100 %, with no fit to page. Both check bars must be 100 mm by a steel rule, "
            "to half a millimetre."
        )
        if self.pages > len(self.cones):
            yield (
                "Join the pages of a piece: lay crosses with the same letter on one another, "
                "against the light, and tape them."
            )
        yield (
            "Cut along the outline with a sharp blade, away from your fingers, on a mat. The "
            "rod is not in the lathe while you cut or roll."
        )
        if len(self.cones) > 1:
            yield (
                f"The blank bends too much for one sheet: roll the {len(self.cones)} pieces on "
                "one after the other, end to end."
            )
        yield (
            f"Roll it on, print outwards, guide line on guide line: the lower end at {lower} from "
            f"the butt, the upper at {upper}."
        )
        yield (
            f"The long edges must meet at the back. Paper {paper} thick leaves {left_open} between "
            f"them; more than {wrong} open or lapped, and the print or the measured diameter is "
            "wrong."
        )
        yield (
            "Mark the blank through pricked holes or along cut edges with a pencil, then take "
            "the paper off."
        )

    def _cut(self, width: float) -> Iterator[_Line]:
        for builder in self.plan.builders:
            for note in kind_of(builder.layer).notes(builder):
                yield from _paragraph(self.written.sentence(note), width)

    def _ends(self, width: float) -> Iterator[_Line]:
        unit = self.written.unit(Kind.PLACE)
        heads = (f"at, {unit}", f"thick, {unit}", f"round, {unit}")
        yield _Line("", _SIZE, _LINE, cells=heads)
        places = [self.cones[0].start, *(cone.end for cone in self.cones)]
        for at in places:
            radius = float(self.plan.blank.radius(at))
            cells = (
                self.written.number(at, Kind.PLACE, zeros=True),
                self.written.number(2 * radius, Kind.CALIPER, zeros=True),
                self.written.number(2 * math.pi * radius, Kind.PLACE, zeros=True),
            )
            yield _Line("", _SIZE, _LINE, bold=True, cells=cells)
        off = 2 * math.pi * max(cone.misfit for cone in self.cones)
        # Rounded up, so that the statement is true.
        held = np.ceil(off / 0.01) * 0.01
        yield from _paragraph(
            f"Paper lies flat on a straight cone only. This one is within "
            f"{self.written.amount(held, Kind.CALIPER, zeros=True)} of the measured blank, all the "
            "way round.",
            width,
        )


_SAMPLE = 16.0
"""Width of a sample of a line, mm."""


def _heading(words: str, width: float, *, first: bool = False) -> Iterator[_Line]:
    for number, line in enumerate(wrap_text(words, _HEAD, width, bold=True)):
        above = 0.0 if first or number else 3.2
        yield _Line(line, _HEAD, _HEAD_LINE + above, bold=True)


def _paragraph(words: str, width: float) -> Iterator[_Line]:
    for number, line in enumerate(wrap_text(words, _SIZE, width)):
        yield _Line(line, _SIZE, _LINE + (0 if number else _SPACE))


def _numbered(items: Iterator[str], width: float) -> Iterator[_Line]:
    for count, item in enumerate(items, start=1):
        for number, line in enumerate(wrap_text(item, _SIZE, width - _INDENT)):
            before = "" if number else f"{count}"
            yield _Line(line, _SIZE, _LINE + (0 if number else _SPACE), _INDENT, before=before)
