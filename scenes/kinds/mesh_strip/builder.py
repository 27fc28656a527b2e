"""Builder of mesh strips, which lie under a cover."""

from collections.abc import Callable
from functools import cached_property
from typing import TypeVar

import numpy as np

from geometry.kept import KEPT
from geometry.layers.relief import MeshStrip as StripLayer
from geometry.layers.trim import Edge, StripEdge
from geometry.surface import Surface
from geometry.winding import Winding, constant_gap, fixed_angle, unsteered
from materials.appearance import mesh_appearance
from scenes.kinds.builder import BandBuilder, LayerResult, Palette, PlanContext
from scenes.kinds.mesh_strip.cutting import cut, is_whole
from scenes.kinds.mesh_strip.model import MeshStripModel, Steering
from scenes.problems import at_field

__all__ = ["StripBuilder"]

P = TypeVar("P", bound=PlanContext)


class StripBuilder(BandBuilder[MeshStripModel]):
    """Builder of a mesh strip."""

    progress_label = "relief"

    @cached_property
    def width(self) -> float:
        """Width across the run, mm."""
        return self.layer.width_on(self.plan.middle_radius)

    @cached_property
    def winding(self) -> Winding:
        """Winding of the strip.

        Raises
        ------
        DesignProblem
            If the strip cannot be wound so.
        """
        with at_field(self.path, {"width": "strip_width"}):
            return self._wound()

    def _wound(self) -> Winding:
        plan, relief = self.plan, self.layer
        # The table also covers strips that reach only partly into the wrap.
        reach = self.width / np.sin(relief.angle)
        span = plan.grid_span[0] - reach, plan.grid_span[1] + reach
        around = plan.design.placement.guide_line
        match relief.laid:
            case Steering.FIXED_ANGLE:
                return fixed_angle(
                    plan.blank,
                    span,
                    relief.angle,
                    starts=relief.starts,
                    hand=relief.hand,
                    origin=plan.start,
                    start_angle=around,
                )
            case Steering.UNSTEERED:
                return unsteered(
                    plan.blank,
                    span,
                    relief.angle,
                    plan.middle,
                    starts=relief.starts,
                    hand=relief.hand,
                    origin=plan.start,
                    start_angle=around,
                )
            case _:
                return constant_gap(
                    plan.blank,
                    span,
                    self.width,
                    relief.gap_on(plan.middle_radius),
                    starts=relief.starts,
                    hand=relief.hand,
                    origin=plan.start,
                    start_angle=around,
                )

    def as_cut(self, plan: P) -> P:
        """Make a plan with this strip in whole cells, where that can be wound."""
        return plan if is_whole(self) else cut(plan, self)

    def prepare(self) -> None:
        """Compute the winding."""
        _ = self.winding

    def cell(self) -> float:
        """Size of a cell of the mesh, mm."""
        return self.layer.cell

    def edge(self, edge: Edge) -> StripEdge:
        """Give one edge of the strip, for threads to lie along."""
        return StripEdge(self.winding, self.width, edge)

    def relief(self, material: int = 0) -> StripLayer:
        """Make the geometry layer."""
        strip = self.layer
        return StripLayer(
            self.winding,
            self.width,
            strip.cell,
            strip.yarn_width,
            strip.yarn_height,
            strip.crossing,
            *self.span,
            material,
        )

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Lay the strip."""
        return LayerResult(KEPT.laid(self.relief(palette.index(mesh_appearance())), surface))
