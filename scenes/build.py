"""From a design to its wrap: the layers, laid on the blank in bench order."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geometry.cover import Cover, wound_length
from geometry.finish import Coat, Finish
from geometry.flaw import CrossedRow, PartedRows
from geometry.grid import Detail, Grid
from geometry.relief import CordLattice, MeshStrip
from geometry.surface import Layer, Surface
from geometry.trim import Edge, Ring, SeamTrim, StripEdge, TrimThread
from geometry.winding import Hand, Winding, constant_gap, fixed_angle, unsteered
from materials.appearance import (
    Appearance,
    blank_appearance,
    cord_appearance,
    mesh_appearance,
    thread_appearance,
)
from materials.finish import FINISH
from materials.shelf import Shelf
from materials.thread import Thread, grade
from scenes import layers as spec
from scenes.document import Design

__all__ = ["Plan", "Wrap", "build"]

_FINISH_MARGIN = 3.0
"""How far the finish runs out beyond the cover, mm (common practice, no source)."""

_CARELESS = 0.05
"""Unevenness of a careless hand's rows, as a share of the thread's diameter (from memory)."""

_GAP_ROWS, _GAP_LENGTH = 1.6, 9.0
_CROSSED_ROWS, _CROSSED_LENGTH = 5.0, 11.0
"""Flaws as they are found on the bench: width in rows and length round the blank, mm (from
memory)."""

_GRID_MARGIN = 0.3
"""Bare blank kept on the grid beyond the finish, mm: just enough to see the finish end."""


class Plan:
    """A design worked out: where everything is, before anything is sampled.

    Parameters
    ----------
    design : Design
    shelf : Shelf
        Where its threads are looked up.

    Raises
    ------
    ShelfProblem
        If a thread is not on the shelf.
    GeometryError
        If the wrap cannot be wound as described.
    """

    def __init__(self, design: Design, shelf: Shelf) -> None:
        self.design = design
        self.shelf = shelf
        self.blank = design.blank.measured()
        self.start, self.end = design.placement.start, design.placement.end
        self.middle = design.placement.middle
        self.cover_thread = shelf.thread(design.cover.thread)
        self.relief = design.relief

    @cached_property
    def finished(self) -> bool:
        """Whether there is any finish on the wrap."""
        return self.design.finish.coats > 0

    @cached_property
    def cover_span(self) -> tuple[float, float]:
        """First and last row of the cover, mm."""
        margin = self.design.cover.margin
        return self.start - margin, self.end + margin

    @cached_property
    def grid_span(self) -> tuple[float, float]:
        """What the grid covers, mm."""
        start, end = self.cover_span
        return start - _FINISH_MARGIN - _GRID_MARGIN, end + _FINISH_MARGIN + _GRID_MARGIN

    @cached_property
    def middle_radius(self) -> float:
        """Bare radius at the middle of the wrap, mm."""
        return float(self.blank.radius(self.middle))

    @cached_property
    def strip_width(self) -> float:
        """Width of the mesh strip, mm; 0 without one."""
        relief = self.relief
        return relief.width_on(self.middle_radius) if isinstance(relief, spec.MeshStrip) else 0.0

    @cached_property
    def winding(self) -> Winding | None:
        """How the mesh strip is wound, if there is one."""
        relief = self.relief
        if not isinstance(relief, spec.MeshStrip):
            return None
        span = self._winding_span(relief.angle)
        around = self.design.placement.guide_line
        match relief.laid:
            case spec.Laid.FIXED_ANGLE:
                return fixed_angle(
                    self.blank,
                    span,
                    relief.angle,
                    starts=relief.starts,
                    hand=relief.hand,
                    origin=self.start,
                    start_angle=around,
                )
            case spec.Laid.UNSTEERED:
                return unsteered(
                    self.blank,
                    span,
                    relief.angle,
                    self.middle,
                    starts=relief.starts,
                    hand=relief.hand,
                    origin=self.start,
                    start_angle=around,
                )
            case _:
                return constant_gap(
                    self.blank,
                    span,
                    self.strip_width,
                    relief.gap_on(self.middle_radius),
                    starts=relief.starts,
                    hand=relief.hand,
                    origin=self.start,
                    start_angle=around,
                )

    def _winding_span(self, angle: float) -> tuple[float, float]:
        """A table long enough for strips that only partly reach into the wrap."""
        reach = self.strip_width / np.sin(angle)
        return self.grid_span[0] - reach, self.grid_span[1] + reach

    @cached_property
    def lattice(self) -> tuple[Winding, Winding] | None:
        """Right- and left-hand cords, if the relief is a lattice."""
        relief = self.relief
        if not isinstance(relief, spec.CordLattice):
            return None
        right, left = (
            fixed_angle(
                self.blank,
                self.grid_span,
                relief.angle,
                starts=relief.count,
                hand=hand,
                origin=self.start,
                start_angle=self.design.placement.guide_line,
            )
            for hand in (Hand.RIGHT, Hand.LEFT)
        )
        return right, left

    def trim_threads(self, trim: spec.SeamTrim) -> tuple[Thread, ...]:
        """Every thread of a trim, from the relief outwards."""
        if trim.grade is not None:
            first = self.shelf.thread(trim.grade.first)
            last = self.shelf.thread(trim.grade.last)
            return grade(first, last, trim.grade.count)
        return tuple(
            self.shelf.thread(entry.thread)
            for entry in trim.threads or ()
            for _ in range(entry.count)
        )

    def look_of(self, thread: Thread) -> Appearance:
        """Look of a thread in this wrap: dry, or under its finish."""
        return thread_appearance(thread, self.finished, self.design.finish.colour_preserver)

    def smallest_thread(self) -> float:
        """Diameter of the thinnest thread in the wrap, mm."""
        trims = (t.diameter_mm for trim in self.design.trims for t in self.trim_threads(trim))
        return min((self.cover_thread.diameter_mm, *trims))

    def smallest_cell(self) -> float | None:
        """Smallest period of the relief, mm."""
        relief = self.relief
        if isinstance(relief, spec.MeshStrip):
            return relief.cell
        if isinstance(relief, spec.CordLattice):
            diamond = float(np.pi * self.middle_radius / relief.count)
            return min(diamond, 4 * relief.cord_diameter)
        return None

    def grid(self, detail: Detail) -> Grid:
        """The grid that shows this design at `detail`."""
        start, end = self.grid_span
        radius = float(np.max(self.blank.radius(np.linspace(start, end, 200))))
        return Grid.choose(
            start,
            end,
            radius,
            thread=self.smallest_thread(),
            cell=self.smallest_cell(),
            detail=detail,
        )

    def relief_layer(self, material: int = 0) -> Layer | None:
        """The relief as a layer, if there is one."""
        relief = self.relief
        if isinstance(relief, spec.MeshStrip) and self.winding is not None:
            return MeshStrip(
                self.winding,
                self.strip_width,
                relief.cell,
                relief.yarn_width,
                relief.yarn_height,
                relief.crossing,
                self.start,
                self.end,
                material,
            )
        if isinstance(relief, spec.CordLattice) and self.lattice is not None:
            return CordLattice(
                *self.lattice,
                relief.cord_diameter,
                relief.flatten,
                self.start,
                self.end,
                material,
            )
        return None

    def cover_layer(self, material: int = 0) -> Cover:
        """The cover as a layer."""
        start, end = self.cover_span
        width = self.cover_thread.diameter_mm
        cover = self.design.cover
        uneven = cover.hand * _CARELESS * width
        return Cover(start, end, width, width, material, uneven, cover.seed)

    @cached_property
    def coats(self) -> tuple[Coat, ...]:
        """The coats of finish, in the order they are brushed on."""
        coat = Coat(
            self.design.finish.coat_thickness,
            FINISH.viscosity_pa_s,
            FINISH.surface_tension_n_m,
            FINISH.open_time_s,
        )
        return (coat,) * self.design.finish.coats

    def finish_layer(self) -> Finish:
        """The finish as a layer."""
        start, end = self.cover_span
        return Finish(self.coats, start - _FINISH_MARGIN, end + _FINISH_MARGIN, 0)

    def trim_edges(self, trim: spec.SeamTrim) -> list[StripEdge | Ring]:
        """The lines a trim follows."""
        edges = {
            spec.Edge.LOWER: (Edge.LOWER,),
            spec.Edge.UPPER: (Edge.UPPER,),
            spec.Edge.BOTH: (Edge.LOWER, Edge.UPPER),
        }[trim.edge]
        if self.winding is not None:
            return [StripEdge(self.winding, self.strip_width, edge) for edge in edges]
        at = {Edge.LOWER: self.start, Edge.UPPER: self.end}
        return [Ring(at[edge], edge) for edge in edges]


@dataclass(frozen=True, slots=True)
class Wrap:
    """A wrap laid on its blank.

    Parameters
    ----------
    plan : Plan
    beneath : Surface
        Blank and relief, before the cover.
    surface : Surface
        Everything that is laid, without the finish.
    outside : Surface or None
        The outside of the finish on the same grid.
    palette : tuple of Appearance
        By the surfaces' material index.
    detail : Detail
        How finely it was sampled.
    """

    plan: Plan
    beneath: Surface
    surface: Surface
    outside: Surface | None
    palette: tuple[Appearance, ...]
    detail: Detail

    @property
    def design(self) -> Design:
        """The design that was built."""
        return self.plan.design

    def cover_length(self) -> float:
        """Cover thread on the blank, mm, without tails or waste."""
        return wound_length(self.beneath, self.plan.cover_layer())


def build(
    plan: Plan, detail: Detail = Detail.NORMAL, step: Callable[[str], None] = lambda _: None
) -> Wrap:
    """Lay every layer of a design.

    Parameters
    ----------
    plan : Plan
    detail : Detail
    step : callable
        Called with a word before each layer, for a progress bar; may raise to cancel.

    Raises
    ------
    GeometryError
        If the design is too large for this detail.
    """
    palette: list[Appearance] = []

    def index(appearance: Appearance) -> int:
        if appearance not in palette:
            palette.append(appearance)
        return palette.index(appearance)

    surface = Surface.bare(
        plan.blank, plan.grid(detail), index(blank_appearance(plan.design.blank.colour))
    )
    if plan.relief is not None:
        step("relief")
        lattice = isinstance(plan.relief, spec.CordLattice)
        relief = plan.relief_layer(index(cord_appearance() if lattice else mesh_appearance()))
        surface = relief.apply(surface) if relief else surface
    beneath = surface

    step("cover")
    look = plan.look_of(plan.cover_thread)
    surface = plan.cover_layer(index(look)).apply(surface)
    if plan.design.cover.flaw is not spec.Flaw.NONE:
        step("flaw")
        surface = _flaw_layer(plan, beneath, index(look)).apply(surface)

    for trim in plan.design.trims:
        step("seam trim")
        threads = tuple(
            TrimThread(thread.diameter_mm, index(plan.look_of(thread)))
            for thread in plan.trim_threads(trim)
        )
        for line in plan.trim_edges(trim):
            span = (plan.start, plan.end) if isinstance(line, StripEdge) else plan.cover_span
            surface = SeamTrim(line, threads, trim.offset, *span).apply(surface)

    outside = None
    if plan.finished:
        step("finish")
        outside = plan.finish_layer().apply(surface)
    return Wrap(plan, beneath, surface, outside, tuple(palette), detail)


def _flaw_layer(plan: Plan, beneath: Surface, material: int) -> Layer:
    """The flaw that the cover shows, in the middle of the wrap, where the camera sees it."""
    row = plan.cover_layer().laid_width
    facing = np.pi / 2 - plan.design.camera.turn
    if plan.design.cover.flaw is spec.Flaw.GAP:
        return PartedRows(beneath, plan.middle, facing, _GAP_ROWS * row, _GAP_LENGTH)
    line = CrossedRow(plan.middle, facing, _CROSSED_ROWS * row, _CROSSED_LENGTH)
    thread = TrimThread(plan.cover_thread.diameter_mm, material)
    return SeamTrim(line, (thread,), -row / 2, *plan.cover_span)
