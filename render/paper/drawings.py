"""Drawings of a wrap to scale: side view with dimensions, and unrolled view."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from geometry.unroll import Cone, between, split_at_seam
from render.paper.fonts import cap_height, width_of
from render.paper.page import Stroke, polyline, text
from scenes.bench.pattern import Pattern
from scenes.building.build import Plan
from scenes.design.checks import laid_span
from scenes.design.document import Design
from scenes.design.rod import other_wraps
from scenes.figures.figures import Kind
from scenes.figures.formatter import FigureFormatter
from scenes.kinds.lines import Pen
from scenes.parts.blank import Grip
from scenes.quantities import Units

__all__ = ["SideView", "UnrolledView"]

Array = NDArray[np.float64]

_SCALES = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02)
"""Scales of drawings [ISO5455], largest first; a rule reads lengths off them."""

_NUMBER_SIZE = 10.0
"""Type size of the numbers in a drawing, points."""

_ROW = 5.0
"""Height of a row of numbers, mm."""

_UNIT_NAMES = {Units.MM: "mm", Units.IN: "inches"}

_MARGIN_ON_ROD = 16.0
"""Length of blank shown beyond each end of the wrap, mm on the rod."""

_RAISED = 0.6
"""Thickness that another wrap is drawn with, mm on the paper."""

_OUTLINE = Stroke(0.4)
_FINE = Stroke(0.15)
_AXIS = Stroke(0.15, dash=(4.0, 1.0, 1.0, 1.0))


def _scale_for(length: float, room: float, most: float) -> float:
    return next(
        (scale for scale in _SCALES if scale <= most and length * scale <= room), _SCALES[-1]
    )


def _scale_text(scale: float) -> str:
    return f"scale {scale:g} : 1" if scale >= 1 else f"scale 1 : {1 / scale:g}"


@dataclass(frozen=True, slots=True)
class _Span:
    """Range of the rod that a drawing shows, its scale, and its left edge on the paper, mm."""

    start: float
    end: float
    scale: float
    left: float

    def x(self, z: Array | float) -> Array:
        return self.left + (np.asarray(z) - self.start) * self.scale


class SideView(Flowable):
    """Side view of a wrap, with the guide line towards the viewer and the butt on the left.

    Running dimensions from the butt are below it, thicknesses above it [ISO129-1].

    Parameters
    ----------
    plan : Plan
    pattern : Pattern
    """

    def __init__(self, plan: Plan, pattern: Pattern) -> None:
        super().__init__()
        self.plan, self.pattern = plan, pattern
        self.written = FigureFormatter(plan.design.units)

    @cached_property
    def _places(self) -> tuple[float, ...]:
        """Distances that are dimensioned, mm."""
        ends = {round(at, 4) for builder in self.plan.builders for at in builder.span}
        return tuple(sorted(ends))

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Take the whole width; the height follows from the scale.

        Parameters
        ----------
        available_width, available_height : float
            Points.
        """
        self.width = available_width
        room = available_width / mm
        first, last = self.pattern.start - _MARGIN_ON_ROD, self.pattern.end + _MARGIN_ON_ROD
        scale = _scale_for(last - first, room, 2.0)
        # The drawing fills the width of the paper.
        spare = (room / scale - (last - first)) / 2
        self._span = _Span(first - spare, last + spare, scale, 0.0)
        self._half = scale * max(
            float(self.plan.blank.radius(np.array([first - spare, last + spare])).max()),
            max((grip.diameter / 2 for grip in self._grips()), default=0.0),
        )
        self._rows = list(self._dimension_rows())
        self._caption_row = self._row_of_caption()
        last = max((row for _, _, _, row in self._rows), default=0)
        self._below = 3.0 + _ROW * (1 + max(last, self._caption_row))
        self.height = (2 * self._half + self._below + _ROW + 3.0) * mm
        return self.width, self.height

    def _grips(self) -> Iterator[Grip]:
        for fitted in self.plan.design.blank.fitted:
            if isinstance(fitted, Grip) and self._overlap(*fitted.span):
                yield fitted

    def _overlap(self, start: float, end: float) -> bool:
        return end > self._span.start and start < self._span.end

    def _dimension_rows(self) -> Iterator[tuple[float, str, float, int]]:
        """Each dimension: place, label, left end of the label, and a row in which it fits."""
        ends: list[float] = []
        for at in self._places:
            label = self.written.number(at, Kind.PLACE, zeros=True)
            wide = width_of(label, _NUMBER_SIZE)
            left = min(max(float(self._span.x(at)) - wide / 2, 0.0), self.width / mm - wide)
            row = next((n for n, end in enumerate(ends) if left > end + 2.0), len(ends))
            if row == len(ends):
                ends.append(0.0)
            ends[row] = left + wide
            yield at, label, left, row

    @property
    def _caption(self) -> str:
        """What the dimensions below the drawing are; diameters stand above it."""
        return f"{_UNIT_NAMES[self.plan.design.units]} from the butt"

    def _row_of_caption(self) -> int:
        """First row of dimensions with room for the caption at its left."""
        wide = width_of(self._caption, _NUMBER_SIZE) + 1.5
        row = 0
        while any(left < wide for _, _, left, taken in self._rows if taken == row):
            row += 1
        return row

    def draw(self) -> None:
        """Draw it."""
        canvas, span = self.canv, self._span
        middle = self._below + self._half
        width = self.width / mm
        _AXIS.apply_to(canvas)
        polyline(canvas, ((0, middle), (width, middle)))
        self._body(canvas, middle)
        _FINE.apply_to(canvas)
        labels = []
        for at, label, left, row in self._rows:
            x, y = float(span.x(at)), self._below - 3.0 - _ROW * row - cap_height(_NUMBER_SIZE) / 2
            surface = middle - span.scale * float(self.plan.blank.radius(at))
            polyline(canvas, ((x, surface - 0.5), (x, y + cap_height(_NUMBER_SIZE) + 0.6)))
            labels.append((left, y, label))
        for left, y, label in labels:
            # A white box hides the lines of other dimensions behind the label.
            canvas.setFillGray(1)
            wide, high = width_of(label, _NUMBER_SIZE) + 0.8, cap_height(_NUMBER_SIZE) + 0.8
            box = ((left - 0.4) * mm, (y - 0.4) * mm, wide * mm, high * mm)
            canvas.rect(*box, stroke=0, fill=1)
            text(canvas, left, y, label, _NUMBER_SIZE)
        y = self._below - 3.0 - _ROW * self._caption_row - cap_height(_NUMBER_SIZE) / 2
        text(canvas, 0.0, y, self._caption, _NUMBER_SIZE)
        self._thicknesses(canvas, middle)

    def _thicknesses(self, canvas: Canvas, middle: float) -> None:
        """Draw the diameters at the ends of the relief, and the scale where there is room."""
        top = middle + self._half
        free, taken = 0.0, []
        for at in (self.plan.start, self.plan.end):
            thick = 2 * float(self.plan.blank.radius(at))
            label = f"Ø {self.written.amount(thick, Kind.CALIPER, zeros=True)}"
            x = float(self._span.x(at))
            _FINE.apply_to(canvas)
            polyline(canvas, ((x, middle + self._span.scale * thick / 2 + 0.5), (x, top + 2.0)))
            wide = text(canvas, x, top + 2.6, label, _NUMBER_SIZE, align="middle")
            taken.append((x - wide / 2 - 3, x + wide / 2 + 3))
        label = _scale_text(self._span.scale)
        wide = width_of(label, _NUMBER_SIZE)
        for low, high in (*taken, (self.width / mm, math.inf)):
            if free + wide <= low:
                break
            free = high
        text(canvas, free, top + 2.6, label, _NUMBER_SIZE, room=max(self.width / mm - free, 1.0))

    def _body(self, canvas: Canvas, middle: float) -> None:
        span, blank = self._span, self.plan.blank
        z = np.linspace(span.start, span.end, 121)
        rim = np.column_stack((span.x(z), span.scale * blank.radius(z)))
        _OUTLINE.apply_to(canvas)
        for sign in (1, -1):
            polyline(canvas, rim * (1, sign) + np.array((0, middle)))
        for pen, line in self._front_lines():
            Stroke.of(pen.small).apply_to(canvas)
            polyline(canvas, line + np.array((0, middle)))
        _OUTLINE.apply_to(canvas)
        for rod in other_wraps(self.plan.design):
            self._other_wrap(canvas, middle, rod)
        for grip in self._grips():
            low, high = max(grip.start, span.start), min(grip.end, span.end)
            x, wide = float(span.x(low)), (high - low) * span.scale
            high = grip.diameter * span.scale
            box = (x * mm, (middle - high / 2) * mm, wide * mm, high * mm)
            canvas.setFillGray(0.9)
            canvas.rect(*box, stroke=1, fill=1)
            name = grip.material.value
            if width_of(name, _NUMBER_SIZE) + 2 < wide:
                y = middle - cap_height(_NUMBER_SIZE) / 2
                text(canvas, x + wide / 2, y, name, _NUMBER_SIZE, align="middle")
        for fitted in self.plan.design.blank.fitted:
            if not isinstance(fitted, Grip) and self._overlap(*fitted.span):
                low, high = np.clip(span.x(np.array(fitted.span)), 0, self.width / mm).tolist()
                canvas.setFillGray(1)
                box = (low * mm, (middle - 1.5) * mm, (high - low) * mm, 3.0 * mm)
                canvas.rect(*box, stroke=1, fill=1)
                if width_of("guide", _NUMBER_SIZE) < high - low:
                    text(
                        canvas,
                        (low + high) / 2,
                        middle + 2.2,
                        "guide",
                        _NUMBER_SIZE,
                        align="middle",
                    )

    def _other_wrap(self, canvas: Canvas, middle: float, rod: Design) -> None:
        """Draw where another wrap of the rod is, with its name where there is room."""
        start, end = laid_span(rod)
        if not self._overlap(start, end):
            return
        span = self._span
        z = np.linspace(max(start, span.start), min(end, span.end), 31)
        x, high = span.x(z), span.scale * self.plan.blank.radius(z) + _RAISED
        rim = np.concatenate((np.column_stack((x, high)), np.column_stack((x, -high))[::-1]))
        path = canvas.beginPath()
        for place, (along, across) in enumerate(rim + np.array((0, middle))):
            (path.lineTo if place else path.moveTo)(along * mm, across * mm)
        path.close()
        canvas.setFillGray(0.8)
        canvas.drawPath(path, stroke=1, fill=1)
        if width_of(rod.wrap_name, _NUMBER_SIZE) + 2 < x[-1] - x[0]:
            y = middle - cap_height(_NUMBER_SIZE) / 2
            centre = float(x[0] + x[-1]) / 2
            text(canvas, centre, y, rod.wrap_name, _NUMBER_SIZE, align="middle")

    def _front_lines(self) -> Iterator[tuple[Pen, Array]]:
        """Lines of the pattern on the side towards the viewer, mm on the paper."""
        span = self._span
        for line in self.pattern.lines:
            if line.pen.dense:
                continue
            for part in between(line.points, line.points[:, 1], span.start, span.end):
                for sheet in split_at_seam(part):
                    for front in between(sheet, sheet[:, 0], -np.pi / 2, np.pi / 2):
                        theta, z = front.T
                        # With the butt on the left, angles increase upwards on the paper: seen
                        # with the tip above, theta increases to the right.
                        y = -span.scale * self.plan.blank.radius(z) * np.sin(theta)
                        yield line.pen, np.column_stack((span.x(z), y))


class UnrolledView(Flowable):
    """A wrap unrolled, with the butt on the left, cut open opposite the guide line.

    Parameters
    ----------
    plan : Plan
    pattern : Pattern
    """

    def __init__(self, plan: Plan, pattern: Pattern) -> None:
        super().__init__()
        self.plan, self.pattern = plan, pattern
        self.cone = Cone.nearest(plan.blank, pattern.start, pattern.end)
        self.written = FigureFormatter(plan.design.units)

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Take the largest scale that fits.

        Parameters
        ----------
        available_width, available_height : float
            Points.
        """
        self.width = available_width
        around = (
            2
            * math.pi
            * max(float(self.cone.radius_at(z)) for z in (self.pattern.start, self.pattern.end))
        )
        room = available_width / mm
        scale = _scale_for(self.pattern.end - self.pattern.start, room, 1.0)
        while around * scale > _MAX_HEIGHT and scale > _SCALES[-1]:
            scale = _SCALES[_SCALES.index(scale) + 1]
        self._scale, self._high = scale, around * scale
        self.height = (self._high + 2 * _ROW) * mm
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        canvas = self.canv
        middle = _ROW + self._high / 2
        theta = np.linspace(-np.pi, np.pi, 61)
        for at in (self.pattern.start, self.pattern.end):
            _OUTLINE.apply_to(canvas)
            polyline(canvas, self._on_paper(np.column_stack((theta, np.full(61, at))), middle))
        ends = np.array((self.pattern.start, self.pattern.end))
        for at in (-np.pi, np.pi):
            polyline(canvas, self._on_paper(np.column_stack((np.full(2, at), ends)), middle))
        for line in self.pattern.lines:
            Stroke.of(line.pen.small).apply_to(canvas)
            for part in between(line.points, line.points[:, 1], *ends.tolist()):
                for sheet in split_at_seam(part):
                    polyline(canvas, self._on_paper(sheet, middle))
        _AXIS.apply_to(canvas)
        polyline(canvas, self._on_paper(np.column_stack((np.zeros(2), ends)), middle))
        figure = cap_height(_NUMBER_SIZE)
        for at, align in zip(ends.tolist(), ("left", "right"), strict=True):
            x = float(self._on_paper(np.array([[0.0, at]]), middle)[0, 0])
            text(
                canvas,
                x,
                _ROW - 1.2 - figure,
                self.written.number(at, Kind.PLACE, zeros=True),
                _NUMBER_SIZE,
                align=align,
            )
        label = f"guide line in the middle, {_scale_text(self._scale)}"
        text(canvas, 0, self.height / mm - figure - 0.6, label, _NUMBER_SIZE, room=self.width / mm)

    def _on_paper(self, points: Array, middle: float) -> Array:
        flat = self.cone.flat(points[:, 0], points[:, 1])
        # Turned by 90 degrees, so that the butt is on the left, as in every picture.
        return np.column_stack((flat[:, 1], -flat[:, 0])) * self._scale + np.array((0, middle))


_MAX_HEIGHT = 62.0
"""Maximum height of the unrolled drawing, mm."""
