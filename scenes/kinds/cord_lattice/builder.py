"""Builder of cord lattices, which lie under a cover."""

from collections.abc import Callable
from functools import cached_property

import numpy as np

from geometry.kept import KEPT
from geometry.layers.relief import CordLattice as LatticeLayer
from geometry.layers.trim import Edge, Ring
from geometry.surface import Surface
from geometry.winding import Hand, Winding, fixed_angle
from materials.appearance import cord_appearance
from scenes.kinds.builder import LayerResult, Palette, ReliefBuilder
from scenes.kinds.cord_lattice.model import CordLattice
from scenes.problems import at_field

__all__ = ["LatticeBuilder"]


class LatticeBuilder(ReliefBuilder[CordLattice]):
    """Builder of a cord lattice."""

    progress_label = "relief"

    @cached_property
    def windings(self) -> tuple[Winding, Winding]:
        """Windings of the right-hand and of the left-hand cords.

        Raises
        ------
        DesignProblem
            If cords cannot be wound at this angle.
        """
        with at_field(self.path):
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
        """Compute the windings."""
        _ = self.windings

    def cell(self) -> float:
        """Half the width of a diamond, or a cord with its flanks, mm."""
        diamond = float(np.pi * self.plan.middle_radius / self.layer.count)
        return min(diamond, 4 * self.layer.cord_diameter)

    def edge(self, edge: Edge) -> Ring:
        """Give the ring where the lattice begins or ends: it has no side edge."""
        start, end = self.span
        return Ring(start if edge is Edge.LOWER else end, edge)

    def relief(self, material: int = 0) -> LatticeLayer:
        """Make the geometry layer."""
        return LatticeLayer(
            *self.windings, self.layer.cord_diameter, self.layer.flatten, *self.span, material
        )

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Lay the cords."""
        return LayerResult(KEPT.laid(self.relief(palette.index(cord_appearance())), surface))
