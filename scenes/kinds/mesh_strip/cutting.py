"""Widths at which a mesh strip can be cut: whole cells."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from geometry import winding as wind
from geometry.errors import GeometryError
from scenes.kinds.builder import PlanContext
from scenes.problems import DesignProblem

if TYPE_CHECKING:
    from scenes.kinds.mesh_strip.builder import StripBuilder

__all__ = ["CellWidth", "cell_widths", "cut", "is_whole", "keeps_gap", "whole_cells"]

P = TypeVar("P", bound=PlanContext)

_WHOLE = 0.02
"""Part of a cell that counts as none: a twentieth of a millimetre, less than a blade can follow."""

_FITS = -1e-3
"""Overlap that counts as rounding error, mm."""


@dataclass(frozen=True, slots=True)
class CellWidth:
    """A strip of a number of cells on this blank.

    Parameters
    ----------
    cells : int
    width : float
        mm.
    gap : float
        Along the axis at the middle of the wrap, at the design's own angle, mm; below 0 where
        turns would overlap.
    share : float
        Share of the blank under the strips then, 0 to 1 and more.
    angle : float or None
        Angle at which the gap is the one that the design asks for, rad; None if there is none.
    """

    cells: int
    width: float
    gap: float
    share: float
    angle: float | None

    @property
    def fits(self) -> bool:
        """Whether it can be wound at the design's own angle without overlap."""
        return self.gap > _FITS


def cell_width(builder: "StripBuilder", cells: int) -> CellWidth:
    """Work out width, gap, covered share and angle of a strip of a number of cells.

    Parameters
    ----------
    builder : StripBuilder
    cells : int
        Number of cells across the strip.
    """
    strip, radius = builder.layer, builder.plan.middle_radius
    width = cells * strip.cell
    gap = float(wind.gap_from_width(radius, strip.angle, width, strip.starts))
    share = float(wind.share_from_width(radius, strip.angle, width, strip.starts))
    try:
        asked = strip.gap_on(radius)
        angle = float(wind.constant_gap_angle(radius, width, asked, strip.starts))
    except GeometryError:
        angle = 0.0
    held = angle if angle > 0 else None
    return CellWidth(cells, width, 0.0 if abs(gap) < -_FITS else gap, share, held)


def whole_cells(builder: "StripBuilder") -> int:
    """Whole cells nearest to the width of a strip.

    Parameters
    ----------
    builder : StripBuilder
    """
    return max(1, round(builder.width / builder.layer.cell))


def is_whole(builder: "StripBuilder") -> bool:
    """Whether a strip can be cut along a yarn as it is.

    Parameters
    ----------
    builder : StripBuilder
    """
    cells = builder.width / builder.layer.cell
    return abs(cells - round(cells)) < _WHOLE and round(cells) >= 1


def cell_widths(builder: "StripBuilder", cells: int) -> tuple[CellWidth, ...]:
    """List strips one cell narrower, as wide, and one cell wider.

    Parameters
    ----------
    builder : StripBuilder
    cells : int
        Number of cells of the middle one.
    """
    return tuple(cell_width(builder, n) for n in range(max(1, cells - 1), cells + 2))


def keeps_gap(builder: "StripBuilder") -> bool:
    """Whether cutting a strip in whole cells keeps its gap and changes its angle a little.

    The ruler is held to the gap, so a gap that the design gives stays. A width that the design
    gives goes with its angle.

    Parameters
    ----------
    builder : StripBuilder
    """
    return builder.layer.strip_width is None


def cut(plan: P, builder: "StripBuilder") -> P:
    """Make a plan in which one strip has a width that can be cut.

    The strip stays as it is if no whole number of cells can be wound as the design asks.

    Parameters
    ----------
    plan : PlanContext
    builder : StripBuilder
        One of its builders.
    """
    for cells in range(whole_cells(builder), 0, -1):
        option = cell_width(builder, cells)
        changes: dict[str, object] = {
            f"{builder.path}.strip_width": option.width / plan.design.units.in_mm
        }
        if keeps_gap(builder):
            if option.angle is None:
                continue
            changes[f"{builder.path}.angle"] = math.degrees(option.angle)
        elif not option.fits:
            continue
        try:
            made = plan.changed(changes)
            # Other layers must have room beside the strip, too.
            made.prepare()
        except (DesignProblem, GeometryError):
            continue
        return made
    return plan
