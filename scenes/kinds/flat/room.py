"""Place of a flat thing on a wrapped blank, and its room there."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from geometry.layers.flat import BandRun, BlankRun, band_between, raised
from geometry.layers.trim import Edge
from geometry.winding import Hand, Winding
from scenes.kinds.builder import BandBuilder, EdgeBuilder, LayerBuilder
from scenes.kinds.flat.runs import VISIBLE_ANGLE, RunDirection

__all__ = ["Room", "size_within"]

_PLACES = 41
_HALVINGS = 40


@dataclass(frozen=True)
class Room:
    """Place of a flat thing on the layers before it.

    Parameters
    ----------
    builder : LayerBuilder
        Builder of the flat thing.
    runs : Runs
    at : float or None
        Where its middle is, mm from the butt; mid wrap if None.
    around : float
        Where its middle is round the blank, rad from the guide line.
    """

    builder: LayerBuilder[Any]
    runs: RunDirection
    at: float | None
    around: float

    @property
    def lift(self) -> float:
        """Thickness of the covers under the flat thing, mm."""
        return self.builder.cover_thickness

    @cached_property
    def flat(self) -> BandRun | BlankRun:
        """The blank laid flat about its middle."""
        plan = self.builder.plan
        at = plan.middle if self.at is None else self.at
        around = plan.design.placement.guide_line + self.around
        if self.runs is RunDirection.BLANK:
            return BlankRun(plan.blank, self.lift, at, around)
        winding, _ = self._band
        # The nearest place where the band passes on that side of the blank.
        places = winding.crossings(np.array([around]))[0]
        at = float(places[np.argmin(np.abs(places - at))])
        return BandRun(raised(winding, plan.blank, self.lift, at, around), at)

    @cached_property
    def strip(self) -> BandBuilder[Any]:
        """Strip beside which it lies; checks of the document ensure that there is one."""
        relief = self.builder.plan.relief_under(self.builder)
        assert isinstance(relief, BandBuilder)
        return relief

    @cached_property
    def _band(self) -> tuple[Winding, np.ndarray[Any, np.dtype[np.float64]]]:
        """Centre line of the band between the trims, and its width along the blank, mm."""
        half = self.strip.width / 2
        # The band begins at the upper edge of one strip and ends at the lower edge of the next.
        return band_between(
            self.strip.winding,
            half + self._trim_reach(Edge.UPPER),
            half + self._trim_reach(Edge.LOWER),
        )

    def _trim_reach(self, edge: Edge) -> float:
        """How far trims along an edge of the strip reach onto the flat, mm."""
        plan = self.builder.plan
        reaches = [0.0]
        for earlier in plan.before(self.builder):
            if isinstance(earlier, EdgeBuilder) and plan.relief_under(earlier) is self.strip:
                reaches += [last for beside, (_, last) in earlier.places.items() if beside is edge]
        return max(reaches)

    def across(self, start: float, end: float) -> float:
        """Measure the room across the run between two distances from the butt, mm.

        Along the blank it is the arc that is visible from one side.

        Parameters
        ----------
        start, end : float
            mm from the butt.
        """
        plan = self.builder.plan
        z = np.linspace(start, end, _PLACES)
        if self.runs is RunDirection.BLANK:
            return float(VISIBLE_ANGLE * (plan.blank.radius(z).min() + self.lift))
        winding, width = self._band
        flat = self.flat
        assert isinstance(flat, BandRun)
        sine = np.sin(flat.winding.angle_at(z))
        return float((np.interp(z, winding.z, width) * sine).min())

    @property
    def hand(self) -> Hand | None:
        """Hand of the band; None along the blank."""
        return self.strip.winding.hand if self.runs is RunDirection.BAND else None

    def angle_round(self, length: float, width: float) -> float:
        """Angle round the blank that a rectangle about the middle takes, rad.

        Parameters
        ----------
        length, width : float
            mm.
        """
        s, t = np.meshgrid((-length / 2, 0, length / 2), (-width / 2, 0, width / 2))
        theta = self.flat.on_blank(s, t)[0]
        return float(np.ptp(theta))

    def holds(self, length: float, width: float, margin: float) -> bool:
        """Whether a rectangle lies within the wrap and its room, with a margin.

        Parameters
        ----------
        length, width, margin : float
            mm.
        """
        start, end = self.flat.reach(length, width)
        first, last = self.builder.span
        if start < first + margin or end > last - margin:
            return False
        return width <= self.across(start, end) - (
            0 if self.runs is RunDirection.BLANK else 2 * margin
        )


def size_within(room: Room, length: float, width: float, margin: float) -> float:
    """Find the scale at which a rectangle fills its room and is visible from one side.

    Parameters
    ----------
    room : Room
    length, width : float
        Proportions of the rectangle.
    margin : float
        Kept clear on all sides, mm.

    Returns
    -------
    float
        0 if there is no room at all.
    """
    low, high = 0.0, 2000.0 / max(length, width)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        size = middle * length, middle * width
        if room.holds(*size, margin) and room.angle_round(*size) <= VISIBLE_ANGLE:
            low = middle
        else:
            high = middle
    return low if low > 1e-6 else 0.0
