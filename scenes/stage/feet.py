"""The wraps on guide feet: one over each end, with rings and an underwrap if the design has them.

Each end of the foot is wrapped from beyond its tip up to the frame; the middle stays bare, as on a
double-foot guide. A single foot has one wrap, over its end towards the tip. Like any cover, the
thread is taut over the foot.
"""

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from geometry.bodies.guide import GuideFoot as FootLayer
from geometry.bodies.guide import GuideSizes
from geometry.bodies.mesh import enclosed_volume
from geometry.grid import Detail, Grid
from geometry.kept import KEPT, Kept
from geometry.layers.cover import Cover, air_under, wound_length
from geometry.layers.finish import Coat, Finish
from geometry.layers.inlay import Inlay
from geometry.layers.trim import TrimThread
from geometry.surface import Layer, Surface
from materials.appearance import guide_appearance
from materials.blank_looks import blank_appearance
from materials.finish import FINISH
from materials.shelf import Shelf
from materials.thread import Thread
from scenes.building.build import Plan
from scenes.building.guide_feet import guide_sizes
from scenes.kinds.builder import Palette, ThreadUse
from scenes.parts.guides import AT_FRAME, AT_OUTER_END, IN_MIDDLE, GuideBinding, GuideFoot
from scenes.stage.blank_pattern import dressed
from scenes.stage.bodies import WrapBody

__all__ = [
    "GUIDES",
    "FootAmounts",
    "FootPlan",
    "foot_amounts",
    "foot_grid",
    "foot_plans",
    "inlaid_threads",
    "wound_feet",
]

Span = tuple[float, float]

_Lay = Callable[[Layer, Surface], Surface]
"""Lays a layer on a surface."""

_KEPT_FEET = Kept(160_000_000)
"""Bodies of feet, without the layers between: a rod with twenty guides in full detail."""

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
    binding : GuideBinding
    sizes : GuideSizes
    grid : (float, float)
        Span of its own grid.
    wraps : 1 or 2 of (float, float)
        Spans of the wraps over its ends; the one towards the tip last.
    underwrap : (float, float) or None
        Span of the underwrap, if there is one.
    """

    foot: GuideFoot
    binding: GuideBinding
    sizes: GuideSizes
    grid: Span
    wraps: tuple[Span, ...]
    underwrap: Span | None

    @property
    def frame_at(self) -> float:
        """Place of the frame's middle, mm from the butt."""
        return self.sizes.frame_at(self.foot.at)


def foot_plans(plan: Plan) -> list[FootPlan]:
    """Plan every guide's wraps, each clear of the grids of all wraps and of the other guides.

    Only margins are reduced: a foot that itself overlaps its neighbour is not moved.

    Parameters
    ----------
    plan : Plan
    """
    blank = plan.design.blank
    feet = sorted((foot for _, foot in blank.guides), key=lambda foot: foot.at)
    spans = [foot.span for foot in feet]
    # Two neighbours share the space between their feet equally.
    shared = [(end + start) / 2 for (_, end), (start, _) in pairwise(spans)]
    limits = [-np.inf, *shared, np.inf]
    plans: list[FootPlan] = []
    for number, (foot, (first, last)) in enumerate(zip(feet, spans, strict=True)):
        low, high = limits[number : number + 2]
        binding, sizes = blank.binding_of(foot), guide_sizes(foot, plan.blank)
        frame = sizes.frame_at(foot.at)
        climb = float(np.clip(0.15 * foot.length, 1.0, 4.0))
        shows = _UNDERWRAP_SHOWS if binding.underwrap is not None else 0.0
        beyond = shows + _FINISH_MARGIN + _GRID_MARGIN
        for wrap_start, wrap_end in plan.grid_spans:
            if wrap_start < foot.at:
                low = max(low, wrap_end)
            else:
                high = min(high, wrap_start)
        around = climb + beyond
        start, end = min(max(first - around, low), first), max(min(last + around, high), last)
        margin = min(beyond, 0.1 * foot.length)
        lower = (max(first - climb, start + margin), frame - sizes.bare / 2)
        upper = (frame + sizes.bare / 2, min(last + climb, end - margin))
        shows *= margin / beyond
        under = (lower[0] - shows, upper[1] + shows) if shows else None
        wraps = (lower, upper) if foot.feet == 2 else (upper,)
        plans.append(FootPlan(foot, binding, sizes, (start, end), wraps, under))
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


def inlaid_threads(binding: GuideBinding, shelf: Shelf) -> dict[str, list[Thread]]:
    """List the threads of rings, band and trim at one end of a foot, one for each turn.

    Parameters
    ----------
    binding : GuideBinding
    shelf : Shelf

    Returns
    -------
    dict
        In the order of the scheme, by `AT_OUTER_END`, `IN_MIDDLE` and `AT_FRAME`.
    """
    runs = {AT_OUTER_END: binding.rings, IN_MIDDLE: binding.band, AT_FRAME: binding.trim}
    return {
        name: [shelf.thread(run.thread) for run in listed for _ in range(run.count)]
        for name, listed in runs.items()
    }


@dataclass(frozen=True, slots=True)
class FootAmounts:
    """What the binding of one guide takes.

    Parameters
    ----------
    placed : FootPlan
    threads : tuple of ThreadUse
        Of underwrap, wraps, and each thread of rings, band and trim.
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
    names = foot_plan.binding.threads
    return Grid.choose(
        *foot_plan.grid,
        float(np.max(plan.blank.radius(np.array(foot_plan.grid)))),
        thread=min(plan.shelf.thread(name).diameter_mm for name in names),
        detail=detail,
    )


class _LaidFoot(NamedTuple):
    """One foot, bound.

    Parameters
    ----------
    bare : Surface
        The blank.
    beneath : Surface
        The foot on its underwrap.
    covered : Surface
        With its wraps, before anything is inlaid.
    surface : Surface
        With all its threads.
    """

    bare: Surface
    beneath: Surface
    covered: Surface
    surface: Surface


def _apply(layer: Layer, surface: Surface) -> Surface:
    return layer.apply(surface)


def _poured(
    surface: Surface, coats: tuple[Coat, ...], spans: tuple[Span, ...], lay: _Lay
) -> Surface:
    """Pour coats over stretches of a foot, mm from the butt."""
    for span in spans:
        surface = lay(Finish(coats, *span, material=0), surface)
    return surface


class _BoundFoot:
    """The layers on one foot."""

    def __init__(self, plan: Plan, foot_plan: FootPlan, detail: Detail) -> None:
        self.plan, self.foot_plan = plan, foot_plan
        shelf = plan.shelf
        binding = foot_plan.binding
        self.thread = shelf.thread(binding.thread)
        self.under = None if binding.underwrap is None else shelf.thread(binding.underwrap)
        self.inlaid = inlaid_threads(binding, shelf)
        self.palette = Palette()
        bare = self.palette.index(
            blank_appearance(plan.design.blank.colour, plan.design.blank.finish)
        )
        metal = self.palette.index(guide_appearance())
        self.bare_material = bare
        self.grid = foot_grid(plan, foot_plan, detail)
        self.underwraps: tuple[Cover, ...] = ()
        if self.under is not None and foot_plan.underwrap is not None:
            self.underwraps = (self._cover(self.under, foot_plan.underwrap),)
        sizes = foot_plan.sizes
        self.foot_layer = FootLayer(
            foot_plan.frame_at,
            sizes.length,
            sizes.width,
            sizes.height,
            material=metal,
            below=sizes.below,
        )
        self.covers = tuple(self._cover(self.thread, wrap) for wrap in foot_plan.wraps)
        self.inlays = tuple(self._inlays(cover) for cover in self.covers)

    def body(self) -> WrapBody:
        """The foot as it stands on a stage."""
        plan = self.plan
        spans = self._finish_spans() if plan.finished else ()
        layers = self.underwraps, self.foot_layer, self.covers, self.inlays

        def made() -> tuple[Surface, Surface, Surface | None]:
            bare = Surface.bare(plan.blank, self.grid, self.bare_material)
            laid = self._laid(bare, _apply)
            poured = _poured(laid.surface, plan.coats, spans, _apply) if plan.finished else None
            return laid.beneath, laid.surface, poured

        beneath, surface, outside = _KEPT_FEET.result(
            "foot",
            (plan.blank, self.grid, self.bare_material, layers, spans, plan.coats),
            made,
            points=self.grid.points,
        )
        width = self.thread.diameter_mm
        # Renderers know a body by its surface, and its looks may be others than the last ones.
        surface = dressed(_KEPT_FEET.same(surface), plan, self.palette, self.bare_material, width)
        return WrapBody(
            surface,
            beneath,
            outside,
            self.palette.looks(),
            FINISH.ior,
            width,
        )

    def _laid(self, bare: Surface, lay: _Lay) -> _LaidFoot:
        """Lay the underwrap, the foot, the wraps over it and what is inlaid in them."""
        surface = bare
        for underwrap in self.underwraps:
            surface = lay(underwrap, surface)
        beneath = surface = lay(self.foot_layer, surface)
        for cover in self.covers:
            surface = lay(cover, surface)
        covered = surface
        for inlay in itertools.chain(*self.inlays):
            surface = lay(inlay, surface)
        return _LaidFoot(bare, beneath, covered, surface)

    def _finish_spans(self) -> tuple[Span, ...]:
        """Where finish is brushed on: over both wraps, mm from the butt."""
        foot_plan = self.foot_plan
        onto_frame = min(0.8, 0.2 * foot_plan.sizes.bare)
        after, end = foot_plan.wraps[-1]
        spans = [(after - onto_frame, end + _FINISH_MARGIN)]
        if len(foot_plan.wraps) > 1:
            start, middle = foot_plan.wraps[0]
            spans.insert(0, (start - _FINISH_MARGIN, middle + onto_frame))
        if foot_plan.underwrap is not None:
            # It is visible beside the bare foot too, so finish must cover it there.
            start, end = foot_plan.underwrap
            spans = [(start - _FINISH_MARGIN, end + _FINISH_MARGIN)]
        low, high = foot_plan.grid
        return tuple((max(start, low), min(end, high)) for start, end in spans)

    def amounts(self) -> FootAmounts:
        """Measure its thread and finish."""
        bare = KEPT.bare(self.plan.blank, self.grid, self.bare_material)
        laid = self._laid(bare, KEPT.laid)
        spans = self._finish_spans()
        coats = []
        surface, filled = laid.surface, enclosed_volume(laid.surface)
        for coat in self.plan.coats:
            surface = _poured(surface, (coat,), spans, KEPT.laid)
            outside = enclosed_volume(surface)
            coats.append(outside - filled)
            filled = outside
        air = sum(air_under(laid.beneath, cover) for cover in self.covers)
        return FootAmounts(self.foot_plan, tuple(self._uses(laid)), tuple(coats), air)

    def _uses(self, laid: _LaidFoot) -> Iterator[ThreadUse]:
        """Thread of the underwrap, of the wraps and of the rings."""
        for underwrap in self.underwraps:
            assert self.under is not None
            yield ThreadUse(GUIDES, self.under, wound_length(laid.bare, underwrap))
        wound = 0.0
        lengths = dict.fromkeys(self.inlaid, np.zeros(0))
        for cover, inlays in zip(self.covers, self.inlays, strict=True):
            given_up = tuple((inlay.start, inlay.end) for inlay in inlays)
            wound += wound_length(laid.beneath, cover, given_up)
            given = (name for name, threads in self.inlaid.items() if threads)
            for name, inlay in zip(given, inlays, strict=True):
                along = np.array(inlay.lengths(laid.covered))
                # Counted as the scheme lists them, whichever end they lie at.
                along = along if self._is_listed_upwards(name, cover) else along[::-1]
                lengths[name] = along if not lengths[name].size else lengths[name] + along
        yield ThreadUse(GUIDES, self.thread, wound)
        for name, threads in self.inlaid.items():
            for thread, wound in zip(threads, lengths[name].tolist(), strict=True):
                yield ThreadUse(GUIDES, thread, wound)

    def _cover(self, thread: Thread, span: Span) -> Cover:
        material = self.palette.index(self.plan.look_of(thread))
        return Cover(*span, thread.diameter_mm, thread.diameter_mm, material)

    def _is_listed_upwards(self, name: str, cover: Cover) -> bool:
        """Whether the threads of rings, band or trim follow one another from butt to tip."""
        is_lower = len(self.covers) > 1 and cover is self.covers[0]
        # Rings and bands are listed from the outer end inwards, trims from the frame outwards.
        return is_lower is not (name == AT_FRAME)

    def _inlays(self, cover: Cover) -> list[Inlay]:
        """Rings at the outer end of a wrap, a band in its middle, a trim at the frame."""
        is_lower = len(self.covers) > 1 and cover is self.covers[0]
        inset = self.foot_plan.binding.inset
        made = []
        for name, listed in self.inlaid.items():
            if not listed:
                continue
            threads = tuple(
                TrimThread(thread.diameter_mm, self.palette.index(self.plan.look_of(thread)))
                for thread in listed
            )
            wide = sum(thread.diameter for thread in threads)
            if name == IN_MIDDLE:
                start = (cover.start + cover.end - wide) / 2
            elif is_lower is (name == AT_OUTER_END):
                start = cover.start + (inset if name == AT_OUTER_END else 0.0)
            else:
                start = cover.end - wide - (inset if name == AT_OUTER_END else 0.0)
            upwards = self._is_listed_upwards(name, cover)
            made.append(Inlay(cover, start, threads if upwards else threads[::-1]))
        return made
