"""The other parts of the rod near the wrap: bare blank, grips, guides."""

from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geometry.bodies.guide import guide_frame, guide_ring
from geometry.bodies.turned import bevelled_tube, turned
from geometry.tolerances import LEAST_RADIUS_MM
from materials.appearance import Appearance, grip_appearance, guide_appearance
from materials.blank_looks import blank_appearance, is_lacquered
from scenes.building.build import Plan
from scenes.parts.blank import Grip, GripMaterial
from scenes.stage.bodies import PlainBody
from scenes.stage.feet import foot_plans
from scenes.stage.noise import hashed_triples, value_noise

__all__ = ["LEAST_BARE", "bare_spans", "fittings", "grip_profiles", "rod_span"]

Array = NDArray[np.float64]
Span = tuple[float, float]

_BEYOND = 400.0
"""Length of blank shown beyond the wrap, mm: past the edge of an arm's length picture."""

_PAST_FITTED = 30.0
"""Length of blank shown beyond the last fitting, mm."""

LEAST_BARE = 0.05
"""Least length of bare blank that is drawn, mm."""

_ANGLES = 192
"""Points round a bare blank, as the wrap's own grid has at least."""

_GRIP_ANGLES = 144
_GRIP_STATIONS = 205
"""So a grip has fewer than 60,000 triangles, and its outline is within 3 µm of a circle."""

_CORK_RING = 12.7
"""Length of one ring of cork, mm: half an inch (common practice, no source)."""

_JOINTS_SEEN = 36
"""Most lines of glue that are drawn, nearest the wrap first: they leave fewer points for grain."""

_JOINT = 0.16
"""Half the width of the visible line of glue between two rings, mm (from memory)."""


def fittings(plan: Plan) -> tuple[PlainBody, ...]:
    """List all plain bodies of a design: bare blank, grips, and the frames and rings of guides.

    Bare lengths of a lacquered blank are no plain bodies (`scenes.stage.lacquered_blank`).
    The blank leaves out the grids of the wraps and those of the guides' wraps
    (`scenes.stage.feet`). A grip or guide that reaches into the wrap overlaps it; the document
    warns of that.

    Parameters
    ----------
    plan : Plan
    """
    return (*_bare_blank(plan), *_grips(plan), *_guides(plan))


def bare_spans(plan: Plan) -> list[Span]:
    """Bare lengths of the blank that are shown: all but the grids of wraps and of guides' wraps.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of (float, float)
        Starts and ends, mm from the butt.
    """
    first, last = rod_span(plan, plan.grid_span)
    taken = sorted([*plan.grid_spans, *(foot_plan.grid for foot_plan in foot_plans(plan))])
    # One span may lie within another.
    starts = np.maximum.accumulate([first, *(end for _, end in taken)]).tolist()
    ends = [*(start for start, _ in taken), last]
    return [(a, b) for a, b in zip(starts, ends, strict=True) if b - a >= LEAST_BARE]


def _bare_blank(plan: Plan) -> Iterator[PlainBody]:
    blank = plan.design.blank
    if is_lacquered(blank.finish):
        return
    look = blank_appearance(blank.colour, blank.finish)
    for start, end in bare_spans(plan):
        z = np.linspace(start, end, int(np.clip((end - start) / 6, 2, 150)))
        mesh = turned(np.column_stack((z, plan.blank.radius(z))), _ANGLES)
        yield PlainBody("blank", mesh, look, np.ones_like(mesh.points))


def rod_span(plan: Plan, wrap: Span) -> Span:
    """Start and end of the blank that is shown, mm from the butt.

    Parameters
    ----------
    plan : Plan
    wrap : (float, float)
        Where its wrap starts and ends, mm from the butt.
    """
    start, end = wrap
    spans = [fitting.span for fitting in plan.design.blank.fitted]
    spans += [(other.start, other.end) for other in plan.others]
    first = min([start - _BEYOND, *(a - _PAST_FITTED for a, _ in spans)])
    last = max([end + _BEYOND, *(b + _PAST_FITTED for _, b in spans)])
    # The butt is at 0; the tip is where the extrapolated taper reaches the least radius.
    first = min(max(first, 0.0), start)
    z = np.linspace(end, last, 400)
    used_up = plan.blank.radius(z) <= LEAST_RADIUS_MM
    return first, float(z[np.argmax(used_up)]) if used_up.any() else last


def grip_profiles(plan: Plan) -> list[Array]:
    """Outlines of the grips, without points along their sides.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of (n, 2) float
        Distance from the butt and radius, mm.
    """
    return [_grip_profile(grip, _blank_inside(plan, grip)) for grip in _grips_of(plan)]


def _grips_of(plan: Plan) -> list[Grip]:
    return [fitting for fitting in plan.design.blank.fitted if isinstance(fitting, Grip)]


def _blank_inside(plan: Plan, grip: Grip) -> Span:
    """Radius of the blank at both ends of a grip, mm."""
    start, end = plan.blank.radius(np.array(grip.span)).tolist()
    return start, end


def _grips(plan: Plan) -> Iterator[PlainBody]:
    for number, grip in enumerate(_grips_of(plan)):
        yield _grip(grip, _blank_inside(plan, grip), plan.middle, plan.grid_span, number)


def _grip_profile(grip: Grip, blank: Span, side: Array | None = None) -> Array:
    """Outline of a grip; `side` are points along its side, mm from the butt."""
    start, end = grip.span
    # Where the taper is extrapolated, the blank may be thicker than the grip.
    inner_start, inner_end = np.minimum(blank, 0.98 * grip.diameter / 2).tolist()
    wall = grip.diameter / 2 - max(inner_start, inner_end)
    bevel = min(1.15 * wall, 9.0, (end - start) / 4)
    between = () if side is None else side
    return bevelled_tube(start, end, grip.diameter / 2, inner_start, inner_end, bevel, between)


# Cached: its grain takes longer than the layers of a draft, and does not depend on them.
@lru_cache(maxsize=8)
def _grip(grip: Grip, blank: Span, middle: float, wrap: Span, number: int) -> PlainBody:
    """One grip; `blank` is the blank's radius at its ends, `wrap` the grid's span, mm."""
    cork = grip.material is GripMaterial.CORK
    joints = _joints(*grip.span) if cork else np.empty(0)
    seen = joints[np.argsort(np.abs(joints - middle))[:_JOINTS_SEEN]]
    lines = (seen[:, None] + np.array((-_JOINT, 0.0, _JOINT))).ravel()
    # The rest of the budget after 16 points for each shoulder.
    side = _side_stations(grip.span, wrap, _GRIP_STATIONS - 32 - lines.size)
    apart = np.abs(side[:, None] - lines).min(axis=1, initial=np.inf) > _JOINT
    profile = _grip_profile(grip, blank, np.concatenate((side[apart], lines)))
    mesh = turned(profile, _GRIP_ANGLES)
    tint = _cork(mesh.points, joints, seen, number) if cork else _foam(mesh.points, number)
    return PlainBody(grip.material.value, mesh, grip_appearance(grip.material.value), tint)


def _joints(start: float, end: float) -> Array:
    """Positions where cork rings meet, mm; a short rest at the end belongs to the last ring."""
    return np.arange(start + _CORK_RING, end - _CORK_RING / 4, _CORK_RING)


def _side_stations(span: Span, wrap: Span, count: int) -> Array:
    """At most `count` positions along a grip, densest nearest the wrap.

    The points of a grip carry its grain. The camera looks at the wrap, so it sees only the near end
    of a grip from close by.
    """
    z = np.linspace(*span, 4001)
    away = np.maximum(np.maximum(wrap[0] - z, z - wrap[1]), 0)
    crowd = np.cumsum(1 / (0.42 + 0.012 * away)) * (z[1] - z[0])
    wanted = np.arange(min(float(count), np.ceil(crowd[-1])))
    return np.interp((wanted + 0.5) / wanted.size * crowd[-1], crowd, z)


def _guides(plan: Plan) -> Iterator[PlainBody]:
    ceramic = Appearance(
        "guide ring", (0.02, 0.021, 0.024), roughness_along=0.12, roughness_across=0.12
    )
    for foot_plan in foot_plans(plan):
        at = foot_plan.frame_at
        where = at, float(plan.blank.radius(at)), foot_plan.sizes
        frame, ring = guide_frame(*where), guide_ring(*where)
        yield PlainBody("guide", frame, guide_appearance(), np.ones_like(frame.points))
        yield PlainBody("guide ring", ring, ceramic, np.ones_like(ring.points))


def _cork(
    points: NDArray[np.float32], joints: Array, seen: Array, seed: int
) -> NDArray[np.float32]:
    """Tint of natural cork: fine grain, broader clouds, dark pits, and rings of their own shade.

    Each ring between two joints has its own shade; glue is visible at the joints in `seen`. All
    strengths are from memory of real grips.
    """
    ring = np.searchsorted(joints, points[:, 2])
    # Every ring comes from another piece of bark.
    placed = points.astype(np.float64) + 40.0 * hashed_triples(ring, seed)
    grain = value_noise(placed, 0.5, seed + 1)
    clouds = value_noise(placed, (3.0, 3.0, 6.0), seed + 2)
    shade = 0.16 * grain + 0.10 * clouds + 0.12 * hashed_triples(ring, seed + 3)[:, 0]
    warm = 0.06 * clouds + 0.09 * hashed_triples(ring, seed + 4)[:, 0]
    # Pores run through the bark, so on a grip they are short dark strokes along the rod, in groups.
    pores = value_noise(placed, (0.9, 0.9, 2.2), seed + 5) + 0.35 * value_noise(
        placed, 5.0, seed + 6
    )
    flecks = value_noise(placed, 0.7, seed + 7)
    pits = np.maximum(_smoothstep(pores, 0.62, 0.84), 0.7 * _smoothstep(flecks, 0.66, 0.82))
    glue = np.zeros(len(points))
    if seen.size:
        from_joint = np.abs(points[:, 2, None] - seen).min(axis=1)
        glue = 1 - _smoothstep(from_joint, 0.3 * _JOINT, _JOINT)
    light = np.exp(shade) * (1 - 0.38 * glue)
    tint = light[:, None] * np.exp(warm[:, None] * np.array((0.25, -0.15, -0.8)))
    dark = np.array((0.34, 0.24, 0.16))
    return np.asarray(tint * (1 - pits[:, None] * (1 - dark)), dtype=np.float32)


def _foam(points: NDArray[np.float32], seed: int) -> NDArray[np.float32]:
    """Tint of closed-cell foam: a faint mottle (from memory)."""
    placed = points.astype(np.float64)
    shade = 0.16 * value_noise(placed, 0.6, seed + 1) + 0.08 * value_noise(placed, 4.0, seed + 2)
    return np.repeat(np.exp(shade)[:, None], 3, axis=1).astype(np.float32)


def _smoothstep(x: Array, low: float, high: float) -> Array:
    """0 below `low`, 1 above `high`, smooth between."""
    t = np.clip((x - low) / (high - low), 0, 1)
    return np.asarray(t * t * (3 - 2 * t))
