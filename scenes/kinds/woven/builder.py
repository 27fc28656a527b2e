"""Builder of woven panels, laid as their chart says."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry.kept import KEPT
from geometry.layers.flat import BandRun
from geometry.layers.trim import Edge, Ring, SeamTrim, StripEdge, TrimThread
from geometry.layers.woven import Chart, taken_up
from geometry.layers.woven import WovenPanel as PanelLayer
from geometry.surface import Surface
from materials.thread import Thread
from scenes.artwork.charts import MOST_SIDE, WARP, colour_indices, colours_of
from scenes.artwork.images import read_image
from scenes.kinds.builder import LayerBuilder, LayerResult, Palette, ThreadUse
from scenes.kinds.flat.room import Room
from scenes.kinds.flat.runs import RunDirection
from scenes.kinds.woven.model import WovenPanel
from scenes.problems import DesignProblem, one_of, printable
from scenes.quantities import about, plain_number

__all__ = ["MOST_CROSSINGS", "WovenBuilder"]

Index = NDArray[np.intp]

MOST_CROSSINGS = 1_000_000
"""Most crossings of one panel, with repeats: months at the loom."""

_CLOSER, _WIDER = 0.9, 1.25
"""Bounds of the warp spacing of a closed panel, as a share of its own spacing (from memory)."""


_MOST_BESIDE, _LOOSEST = 60, 2.0
"""Bounds of the fields side_by_side and spread."""


@dataclass(frozen=True, slots=True)
class _PanelSize:
    """Repeats of the chart along and across a panel, and its size, mm."""

    repeats_along: int
    repeats_across: int
    length: float
    width: float


class WovenBuilder(LayerBuilder[WovenPanel]):
    """Builder of a woven panel."""

    progress_label = "woven panel"

    @cached_property
    def room(self) -> Room:
        """Place and room of the panel."""
        return Room(self, self.layer.runs, self.layer.at, self.layer.around)

    @cached_property
    def warp(self) -> Thread:
        """Thread that runs along the panel."""
        return self.plan.shelf.thread(self.layer.warp)

    @cached_property
    def picks(self) -> tuple[Thread, ...]:
        """Threads that run across it: every other thread of the chart, each once."""
        threads = [self.plan.shelf.thread(entry.thread) for entry in self.layer.colours]
        return tuple(dict.fromkeys(thread for thread in threads if thread.name != self.warp.name))

    @cached_property
    def edge(self) -> tuple[Thread, ...]:
        """Threads that hold the edge, from the panel outwards."""
        shelf = self.plan.shelf
        return tuple(shelf.thread(run.thread) for run in self.layer.edge for _ in range(run.count))

    def threads(self) -> Iterator[Thread]:
        """Yield every thread."""
        yield self.warp
        yield from self.picks
        yield from self.edge

    @cached_property
    def chart(self) -> Chart:
        """One chart: 0 for the warp, pick threads from 1.

        Raises
        ------
        DesignProblem
            If it cannot be read, or has a colour with no thread.
        """
        layer, field = self.layer, f"{self.path}.chart"
        data = self.plan.beside.read(layer.chart, field)
        pixels = read_image(data, layer.chart, field, MOST_SIDE)
        listed = [entry.colour.lower() for entry in layer.colours]
        numbers = colour_indices(pixels, [WARP, *listed])
        if (numbers < 0).any():
            unknown = [
                colour for colour in colours_of(pixels) if colour != WARP and colour not in listed
            ]
            more = f" and {len(unknown) - 3} more" if len(unknown) > 3 else ""
            listed_colours = one_of((f'"{colour}"' for colour in unknown[:3]), "and") + more
            raise DesignProblem(
                f'{self.path}.colours: "{printable(layer.chart)}" has {listed_colours}, for which '
                "no thread is listed; list one, or recolour the chart.",
                field=f"{self.path}.colours",
            )
        names = [thread.name for thread in self.picks]
        of_colour = [0] + [
            0 if thread.name == self.warp.name else 1 + names.index(thread.name)
            for thread in (self.plan.shelf.thread(entry.thread) for entry in layer.colours)
        ]
        return Chart(np.array(of_colour, np.intp)[numbers])

    def colour_used(self, index: int) -> bool:
        """Whether the chart has one of the colours that the design lists.

        Parameters
        ----------
        index : int
            Index in the layer's `colours`.
        """
        data = self.plan.beside.read(self.layer.chart, f"{self.path}.chart")
        pixels = read_image(data, self.layer.chart, f"{self.path}.chart", MOST_SIDE)
        return self.layer.colours[index].colour.lower() in colours_of(pixels)

    @property
    def pitch(self) -> tuple[float, float]:
        """Distance between warp threads, and between picks, mm."""
        spread = self.layer.spread
        return spread * self.warp.diameter_mm, spread * self.pick_diameter

    @property
    def pick_diameter(self) -> float:
        """Diameter of the thickest pick, which sets the row distance, mm."""
        return max((thread.diameter_mm for thread in self.picks), default=self.warp.diameter_mm)

    @cached_property
    def edge_width(self) -> float:
        """Width of the threads that hold one edge, mm."""
        return sum(thread.diameter_mm for thread in self.edge)

    @cached_property
    def panel_size(self) -> _PanelSize:
        """Repeats of the chart and size of the panel."""
        layer = self.layer
        rows, columns = self.chart.top.shape
        across, along = self.pitch
        width = columns * layer.side_by_side * across
        up = layer.repeats or (
            1 if layer.runs is RunDirection.BLANK else self._fitting(rows * along, width)
        )
        return _PanelSize(up, layer.side_by_side, up * rows * along, width)

    def _fitting(self, length: float, width: float) -> int:
        """Largest number of charts in a row that fits on the band, at least one."""
        count = 1
        while self._inside((count + 1) * length, width) and count < 400:
            count += 1
        return count

    def _inside(self, length: float, width: float) -> bool:
        start, end = self._reach(length, width)
        first, last = self.span
        return first <= start and end <= last

    def _reach(self, length: float, width: float) -> tuple[float, float]:
        """Range of the panel with the threads of its edge, mm from the butt."""
        edge = 2 * self.edge_width
        if self.layer.runs is RunDirection.BLANK:
            return self.room.flat.reach(length + edge, width)
        return self.room.flat.reach(length, width + edge)

    @cached_property
    def closing_spread(self) -> float:
        """Spread of the warp of a closed panel, mid panel, relative to its own spacing."""
        flat = self.room.flat
        radius = float(self.plan.blank.radius(flat.at)) + self.room.lift
        return 2 * np.pi * radius / self.panel_size.width

    def prepare(self) -> None:
        """Check that the chart can be read and has room.

        Raises
        ------
        DesignProblem
            If the chart cannot be read.
        DesignProblem
            If the panel is larger than its place.
        """
        units, size = self.plan.design.units, self.panel_size
        rows, columns = self.chart.top.shape
        count = rows * columns * size.repeats_along * size.repeats_across
        if count > MOST_CROSSINGS:
            raise DesignProblem.at(
                self.path,
                f"{count} crossings are more than {MOST_CROSSINGS}; "
                + self._fewer_advice(
                    min(
                        MOST_CROSSINGS // (rows * columns * size.repeats_across),
                        self._most_along(rows * self.pitch[1], size.width),
                    )
                ),
            )
        start, end = self._reach(size.length, size.width)
        first, last = self.span
        if start < first or end > last:
            raise DesignProblem.at(
                self.path,
                f"the panel is {rows * size.repeats_along} picks and {about(size.length, units)} "
                f"long and reaches from {about(start, units)} to {about(end, units)}, beyond the "
                "wrap; " + self._fewer_advice(self._most_along(rows * self.pitch[1], size.width)),
            )
        if self.layer.closed:
            around = self.closing_spread * size.width
            if not _CLOSER <= self.closing_spread <= _WIDER:
                raise DesignProblem.at(
                    self.path,
                    f"{columns * size.repeats_across} warp threads are {about(size.width, units)} "
                    f"wide and it is {about(around, units)} round the blank, "
                    f"{plain_number(round(self.closing_spread, 3))} times that, which spreading "
                    f"them does not make good; {self._closing_advice(columns, around)}",
                )
            return
        room = self._room(start, end)
        wide = size.width + (2 * self.edge_width if self.layer.runs is RunDirection.BAND else 0.0)
        if wide > room:
            what = "band is" if self.layer.runs is RunDirection.BAND else "way round the blank is"
            most = int((room - wide + size.width) / self.pitch[0] + 1e-9)
            raise DesignProblem.at(
                self.path,
                f"{columns * size.repeats_across} warp threads are {about(wide, units)} wide with "
                f"their edge, and the {what} {about(room, units)}; "
                + _narrowing_advice(most, columns, size.repeats_across),
            )

    def _most_along(self, length: float, width: float) -> int:
        """Largest number of charts of some size, mm, that lie in the wrap at its place; 0 if none.

        Parameters
        ----------
        length, width : float
            Of one chart along the run, and of the panel across it, mm.
        """
        count = self.panel_size.repeats_along - 1
        while count and not self._inside(count * length, width):
            count -= 1
        return count

    def _fewer_advice(self, most: int) -> str:
        """Advise how often the chart may be repeated along the panel, or how large it may be."""
        if most:
            return f"set repeats to {most}"
        if self.layer.at is not None:
            return "leave at out, so that it lies mid wrap"
        rows, columns = self.chart.top.shape
        across = self.panel_size.repeats_across
        for picks in range(min(rows, MOST_CROSSINGS // (columns * across)), 0, -1):
            if self._inside(picks * self.pitch[1], self.panel_size.width):
                return f"give a chart of {picks} rows or fewer"
        for warp in range(columns - 1, 0, -1):
            picks = max(rows * warp // columns, 1)
            if self._inside(picks * self.pitch[1], warp * across * self.pitch[0]):
                return f"give a chart of {warp} columns and {picks} rows or fewer"
        start, end = self._reach(self.pitch[1], self.pitch[0])
        return f"give a wrap of {about(end - start, self.plan.design.units, upwards=True)} or more"

    def _closing_advice(self, columns: int, around: float) -> str:
        """Advise what closes round the blank: repeats beside each other, spread, or a chart."""
        chart = columns * self.pitch[0]
        best = max(1, round(around / chart))
        beside = [
            number
            for number in (best, best + 1, best - 1)
            if 1 <= number <= _MOST_BESIDE and _CLOSER < around / (number * chart) < _WIDER
        ]
        if beside:
            return f"set side_by_side to {beside[0]}"
        touching = around / (columns * self.warp.diameter_mm)
        for number in range(min(int(touching / _CLOSER), _MOST_BESIDE), 0, -1):
            spread = round(max(touching / number, 1.0), 2)
            if spread <= _LOOSEST and _CLOSER < touching / number / spread < _WIDER:
                return f"set side_by_side to {number} and spread to {plain_number(spread)}"
        least, most = (
            math.ceil(around / self.pitch[0] / _WIDER),
            math.floor(around / self.pitch[0] / _CLOSER),
        )
        return f"set side_by_side to 1 and give a chart of {least} to {most} columns"

    def _room(self, start: float, end: float) -> float:
        if self.layer.runs is RunDirection.BAND:
            return self.room.across(start, end)
        places = self.plan.blank.radius(np.linspace(start, end, 41))
        return float(2 * np.pi * (places.min() + self.room.lift))

    def panel(self, materials: tuple[int, ...] = ()) -> PanelLayer:
        """Make the geometry layer.

        Parameters
        ----------
        materials : tuple of int
            Material index of the warp, then of each pick thread.
        """
        return PanelLayer(
            self.room.flat,
            self.chart.repeated(self.panel_size.repeats_along, self.panel_size.repeats_across),
            self.warp.diameter_mm,
            self.pick_diameter,
            *self.pitch,
            materials,
            self.layer.closed,
        )

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Lay the panel, then the threads that hold its edge."""
        self.prepare()
        look = [palette.index(self.plan.look_of(thread)) for thread in (self.warp, *self.picks)]
        panel = self.panel(tuple(look))
        laid = KEPT.result(
            "panel", (panel, surface), lambda: panel.lay(surface), points=surface.radius.size
        )
        threads = tuple(
            TrimThread(thread.diameter_mm, palette.index(self.plan.look_of(thread)))
            for thread in self.edge
        )
        held = laid.surface
        if threads:
            step("edge")
            for line in self.lines:
                held = KEPT.laid(SeamTrim(line, threads, 0.0, *self._cut), held)
        return LayerResult(held, self._uses, laid.beneath)

    @cached_property
    def lines(self) -> tuple[StripEdge | Ring, ...]:
        """Lines along which the threads of the edge lie."""
        flat, size = self.room.flat, self.panel_size
        if isinstance(flat, BandRun):
            return tuple(StripEdge(flat.winding, size.width, edge) for edge in Edge)
        ends = flat.reach(size.length, size.width)
        return tuple(Ring(at, edge) for at, edge in zip(ends, Edge, strict=True))

    @property
    def _cut(self) -> tuple[float, float]:
        """Where edge threads are cut, mm from the butt: on a band, at the outermost corners."""
        return self._reach(self.panel_size.length, self.panel_size.width)

    def colour_counts(self) -> tuple[int, ...]:
        """Crossings of one chart with the warp on top, then with each pick thread on top."""
        count = np.bincount(self.chart.top.ravel(), minlength=1 + len(self.picks))
        return tuple(int(number) for number in count)

    @property
    def picks_in_rows(self) -> Index:
        """Number of picks of each row of one chart, (n,), led through one after another."""
        numbers = np.arange(1, 1 + len(self.picks))
        return (self.chart.top[:, :, None] == numbers).any(axis=1).sum(axis=1)

    @property
    def longest(self) -> float:
        """Length of the panel if a row's picks lie side by side, none on another, mm."""
        places = int(np.maximum(self.picks_in_rows, 1).sum())
        return places * self.pitch[1] * self.panel_size.repeats_along

    def rows_with(self) -> tuple[int, ...]:
        """Picks of each thread in one chart: the rows in which it is on top."""
        return tuple(
            int((self.chart.top == number).any(axis=1).sum())
            for number in range(1, 1 + len(self.picks))
        )

    def _uses(self) -> tuple[ThreadUse, ...]:
        """Thread on the blank: a pick crosses the panel in each row in which it is on top."""
        top = self.chart.repeated(self.panel_size.repeats_along, self.panel_size.repeats_across).top
        across, along = self.pitch
        if self.layer.closed:
            across *= self.closing_spread
        columns = top.shape[1]
        lengths = [
            columns * self.panel_size.length
            + taken_up(int((np.diff(top == 0, axis=0)).sum()), self.pick_diameter, along)
        ]
        for number in range(1, 1 + len(self.picks)):
            mine = top == number
            changes = int(np.diff(mine, axis=1).sum())
            lengths.append(
                int(mine.any(axis=1).sum()) * columns * across
                + taken_up(changes, self.warp.diameter_mm, across)
            )
        uses = [
            ThreadUse(self.path, thread, length)
            for thread, length in zip((self.warp, *self.picks), lengths, strict=True)
        ]
        return (*uses, *self._edge_uses())

    def _edge_uses(self) -> Iterator[ThreadUse]:
        beside = 0.0
        for thread in self.edge:
            half = thread.diameter_mm / 2
            beside += thread.diameter_mm
            length = 0.0
            for line in self.lines:
                if isinstance(line, StripEdge):
                    length += self.panel_size.length
                    continue
                at = line.at + line.edge.outward * (beside - half)
                length += 2 * np.pi * (float(self.plan.blank.radius(at)) + self.room.lift + half)
            yield ThreadUse(self.path, thread, length)


def _narrowing_advice(most: int, columns: int, beside: int) -> str:
    """Advise what makes a panel narrow enough, where at most so many warp threads have room."""
    if beside > 1 and most >= columns:
        return f"set side_by_side to {most // columns}"
    if most >= beside:
        return f"give a chart of {most // beside} columns or fewer"
    if most >= 1:
        return f"set side_by_side to 1 and give a chart of {most} columns or fewer"
    return "there is no room for a single one: give fewer or thinner threads at its edge"
