"""Bench entries of a cord lattice: marks round the blank, lengths, order of laying."""

import math
from collections.abc import Iterator

import numpy as np

from geometry import winding as wind
from geometry.marks import cord_marks
from scenes.figures.figures import (
    Amount,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Step,
    Table,
    sentence,
)
from scenes.figures.trust import CALIPER_MM, MARK_MM, RELIEF_SHARE, TAPE_MM
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.cord_lattice.builder import LatticeBuilder
from scenes.kinds.entries import Entries, Mass, square_ends
from scenes.quantities import counted

__all__ = ["CORD_DENSITY_G_CM3", "entries"]

CORD_DENSITY_G_CM3 = 1.14
"""Nylon ([MortonHearle], table 5.1), an assumption."""

_PLACES = 2001
_CLIMB_SHARE = 0.02
"""Relative lengthening of cords that climb over each other (from memory)."""


def entries(builder: LatticeBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what a lattice brings to the bench: marks round the blank, lengths, order of laying.

    Parameters
    ----------
    builder : LatticeBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    lattice = _Lattice(builder)
    return Entries(
        sections=(lattice.section(),),
        masses=(lattice.mass(),),
        steps=tuple(lattice.steps()),
    )


class _Lattice:
    """Figures of one lattice."""

    def __init__(self, builder: LatticeBuilder) -> None:
        self.builder, self.spec, self.plan = builder, builder.layer, builder.plan
        self.bench = self.plan.design.bench
        self.start, self.end = builder.span
        self.right, self.left = builder.windings
        self.tall = self.spec.cord_diameter * self.spec.flatten

    @property
    def run(self) -> float:
        """Length of a cord's centre line, half its height above the blank, mm."""
        z = np.linspace(self.start, self.end, _PLACES)
        radius = self.plan.blank.radius(z) + self.tall / 2
        phase = self.right.phase_at(z)
        steps = np.hypot(
            np.hypot(np.diff(z), np.diff(radius)), (radius[1:] + radius[:-1]) / 2 * np.diff(phase)
        )
        return float(steps.sum())

    @property
    def length(self) -> float:
        """Length to cut, mm."""
        return self.run + 2 * self.bench.cord_tail

    def section(self) -> Section:
        spec, plan = self.spec, self.plan
        radius = plan.middle_radius
        pitch = float(wind.pitch(radius, spec.angle))
        tail = (Mark.DEFAULT,) if self.bench.invented("cord_tail") else ()
        # On a blank thicker than measured, a cord of the same angle makes fewer turns.
        turns = self.right.turns(self.start, self.end)
        off = _CLIMB_SHARE * self.run
        figures = (
            Figure(
                "cord_angle",
                "angle of the cords to the blank",
                spec.angle,
                Kind.ANGLE,
                sentence("as the design asks, the same all the way up"),
                main=True,
            ),
            Figure(
                "cords",
                "cords",
                2 * spec.count,
                Kind.COUNT,
                sentence("{n} each way", n=str(spec.count)),
                main=True,
            ),
            Figure(
                "cord_length",
                "length of each cord",
                self.length,
                Kind.LENGTH,
                sentence(
                    "run of {run} half a cord above the blank, and a tail of {tail} at each end",
                    run=Amount(self.run, Kind.LENGTH),
                    tail=Amount(self.bench.cord_tail, Kind.LENGTH),
                ),
                off,
                tail,
                main=True,
            ),
            Figure(
                "cord_total",
                "cord in all",
                2 * spec.count * self.length,
                Kind.THREAD_LENGTH,
                sentence("all cords with their tails"),
                2 * spec.count * off,
                tail,
                main=True,
            ),
            Figure(
                "cord_turns",
                "turns of each cord",
                turns,
                Kind.NUMBER,
                sentence("winding integrated up the measured taper"),
                turns * CALIPER_MM / (2 * radius),
            ),
            Figure(
                "diamond_length",
                "length of a diamond, mid wrap",
                pitch / spec.count,
                Kind.LENGTH,
                sentence(
                    "pitch of {pitch} by the cords each way", pitch=Amount(pitch, Kind.LENGTH)
                ),
                pitch / spec.count * CALIPER_MM / (2 * radius) + MARK_MM,
            ),
            Figure(
                "spacing_lower",
                "from mark to mark at the butt end",
                self._spacing(self.start),
                Kind.LENGTH,
                sentence("circumference by the cords each way"),
                math.pi * CALIPER_MM / spec.count,
            ),
            Figure(
                "spacing_upper",
                "from mark to mark at the tip end",
                self._spacing(self.end),
                Kind.LENGTH,
                sentence("circumference by the cords each way"),
                math.pi * CALIPER_MM / spec.count,
            ),
            Figure(
                "crossing_height",
                "height where two cords cross",
                2 * self.tall,
                Kind.LENGTH,
                sentence("two cords, one on the other; they press each other flatter"),
                0.2 * self.tall,
            ),
        )
        return Section(
            SectionKey.CORDS,
            figures,
            (self._marks(),),
            (
                sentence(
                    "Marks run clockwise from the guide line, looking from butt to tip: transfer "
                    "this table on a strip of paper."
                ),
            ),
        )

    def _spacing(self, at: float) -> float:
        return float(2 * math.pi * self.plan.blank.radius(at) / self.spec.count)

    def _marks(self) -> Table:
        lower, upper = (float(self.plan.blank.radius(at)) for at in (self.start, self.end))
        right = cord_marks(self.right, self.start) * lower
        left = cord_marks(self.left, self.start) * lower
        right_up = cord_marks(self.right, self.end) * upper
        left_up = cord_marks(self.left, self.end) * upper
        how = sentence(
            "along the circumference from the guide line, clockwise looking from butt to tip"
        )
        off = TAPE_MM + math.pi * CALIPER_MM
        columns = (
            Column("cord", "cord", Kind.COUNT),
            Column("right_lower", "right-hand, butt end", Kind.LENGTH, how, off),
            Column("right_upper", "right-hand, tip end", Kind.LENGTH, how, off),
            Column("left_lower", "left-hand, butt end", Kind.LENGTH, how, off),
            Column("left_upper", "left-hand, tip end", Kind.LENGTH, how, off),
        )
        rows = tuple(
            (number, *(float(mark) for mark in marks))
            for number, marks in enumerate(
                zip(right, right_up, left, left_up, strict=True), start=1
            )
        )
        return Table("cord_marks", "marks round the blank", columns, rows)

    def mass(self) -> Mass:
        section = math.pi / 4 * self.spec.cord_diameter * self.tall
        density = self.bench.relief_density or CORD_DENSITY_G_CM3
        given = self.bench.relief_density is not None
        grams = 2 * self.spec.count * self.run * section * density / 1000
        return Mass(
            "cords",
            grams,
            (0.1 if given else RELIEF_SHARE) * grams,
            self.plan.middle,
            sentence(
                "{cord} of cord, elliptic in section, at {density} g/cm3{guess}",
                cord=Amount(2 * self.spec.count * self.run, Kind.THREAD_LENGTH),
                density=f"{density:g}",
                guess="" if given else ", taken for solid nylon: weigh a metre if it matters",
            ),
        )

    def steps(self) -> Iterator[Step]:
        n = self.spec.count
        yield Step(
            "Cut the cords",
            sentence(
                "Cut {count} cords, {length} each, and keep their ends from fraying.",
                count=str(2 * n),
                length=Amount(self.length, Kind.LENGTH),
            ),
            None,
            "The blade is bare: cut away from the hand. A flame that seals ends burns fingers, "
            "and stays away from solvent.",
        )
        yield Step(
            "Lay the cords",
            sentence(
                "Mark both ends round the blank. Lay right-hand cords 1 to {n}, each from its "
                "mark at {start} to its mark at {end}; then the left-hand cords over them.",
                n=str(n),
                start=Amount(self.start, Kind.LENGTH),
                end=Amount(self.end, Kind.LENGTH),
            ),
            sentence(
                "{n} all round, each {length} long mid wrap; crossings in rings, square "
                "to the blank.",
                n=counted(n, "diamond"),
                length=Amount(
                    float(wind.pitch(self.plan.middle_radius, self.spec.angle)) / n, Kind.LENGTH
                ),
            ),
        )
        yield square_ends("the cords", self.start, self.end)
