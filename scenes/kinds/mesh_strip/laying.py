"""Mesh strips and cord lattices, laid under a cover."""

from collections.abc import Callable
from functools import cached_property

import numpy as np

from geometry.relief import CordLattice as LatticeLayer
from geometry.relief import MeshStrip as StripLayer
from geometry.surface import Surface
from geometry.trim import Edge, Ring, StripEdge
from geometry.winding import Hand, Winding, constant_gap, fixed_angle, unsteered
from materials.appearance import cord_appearance, mesh_appearance
from scenes.layers import CordLattice, MeshStrip
from scenes.layers import Laid as Led
from scenes.laying.base import Laid, Laying, Palette

__all__ = ["LatticeLaying", "ReliefLaying", "StripLaying"]


class StripLaying(Laying[MeshStrip]):
    """A mesh strip."""

    doing = "relief"

    @cached_property
    def width(self) -> float:
        """Across the strip, mm."""
        return self.layer.width_on(self.plan.middle_radius)

    @cached_property
    def winding(self) -> Winding:
        """How it is wound."""
        plan, relief = self.plan, self.layer
        # A table long enough for strips that only partly reach into the wrap.
        reach = self.width / np.sin(relief.angle)
        span = plan.grid_span[0] - reach, plan.grid_span[1] + reach
        around = plan.design.placement.guide_line
        match relief.laid:
            case Led.FIXED_ANGLE:
                return fixed_angle(
                    plan.blank,
                    span,
                    relief.angle,
                    starts=relief.starts,
                    hand=relief.hand,
                    origin=plan.start,
                    start_angle=around,
                )
            case Led.UNSTEERED:
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

    def prepare(self) -> None:
        """Work the winding out."""
        _ = self.winding

    def cell(self) -> float:
        """One cell of the mesh, mm."""
        return self.layer.cell

    def edge(self, edge: Edge) -> StripEdge:
        """One of its edges, for threads to lie along."""
        return StripEdge(self.winding, self.width, edge)

    def relief(self, material: int = 0) -> StripLayer:
        """The layer itself."""
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

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> Laid:
        """Lay the strip."""
        return Laid(self.relief(palette.index(mesh_appearance())).apply(surface))


class LatticeLaying(Laying[CordLattice]):
    """A lattice of cords."""

    doing = "relief"

    @cached_property
    def windings(self) -> tuple[Winding, Winding]:
        """Right- and left-hand cords."""
        right, left = (
            fixed_angle(
                self.plan.blank,
                self.plan.grid_span,
                self.layer.angle,
                starts=self.layer.count,
                hand=hand,
                origin=self.plan.start,
                start_angle=self.plan.design.placement.guide_line,
            )
            for hand in (Hand.RIGHT, Hand.LEFT)
        )
        return right, left

    def prepare(self) -> None:
        """Work the windings out."""
        _ = self.windings

    def cell(self) -> float:
        """A diamond, or a cord with its flanks, mm."""
        diamond = float(np.pi * self.plan.middle_radius / self.layer.count)
        return min(diamond, 4 * self.layer.cord_diameter)

    def edge(self, edge: Edge) -> Ring:
        """The ring where the lattice begins or ends: it has no side edge."""
        start, end = self.span
        return Ring(start if edge is Edge.LOWER else end, edge)

    def relief(self, material: int = 0) -> LatticeLayer:
        """The layer itself."""
        return LatticeLayer(
            *self.windings, self.layer.cord_diameter, self.layer.flatten, *self.span, material
        )

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> Laid:
        """Lay the cords."""
        return Laid(self.relief(palette.index(cord_appearance())).apply(surface))


ReliefLaying = StripLaying | LatticeLaying
