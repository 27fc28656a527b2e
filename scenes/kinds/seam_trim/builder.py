"""Builder of seam trims, laid along the edges of the last relief."""

from collections.abc import Callable, Iterator
from functools import cached_property

import numpy as np

from geometry.kept import KEPT
from geometry.layers.slide import Slide, slide_of
from geometry.layers.trim import Edge, Ring, StripEdge
from geometry.layers.trim import SeamTrim as TrimLayer
from geometry.layers.trim import TrimThread as LaidThread
from geometry.surface import Surface
from materials.thread import Thread, grade
from scenes.kinds.builder import EdgeBuilder, LayerResult, Palette, ThreadUse
from scenes.kinds.edges import EdgeChoice
from scenes.kinds.seam_trim.model import SeamTrimModel
from scenes.kinds.seam_trim.stretch import Stretch, stretch_beside

__all__ = ["TrimBuilder"]

_PLACES = 4010
"""Number of places along the wrap at which the run of a thread is measured."""

_EDGES = {
    EdgeChoice.LOWER: (Edge.LOWER,),
    EdgeChoice.UPPER: (Edge.UPPER,),
    EdgeChoice.BOTH: (Edge.LOWER, Edge.UPPER),
}


class TrimBuilder(EdgeBuilder[SeamTrimModel]):
    """Builder of a seam trim."""

    progress_label = "seam trim"

    @cached_property
    def ordered_threads(self) -> tuple[Thread, ...]:
        """Threads from the relief outwards."""
        trim, shelf = self.layer, self.plan.shelf
        if trim.grade is not None:
            first, last = shelf.thread(trim.grade.first), shelf.thread(trim.grade.last)
            return grade(first, last, trim.grade.count)
        return tuple(
            shelf.thread(entry.thread) for entry in trim.threads or () for _ in range(entry.count)
        )

    def threads(self) -> Iterator[Thread]:
        """Yield every thread."""
        yield from self.ordered_threads

    @cached_property
    def lines(self) -> list[StripEdge | Ring]:
        """Edges that the trim is laid along."""
        relief = self.plan.relief_under(self)
        return [relief.edge(edge) for edge in _EDGES[self.layer.edge]]

    @cached_property
    def slides(self) -> tuple[Slide, ...]:
        """How its threads slide, along each of its lines."""
        return self.slides_from(self.layer.offset)

    def slides_from(self, offset: float) -> tuple[Slide, ...]:
        """Find how its threads would slide from an offset, along each of its lines.

        Parameters
        ----------
        offset : float
            From the relief's edge to the side of the first thread, mm.
        """
        threads = tuple(LaidThread(thread.diameter_mm, 0) for thread in self.ordered_threads)
        return tuple(
            self._slide(TrimLayer(line, threads, offset, *stretch.cut), stretch.ground)
            for line, stretch in zip(self.lines, self._stretches, strict=True)
        )

    def _slide(self, trim: TrimLayer, ground: Surface) -> Slide:
        friction = self.layer.friction
        return KEPT.result(
            "slide",
            (trim, ground, friction),
            lambda: slide_of(trim, ground, friction),
            points=ground.radius.size,
        )

    @cached_property
    def _stretches(self) -> tuple[Stretch, ...]:
        """Stretches of the blank on which its slides are measured, one for each of its lines."""
        before = self.plan.before(self)
        lines = self.lines
        # Both edges of a strip run past each other on one stretch.
        apart = lines if isinstance(lines[0], Ring) else lines[:1]
        found = tuple(
            stretch_beside(line, self.cut(line), self.layer.offset, self.plan.blank, before)
            for line in apart
        )
        return found * (len(lines) // len(found))

    @property
    def lines_at_rest(self) -> list[StripEdge | Ring]:
        """Edges that it is laid along, each moved as far as its threads slide."""
        return [
            line.moved(slide.distance) for line, slide in zip(self.lines, self.slides, strict=True)
        ]

    @property
    def places(self) -> dict[Edge, tuple[float, float]]:
        """Where its threads rest beside each edge, from the first to the last, mm."""
        return self.places_from(self.layer.offset)

    def places_from(self, offset: float) -> dict[Edge, tuple[float, float]]:
        """Find where its threads would rest beside each edge if they were laid at an offset.

        Parameters
        ----------
        offset : float
            From the relief's edge to the side of the first thread, mm.

        Returns
        -------
        dict
            From the relief's edge to the sides of the first and of the last thread, mm.
        """
        wide = sum(thread.diameter_mm for thread in self.ordered_threads)
        slides = self.slides if offset == self.layer.offset else self.slides_from(offset)
        rest = [offset + slide.distance for slide in slides]
        return {
            line.edge: (first, first + wide) for line, first in zip(self.lines, rest, strict=True)
        }

    def cut(self, line: StripEdge | Ring) -> tuple[float, float]:
        """Where threads along a line are cut, mm from the butt.

        Parameters
        ----------
        line : StripEdge | Ring
        """
        return self.span if isinstance(line, StripEdge) else self.plan.wound_span

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Lay the threads along each edge, where they come to rest."""
        threads = tuple(
            LaidThread(thread.diameter_mm, palette.index(self.plan.look_of(thread)))
            for thread in self.ordered_threads
        )
        for line in self.lines_at_rest:
            trim = TrimLayer(line, threads, self.layer.offset, *self.cut(line))
            surface = KEPT.laid(trim, surface)
        return LayerResult(surface, lambda: tuple(self._uses()))

    def _uses(self) -> Iterator[ThreadUse]:
        beside = self.layer.offset
        for thread in self.ordered_threads:
            half = thread.diameter_mm / 2
            length = sum(self.run_length(line, beside + half, half) for line in self.lines_at_rest)
            beside += thread.diameter_mm
            yield ThreadUse(self.path, thread, length)

    def run_length(self, line: StripEdge | Ring, beside: float, half: float) -> float:
        """Length of the centre line of one thread along every run of an edge, mm.

        Parameters
        ----------
        line : StripEdge or Ring
        beside : float
            Distance from the edge outwards to the middle of the thread, mm.
        half : float
            Radius of the thread, mm: it lies on the flat beside the relief, on what covers it.
        """
        blank = self.plan.blank
        lift = self.cover_thickness + half
        if isinstance(line, Ring):
            at = line.at + line.edge.outward * beside
            return float(2 * np.pi * (blank.radius(at) + lift))
        winding = line.winding
        z = np.linspace(*self.span, _PLACES)
        # The edge runs beside the centre line: at the same height on the blank it is elsewhere
        # round.
        across = line.edge.outward * (line.width / 2 + beside)
        centre = z - across / np.sin(winding.angle_at(z))
        phase = winding.phase_at(centre)
        radius = blank.radius(z) + lift
        steps = np.hypot(
            np.hypot(np.diff(z), np.diff(radius)), (radius[1:] + radius[:-1]) / 2 * np.diff(phase)
        )
        return float(winding.starts * steps.sum())
