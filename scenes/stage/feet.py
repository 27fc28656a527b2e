"""The wraps on guide feet: one over each end, with rings and an underwrap if the design has them.

Each end of the foot is wrapped from beyond its tip up to the frame; the middle stays bare, as on a
double-foot guide. Like any cover, the thread is taut over the foot.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from geometry.bodies.guide import GuideFoot as FootLayer
from geometry.bodies.guide import GuideSizes
from geometry.bodies.mesh import enclosed_volume
from geometry.grid import Detail, Grid
from geometry.layers.cover import Cover, air_under, wound_length
from geometry.layers.finish import Coat, Finish
from geometry.layers.inlay import Inlay
from geometry.layers.trim import TrimThread
from geometry.surface import Surface
from materials.appearance import guide_appearance
from materials.blank_looks import blank_appearance
from materials.finish import FINISH
from materials.thread import Thread
from scenes.building.build import Plan
from scenes.kinds.builder import Palette, ThreadUse
from scenes.parts.blank import GuideFoot
from scenes.stage.blank_pattern import dressed
from scenes.stage.bodies import WrapBody

__all__ = [
    "GUIDES",
    "FootAmounts",
    "FootPlan",
    "foot_amounts",
    "foot_grid",
    "foot_plans",
    "wound_feet",
]

Span = tuple[float, float]

GUIDES = "guides"
"""Name of the use of thread on guides."""

_FINISH_MARGIN = 1.5
"""Extent of finish beyond the wrap on a guide, mm (common practice, no source)."""

_GRID_MARGIN = 1.0
"""Bare blank on the grid beyond the finish, mm."""

_UNDERWRAP_SHOWS = 1.2
"""Extent of an underwrap beyond the wrap over it, mm (from memory)."""


@dataclass(frozen=True, slots=True)
class FootPlan:
    """Positions of a guide's foot and its two wraps, mm from the butt.

    Parameters
    ----------
    foot : GuideFoot
    sizes : GuideSizes
    grid : (float, float)
        Span of its own grid.
    wraps : 2 of (float, float)
        Spans of the wraps over its two ends.
    underwrap : (float, float) or None
        Span of the underwrap, if there is one.
    """

    foot: GuideFoot
    sizes: GuideSizes
    grid: Span
    wraps: tuple[Span, Span]
    underwrap: Span | None


def foot_plans(plan: Plan) -> list[FootPlan]:
    """Plan every guide's wraps, each clear of the grids of all wraps and of the other guides.

    Only margins are reduced: a foot that itself overlaps its neighbour is not moved.

    Parameters
    ----------
    plan : Plan
    """
    fitted = plan.design.blank.fitted
    feet = sorted(
        (fitting for fitting in fitted if isinstance(fitting, GuideFoot)), key=lambda foot: foot.at
    )
    spans = [foot.span for foot in feet]
    # Two neighbours share the space between their feet equally.
    shared = [(end + start) / 2 for (_, end), (start, _) in pairwise(spans)]
    limits = [-np.inf, *shared, np.inf]
    plans: list[FootPlan] = []
    for number, (foot, (first, last)) in enumerate(zip(feet, spans, strict=True)):
        low, high = limits[number : number + 2]
        sizes = GuideSizes.of(foot.length, float(plan.blank.radius(foot.at)))
        climb = float(np.clip(0.15 * foot.length, 1.0, 4.0))
        shows = _UNDERWRAP_SHOWS if foot.underwrap is not None else 0.0
        beyond = shows + _FINISH_MARGIN + _GRID_MARGIN
        for wrap_start, wrap_end in plan.grid_spans:
            if wrap_start < foot.at:
                low = max(low, wrap_end)
            else:
                high = min(high, wrap_start)
        around = climb + beyond
        start, end = min(max(first - around, low), first), max(min(last + around, high), last)
        margin = min(beyond, 0.1 * foot.length)
        wraps = (
            (max(first - climb, start + margin), foot.at - sizes.bare / 2),
            (foot.at + sizes.bare / 2, min(last + climb, end - margin)),
        )
        shows *= margin / beyond
        under = (wraps[0][0] - shows, wraps[1][1] + shows) if shows else None
        plans.append(FootPlan(foot, sizes, (start, end), wraps, under))
    return plans


def wound_feet(plan: Plan, detail: Detail = Detail.NORMAL) -> tuple[WrapBody, ...]:
    """Build the wrapped foot of every guide of a design.

    Parameters
    ----------
    plan : Plan
    detail : Detail
        Resolution of the grids.
    """
    return tuple(_BoundFoot(plan, foot, detail).body() for foot in foot_plans(plan))


@dataclass(frozen=True, slots=True)
class FootAmounts:
    """What the binding of one guide takes.

    Parameters
    ----------
    placed : FootPlan
    threads : tuple of ThreadUse
        Of underwrap, wraps, and each thread of the rings.
    coats : tuple of float
        Volume of each coat of finish, without what soaks in, mm³.
    air : float
        Air under its wraps, mm³.
    """

    placed: FootPlan
    threads: tuple[ThreadUse, ...]
    coats: tuple[float, ...]
    air: float


def foot_amounts(plan: Plan) -> tuple[FootAmounts, ...]:
    """List thread and finish of every guide, in the order of `foot_plans`.

    Parameters
    ----------
    plan : Plan
    """
    return tuple(_BoundFoot(plan, foot, Detail.DRAFT).amounts() for foot in foot_plans(plan))


def foot_grid(plan: Plan, foot_plan: FootPlan, detail: Detail) -> Grid:
    """Grid of the wraps on one foot.

    Parameters
    ----------
    plan : Plan
    foot_plan : FootPlan
    detail : Detail
    """
    foot = foot_plan.foot
    names = [foot.thread, *(run.thread for run in foot.rings)]
    names += [] if foot.underwrap is None else [foot.underwrap]
    return Grid.choose(
        *foot_plan.grid,
        float(np.max(plan.blank.radius(np.array(foot_plan.grid)))),
        thread=min(plan.shelf.thread(name).diameter_mm for name in names),
        detail=detail,
    )


class _BoundFoot:
    """The layers on one foot, built on construction."""

    def __init__(self, plan: Plan, foot_plan: FootPlan, detail: Detail) -> None:
        self.plan, self.foot_plan = plan, foot_plan
        foot, shelf = foot_plan.foot, plan.shelf
        self.thread = shelf.thread(foot.thread)
        self.under = None if foot.underwrap is None else shelf.thread(foot.underwrap)
        self.rings = [shelf.thread(run.thread) for run in foot.rings for _ in range(run.count)]
        self.palette = Palette()
        bare = self.palette.index(
            blank_appearance(plan.design.blank.colour, plan.design.blank.finish)
        )
        metal = self.palette.index(guide_appearance())
        grid = foot_grid(plan, foot_plan, detail)
        self.bare = Surface.bare(plan.blank, grid, bare)
        surface = self.bare
        if self.under is not None and foot_plan.underwrap is not None:
            surface = self._cover(self.under, foot_plan.underwrap).apply(surface)
        sizes = foot_plan.sizes
        self.beneath = FootLayer(
            foot.at, sizes.length, sizes.width, sizes.height, material=metal
        ).apply(surface)
        surface = self.beneath
        self.covers = [self._cover(self.thread, wrap) for wrap in foot_plan.wraps]
        for cover in self.covers:
            surface = cover.apply(surface)
        self.covered = surface
        self.inlays = self._inlays()
        for inlay in self.inlays:
            surface = inlay.apply(surface)
        self.surface = surface

    def body(self) -> WrapBody:
        """The foot as it stands on a stage."""
        outside = self._poured(self.surface, self.plan.coats) if self.plan.finished else None
        width = self.thread.diameter_mm
        surface = dressed(
            self.surface, self.plan, self.palette, int(self.bare.material[0, 0]), width
        )
        return WrapBody(
            surface,
            self.beneath,
            outside,
            self.palette.looks(),
            FINISH.ior,
            width,
        )

    def _poured(self, surface: Surface, coats: tuple[Coat, ...]) -> Surface:
        """Pour coats over both wraps."""
        foot_plan = self.foot_plan
        onto_frame = min(0.8, 0.2 * foot_plan.sizes.bare)
        (start, middle), (after, end) = foot_plan.wraps
        spans = [
            (start - _FINISH_MARGIN, middle + onto_frame),
            (after - onto_frame, end + _FINISH_MARGIN),
        ]
        if foot_plan.underwrap is not None:
            # It is visible beside the bare foot too, so finish must cover it there.
            start, end = foot_plan.underwrap
            spans = [(start - _FINISH_MARGIN, end + _FINISH_MARGIN)]
        for start, end in spans:
            span = max(start, foot_plan.grid[0]), min(end, foot_plan.grid[1])
            surface = Finish(coats, *span, material=0).apply(surface)
        return surface

    def amounts(self) -> FootAmounts:
        """Measure its thread and finish."""
        coats = []
        surface, filled = self.surface, enclosed_volume(self.surface)
        for coat in self.plan.coats:
            surface = self._poured(surface, (coat,))
            outside = enclosed_volume(surface)
            coats.append(outside - filled)
            filled = outside
        air = sum(air_under(self.beneath, cover) for cover in self.covers)
        return FootAmounts(self.foot_plan, tuple(self._uses()), tuple(coats), air)

    def _uses(self) -> Iterator[ThreadUse]:
        """Thread of the underwrap, of the wraps and of the rings."""
        if self.under is not None and self.foot_plan.underwrap is not None:
            cover = self._cover(self.under, self.foot_plan.underwrap)
            yield ThreadUse(GUIDES, self.under, wound_length(self.bare, cover))
        given_up = tuple((inlay.start, inlay.end) for inlay in self.inlays)
        wound = sum(wound_length(self.beneath, cover, given_up) for cover in self.covers)
        yield ThreadUse(GUIDES, self.thread, wound)
        if self.inlays:
            lower, upper = (inlay.lengths(self.covered) for inlay in self.inlays)
            for thread, lower_length, upper_length in zip(
                self.rings, lower, upper[::-1], strict=True
            ):
                yield ThreadUse(GUIDES, thread, lower_length + upper_length)

    def _cover(self, thread: Thread, span: Span) -> Cover:
        material = self.palette.index(self.plan.look_of(thread))
        return Cover(*span, thread.diameter_mm, thread.diameter_mm, material)

    def _inlays(self) -> list[Inlay]:
        """The rings at both outer ends, in reverse order at the upper end."""
        if not self.rings:
            return []
        threads = tuple(
            TrimThread(thread.diameter_mm, self.palette.index(self.plan.look_of(thread)))
            for thread in self.rings
        )
        wide = sum(thread.diameter for thread in threads)
        lower, upper = self.covers
        inset = self.foot_plan.foot.inset
        return [
            Inlay(lower, lower.start + inset, threads),
            Inlay(upper, upper.end - inset - wide, threads[::-1]),
        ]
