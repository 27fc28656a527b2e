"""An exposure that holds the highlights of bright thread by itself.

The rule: of each thread, as it is seen from the front while the rod turns once, at most one part in
ten is brighter than `HELD`, the radiance that is shown at 95 % of white. Where a thread would be
brighter, the exposure is lowered until it is not; it is never raised. Trims do not count, whose
thread or two are a spark beside the rest. The shine of the finish itself stays white, as on any
glossy thing.

It depends on the threads of a design and on its light alone. So it is the same for every frame of a
turn, from every side, live and photographed; for designs that are compared it is the lowest of all.
"""

import math
from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from materials.appearance import Appearance
from materials.colour import luminance
from materials.finish import FINISH
from materials.metal import dielectric_reflectance
from scenes.building.build import Plan
from scenes.kinds.builder import EdgeBuilder
from scenes.light.lights import LightKind, radiance_map, turned
from scenes.light.prefilter import IN_AIR, IN_FINISH, LEVELS, SIDE, octahedral, prefiltered
from scenes.parts.view import LightSpec

__all__ = ["HELD", "held_stops", "shared_light", "stops_of"]

Array = NDArray[np.float64]

HELD = 1.88
"""Scene radiance that the tone curve shows at 0.95 of display light."""

_PART = 90.0
"""Percentile of what is seen of a thread that is held, by its area in the picture."""

_ELEVATION = math.radians(16.0)
"""Height of the camera over the rod, as in the view of the whole wrap."""

_ANGLES = 180
"""Directions round the rod that are looked at."""

_ROWS = 128
"""Rows of the radiance map: as many as its narrowest blur uses."""


def stops_of(plan: Plan, lit: LightSpec) -> float:
    """Exposure of a design in a light, stops.

    Parameters
    ----------
    plan : Plan
    lit : LightSpec
    """
    return lit.exposure + (held_stops(plan, lit) if lit.hold_highlights else 0.0)


def shared_light(lit: LightSpec, plans: Iterable[Plan]) -> LightSpec:
    """A light with one exposure for several designs: the lowest that any of them has in it.

    Parameters
    ----------
    lit : LightSpec
    plans : iterable of Plan
    """
    if not lit.hold_highlights:
        return lit
    stops = min((stops_of(plan, lit) for plan in plans), default=lit.exposure)
    return lit.model_copy(update={"exposure": stops, "hold_highlights": False})


def held_stops(plan: Plan, lit: LightSpec) -> float:
    """Stops by which a light is to be lowered for the threads of a design: 0, or less.

    Parameters
    ----------
    plan : Plan
    lit : LightSpec
    """
    wide = [one for one in plan.builders if not isinstance(one, EdgeBuilder)] or plan.builders
    looks = {plan.look_of(thread) for builder in wide for thread in builder.threads()}
    brightest = max((_bright_part(look, lit.kind, lit.turn) for look in looks), default=0.0)
    return min(0.0, math.log2(HELD / brightest)) if brightest > 0 else 0.0


@lru_cache(maxsize=512)
def _bright_part(look: Appearance, kind: LightKind, turn: float) -> float:
    """Radiance that all but the brightest part of a thread stays below, through a turn."""
    angle = 2 * np.pi * np.arange(_ANGLES) / _ANGLES
    normal = np.stack((np.zeros(_ANGLES), np.cos(angle), np.sin(angle)), axis=-1)
    view = np.array((0.0, math.sin(_ELEVATION), math.cos(_ELEVATION)))
    facing = normal @ view
    normal, facing = normal[facing > 0], facing[facing > 0]
    mirrored = 2 * facing[:, None] * normal - view
    # The appearance has the round of its rows in its roughness across them.
    roughness = math.sqrt(look.roughness_along * look.roughness_across)
    shone = _light_from(mirrored, kind, turn, roughness * (LEVELS - 1))
    sent = _light_from(normal, kind, turn, IN_FINISH if look.wet else IN_AIR)
    radiance = look.metallic * shone + (1 - look.metallic) * sent
    if look.wet:
        radiance = radiance * (1 - dielectric_reflectance(facing, FINISH.ior))[:, None]
    seen = luminance(radiance * np.array(look.base_colour))
    order = np.argsort(seen)
    share = np.cumsum(facing[order]) / facing.sum()
    return float(seen[order][np.searchsorted(share, _PART / 100)])


def _light_from(toward: Array, kind: LightKind, turn: float, level: float) -> Array:
    """The light of a kind from directions, (n, 3), blurred by a level of `prefilter`."""
    toward = turned(toward, -turn)
    below = math.floor(level)
    part = level - below
    light = _looked_up(_map(kind, below), toward)
    if part:
        light = light + part * (_looked_up(_map(kind, below + 1), toward) - light)
    return light


def _looked_up(image: NDArray[np.float32], toward: Array) -> Array:
    column, row = np.rint((octahedral(toward) + 1) / 2 * SIDE + 0.5).astype(np.intp).T
    return image[row, column].astype(np.float64)


@lru_cache(maxsize=len(LightKind) * (LEVELS + 2))
def _map(kind: LightKind, level: int) -> NDArray[np.float32]:
    """Octahedral map of a light as it stands, blurred."""
    found = prefiltered(radiance_map(kind, _ROWS), FINISH.ior, levels=(level,))
    return np.asarray(found[0])
