"""Builder of crossed patterns, laid thread by thread in the order of their sequence."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry.kept import KEPT
from geometry.layers.bundles import Course as LaidCourse
from geometry.layers.bundles import bundle_width, passes
from geometry.layers.crossed import CrossedPattern as PatternLayer
from geometry.layers.crossed import Pass, marks
from geometry.surface import Surface
from geometry.winding import Hand, Winding, even_marks, fixed_angle
from materials.thread import Thread
from scenes.kinds.builder import BandBuilder, LayerBuilder, LayerResult, Palette, ThreadUse
from scenes.kinds.crossed.model import MOST_PASSES, Course, CrossedPattern, Marks
from scenes.kinds.crossed.sequences import written_out
from scenes.problems import DesignProblem, at_field, one_of
from scenes.quantities import Units, about, counted, length, plain_number

__all__ = ["CrossedBuilder", "CrossedResult"]

Array = NDArray[np.float64]

_PLACES = 401
"""Places along the wrap at which the room for a bundle is measured."""

_CLOSER, _WIDER = 0.88, 1.06
"""Bounds of the spacing of threads in a packed pattern, in diameters: closer, they ride up on each
other; wider, the underwrap shows (from memory)."""

_MARGIN = 1.01
"""Excess of an advised spacing over what the thinnest place needs: a blank is no cylinder."""

_TOLERANCE = 0.02
"""Relative excess width of bundles that burnishing still settles (from memory)."""

_EVERY = 16
"""Passes between two reports of progress."""


@dataclass(frozen=True, slots=True)
class CrossedResult:
    """Further results of laying a pattern.

    Parameters
    ----------
    layers : int
        Threads on top of each other at the thickest crossing.
    lengths : tuple of float
        Length of every pass in the order of the sequence, mm.
    """

    layers: int
    lengths: tuple[float, ...]


class CrossedBuilder(LayerBuilder[CrossedPattern]):
    """Builder of a crossed pattern."""

    progress_label = "crossed pattern"

    @cached_property
    def starts(self) -> int:
        """Bundles of each hand."""
        return self.layer.starts_on(self.plan.design)

    @cached_property
    def windings(self) -> tuple[Winding, Winding]:
        """Windings of the centre lines of the right-hand and of the left-hand bundles."""
        plan, layer = self.plan, self.layer
        around = plan.design.placement.guide_line
        if layer.marks is Marks.BAND:
            return self._beside(plan.relief_under(self), around)
        spacing = layer.spacing_on(plan.design)

        def wound(hand: Hand) -> Winding:
            if layer.marks is Marks.EVEN:
                return even_marks(
                    plan.blank,
                    plan.grid_span,
                    spacing,
                    starts=self.starts,
                    hand=hand,
                    origin=plan.middle,
                    start_angle=around,
                )
            angle = np.arctan2(2 * np.pi * plan.middle_radius, self.starts * spacing)
            return fixed_angle(
                plan.blank,
                plan.grid_span,
                float(angle),
                starts=self.starts,
                hand=hand,
                origin=plan.middle,
                start_angle=around,
            )

        given = next(name for name in layer.alternatives if getattr(layer, name) is not None)
        with at_field(self.path, {"angle": given}):
            return wound(Hand.RIGHT), wound(Hand.LEFT)

    def _beside(self, strip: object, around: float) -> tuple[Winding, Winding]:
        """Winding half-way between neighbouring strips, and its mirror image."""
        assert isinstance(strip, BandBuilder)  # checks of the document ensure it
        along = strip.winding
        own = replace(along, phase=along.phase - np.pi / along.starts)
        other = Hand.LEFT if own.hand is Hand.RIGHT else Hand.RIGHT
        mirrored = replace(own, phase=own.phase - 2 * own.hand.sign * around, hand=other)
        return (own, mirrored) if own.hand is Hand.RIGHT else (mirrored, own)

    def spelled_out(self) -> dict[str, object]:
        """The full lay sequence, if the layer gives a pattern."""
        if self.layer.pattern is None:
            return {}
        courses = [course.model_dump(mode="json", exclude_none=True) for course in self.courses]
        return {"courses": courses} | ({"packed": True} if self.packed else {})

    @cached_property
    def room(self) -> tuple[float, float, float]:
        """Distance between bundles across their run: mid wrap, least and greatest, mm."""
        winding = self.windings[0]
        z = np.append(np.linspace(*self.span, _PLACES), self.plan.middle)
        half = np.pi / winding.starts
        phase = winding.phase_at(z)
        between = winding.z_at(phase + half) - winding.z_at(phase - half)
        across = between * np.sin(winding.angle_at(z))
        return float(across[-1]), float(across.min()), float(across.max())

    @cached_property
    def courses(self) -> tuple[Course, ...]:
        """The full lay sequence."""
        if self.layer.courses is not None:
            return self.layer.courses
        assert self.layer.pattern is not None
        return written_out(
            self.layer.pattern, self.room[0], lambda name: self.plan.shelf.thread(name).diameter_mm
        )

    @property
    def packed(self) -> bool:
        """Whether threads are spread or pushed together along the taper."""
        pattern = self.layer.pattern
        return self.layer.packed or (pattern is not None and pattern.filled)

    def threads(self) -> Iterator[Thread]:
        """Yield every thread that the layer names."""
        pattern = self.layer.pattern
        for entry in self.layer.courses or (pattern.threads if pattern else ()):
            yield self.plan.shelf.thread(entry.thread)

    def sequence(
        self, material: Callable[[Thread], int] = lambda _: 0
    ) -> tuple[tuple[Pass, ...], ...]:
        """List every thread in its place, in the order of laying.

        Parameters
        ----------
        material : callable
            Gives the material index of a thread; by default 0 for all.
        """
        every = tuple(range(self.starts))
        shelf = self.plan.shelf
        return passes(
            LaidCourse(
                every if course.axis is None else (course.axis - 1,),
                course.hand,
                course.side,
                course.count,
                shelf.thread(course.thread).diameter_mm,
                material(shelf.thread(course.thread)),
            )
            for course in self.courses
        )

    def sides(self, hand: Hand) -> tuple[float, ...]:
        """Find both sides of the bundles of one hand, mm across their run; empty without bundles.

        Parameters
        ----------
        hand : Hand
        """
        laid = [thread for part in self.sequence() for thread in part if thread.hand is hand]
        if not laid:
            return ()
        return (
            min(thread.across - thread.diameter / 2 for thread in laid),
            max(thread.across + thread.diameter / 2 for thread in laid),
        )

    @cached_property
    def width(self) -> float:
        """Width of the widest bundle, mm."""
        return bundle_width(self.sequence())

    def prepare(self) -> None:
        """Check that the bundles have room beside each other.

        Raises
        ------
        DesignProblem
        """
        count = sum(
            course.count * (self.starts if course.axis is None else 1) for course in self.courses
        )
        if count > MOST_PASSES:
            raise DesignProblem.at(
                self.path,
                f"{count} threads led from end to end are more than {MOST_PASSES}; "
                + self._fewer_advice(count),
            )
        _, least, most = self.room
        units = self.plan.design.units
        wide = about(self.width, units)
        if not self.packed:
            if self.width > least * (1 + _TOLERANCE):
                raise DesignProblem.at(
                    self.path,
                    f"a bundle of threads is {wide} wide and has room for {about(least, units)} "
                    f"before it meets the next; {self._room_advice(least)}",
                )
            return
        for room in (least, most):
            if not _CLOSER <= room / self.width <= _WIDER:
                share = plain_number(round(100 * self.width / room, 1))
                raise DesignProblem.at(
                    self.path,
                    f"a bundle of threads is {wide} wide and its room goes from "
                    f"{about(least, units)} to {about(most, units)} along the blank: {share} % of "
                    "it would be filled somewhere, which no pushing of threads makes good; "
                    + self._packing_advice(least, most),
                )

    def _fewer_advice(self, count: int) -> str:
        """Advise what leads no more than `MOST_PASSES` threads from end to end, where it is more.

        As many threads fill a bundle as its last thread goes into the room beside the others.
        """
        pattern, units, starts = self.layer.pattern, self.plan.design.units, self.starts
        if pattern is not None and pattern.filled:
            thread = self.plan.shelf.thread(pattern.threads[-1].thread)
            bare = pattern.model_copy(update={"filled": False})
            given = written_out(bare, 0.0, lambda name: self.plan.shelf.thread(name).diameter_mm)
            named = starts * sum(course.count for course in given)
            if named < MOST_PASSES:
                thick = _MARGIN * thread.diameter_mm * (count - named) / (MOST_PASSES - named)
                step = 0.01 if units is Units.MM else 0.0005 * units.in_mm
                thick = math.ceil(thick / step) * step
                return f"give a last thread of {length(round(thick, 6), units)} or thicker"
        around = math.floor(MOST_PASSES * starts / count)
        every = all(course.axis is None for course in self.courses)
        if self.layer.marks is not Marks.BAND and every and around >= 1:
            crosses = counted(around, "cross", "crosses")
            return f"give {crosses} round the blank or fewer, or fewer threads"
        return "give that many threads or fewer"

    def _room_advice(self, least: float) -> str:
        """Advise what makes room for a bundle where the least room is some width, mm.

        Bundles whose spacing along the blank is p, n of them round the girth c, lie p c / h apart,
        where h² = c² + (n p)².
        """
        units, starts, wide = self.plan.design.units, self.starts, self.width
        if self.layer.marks is Marks.BAND:
            return f"give threads that lie {about(least, units)} wide or less, or a wider strip"
        # By the girth that the least room comes from.
        spacing = self.layer.spacing_on(self.plan.design)
        around = least * starts * spacing / math.sqrt(max(spacing**2 - least**2, 1e-12))
        if starts * wide < around:
            needed = wide * around / math.sqrt(around**2 - (starts * wide) ** 2)
            step = 0.1 if units is Units.MM else 0.005 * units.in_mm
            needed = math.ceil(_MARGIN * needed / step) * step
            if needed <= self.plan.design.placement.length:
                at_least = length(round(needed, 6), units)
                return f"give a spacing of {at_least} or more, or fewer threads"
        fewer = math.floor(around / wide)
        if 1 <= fewer < starts:
            return f"give {counted(fewer, 'cross', 'crosses')} round the blank or fewer"
        return f"give threads that lie {about(least, units)} wide or less"

    def _packing_advice(self, least: float, most: float) -> str:
        """Advise widths of a bundle that meets its neighbours, or what leaves the bundles apart."""
        units, pattern = self.plan.design.units, self.layer.pattern
        narrowest, widest = most / _WIDER, least / _CLOSER
        way = "or " if narrowest < widest else "so "
        wide = (
            f"give as many threads as make a bundle {about(narrowest, units)} to "
            f"{about(widest, units)} wide"
            if narrowest < widest
            else "no number of threads does on this taper"
        )
        given = [
            word
            for word, is_given in (
                ("packed", self.layer.packed),
                ("filled", pattern is not None and pattern.filled),
            )
            if is_given
        ]
        apart = self.width <= least * (1 + _TOLERANCE) or "filled" in given
        fewer = "" if apart else ", with fewer threads"
        return f"{wide}, {way}leave {one_of(given, 'and')} out{fewer}"

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Lay the threads one after another."""
        self.prepare()
        sequence = self.sequence(lambda thread: palette.index(self.plan.look_of(thread)))
        layer = PatternLayer(
            *self.windings, sequence, *self.span, self.width if self.packed else None
        )

        def report_pass(number: int) -> None:
            if number % _EVERY == 0:
                step(self.progress_label)

        laid = KEPT.result(
            "pattern",
            (layer, surface),
            lambda: layer.lay(surface, report_pass),
            points=surface.radius.size,
        )
        found = CrossedResult(int(laid.layers.max()), laid.lengths)
        return LayerResult(laid.surface, lambda: self._uses(laid.lengths), laid.beneath, found)

    def _uses(self, lengths: tuple[float, ...]) -> tuple[ThreadUse, ...]:
        """Thread by kind, in the order of first use."""
        used: dict[str, float] = {}
        number = 0
        for course, part in zip(self.courses, self.sequence(), strict=True):
            length = sum(lengths[number : number + len(part)])
            used[course.thread] = used.get(course.thread, 0.0) + length
            number += len(part)
        return tuple(
            ThreadUse(self.path, self.plan.shelf.thread(name), length)
            for name, length in used.items()
        )

    def axes(self) -> list[tuple[float, Array]]:
        """Axes round the blank: angle from the guide line, rad, and marks along the blank, mm."""
        around = self.plan.design.placement.guide_line
        return [
            (
                around + np.pi * axis / self.starts,
                marks(self.windings[0], axis, *self.span, around),
            )
            for axis in range(2 * self.starts)
        ]
