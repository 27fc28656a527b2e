"""The stage: all that a renderer is told, and no word of any renderer.

Bodies stand in the geometry's frame and turn with the rod; `Stage.transform` carries them into the
stage frame (x along the rod from butt to tip, y up, z to the viewer), with the middle of the wrap
at the origin. The light, the backdrop and the camera stand still.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Self

import numpy as np
from numpy.typing import NDArray

from materials.colour import parse_hex, srgb_to_linear
from materials.finish import FINISH
from scenes.building.build import Plan, Wrap
from scenes.light.lights import LightKind, radiance_map
from scenes.parts.view import LightSpec
from scenes.stage.backdrop import Backdrop, backdrop, card_in_picture, surroundings
from scenes.stage.bodies import PlainBody, WrapBody
from scenes.stage.camera import Camera, adjusted, camera_for
from scenes.stage.feet import wound_feet
from scenes.stage.fittings import fittings

__all__ = ["Lighting", "Stage", "lighting", "stage_for", "wraps_of"]

_LIGHT_ROWS = 256

_CARDS = {"dark": "#191b1e", "light": "#b9b9b6"}
"""Card that a backdrop's name stands for."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A scene to take pictures of.

    Parameters
    ----------
    title : str
    wraps : tuple of WrapBody
    bodies : tuple of PlainBody
        Blank, grips and guide parts.
    middle : float
        Distance from the butt of what stands at the stage's origin, mm.
    light : (h, 2h, 3) float32
        Radiance map.
    surroundings : (h, 2h, 3) float32
        The same as the rod sees it, with the card in the way.
    backdrop : Backdrop
    camera : Camera
    turn : float
        How far the rod is turned about its axis, rad.
    """

    title: str
    wraps: tuple[WrapBody, ...]
    bodies: tuple[PlainBody, ...]
    middle: float
    light: NDArray[np.float32]
    surroundings: NDArray[np.float32]
    backdrop: Backdrop
    camera: Camera
    turn: float

    def transform(self, turn: float | None = None) -> NDArray[np.float64]:
        """4 x 4 matrix from the geometry's frame to the stage's, the rod turned by `turn` rad.

        The guide line is up at turn 0; turning brings it towards the viewer.
        """
        angle = self.turn if turn is None else turn
        c, s = np.cos(angle), np.sin(angle)
        # (x, y, z) -> (z, x, y), then turned about the stage's x.
        return np.array([[0, 0, 1, -self.middle], [c, -s, 0, 0], [s, c, 0, 0], [0, 0, 0, 1.0]])

    def with_camera(self, camera: Camera) -> Self:
        """The same stage from another camera."""
        return replace(self, camera=camera)


def wraps_of(wrap: Wrap) -> tuple[WrapBody, ...]:
    """The wrap, and the wraps over the feet of guides."""
    plan = wrap.plan
    body = WrapBody(
        wrap.surface,
        wrap.beneath,
        wrap.outside,
        wrap.palette,
        FINISH.ior,
        plan.row_width,
    )
    return (body, *wound_feet(plan, wrap.detail))


@dataclass(frozen=True, slots=True)
class Lighting:
    """The light on a stage, and the card that it falls on.

    Parameters
    ----------
    radiance, surroundings : (h, 2h, 3) float32
        As in `Stage`.
    card : Backdrop
    """

    radiance: NDArray[np.float32]
    surroundings: NDArray[np.float32]
    card: Backdrop


def lighting(
    plan: Plan,
    lit: LightSpec,
    camera: Camera,
    aspect: float,
    *,
    around: NDArray[np.float32] | None = None,
) -> Lighting:
    """The light on the stage of a plan.

    Parameters
    ----------
    plan : Plan
    lit : LightSpec
    camera : Camera
        The card ends just outside its picture.
    aspect : float
        Width over height of the pictures.
    around : (h, 2h, 3) float32, optional
        Surroundings to use in place of those worked out.
    """
    radiance = _exposed(lit.kind, lit.turn, lit.exposure)
    card = _card(lit.kind, lit.turn, lit.exposure, lit.backdrop, plan.middle_radius)
    if around is None:
        around = surroundings(radiance, card_in_picture(card, camera, aspect))
    return Lighting(radiance, around, card)


def stage_for(
    wrap: Wrap,
    aspect: float,
    *,
    camera: Camera | None = None,
    light: LightSpec | None = None,
    around: NDArray[np.float32] | None = None,
) -> Stage:
    """The stage of a wrap, as its design asks.

    Parameters
    ----------
    wrap : Wrap
    aspect : float
        Width over height of the pictures to come.
    camera, light : optional
        In place of the design's own.
    around : (h, 2h, 3) float32, optional
        Surroundings that will do for a glance, in place of those worked out for this card.
    """
    plan, design = wrap.plan, wrap.design
    if camera is None:
        camera = adjusted(camera_for(plan, design.camera.view, aspect), design.camera)
    lit = lighting(plan, light or design.light, camera, aspect, around=around)
    return Stage(
        design.title,
        wraps_of(wrap),
        fittings(plan),
        plan.middle,
        lit.radiance,
        lit.surroundings,
        lit.card,
        camera,
        design.camera.turn,
    )


def _exposed(kind: LightKind, turn: float, stops: float) -> NDArray[np.float32]:
    """A light's map, as the camera's exposure has it: a stop is a factor of 2."""
    light = radiance_map(kind, _LIGHT_ROWS, turn)
    return light * np.float32(2**stops) if stops else light


# A dozen times as long as the rest of the stage, and the same while only the wrap is changed.
@lru_cache(maxsize=8)
def _card(kind: LightKind, turn: float, exposure: float, colour: str, radius: float) -> Backdrop:
    """The card behind a rod of that radius, mm, in a light."""
    return backdrop(
        _exposed(kind, turn, exposure),
        tuple(srgb_to_linear(parse_hex(_CARDS.get(colour, colour))).tolist()),
        rod_radius=radius,
        drop=1.9 * radius + 5,
        behind=16 * radius,
        reach=1500.0,
    )
