"""From a design to its wrap: every layer laid on the blank, in bench order."""

import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from geometry.grid import Detail, Grid
from geometry.kept import KEPT
from geometry.layers.finish import Coat, Finish
from geometry.surface import Surface
from materials.appearance import Appearance, thread_appearance
from materials.blank_looks import blank_appearance
from materials.finish import FINISH
from materials.shelf import Shelf
from materials.thread import Thread
from scenes.building.guide_feet import check_feet
from scenes.design.document import Design, with_changes
from scenes.design.layers import kind_of, layer_path
from scenes.design.rod import other_wraps
from scenes.files.companion_files import SHIPPED, CompanionFiles
from scenes.kinds.builder import (
    LayerBuilder,
    LayerResult,
    Palette,
    ReliefBuilder,
    ThreadUse,
    WoundBuilder,
    as_cut,
)
from scenes.parts.layer import LayerModel

__all__ = ["FINISH_MARGIN", "Plan", "Wrap", "build", "build_for_bench"]

FINISH_MARGIN = 3.0
"""How far the finish runs out beyond the last thread, mm (common practice, no source)."""

_GRID_MARGIN = 0.3
"""Bare blank on the grid beyond the finish, mm, so that the end of the finish is visible."""

_USUAL_THREAD = 0.17
"""Thread diameter for which a wrap without thread is sampled, mm: about size A."""


class Plan:
    """The positions of all parts of a design, before anything is sampled.

    Parameters
    ----------
    design : Design
    shelf : Shelf
        Source of its threads.
    beside : CompanionFiles
        Source of its pictures, charts and fonts.
    designed : Plan, optional
        Plan of the design that this one was changed from, to be cut and laid; by default itself.

    Raises
    ------
    ShelfProblem
        If a thread is not on the shelf.
    DesignProblem
        If the measured diameters make no blank.
    """

    def __init__(
        self,
        design: Design,
        shelf: Shelf,
        beside: CompanionFiles = SHIPPED,
        *,
        designed: "Plan | None" = None,
    ) -> None:
        self.designed: Plan = designed or self
        self.design = design
        self.shelf = shelf
        self.beside = beside
        self.blank = design.blank.measured()
        self.start, self.end = design.placement.start, design.placement.end
        self.middle = design.placement.middle
        self.builders: tuple[LayerBuilder[Any], ...] = tuple(
            kind_of(layer).builder(layer, self, layer_path(design.layers, index))
            for index, layer in enumerate(design.layers)
        )
        self._threads = [thread for builder in self.builders for thread in builder.threads()]

    @cached_property
    def finished(self) -> bool:
        """Whether there is any finish on the wrap."""
        return self.design.finish.coats > 0

    @cached_property
    def wound_span(self) -> tuple[float, float]:
        """Range from the first thread of any layer to the last, mm from the butt."""
        spans = [builder.span for builder in self.builders]
        return min(start for start, _ in spans), max(end for _, end in spans)

    @cached_property
    def grid_span(self) -> tuple[float, float]:
        """Range of the grid, mm from the butt."""
        start, end = self.wound_span
        return start - FINISH_MARGIN - _GRID_MARGIN, end + FINISH_MARGIN + _GRID_MARGIN

    @cached_property
    def others(self) -> "tuple[Plan, ...]":
        """Plans of the other wraps on the same rod."""
        return tuple(Plan(rod, self.shelf, self.beside) for rod in other_wraps(self.design))

    @cached_property
    def grid_spans(self) -> tuple[tuple[float, float], ...]:
        """Ranges of the grids of all wraps on the rod, its own first, mm from the butt."""
        return (self.grid_span, *(other.grid_span for other in self.others))

    @cached_property
    def middle_radius(self) -> float:
        """Bare radius at the middle of the wrap, mm."""
        return float(self.blank.radius(self.middle))

    @cached_property
    def relief(self) -> ReliefBuilder[Any] | None:
        """The first relief, if there is one."""
        return next(
            (builder for builder in self.builders if isinstance(builder, ReliefBuilder)), None
        )

    @cached_property
    def cover(self) -> WoundBuilder[Any] | None:
        """The first cover, if there is one."""
        return next(
            (builder for builder in self.builders if isinstance(builder, WoundBuilder)), None
        )

    def before(self, builder: LayerBuilder[Any]) -> tuple[LayerBuilder[Any], ...]:
        """Every layer that is laid before another, in bench order.

        Parameters
        ----------
        builder : LayerBuilder
            The other layer.
        """
        return tuple(itertools.takewhile(lambda other: other is not builder, self.builders))

    def relief_under(self, builder: LayerBuilder[Any]) -> ReliefBuilder[Any]:
        """The last relief that is laid before a layer; checks of the document ensure that one is.

        Parameters
        ----------
        builder : LayerBuilder
            The layer.
        """
        before = reversed(self.before(builder))
        return next(earlier for earlier in before if isinstance(earlier, ReliefBuilder))

    def changed(self, changes: Mapping[str, object]) -> "Plan":
        """Make the plan of the same design without variants and with some values changed.

        Its `designed` plan stays the one that this plan has.

        Parameters
        ----------
        changes : dict
            New value by path, in the design's own units and degrees.

        Raises
        ------
        DesignProblem
            If the changed design is invalid.
        """
        changed = with_changes(self.design.without_variants(), changes)
        return Plan(changed, self.shelf, self.beside, designed=self.designed)

    def prepare(self) -> None:
        """Compute every winding, as `build` does, without sampling.

        Raises
        ------
        DesignProblem
            If a layer cannot be wound as described, or a file that the design names cannot be read.
        """
        self.check_feet()
        for builder in self.builders:
            builder.prepare()

    def check_feet(self) -> None:
        """Check that the foot of every guide lies on the blank, and has room for what is inlaid.

        Raises
        ------
        DesignProblem
        """
        check_feet(self.design.blank, self.blank, self.shelf, self.design.units)

    def look_of(self, thread: Thread) -> Appearance:
        """Look of a thread in this wrap: dry, or under its finish.

        Parameters
        ----------
        thread : Thread
        """
        return thread_appearance(thread, self.finished, self.design.finish.colour_preserver)

    def smallest_thread(self) -> float:
        """Diameter of the thinnest thread in the wrap, mm; a common one if there is none."""
        return min((thread.diameter_mm for thread in self._threads), default=_USUAL_THREAD)

    @cached_property
    def row_width(self) -> float:
        """Distance from row to row of the thread that most of the wrap is wound with, mm."""
        return self.cover.cover().laid_width if self.cover else self.smallest_thread()

    def smallest_cell(self) -> float | None:
        """Smallest period besides the threads that the grid must resolve, mm."""
        cells = (builder.cell() for builder in self.builders)
        return min((cell for cell in cells if cell is not None), default=None)

    def grid(self, detail: Detail) -> Grid:
        """Choose the grid that shows this design at a detail.

        Parameters
        ----------
        detail : Detail

        Raises
        ------
        GeometryError
            If the design is too large for this detail.
        """
        start, end = self.grid_span
        radius = float(np.max(self.blank.radius(np.linspace(start, end, 200))))
        return Grid.choose(
            start,
            end,
            radius,
            thread=self.smallest_thread(),
            cell=self.smallest_cell(),
            striped=any(builder.striped for builder in self.builders),
            detail=detail,
        )

    @cached_property
    def coat(self) -> Coat:
        """One coat of the finish that the design asks for."""
        return Coat(
            self.design.finish.coat_thickness,
            FINISH.viscosity_pa_s,
            FINISH.surface_tension_n_m,
            FINISH.open_time_s,
        )

    @cached_property
    def coats(self) -> tuple[Coat, ...]:
        """The coats of finish, in the order they are brushed on."""
        return (self.coat,) * self.design.finish.coats

    def finish_layer(self) -> Finish:
        """The finish as a layer."""
        start, end = self.wound_span
        return Finish(self.coats, start - FINISH_MARGIN, end + FINISH_MARGIN, 0)


@dataclass(frozen=True, slots=True)
class Wrap:
    """A wrap laid on its blank.

    Parameters
    ----------
    plan : Plan
    beneath : Surface
        What the outermost thread lies on at each place; the blank where it is bare.
    surface : Surface
        All layers, without the finish.
    outside : Surface or None
        Outside of the finish on the same grid; None for a dry wrap, or if it was not poured.
    palette : tuple of Appearance
        Looks by the material index of the surfaces.
    detail : Detail
        Fineness of the grid.
    thread_uses : tuple of callable
        Work out the thread used by each layer, in bench order.
    kind_results : tuple of object
        Further results of each layer, for the bench entries of its kind.
    """

    plan: Plan
    beneath: Surface
    surface: Surface
    outside: Surface | None
    palette: tuple[Appearance, ...]
    detail: Detail
    thread_uses: tuple[Callable[[], tuple[ThreadUse, ...]], ...]
    kind_results: tuple[object, ...]

    @property
    def design(self) -> Design:
        """The design that was built."""
        return self.plan.design

    def threads(self) -> tuple[ThreadUse, ...]:
        """Thread on the blank in bench order, without tails or waste."""
        return tuple(use for uses in self.thread_uses for use in uses())

    def kind_result_of(self, layer: LayerModel) -> object:
        """Further results of one layer (`LayerResult.kind_result`).

        Parameters
        ----------
        layer : LayerModel
            One of the design's layers.
        """
        pairs = zip(self.design.layers, self.kind_results, strict=True)
        return next(result for candidate, result in pairs if candidate is layer)


def build(
    plan: Plan,
    detail: Detail = Detail.NORMAL,
    step: Callable[[str], None] = lambda _: None,
    *,
    stride: int = 1,
    poured: bool = True,
) -> Wrap:
    """Lay every layer of a design, in the order in which the document lists them.

    Parameters
    ----------
    plan : Plan
    detail : Detail
    step : callable
        Called with a word before each layer, for a progress bar; may raise to cancel.
    stride : int
        Sample only every n-th station and angle of the detail, for a preview.
    poured : bool
        Pour the finish; False where its outside is not asked for.

    Raises
    ------
    DesignProblem
        If a layer cannot be wound as described.
    GeometryError
        If the design is too large for this detail.
    """
    plan.check_feet()
    palette = Palette()
    bare = palette.index(blank_appearance(plan.design.blank.colour, plan.design.blank.finish))
    surface = KEPT.bare(plan.blank, plan.grid(detail).thinned(stride), bare)
    beneath = surface
    thread_uses, kind_results = [], []
    for builder in plan.builders:
        step(builder.progress_label)
        laid = builder.lay(surface, palette, step)
        beneath = _beneath(beneath, surface, laid)
        surface = laid.surface
        thread_uses.append(laid.threads)
        kind_results.append(laid.kind_result)
    outside = None
    if plan.finished and poured:
        step("finish")
        outside = KEPT.laid(plan.finish_layer(), surface)
    return Wrap(
        plan,
        beneath,
        # Renderers know a wrap by this object, and its looks may be others than the last ones.
        KEPT.same(surface),
        outside,
        palette.looks(),
        detail,
        tuple(thread_uses),
        tuple(kind_results),
    )


def build_for_bench(
    plan: Plan, step: Callable[[str], None] = lambda _: None, *, poured: bool = True
) -> Wrap:
    """Build a design as it can be cut, at draft detail, which is enough for thread and weight.

    Parameters
    ----------
    plan : Plan
    step : callable
    poured : bool
        As in `build`.

    Raises
    ------
    DesignProblem, GeometryError
        As in `build`.
    """
    return build(as_cut(plan), Detail.DRAFT, step, poured=poured)


def _beneath(beneath: Surface, before: Surface, laid: LayerResult) -> Surface:
    """What lies directly under the outermost thread after a layer is laid."""
    if laid.replaces_outermost:
        return beneath
    under = laid.beneath or before
    raised = laid.surface.radius != before.radius
    return beneath.with_arrays(
        radius=np.where(raised, under.radius, beneath.radius),
        material=np.where(raised, under.material, beneath.material),
    )
