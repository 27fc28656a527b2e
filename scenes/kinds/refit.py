"""What a layer needs to know of another blank, to be changed so that it suits it.

Each kind may offer changes in its `refit.py`. `scenes.starting.first_design` takes the first with
which the whole design is valid and has no warning.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from scenes.kinds.taper import middle_radius
from scenes.parts.blank import BlankSpec, Placement
from scenes.parts.layer import DesignContext
from scenes.parts.part import TrimThread

__all__ = ["Changes", "Refit", "fewer_threads"]

Changes = dict[str, Any]
"""New values of a layer's fields, as in a file in mm; None leaves a field out."""


@dataclass(frozen=True)
class Refit:
    """The design that a layer was made for, and the blank that it is to be laid on.

    Parameters
    ----------
    design : DesignContext
        The design that the layer was made for.
    blank : BlankSpec
        The other blank.
    placement : Placement
        Where the wrap stands on it.
    """

    design: DesignContext
    blank: BlankSpec
    placement: Placement

    @cached_property
    def radius_before(self) -> float:
        """Radius of the former blank at the middle of its wrap, mm."""
        return middle_radius(self.design)

    @cached_property
    def radius(self) -> float:
        """Radius of the other blank at the middle of the wrap, mm."""
        return float(self.blank.measured().radius(self.placement.middle))

    @property
    def thickness_ratio(self) -> float:
        """Radius of the other blank over that of the former."""
        return self.radius / self.radius_before

    @property
    def length_ratio(self) -> float:
        """Length of the wrap over that of the former."""
        return self.placement.length / self.design.placement.length

    @cached_property
    def margin(self) -> float:
        """How far a cover can reach beyond the wrap on the measured blank, mm."""
        stations, place = self.blank.stations, self.placement
        room = min(place.start - stations[0].at, stations[-1].at - place.end)
        return max(0.0, math.floor(2 * room) / 2)

    def moved(self, at: float) -> float:
        """Move a place of the former wrap to the same share of the wrap's length, mm.

        Parameters
        ----------
        at : float
            Distance from the butt, mm.
        """
        before = self.design.placement
        share = (at - before.start) / before.length
        return round(self.placement.start + share * self.placement.length, 1)


def fewer_threads(runs: Sequence[TrimThread], share: float) -> list[Mapping[str, Any]]:
    """Give runs of threads with fewer threads in each, one at least, as in a file.

    Parameters
    ----------
    runs : sequence of TrimThread
    share : float
        Of the threads that are left, 0 to 1.
    """
    return [{"thread": run.thread, "count": max(1, round(share * run.count))} for run in runs]
