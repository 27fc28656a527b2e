"""Bench entries of a crossed pattern: marks on every axis, order of laying, thread."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from geometry.layers.bundles import Side
from geometry.layers.crossed import PRESSED
from scenes.figures.figures import (
    Amount,
    Cell,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Sentence,
    Step,
    Table,
    sentence,
)
from scenes.figures.trust import CALIPER_MM, MARK_MM, SHELF_WIDTH_SHARE, TAPE_MM
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.crossed.builder import CrossedBuilder, CrossedResult
from scenes.kinds.crossed.model import Course, ThreadEnds
from scenes.kinds.crossed.pieces import pieces_of
from scenes.kinds.entries import Entries, ThreadNeed, by_thread
from scenes.quantities import counted

__all__ = ["entries", "rounds"]

_PLACES = 201
_LONGEST_ROUND = 12
"""Most steps that are grouped as one round."""

_HOLDING_SHARE = 0.1
"""Relative uncertainty of the turns by which a hand holds thread (from memory)."""

_SIDES = {Side.CENTRE: "in the middle", Side.TIP: "tip side", Side.BUTT: "butt side"}


def entries(builder: CrossedBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what a crossed pattern brings to the bench: marks, lay order, thread and steps.

    Parameters
    ----------
    builder : CrossedBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    found = wrap.kind_result_of(builder.layer)
    assert isinstance(found, CrossedResult)
    pattern = _Pattern(builder, found)
    return Entries(
        sections=(pattern.section(),),
        threads=tuple(pattern.needs(uses)),
        steps=tuple(pattern.steps()),
    )


def rounds(courses: Sequence[Course]) -> Iterator[tuple[int, tuple[Course, ...]]]:
    """Group steps that are repeated one after another.

    Parameters
    ----------
    courses : sequence of Course
        The lay sequence.

    Yields
    ------
    times, steps
        A group of steps, and how often it is repeated.
    """
    at = 0
    while at < len(courses):
        best, times = 1, 1
        for size in range(1, min(_LONGEST_ROUND, (len(courses) - at) // 2) + 1):
            block = courses[at : at + size]
            count = 1
            while courses[at + count * size : at + (count + 1) * size] == block:
                count += 1
            if count > 1 and count * size > best * times:
                best, times = size, count
        yield times, tuple(courses[at : at + best])
        at += best * times


class _Pattern:
    """Figures of one crossed pattern."""

    def __init__(self, builder: CrossedBuilder, found: CrossedResult) -> None:
        self.builder, self.found, self.plan = builder, found, builder.plan
        self.axes = builder.axes()
        self.pieces = pieces_of(builder)
        self.cut = builder.layer.thread_ends is ThreadEnds.CUT
        self.start, self.end = builder.span

    def section(self) -> Section:
        return Section(
            SectionKey.PATTERN,
            tuple(self._figures()),
            (self._round_table(), self._mark_table(), self._order_table()),
            tuple(self._notes()),
        )

    def _figures(self) -> Iterator[Figure]:
        builder, plan = self.builder, self.plan
        radius, right = plan.middle_radius, builder.windings[0]
        z = np.linspace(self.start, self.end, _PLACES)
        angles = right.angle_at(z)
        spacing = builder.layer.spacing_on(plan.design)
        room, least, most = builder.room
        yield Figure(
            "axes",
            "axes round the blank",
            len(self.axes),
            Kind.COUNT,
            sentence(
                "{n} where bundles cross mid wrap, and as many half-way between, half a spacing "
                "along",
                n=str(builder.starts),
            ),
            main=True,
        )
        yield Figure(
            "cross_spacing",
            "from cross to cross along an axis, mid wrap",
            spacing,
            Kind.LENGTH,
            sentence("as the design asks"),
            MARK_MM,
            main=True,
        )
        yield Figure(
            "cross_angle",
            "angle of the threads to the blank, mid wrap",
            float(right.angle_at(plan.middle)),
            Kind.ANGLE,
            sentence(
                "from the marks: {least} to {most} along the wrap",
                least=Amount(float(angles.min()), Kind.ANGLE),
                most=Amount(float(angles.max()), Kind.ANGLE),
            ),
            CALIPER_MM / (2 * radius),
        )
        yield Figure(
            "passes",
            "threads led from end to end",
            len(self.found.lengths),
            Kind.COUNT,
            sentence("all courses of the lay sequence on all their axes"),
            main=True,
        )
        yield Figure(
            "pieces",
            "pieces of thread",
            len(self.pieces),
            Kind.COUNT,
            sentence("each thread is cut after each pass")
            if self.cut
            else sentence(
                "a thread is carried back uncut, and cut where the next pass is of another"
            ),
            main=True,
        )
        if not self.cut:
            turns = builder.layer.end_turns
            turned = sum(piece.end_turns for piece in self.pieces)
            invented = "end_turns" not in builder.layer.model_fields_set
            yield Figure(
                "end_turns",
                "turns that hold carried threads at the ends",
                turned,
                Kind.NUMBER,
                sentence(
                    "at each end {turns} whole, and on to where the next pass begins",
                    turns=Amount(turns, Kind.COUNT),
                ),
                _HOLDING_SHARE * turned,
                (Mark.MEMORY, Mark.DEFAULT) if invented else (Mark.MEMORY,),
            )
        yield Figure(
            "bundle_width",
            "width of a bundle",
            builder.width,
            Kind.LENGTH,
            sentence("its threads side by side"),
            SHELF_WIDTH_SHARE * builder.width,
        )
        yield Figure(
            "bundle_room",
            "room for a bundle, mid wrap",
            room,
            Kind.LENGTH,
            sentence(
                "from bundle to bundle across their run: {least} to {most} along the wrap",
                least=Amount(least, Kind.LENGTH),
                most=Amount(most, Kind.LENGTH),
            ),
            CALIPER_MM,
        )
        thick = max(thread.diameter_mm for thread in builder.threads())
        layers = self.found.layers
        yield Figure(
            "crossing_layers",
            "threads on one another at the thickest crossing",
            layers,
            Kind.COUNT,
            sentence("counted as the sequence is laid, place by place"),
        )
        yield Figure(
            "crossing_height",
            "height of the thickest crossing",
            thick * (1 + (layers - 1) * (1 - PRESSED)),
            Kind.FINE_LENGTH,
            sentence(
                "its threads, each pressed flatter by {share} where it crosses",
                share=Amount(PRESSED, Kind.SHARE),
            ),
            PRESSED / 2 * thick * layers,
            (Mark.MEMORY,),
        )

    def _round_table(self) -> Table:
        lower, upper = (float(self.plan.blank.radius(at)) for at in (self.start, self.end))
        off = TAPE_MM + math.pi * CALIPER_MM
        how = sentence(
            "along the circumference from the guide line, clockwise looking from butt to tip"
        )
        rows = tuple(
            (number, (angle % (2 * math.pi)) * lower, (angle % (2 * math.pi)) * upper)
            for number, (angle, _) in enumerate(self.axes, start=1)
        )
        return Table(
            "axes",
            "axes round the blank",
            (
                Column("axis", "axis", Kind.COUNT),
                Column("lower", "butt end", Kind.LENGTH, how, off),
                Column("upper", "tip end", Kind.LENGTH, how, off),
            ),
            rows,
        )

    def _mark_table(self) -> Table:
        odd, even = self.axes[0][1], self.axes[1][1]
        count = len(self.axes)
        odds, evens = _listed(range(1, count, 2)), _listed(range(2, count + 1, 2))
        how = sentence("distance from the butt; bundles cross there")
        rows: tuple[tuple[Cell, ...], ...] = tuple(
            (
                number + 1,
                float(odd[number]) if number < odd.size else None,
                float(even[number]) if number < even.size else None,
            )
            for number in range(max(odd.size, even.size))
        )
        return Table(
            "cross_marks",
            "marks along the axes",
            (
                Column("mark", "mark", Kind.COUNT),
                Column("odd", f"axes {odds}", Kind.LENGTH, how, MARK_MM),
                Column("even", f"axes {evens}", Kind.LENGTH, how, MARK_MM),
            ),
            rows,
        )

    def _order_table(self) -> Table:
        rows: list[tuple[Cell, ...]] = []
        for number, (times, steps) in enumerate(rounds(self.builder.courses), start=1):
            for place, course in enumerate(steps):
                rows.append(
                    (
                        number if place == 0 else None,
                        times if place == 0 else None,
                        f"{course.hand.value}-hand",
                        _SIDES[course.side],
                        "all in turn" if course.axis is None else f"axis {2 * course.axis - 1}",
                        course.count,
                        course.thread,
                    )
                )
        return Table(
            "lay_order",
            "order of laying",
            (
                Column("round", "round", Kind.COUNT),
                Column("times", "times", Kind.COUNT),
                Column("hand", "run"),
                Column("side", "side of its bundle"),
                Column("axis", "on axis"),
                Column("count", "threads", Kind.COUNT),
                Column("thread", "thread"),
            ),
            tuple(rows),
        )

    def _notes(self) -> Iterator[Sentence]:
        yield sentence(
            "Start bundles on axes {odd}; they meet again on axes {even}, half a spacing along.",
            odd=_listed(range(1, len(self.axes), 2)),
            even=_listed(range(2, len(self.axes) + 1, 2)),
        )
        if self.builder.packed:
            yield sentence(
                "The bundles just meet: push threads together where the blank is thin, spread them "
                "where it is thick, so that nothing shows between."
            )

    def needs(self, uses: tuple[ThreadUse, ...]) -> Iterator[ThreadNeed]:
        """Yield thread by kind, in the pieces that the lay sequence is cut into."""
        turns = self.builder.windings[0].turns(self.start, self.end)
        for need in by_thread(uses):
            pieces = [piece for piece in self.pieces if piece.thread == need.thread.name]
            passes = sum(piece.passes for piece in pieces)
            yield ThreadNeed(
                need.use,
                need.thread,
                passes,
                need.length,
                len(pieces),
                turns * passes + sum(piece.end_turns for piece in pieces),
                at_ends=sum(piece.end_length for piece in pieces),
            )

    def steps(self) -> Iterator[Step]:
        count = len(self.axes)
        yield Step(
            "Mark the axes",
            sentence(
                "Mark {count} axes evenly round the blank, the first as the table says. On axes "
                "{odd} mark the crosses from {first} on; on axes {even} half-way between.",
                count=str(count),
                odd=_listed(range(1, count, 2)),
                even=_listed(range(2, count + 1, 2)),
                first=Amount(float(self.axes[0][1][0]), Kind.LENGTH)
                if self.axes[0][1].size
                else Amount(self.start, Kind.LENGTH),
            ),
            sentence(
                "A strip of paper round the blank, folded in {count}, comes to every axis.",
                count=str(count),
            ),
        )
        yield Step(
            "Lay the crossed threads",
            self._work(),
            sentence(
                "After each round: crosses on their marks, threads of a bundle side by side, none "
                "riding on its neighbour. Burnish a crossing before it is covered. Once the ends "
                "are bound, cut away what lies beyond them."
            ),
            "Blades are bare: cut away from the hand.",
        )

    def _work(self) -> Sentence:
        counts = {
            "passes": counted(len(self.found.lengths), "thread"),
            "pieces": counted(len(self.pieces), "piece"),
        }
        over = "Every thread lies over all that were laid before it."
        if self.cut:
            return Sentence(
                "Follow the order of laying, {passes} from end to end. Tape each down at "
                f"both ends and cut it before the next: {{pieces}}. {over}",
                counts,
            )
        turns = self.builder.layer.end_turns
        held = {0: "round a pin or tape", 1: "once round the blank"}.get(
            turns, f"{turns} times round the blank"
        )
        return Sentence(
            "Follow the order of laying, {passes} from end to end. Lead a thread up, hold "
            f"it beyond the end {held}, go on to where the next begins and lead it back, uncut "
            "until the next row names another thread: {pieces} in all. "
            f"{over}",
            counts,
        )


def _listed(numbers: Sequence[int]) -> str:
    listed = [str(number) for number in numbers]
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} and {listed[-1]}"
