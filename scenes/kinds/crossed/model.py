"""Crossed patterns in the document: a lay sequence, or a pattern that is expanded to one."""

import math
from enum import StrEnum
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from geometry import winding
from geometry.layers.bundles import Side
from geometry.winding import Hand
from scenes.kinds.taper import middle_radius, radii
from scenes.parts.layer import BandModel, DesignContext, LayerModel
from scenes.parts.part import Part, ThreadName, ThreadRuns, only_one
from scenes.problems import one_of, refusal
from scenes.quantities import Angle, Count, Example, Length, Units, length, plain_number

__all__ = [
    "MOST_PASSES",
    "Chevron",
    "Course",
    "CrossedPattern",
    "Diamond",
    "Marks",
    "Pattern",
    "ThreadEnds",
    "Towards",
]

MOST_PASSES = 1600
"""Threads led from end to end of one pattern: a week's work by hand, and a few seconds here."""

MOST_COURSES = 4000

_AROUND = 2
"""Crosses round the blank where a design gives no number."""

_CLOSEST, _FARTHEST = 3.0, 300.0
"""Least and greatest distance from cross to cross along an axis, mm."""

_FLATTEST, _STEEPEST = math.radians(8), math.radians(82)
"""Angles to the axis, rad: flatter, a thread slides off its marks; steeper, it never meets them
(from memory)."""


class Marks(StrEnum):
    """How the marks follow a tapering blank."""

    EVEN = "evenly spaced"
    TAPERED = "closer as the blank thins"
    BAND = "along the flat band"


class Towards(StrEnum):
    """Which way chevrons point."""

    TIP = "tip"
    BUTT = "butt"


class ThreadEnds(StrEnum):
    """What becomes of a thread at the end of a pass."""

    CARRIED = "carried back uncut"
    CUT = "cut after each pass"


_AtOnce = Annotated[
    int, Count(1, 20, "the number of threads laid on one side before the other hand's turn")
]


class Diamond(Part):
    """Diamonds on every axis: threads added on both sides of both hands, round after round."""

    kind: Literal["diamond"]
    threads: ThreadRuns
    """From the centre out; the first count lies in the middle of each bundle."""
    at_once: _AtOnce = 1
    filled: bool = False
    """Whether the last thread is repeated until neighbouring bundles meet."""


class Chevron(Part):
    """Chevrons along every axis: threads added on one side only, hand after hand."""

    kind: Literal["chevron"]
    threads: ThreadRuns
    """From the first laid to the last, which is the foremost one."""
    towards: Annotated[Towards, Field(strict=False)] = Towards.TIP
    at_once: _AtOnce = 1
    filled: bool = False
    """Whether the last thread is repeated until neighbouring bundles meet."""


Pattern = Annotated[Diamond | Chevron, Field(discriminator="kind")]


class Course(Part):
    """One step of a lay sequence: threads side by side, on one axis or on each in turn."""

    axis: (
        Annotated[int, Count(1, 12, "the number of an axis, 1 on the guide line"), Example("1")]
        | None
    ) = None
    """Default: every axis in turn."""
    hand: Annotated[Hand, Field(strict=False), Example('"right"')]
    """Which way the threads climb, looking along the blank from the butt."""
    side: Annotated[Side, Field(strict=False)] = Side.CENTRE
    thread: ThreadName
    count: Annotated[int, Count(1, 200, "the number of these threads side by side")] = 1


class CrossedPattern(LayerModel):
    """Threads led up the blank both ways, crossing on marked axes.

    Right- and left-hand bundles start together on `around` axes, at the middle of the wrap, and
    meet again on as many axes half-way between, half a spacing along.
    """

    role: ClassVar[str] = "crossed"
    alternatives: ClassVar[tuple[str, ...]] = ("spacing", "repeats", "angle")

    kind: Literal["crossed pattern"]
    around: (
        Annotated[int, Count(1, 12, "the number of crosses side by side round the blank")] | None
    ) = None
    """Default: two, or along a flat band as many as strips."""
    spacing: (
        Annotated[
            float,
            Length(_CLOSEST, _FARTHEST, "the distance from cross to cross along an axis"),
            Example("25"),
        ]
        | None
    ) = None
    repeats: Annotated[int, Count(1, 200, "the number of spacings in the wrap")] | None = None
    angle: (
        Annotated[
            float,
            Angle(8, 82, "the angle between a thread's run and the blank's axis"),
            Example("45"),
        ]
        | None
    ) = None
    marks: Annotated[Marks, Field(strict=False)] = Marks.EVEN
    """How the marks follow the taper; along the flat band, the strip gives their spacing."""
    pattern: Annotated[
        Pattern | None,
        Example('{ kind = "diamond", threads = [ { thread = "Heron Silver A", count = 2 } ] }'),
    ] = None
    """What is laid on the marks; courses in its place give every step."""
    courses: (
        Annotated[
            tuple[Course, ...],
            Field(strict=False, min_length=1, max_length=MOST_COURSES),
            Example('[ { hand = "right", thread = "Heron Silver A" } ]'),
        ]
        | None
    ) = None
    """Every step of the lay sequence, in place of a pattern."""
    packed: bool = False
    """Whether threads are spread or pushed together along the taper so that bundles just meet."""
    thread_ends: Annotated[ThreadEnds, Field(strict=False)] = ThreadEnds.CARRIED
    """A carried thread is wound round the blank at the end and led back as the next pass; it is cut
    where the next pass is of another thread."""
    end_turns: Annotated[
        int, Count(0, 20, "the whole turns that hold a carried thread before it is led back")
    ] = 1
    """One turn holds (common practice, no source)."""

    @classmethod
    def rivals(cls, field: str) -> tuple[str, ...]:
        """A pattern gives way to a written sequence, and the other way round."""
        pair = ("pattern", "courses")
        if field in pair:
            return tuple(other for other in pair if other != field)
        return super().rivals(field)

    @model_validator(mode="after")
    def _checked(self) -> Self:
        if (self.pattern is None) == (self.courses is None):
            both = "no pattern or courses; give exactly one of them"
            if self.pattern is not None:
                raise refusal("pattern and courses are given together; keep one of them")
            raise refusal(f"it has {both}")
        if self.marks is Marks.BAND:
            given = [name for name in self.alternatives if getattr(self, name) is not None]
            if given:
                raise refusal(
                    f"{one_of(given, 'and')} cannot be given where the relief's band leads the "
                    'threads; leave it out, or give other marks than "along the flat band"',
                    field="marks",
                )
        else:
            only_one(self)
        return self

    def spacing_on(self, design: DesignContext) -> float:
        """Distance from cross to cross along an axis at the middle of the wrap, mm.

        Parameters
        ----------
        design : DesignContext
        """
        strip = self.band_of(design)
        middle = middle_radius(design)
        if strip is not None:
            return float(winding.pitch(middle, strip.angle)) / strip.starts
        if self.spacing is not None:
            return self.spacing
        if self.repeats is not None:
            return design.placement.length / self.repeats
        return float(winding.pitch(middle, self.angle or _FLATTEST)) / self.starts_on(design)

    def starts_on(self, design: DesignContext) -> int:
        """Bundles of each hand: as many as strips where the threads follow the band between strips.

        Parameters
        ----------
        design : DesignContext
        """
        strip = self.band_of(design)
        return strip.starts if strip is not None else self.around or _AROUND

    def band_of(self, design: DesignContext) -> BandModel | None:
        """Find the strip beside whose edges the threads are led; None if there is none.

        Parameters
        ----------
        design : DesignContext
        """
        relief = design.relief_under(self)
        return relief if self.marks is Marks.BAND and isinstance(relief, BandModel) else None

    def check(self, design: DesignContext, path: str) -> None:
        """Check that the threads can be led round this blank."""
        units = design.units
        strip = self.band_of(design)
        self._check_marks(strip, path)
        for index, course in enumerate(self.courses or ()):
            if course.axis is not None and course.axis > self.starts_on(design):
                axes = self.starts_on(design)
                raise refusal(
                    f"{course.axis} is more than the {axes} there are round the blank; give "
                    f"{'1' if axes == 1 else f'1 to {axes}'}, or leave it out for all",
                    field=f"{path}.courses.{index}.axis",
                )
        if strip is not None:
            return
        spacing = self.spacing_on(design)
        given = next(name for name in self.alternatives if getattr(self, name) is not None)
        number = self.starts_on(design)
        pitch = number * spacing
        middle = np.array([middle_radius(design)])
        around = 2 * np.pi * (radii(design) if self.marks is Marks.EVEN else middle)
        angles = (math.atan2(float(around.min()), pitch), math.atan2(float(around.max()), pitch))
        right = _right_spacing(
            float(around.max()) / math.tan(_STEEPEST) / number,
            min(float(around.min()) / math.tan(_FLATTEST) / number, design.placement.length),
            units,
        )
        if spacing > design.placement.length * (1 + 1e-9):
            raise refusal(
                f"crosses {length(round(spacing, 3), units)} apart do not come round in a wrap of "
                f"{length(design.placement.length, units)}; {right}",
                field=f"{path}.{given}",
            )
        if angles[0] < _FLATTEST or angles[1] > _STEEPEST:
            worst = angles[0] if angles[0] < _FLATTEST else angles[1]
            raise refusal(
                f"crosses {length(round(spacing, 3), units)} apart, {number} round the "
                f"blank, lead the threads at {plain_number(round(math.degrees(worst), 1))} degrees "
                f"to the axis; {right}",
                field=f"{path}.{given}",
            )

    def _check_marks(self, strip: BandModel | None, path: str) -> None:
        if self.marks is Marks.BAND:
            if strip is None:
                raise refusal(
                    f'"{self.marks.value}" there is no strip to lead the threads beside; list a '
                    "mesh strip and its cover first, or give other marks",
                    field=f"{path}.marks",
                )
            if self.around not in (None, strip.starts):
                raise refusal(
                    f"{self.around} is not the {strip.starts} of the strips beside which the "
                    "threads lie; leave it out",
                    field=f"{path}.around",
                )


def _right_spacing(least: float, most: float, units: Units) -> str:
    """Advise a spacing between two bounds, mm, rounded to the side on which it is accepted."""
    least, most = max(least, _CLOSEST), min(most, _FARTHEST)
    step = 0.1 if units is Units.MM else 0.005 * units.in_mm
    first, last = math.ceil(least / step - 1e-9), math.floor(most / step + 1e-9)
    if first > last:
        return "no spacing does: give fewer crosses round the blank, or a longer wrap"
    low, high = (length(round(steps * step, 6), units) for steps in (first, last))
    return f"give a spacing from {low} to {high}"
