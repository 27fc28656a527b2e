"""Mesh strips in the document."""

import math
from collections.abc import Callable
from enum import StrEnum
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, ValidationInfo, model_validator

from geometry import winding
from geometry.winding import Hand
from scenes.kinds.taper import OVERLAP, middle_radius, radii
from scenes.parts.layer import BandModel, DesignContext
from scenes.parts.part import only_one
from scenes.problems import refusal, shown
from scenes.quantities import (
    Angle,
    Count,
    Length,
    Ratio,
    Units,
    about,
    length,
    plain_number,
    units_of,
)

__all__ = ["MeshStripModel", "Steering"]

_BEYOND = 8.0
"""Length of winding beyond the cover, mm: finish and bare blank are drawn there."""

_LEAST_ADVISED = 20
"""Least angle that is advised, degrees: flatter, a strip hardly goes round the blank."""

_SLACK = 1e-9
"""Relative excess that keeps a computed bound on the side on which it is accepted."""

_FLATTEST_ANGLE = math.radians(5)
"""Least angle of a strip."""

_LEAST_CELL = 0.5
"""Smallest cell of a mesh, mm (common practice, no source)."""

_HALVINGS = 16
"""Halvings by which a width is found: to hundredths of a millimetre."""

_STEEPEST_RUN = math.radians(89)
_FLATTEST_RUN = math.radians(1)


class Steering(StrEnum):
    """Steering of the strip up a tapering blank."""

    CONSTANT_GAP = "constant gap"
    FIXED_ANGLE = "fixed angle"
    UNSTEERED = "unsteered"


class MeshStripModel(BandModel):
    """A strip of plastic mesh, wound at an angle under the cover."""

    alternatives: ClassVar[tuple[str, ...]] = ("gap", "strip_width", "covered_share")
    material_fields: ClassVar[tuple[str, ...]] = (
        "cell",
        "yarn_width",
        "yarn_height",
        "crossing_height",
    )

    kind: Literal["mesh strip"]
    cell: Annotated[float, Length(_LEAST_CELL, 20, "the distance from yarn to yarn")]
    yarn_width: Annotated[float, Length(0.05, 10, "the width of one yarn")]
    yarn_height: Annotated[float, Length(0.02, 5, "the height of one yarn")]
    crossing_height: (
        Annotated[float, Length(0.02, 10, "the thickness where two yarns cross")] | None
    ) = None
    angle: Annotated[float, Angle(5, 85, "the angle between the strip's run and the blank's axis")]
    starts: Annotated[int, Count(1, 24, "the number of strips side by side")] = 1
    hand: Annotated[Hand, Field(strict=False)] = Hand.RIGHT
    gap: Annotated[float, Length(0, 1000, "the gap along the blank between strips")] | None = None
    strip_width: (
        Annotated[float, Length(0.5, 500, "the width of the strip across its run")] | None
    ) = None
    covered_share: (
        Annotated[float, Ratio(0.01, 1, "the share of the blank under the strip, 1 for all of it")]
        | None
    ) = None
    laid: Annotated[Steering, Field(strict=False)] = Steering.CONSTANT_GAP

    @property
    def crossing(self) -> float:
        """Thickness where two yarns cross, mm: twice a yarn's height unless measured."""
        return 2 * self.yarn_height if self.crossing_height is None else self.crossing_height

    def width_on(self, radius: float) -> float:
        """Width of the strip across its run, mm.

        Parameters
        ----------
        radius : float
            Radius of the bare blank at the middle of the wrap, mm: there the gap, width or share
            is as given.
        """
        if self.strip_width is not None:
            return self.strip_width
        if self.gap is not None:
            return float(winding.width_from_gap(radius, self.angle, self.gap, self.starts))
        share = self.covered_share
        return float(winding.width_from_share(radius, self.angle, share or 0.0, self.starts))

    def gap_on(self, radius: float) -> float:
        """Gap along the axis between neighbouring strips at the middle of the wrap, mm.

        Parameters
        ----------
        radius : float
            Radius of the bare blank at the middle of the wrap, mm.
        """
        if self.gap is not None:
            return self.gap
        width = self.width_on(radius)
        return float(winding.gap_from_width(radius, self.angle, width, self.starts))

    def flat(self, design: DesignContext) -> tuple[float, float]:
        """Width of the strip and of the gap beside it, both across the run, mm."""
        middle = middle_radius(design)
        return self.width_on(middle), self.gap_on(middle) * math.sin(self.angle)

    def check(self, design: DesignContext, path: str) -> None:
        """Check that the strip can be wound on this blank."""
        _check_strip(design, self, path)

    @model_validator(mode="after")
    def _checked(self, info: ValidationInfo) -> Self:
        only_one(self)
        units = units_of(info.context)
        if self.yarn_width >= self.cell:
            raise refusal(
                f"{length(self.yarn_width, units)} is not narrower than a cell of "
                f"{length(self.cell, units)}; give the width of one yarn, less than that, or "
                "there is no mesh",
                field="yarn_width",
            )
        if self.crossing < self.yarn_height:
            raise refusal(
                f"{length(self.crossing, units)} is less than yarn_height, "
                f"{length(self.yarn_height, units)}; give the thickness where two yarns cross, "
                "that or more",
                field="crossing_height",
            )
        return self


def _check_strip(design: DesignContext, strip: MeshStripModel, path: str) -> None:
    units = design.units
    middle = middle_radius(design)
    every = float(winding.pitch(middle, strip.angle)) / strip.starts
    given = next(name for name in strip.alternatives if getattr(strip, name) is not None)
    field = f"{path}.{given}"
    where = (
        f"at {plain_number(math.degrees(strip.angle))} degrees on a "
        f"{about(2 * middle, units)} blank the next strip comes after {about(every, units)}"
    )
    width = strip.width_on(middle)
    if strip.gap is not None and strip.gap >= every:
        raise refusal(
            f"{length(strip.gap, units)} leaves no strip: {where}; {_wider(strip, middle, units)}",
            field=field,
        )
    if width < strip.cell:
        raise refusal(
            f"{_given(strip, given, units)} makes the strip {about(width, units)} wide, less than "
            f"one cell of {length(strip.cell, units)}, since {where}; "
            + _wider(strip, middle, units),
            field=field,
        )
    gap = float(winding.gap_from_width(middle, strip.angle, width, strip.starts))
    if gap < -OVERLAP:
        most = every * math.sin(strip.angle)
        raise refusal(
            f"{_given(strip, given, units)} overlaps the next strip, since {where}; "
            f"give {about(most, units)} or less",
            field=field,
        )
    margin = design.cover_over(strip).margin
    fault, turns_back = _run_fault(design, strip, margin)
    if fault:
        ways = [] if strip.laid is Steering.CONSTANT_GAP else ["hold a constant gap"]
        advised = _flatter if turns_back else _narrower
        ways.append(advised(design, strip, margin))
        raise refusal(
            f"{shown(strip.laid.value)} {fault}; {', or '.join(filter(None, ways))}",
            field=f"{path}.laid",
        )


def _wider(strip: MeshStripModel, radius: float, units: Units) -> str:
    """Advise what makes a strip one cell wide on a blank of some radius, mm."""
    around = float(winding.pitch(radius, strip.angle))
    across = around * math.sin(strip.angle)
    room = strip.cell / math.sin(strip.angle) * (1 + _SLACK)
    if strip.strip_width is None:
        beside = strip.gap or 0.0
        share = strip.covered_share or 1.0
        most = math.floor(min(around / (room + beside), share * across / strip.cell))
        if strip.gap is not None and around / strip.starts >= room:
            return f"give a gap of {about(around / strip.starts - room, units)} or less"
        if strip.covered_share is not None and across / strip.starts >= strip.cell:
            least = math.ceil(1000 * strip.starts * strip.cell / across) / 1000
            return f"give a share of {plain_number(least)} or more"
        if most >= 1:
            return f"give {most} strips or fewer (starts)"
    elif strip.cell <= across / strip.starts:
        return f"give a strip of {about(strip.cell, units, upwards=True)} or more"
    return _smaller_cell(strip, radius, units)


def _smaller_cell(strip: MeshStripModel, radius: float, units: Units) -> str:
    """Advise a cell of which one fits on a blank of some radius, mm, beside the gap if any."""
    every = float(winding.pitch(radius, strip.angle)) / strip.starts
    sine = math.sin(strip.angle)
    cell, narrower = every * sine / (1 + _SLACK), ""
    if strip.gap is not None and (every - strip.gap) * sine < _LEAST_CELL:
        cell /= 2
        narrower = f" and a gap of {about(every / 2, units)} or less"
    elif strip.gap is not None:
        cell -= strip.gap * sine
    elif strip.covered_share is not None:
        cell *= strip.covered_share
    elif strip.strip_width is not None:
        cell = min(cell, strip.strip_width)
    if cell < _LEAST_CELL:
        return _room_for_mesh(strip.angle, radius, _LEAST_CELL / cell, units)
    if cell <= strip.yarn_width:
        narrower += ", of narrower yarns"
    return f"give a cell of {about(cell, units)} or less{narrower}"


def _room_for_mesh(angle: float, radius: float, wanting: float, units: Units) -> str:
    """Advise an angle or a blank with room for the smallest cell.

    Parameters
    ----------
    angle : float
        Present angle, rad; the room goes with its cosine.
    radius : float
        Of the bare blank at the middle of the wrap, mm; the room goes with it.
    wanting : float
        Factor by which the room is too small.
    units : Units
    """
    cosine = wanting * math.cos(angle) * (1 + _SLACK)
    if cosine <= math.cos(_FLATTEST_ANGLE):
        degrees = math.floor(10 * math.degrees(math.acos(cosine))) / 10
        if degrees >= math.degrees(_FLATTEST_ANGLE):
            return f"give an angle of {plain_number(degrees)} degrees or less"
    thick = about(2 * radius * wanting, units, upwards=True)
    return f"give a blank of {thick} or thicker in the middle of the wrap"


def _given(strip: MeshStripModel, name: str, units: Units) -> str:
    value = getattr(strip, name)
    return plain_number(value) if name == "covered_share" else length(value, units)


def _run_fault(design: DesignContext, strip: MeshStripModel, margin: float) -> tuple[str, bool]:
    """Find what keeps the strip from being steered so along the whole taper, and a little beyond.

    Parameters
    ----------
    design : DesignContext
    strip : MeshStripModel
    margin : float
        How far the cover over it reaches beyond the wrap, mm.

    Returns
    -------
    fault : str
        What follows the way in which it is laid; empty if it can be.
    turns_back : bool
        Whether it is its angle that is at fault, and not its width.
    """
    width = strip.width_on(middle_radius(design))
    gap = max(float(strip.gap_on(middle_radius(design))), 0.0)
    reach = margin + _BEYOND + width / math.sin(strip.angle)
    wide = radii(design, reach)
    thinnest = _thinnest(design, wide, reach)
    if strip.laid is Steering.CONSTANT_GAP:
        around = 2 * np.pi * wide / strip.starts
        cosine = np.minimum(width / np.hypot(around, gap), 1.0)
        angle = np.arccos(cosine) - np.arctan2(gap, around)
        if float(angle.min()) < _FLATTEST_RUN:
            return (
                f"cannot be held {thinnest}, with a strip {about(width, design.units)} wide",
                False,
            )
        return "", False
    sine = math.sin(strip.angle)
    if strip.laid is Steering.UNSTEERED:
        sine *= middle_radius(design)
        if sine / float(wide.min()) >= math.sin(_STEEPEST_RUN):
            return f"the strip would turn back {thinnest}", True
    radius = radii(design)
    along = np.arcsin(sine / radius) if strip.laid is Steering.UNSTEERED else strip.angle
    least = float(winding.gap_from_width(radius, along, width, strip.starts).min())
    if least < -OVERLAP:
        overlap = length(round(-least, 3), design.units)
        return f"the strip would overlap itself by {overlap} along the taper", False
    return "", False


def _thinnest(design: DesignContext, radius: NDArray[np.float64], reach: float) -> str:
    """Say where the blank is thinnest, and how thick there.

    Parameters
    ----------
    design : DesignContext
    radius : (n,) float
        Radii from `radii`, mm.
    reach : float
        Distance beyond both ends of the wrap, mm.
    """
    place, units = design.placement, design.units
    thinnest = int(np.argmin(radius))
    at = float(np.linspace(place.start - reach, place.end + reach, radius.size)[thinnest])
    thick = about(2 * float(radius[thinnest]), units)
    first, last = design.blank.stations[0].at, design.blank.stations[-1].at
    beyond = not first <= at <= last
    words = f"at {about(at, units)} from the butt, where the blank is {thick} thick"
    return f"{words} beyond your readings" if beyond else words


def _flatter(design: DesignContext, strip: MeshStripModel, margin: float) -> str:
    """Advise at what angle a strip can be wound without steering; empty if at none of them."""
    half_degrees = math.ceil(2 * math.degrees(strip.angle)) - 1
    for number in range(half_degrees, 2 * _LEAST_ADVISED, -1):
        angle = math.radians(number / 2)
        if not _run_fault(design, strip.model_copy(update={"angle": angle}), margin)[0]:
            return f"give an angle of {plain_number(number / 2)} degrees"
    return ""


def _widest(runs_at: float, wide: float, runs: Callable[[float], bool]) -> float:
    """Bisect to the greatest width that runs, mm, between one that does and one that does not."""
    for _ in range(_HALVINGS):
        between = (runs_at + wide) / 2
        runs_at, wide = (between, wide) if runs(between) else (runs_at, between)
    return runs_at


def _narrower(design: DesignContext, strip: MeshStripModel, margin: float) -> str:
    """Advise how narrow a strip can be steered as it is laid, in terms of the field that is given.

    A strip is the easier to steer the narrower it is, so that the width is found by bisection.
    """
    middle, units = middle_radius(design), design.units
    narrow, wide = strip.cell, strip.width_on(middle)

    def runs(width: float) -> bool:
        sizes = {"gap": None, "strip_width": width, "covered_share": None}
        return not _run_fault(design, strip.model_copy(update=sizes), margin)[0]

    if not runs(narrow):
        if not runs(_LEAST_CELL):
            return "give a greater angle" if strip.laid is Steering.CONSTANT_GAP else ""
        small = _widest(_LEAST_CELL, narrow, runs)
        return f"give a cell and a strip of {about(small, units)} or less"
    narrow = _widest(narrow, wide, runs)
    if strip.gap is not None:
        gap = float(winding.gap_from_width(middle, strip.angle, narrow, strip.starts))
        return (
            f"give a gap of {about(gap, units, upwards=True)} or more, for a strip of "
            f"{about(narrow, units)} or less"
        )
    if strip.covered_share is not None:
        share = winding.share_from_width(middle, strip.angle, narrow, strip.starts)
        return f"give a share of {plain_number(math.floor(1000 * float(share)) / 1000)} or less"
    return f"give a strip of {about(narrow, units)} or less"
