"""A mesh strip at the bench: as the design asks for it, and as it can be cut."""

import math

import numpy as np

from geometry import winding as wind
from geometry.marks import geodesic_curvature, strip_marks
from scenes.figures.trust import CALIPER_MM, MARK_MM
from scenes.kinds.builder import PlanContext
from scenes.kinds.mesh_strip.builder import StripBuilder
from scenes.kinds.mesh_strip.cutting import is_whole, whole_cells

__all__ = ["Strip"]


class Strip:
    """A mesh strip as the design asks for it, and as it can be cut.

    Parameters
    ----------
    asked : StripBuilder
        The strip of the design.
    cut : StripBuilder
        The same strip in whole cells.
    plan : PlanContext
        Plan of the strip in whole cells.
    """

    def __init__(self, asked: StripBuilder, cut: StripBuilder, plan: PlanContext) -> None:
        self.asked, self.cut, self.plan = asked, cut, plan
        self.spec, self.bench = cut.layer, plan.design.bench
        self.start, self.end = cut.span
        self.width, self.winding = cut.width, cut.winding
        self.radius = plan.middle_radius
        self.angle = float(self.winding.angle_at(plan.middle))
        self.cells = whole_cells(cut)
        self.whole = is_whole(cut)
        self.width_off = self.spec.yarn_width / 2
        self.table = strip_marks(self.winding, self.width, self.start, self.end)
        curvature = np.abs(geodesic_curvature(self.winding, plan.blank))
        here = (self.winding.z >= self.start) & (self.winding.z <= self.end)
        self.strain = float(curvature[here].max() * self.width / 2)

    @property
    def gap(self) -> float:
        """Gap along the blank at the middle of the wrap, mm."""
        return float(wind.gap_from_width(self.radius, self.angle, self.width, self.spec.starts))

    @property
    def gap_off(self) -> float:
        """Uncertainty of the gap from those of diameter and width, mm."""
        per_diameter = math.pi / math.tan(self.angle) / self.spec.starts
        return per_diameter * CALIPER_MM + self.width_off / math.sin(self.angle)

    @property
    def angle_off(self) -> float:
        """Uncertainty of the angle from that of the gap, rad: gap_off / |d(gap)/d(alpha)|."""
        around = 2 * math.pi * self.radius / self.spec.starts
        sine, cosine = math.sin(self.angle), math.cos(self.angle)
        return self.gap_off / abs(around / sine**2 - self.width * cosine / sine**2)

    @property
    def run(self) -> float:
        """Length of one strip along its centre line, mm."""
        first, last = self.winding.length_at(np.array([self.start, self.end]))
        return float(last - first)

    @property
    def length(self) -> float:
        """Length to cut one strip to, mm."""
        slanted = self.width * math.tan(self.angle)
        return self.run + slanted + 2 * self.bench.strip_tail

    @property
    def length_off(self) -> float:
        """Uncertainty of the length, mm: its change on a blank thicker by a caliper's error."""
        thicker = self.radius + CALIPER_MM / 2
        angle = wind.constant_gap_angle(thicker, self.width, self.gap, self.spec.starts)
        return self.run * abs(math.cos(self.angle) / math.cos(float(angle)) - 1) + MARK_MM

    @property
    def from_roll(self) -> int:
        """Strips side by side in the width of the roll."""
        return int(self.bench.roll_width / self.width + 1e-6)

    @property
    def spacing(self) -> float:
        """Distance from one strip to the next along the blank, mid wrap, mm."""
        return float(wind.pitch(self.radius, self.angle)) / self.spec.starts
