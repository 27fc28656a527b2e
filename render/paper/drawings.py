"""Drawings of a wrap to scale: from the side with its dimensions, and unrolled."""

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
from scenes.figures.figures import Kind
from scenes.figures.formatter import FigureFormatter
from scenes.kinds.lines import Pen
from scenes.parts.blank import Grip
from scenes.quantities import Units

__all__ = ["SideView", "UnrolledView"]

Array = NDArray[np.float64]

_SCALES = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02)
"""Scales that a rule reads off a drawing: ISO 5455:1979."""

_FIGURES = 10.0
"""Size of the figures in a drawing, points."""

_ROW = 5.0
"""Height of a row of figures, mm."""

_IN = {Units.MM: "mm", Units.IN: "inches"}

_BESIDE = 16.0
"""Blank shown beyond the wrap on both sides, mm on the rod."""

_OUTLINE = Stroke(0.4)
_FINE = Stroke(0.15)
_AXIS = Stroke(0.15, dash=(4.0, 1.0, 1.0, 1.0))


def _scale_for(length: float, room: float, most: float) -> float:
    return next((one for one in _SCALES if one <= most and length * one <= room), _SCALES[-1])


def _told(scale: float) -> str:
    return f"scale {scale:g} : 1" if scale >= 1 else f"scale 1 : {1 / scale:g}"


@dataclass(frozen=True, slots=True)
class _Span:
    """What a drawing shows of the rod, and where on the paper."""

    start: float
    end: float
    scale: float
    left: float

    def x(self, z: Array | float) -> Array:
        return self.left + (np.asarray(z) - self.start) * self.scale


class SideView(Flowable):
    """The wrap from the side, the guide line towards the viewer, butt on the left.

    Running dimensions from the butt stand below it, thicknesses above it (ISO 129-1:2018).

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
        """Take the whole width, and the height that follows."""
        self.width = available_width
        room = available_width / mm
        first, last = self.pattern.start - _BESIDE, self.pattern.end + _BESIDE
        scale = _scale_for(last - first, room, 2.0)
        # The paper's whole width shows as much of the rod as it can.
        spare = (room / scale - (last - first)) / 2
        self._span = _Span(first - spare, last + spare, scale, 0.0)
        self._half = scale * max(
            float(self.plan.blank.radius(np.array([first - spare, last + spare])).max()),
            max((one.diameter / 2 for one in self._grips()), default=0.0),
        )
        self._rows = list(self._dimension_rows())
        self._below = 3.0 + _ROW * (1 + max((row for _, _, _, row in self._rows), default=0))
        self.height = (2 * self._half + self._below + _ROW + 3.0) * mm
        return self.width, self.height

    def _grips(self) -> Iterator[Grip]:
        for fitted in self.plan.design.blank.fitted:
            if isinstance(fitted, Grip) and self._overlap(*fitted.span):
                yield fitted

    def _overlap(self, start: float, end: float) -> bool:
        return end > self._span.start and start < self._span.end

    def _dimension_rows(self) -> Iterator[tuple[float, str, float, int]]:
        """Each dimension: place, words, where they begin, and the row in which they are free."""
        ends: list[float] = []
        for at in self._places:
            told = self.written.number(at, Kind.PLACE, zeros=True)
            wide = width_of(told, _FIGURES)
            left = min(max(float(self._span.x(at)) - wide / 2, 0.0), self.width / mm - wide)
            row = next((n for n, end in enumerate(ends) if left > end + 2.0), len(ends))
            if row == len(ends):
                ends.append(0.0)
            ends[row] = left + wide
            yield at, told, left, row

    def draw(self) -> None:
        """Draw it."""
        canvas, span = self.canv, self._span
        middle = self._below + self._half
        width = self.width / mm
        _AXIS.put_on(canvas)
        polyline(canvas, ((0, middle), (width, middle)))
        self._body(canvas, middle)
        _FINE.put_on(canvas)
        labels = []
        for at, told, left, row in self._rows:
            x, y = float(span.x(at)), self._below - 3.0 - _ROW * row - cap_height(_FIGURES) / 2
            surface = middle - span.scale * float(self.plan.blank.radius(at))
            polyline(canvas, ((x, surface - 0.5), (x, y + cap_height(_FIGURES) + 0.6)))
            labels.append((left, y, told))
        for left, y, told in labels:
            # On white, where the line of another place runs behind it.
            canvas.setFillGray(1)
            wide, high = width_of(told, _FIGURES) + 0.8, cap_height(_FIGURES) + 0.8
            box = ((left - 0.4) * mm, (y - 0.4) * mm, wide * mm, high * mm)
            canvas.rect(*box, stroke=0, fill=1)
            text(canvas, left, y, told, _FIGURES)
        self._thicknesses(canvas, middle)

    def _thicknesses(self, canvas: Canvas, middle: float) -> None:
        """Thicknesses where the relief begins and ends, and the scale where there is room."""
        top = middle + self._half
        free, taken = 0.0, []
        for at in (self.plan.start, self.plan.end):
            thick = 2 * float(self.plan.blank.radius(at))
            told = f"Ø {self.written.number(thick, Kind.CALIPER, zeros=True)}"
            x = float(self._span.x(at))
            _FINE.put_on(canvas)
            polyline(canvas, ((x, middle + self._span.scale * thick / 2 + 0.5), (x, top + 2.0)))
            wide = text(canvas, x, top + 2.6, told, _FIGURES, align="middle")
            taken.append((x - wide / 2 - 3, x + wide / 2 + 3))
        told = f"{_IN[self.plan.design.units]} from the butt, {_told(self._span.scale)}"
        wide = width_of(told, _FIGURES)
        for low, high in (*taken, (self.width / mm, math.inf)):
            if free + wide <= low:
                break
            free = high
        text(canvas, free, top + 2.6, told, _FIGURES, room=max(self.width / mm - free, 1.0))

    def _body(self, canvas: Canvas, middle: float) -> None:
        span, blank = self._span, self.plan.blank
        z = np.linspace(span.start, span.end, 121)
        rim = np.column_stack((span.x(z), span.scale * blank.radius(z)))
        _OUTLINE.put_on(canvas)
        for sign in (1, -1):
            polyline(canvas, rim * (1, sign) + np.array((0, middle)))
        for pen, line in self._seen():
            Stroke.of(pen.small).put_on(canvas)
            polyline(canvas, line + np.array((0, middle)))
        _OUTLINE.put_on(canvas)
        for grip in self._grips():
            low, high = max(grip.start, span.start), min(grip.end, span.end)
            x, wide = float(span.x(low)), (high - low) * span.scale
            high = grip.diameter * span.scale
            box = (x * mm, (middle - high / 2) * mm, wide * mm, high * mm)
            canvas.setFillGray(0.9)
            canvas.rect(*box, stroke=1, fill=1)
            name = grip.material.value
            if width_of(name, _FIGURES) + 2 < wide:
                y = middle - cap_height(_FIGURES) / 2
                text(canvas, x + wide / 2, y, name, _FIGURES, align="middle")
        for fitted in self.plan.design.blank.fitted:
            if not isinstance(fitted, Grip) and self._overlap(*fitted.span):
                low, high = np.clip(span.x(np.array(fitted.span)), 0, self.width / mm).tolist()
                canvas.setFillGray(1)
                box = (low * mm, (middle - 1.5) * mm, (high - low) * mm, 3.0 * mm)
                canvas.rect(*box, stroke=1, fill=1)
                if width_of("guide", _FIGURES) < high - low:
                    text(canvas, (low + high) / 2, middle + 2.2, "guide", _FIGURES, align="middle")

    def _seen(self) -> Iterator[tuple[Pen, Array]]:
        """Lines of the pattern on the side towards the viewer, in mm on the paper."""
        span = self._span
        for line in self.pattern.lines:
            if line.pen.dense:
                continue
            for part in between(line.points, line.points[:, 1], span.start, span.end):
                for sheet in split_at_seam(part):
                    for front in between(sheet, sheet[:, 0], -np.pi / 2, np.pi / 2):
                        theta, z = front.T
                        # Angles grow upwards on the paper: the butt is on the left, and theta
                        # grows to the right for an eye that has the tip above.
                        y = -span.scale * self.plan.blank.radius(z) * np.sin(theta)
                        yield line.pen, np.column_stack((span.x(z), y))


class UnrolledView(Flowable):
    """The wrap unrolled, butt on the left, cut open opposite the guide line.

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
        """Take the largest scale that fits."""
        self.width = available_width
        around = (
            2
            * math.pi
            * max(float(self.cone.radius_at(z)) for z in (self.pattern.start, self.pattern.end))
        )
        room = available_width / mm
        scale = _scale_for(self.pattern.end - self.pattern.start, room, 1.0)
        while around * scale > _TALLEST and scale > _SCALES[-1]:
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
            _OUTLINE.put_on(canvas)
            polyline(canvas, self._on_paper(np.column_stack((theta, np.full(61, at))), middle))
        ends = np.array((self.pattern.start, self.pattern.end))
        for at in (-np.pi, np.pi):
            polyline(canvas, self._on_paper(np.column_stack((np.full(2, at), ends)), middle))
        for line in self.pattern.lines:
            Stroke.of(line.pen.small).put_on(canvas)
            for part in between(line.points, line.points[:, 1], *ends.tolist()):
                for sheet in split_at_seam(part):
                    polyline(canvas, self._on_paper(sheet, middle))
        _AXIS.put_on(canvas)
        polyline(canvas, self._on_paper(np.column_stack((np.zeros(2), ends)), middle))
        figure = cap_height(_FIGURES)
        for at, align in zip(ends.tolist(), ("left", "right"), strict=True):
            x = float(self._on_paper(np.array([[0.0, at]]), middle)[0, 0])
            text(
                canvas,
                x,
                _ROW - 1.2 - figure,
                self.written.number(at, Kind.PLACE, zeros=True),
                _FIGURES,
                align=align,
            )
        told = f"guide line in the middle, {_told(self._scale)}"
        text(canvas, 0, self.height / mm - figure - 0.6, told, _FIGURES, room=self.width / mm)

    def _on_paper(self, points: Array, middle: float) -> Array:
        flat = self.cone.flat(points[:, 0], points[:, 1])
        # Turned by a quarter, so that the butt is on the left as in every picture.
        return np.column_stack((flat[:, 1], -flat[:, 0])) * self._scale + np.array((0, middle))


_TALLEST = 62.0
"""Greatest height of the unrolled drawing, mm."""
