"""Builder of rings of other threads, inlaid in the cover or laid over everything."""

import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from typing import Any

import numpy as np

from geometry.kept import KEPT
from geometry.layers.drape import section_perimeter
from geometry.layers.inlay import Inlay
from geometry.layers.trim import Edge as Side
from geometry.layers.trim import Ring, SeamTrim
from geometry.layers.trim import TrimThread as LaidThread
from geometry.surface import Surface
from materials.thread import Thread
from scenes.kinds.builder import LayerBuilder, LayerResult, Palette, ThreadUse, WoundBuilder
from scenes.kinds.edges import EdgeChoice
from scenes.kinds.rings.model import Rings
from scenes.problems import DesignProblem
from scenes.quantities import Units, about, counted, length

__all__ = ["RingsBuilder"]

_ENDS = {
    EdgeChoice.LOWER: (Side.LOWER,),
    EdgeChoice.UPPER: (Side.UPPER,),
    EdgeChoice.BOTH: (Side.LOWER, Side.UPPER),
}

_OVERLAP = 1e-6
"""Overlap that counts as rounding error, mm."""


class RingsBuilder(LayerBuilder[Rings]):
    """Builder of rings at one or both ends."""

    progress_label = "rings"

    @cached_property
    def ordered_threads(self) -> tuple[Thread, ...]:
        """Threads of one end, from the end inwards."""
        shelf = self.plan.shelf
        return tuple(
            shelf.thread(run.thread) for run in self.layer.threads for _ in range(run.count)
        )

    @cached_property
    def width(self) -> float:
        """Width of the threads of one end side by side, mm."""
        return sum(thread.diameter_mm for thread in self.ordered_threads)

    @cached_property
    def bands(self) -> dict[Side, tuple[float, float]]:
        """Where the rings of each end begin and end, mm from the butt."""
        return self._bands_at(self.layer.inset, self.width)

    def _bands_at(self, inset: float, width: float) -> dict[Side, tuple[float, float]]:
        """Where rings of some width, mm, would begin and end at some inset, mm."""
        start, end = self.layer.ends_in(self.plan.design)
        places = {
            Side.LOWER: (start + inset, start + inset + width),
            Side.UPPER: (end - inset - width, end - inset),
        }
        return {side: places[side] for side in _ENDS[self.layer.ends]}

    @property
    def span(self) -> tuple[float, float]:
        """From the first ring to the last, mm from the butt."""
        places = [at for band in self.bands.values() for at in band]
        return min(places), max(places)

    def threads(self) -> Iterator[Thread]:
        """Every thread."""
        yield from self.ordered_threads

    def inlaid(self) -> tuple[tuple[float, float], ...]:
        """Stretches of the cover whose rows they replace, mm from the butt."""
        return tuple(self.bands.values()) if self.layer.inlaid else ()

    def prepare(self) -> None:
        """Check that the rings have room, and that no others are inlaid there."""
        start, end = self.layer.ends_in(self.plan.design)
        units = self.plan.design.units
        room = (end - start) / len(self.bands) - self.layer.inset
        if self.width > room + _OVERLAP:
            raise DesignProblem.at(
                f"{self.path}.threads",
                f"rings {about(self.width, units)} wide do not fit into the "
                f"{about(room, units)} from where they begin; "
                + self._fitting_advice(room + self.layer.inset),
            )
        others = [
            other
            for other in self.plan.before(self)
            if isinstance(other, RingsBuilder) and self.layer.inlaid and other.cover is self.cover
        ]
        for other in others:
            if _overlap(self.bands.values(), other.inlaid()):
                taken = [band for one in others for band in one.inlaid()]
                raise DesignProblem.at(
                    f"{self.path}.inset",
                    f"other rings are inlaid there already, {other.path}; "
                    + self._beside_advice(taken),
                )

    def _fitting_advice(self, whole: float) -> str:
        """Advise what fits into the length that there is at one end, mm."""
        units = self.plan.design.units
        if self.width <= whole:
            return f"give an inset of {about(whole - self.width, units)} or less"
        wide, count = 0.0, 0
        for thread in self.ordered_threads:
            wide += thread.diameter_mm
            count += wide <= whole
        if not count:
            return f"give threads that lie {about(whole, units)} wide or less, without an inset"
        return f"give {counted(count, 'thread')} or fewer, without an inset"

    def _beside_advice(self, taken: Sequence[tuple[float, float]]) -> str:
        """Advise an inset at which the rings lie beside others.

        Parameters
        ----------
        taken : sequence of (float, float)
            Stretches that others take, mm from the butt.
        """
        units = self.plan.design.units
        inset = self._free_inset(taken, self.width)
        if inset is not None:
            return f"give an inset of {length(inset, units)}"
        widths = list(itertools.accumulate(t.diameter_mm for t in self.ordered_threads))
        for count in range(len(widths) - 1, 0, -1):
            inset = self._free_inset(taken, widths[count - 1])
            if inset is not None:
                fewer = counted(count, "thread")
                return f"give {fewer} or fewer and an inset of {length(inset, units)}"
        return "leave one of both out"

    def _free_inset(self, taken: Sequence[tuple[float, float]], width: float) -> float | None:
        """Find the nearest inset at which rings of some width lie beside others, mm."""
        units = self.plan.design.units
        step = 0.01 if units is Units.MM else 0.001 * units.in_mm
        start, end = self.layer.ends_in(self.plan.design)
        beyond = [place for a, b in taken for place in (b - start, end - a)]
        before = [place - width for a, b in taken for place in (a - start, end - b)]
        candidates = [math.ceil(place / step) * step for place in beyond]
        candidates += [math.floor(place / step) * step for place in before]
        room = (end - start) / len(self.bands) - width
        free = [
            inset
            for inset in candidates
            if 0 <= inset <= room and not _overlap(self._bands_at(inset, width).values(), taken)
        ]
        nearest = min(free, key=lambda inset: abs(inset - self.layer.inset), default=None)
        return None if nearest is None else round(nearest, 6)

    @cached_property
    def cover(self) -> WoundBuilder[Any] | None:
        """The cover that was wound last before them."""
        before = reversed(self.plan.before(self))
        return next((earlier for earlier in before if isinstance(earlier, WoundBuilder)), None)

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Lay the rings of each end."""
        self.prepare()
        threads = tuple(
            LaidThread(thread.diameter_mm, palette.index(self.plan.look_of(thread)))
            for thread in self.ordered_threads
        )
        if not self.layer.inlaid:
            for side, (first, last) in self.bands.items():
                # A ring has its threads on its outer side; here that side faces inwards.
                inwards = Side.UPPER if side is Side.LOWER else Side.LOWER
                line = Ring(first if side is Side.LOWER else last, inwards)
                ring = SeamTrim(line, threads, 0.0, *self.plan.grid_span)
                surface = KEPT.laid(ring, surface)
            laid = surface
            return LayerResult(laid, lambda: tuple(self._over(laid)))
        inlays = [self._inlay(side, threads) for side in self.bands]
        covered = surface
        for inlay in inlays:
            surface = KEPT.laid(inlay, surface)
        return LayerResult(
            surface, lambda: tuple(self._in(inlays, covered)), replaces_outermost=True
        )

    def _inlay(self, side: Side, threads: tuple[LaidThread, ...]) -> Inlay:
        assert self.cover is not None  # checks of the document ensure it
        upwards = threads if side is Side.LOWER else threads[::-1]
        return Inlay(self.cover.cover(), self.bands[side][0], upwards)

    def _in(self, inlays: list[Inlay], covered: Surface) -> Iterator[ThreadUse]:
        """Yield inlaid thread; matching threads of both ends count together."""
        sums = [0.0] * len(self.ordered_threads)
        for side, inlay in zip(self.bands, inlays, strict=True):
            lengths = inlay.lengths(covered)
            for number, turn in enumerate(lengths if side is Side.LOWER else lengths[::-1]):
                sums[number] += turn
        for thread, total in zip(self.ordered_threads, sums, strict=True):
            yield ThreadUse(self.path, thread, total)

    def _over(self, laid: Surface) -> Iterator[ThreadUse]:
        """Yield thread over everything: the perimeter of the section and Steiner's formula."""
        beside = 0.0
        for thread in self.ordered_threads:
            wide, total = thread.diameter_mm, 0.0
            for side, (first, last) in self.bands.items():
                at = first + beside if side is Side.LOWER else last - beside - wide
                station = round((at + wide / 2 - laid.z[0]) / laid.step)
                around = float(section_perimeter(laid.radius[station][None])[0])
                total += around - np.pi * wide
            beside += wide
            yield ThreadUse(self.path, thread, total)


def _overlap(bands: Iterable[tuple[float, float]], taken: Sequence[tuple[float, float]]) -> bool:
    """Whether some stretches overlap others."""
    return any(
        a < last - _OVERLAP and b > first + _OVERLAP for first, last in bands for a, b in taken
    )
