"""Builder of seam trims, laid along the edges of the last relief."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from geometry.layers.slide import Slide, slide_of
from geometry.layers.trim import Edge, Ring, StripEdge
from geometry.layers.trim import SeamTrim as TrimLayer
from geometry.layers.trim import TrimThread as LaidThread
from geometry.surface import Surface
from materials.thread import Thread, grade
from scenes.kinds.builder import EdgeBuilder, LayerResult, Palette, ThreadUse, WrapContext
from scenes.kinds.edges import EdgeChoice
from scenes.kinds.seam_trim.model import SeamTrimModel

__all__ = ["TrimBuilder", "TrimResult"]

_PLACES = 4010
"""Number of places along the wrap at which the run of a thread is measured."""

_EDGES = {
    EdgeChoice.LOWER: (Edge.LOWER,),
    EdgeChoice.UPPER: (Edge.UPPER,),
    EdgeChoice.BOTH: (Edge.LOWER, Edge.UPPER),
}


@dataclass(frozen=True, slots=True)
class TrimResult:
    """Further results of laying a trim.

    Parameters
    ----------
    slides : tuple of Slide
        How its threads slide, one for each of its lines.
    """

    slides: tuple[Slide, ...]


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

    def result(self, wrap: WrapContext) -> TrimResult:
        """Give what laying it has shown.

        Parameters
        ----------
        wrap : WrapContext
            With this layer on it.
        """
        result = wrap.kind_result_of(self.layer)
        assert isinstance(result, TrimResult)
        return result

    def lines_at_rest(self, wrap: WrapContext) -> list[StripEdge | Ring]:
        """Give its edges, each moved as far as its threads slide.

        Parameters
        ----------
        wrap : WrapContext
            With this layer on it.
        """
        return self._moved(self.result(wrap).slides)

    def _moved(self, slides: tuple[Slide, ...]) -> list[StripEdge | Ring]:
        return [line.moved(slide.distance) for line, slide in zip(self.lines, slides, strict=True)]

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
        laid = [TrimLayer(line, threads, self.layer.offset, *self.cut(line)) for line in self.lines]
        slides = tuple(slide_of(trim, surface, self.layer.friction) for trim in laid)
        lines = self._moved(slides)
        for trim, line in zip(laid, lines, strict=True):
            surface = replace(trim, line=line).apply(surface)
        return LayerResult(
            surface, lambda: tuple(self._uses(lines)), kind_result=TrimResult(slides)
        )

    def _uses(self, lines: list[StripEdge | Ring]) -> Iterator[ThreadUse]:
        beside = self.layer.offset
        for thread in self.ordered_threads:
            half = thread.diameter_mm / 2
            length = sum(self.run_length(line, beside + half, half) for line in lines)
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
