"""The stage: everything that a renderer needs, without reference to any renderer.

Bodies are in the geometry's frame and turn with the rod. `Stage.transform` maps them to the stage
frame (x along the rod from butt to tip, y up, z to the viewer), with the middle of the wrap at the
origin. The light, the backdrop and the camera do not turn.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Self

import numpy as np
from numpy.typing import NDArray

from materials.colour import parse_hex, srgb_to_linear
from scenes.building.build import Plan, Wrap
from scenes.light.lights import LightKind, radiance_map
from scenes.parts.view import Ground, LightSpec
from scenes.stage.backdrop import (
    USUAL_REACH,
    Backdrop,
    backdrop,
    card_in_picture,
    surroundings,
)
from scenes.stage.bodies import PlainBody, WrapBody
from scenes.stage.camera import Camera, adjusted, fitted_span, framing_of, rolled
from scenes.stage.exposure import stops_of
from scenes.stage.feet import wound_feet
from scenes.stage.fittings import fittings
from scenes.stage.ground import ground_pattern
from scenes.stage.lacquered_blank import lacquered_bodies
from scenes.stage.other_wraps import body_of, other_bodies
from scenes.stage.outline import Outline, rod_outline

__all__ = ["Lighting", "Stage", "camera_of", "lighting", "stage_for", "wraps_of"]

_LIGHT_ROWS = 256

_REACH_OF_ROD = 2.2
"""The same for a long rod, in distances from the middle of the wrap to the farther end: a square
picture of the whole shows 1.9 of them in front."""

_CARDS = {"dark": "#191b1e", "light": "#b9b9b6"}
"""Colours of the named backdrops."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A scene to be rendered.

    Parameters
    ----------
    title : str
    wraps : tuple of WrapBody
    bodies : tuple of PlainBody
        Blank, grips and guide parts.
    middle : float
        Distance of the stage's origin from the butt, mm.
    light : (h, 2h, 3) float32
        Radiance map.
    surroundings : (h, 2h, 3) float32
        The radiance map with the card, as the rod sees it.
    backdrop : Backdrop
    camera : Camera
    turn : float
        Rotation of the rod about its axis, rad.
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
        """Matrix from the geometry's frame to the stage's.

        At turn 0 the guide line is up; turning moves it towards the viewer.

        Parameters
        ----------
        turn : float or None
            Rotation of the rod, rad; that of the stage if None.

        Returns
        -------
        (4, 4) float
        """
        angle = self.turn if turn is None else turn
        c, s = np.cos(angle), np.sin(angle)
        # (x, y, z) -> (z, x, y), then turned about the stage's x.
        return np.array([[0, 0, 1, -self.middle], [c, -s, 0, 0], [s, c, 0, 0], [0, 0, 0, 1.0]])

    def with_camera(self, camera: Camera) -> Self:
        """The same stage with another camera.

        Parameters
        ----------
        camera : Camera
        """
        return replace(self, camera=camera)

    def with_light(self, lit: "Lighting") -> Self:
        """The same stage in another light, or with another card.

        Parameters
        ----------
        lit : Lighting
        """
        return replace(self, light=lit.radiance, surroundings=lit.surroundings, backdrop=lit.card)


def wraps_of(wrap: Wrap) -> tuple[WrapBody, ...]:
    """List the bodies of the wrap, of the other wraps on its rod, and of those over guides' feet.

    Bare lengths of a lacquered blank follow.

    Parameters
    ----------
    wrap : Wrap
    """
    plan = wrap.plan
    return (
        body_of(wrap),
        *other_bodies(plan, wrap.detail),
        *wound_feet(plan, wrap.detail),
        *lacquered_bodies(plan),
    )


@dataclass(frozen=True, slots=True)
class Lighting:
    """The light on a stage, and the card that it falls on.

    Parameters
    ----------
    radiance, surroundings : (h, 2h, 3) float32
        As in `Stage`.
    card : Backdrop
    in_picture : Backdrop
        The part of the card that the rod sees in place of the light behind it.
    """

    radiance: NDArray[np.float32]
    surroundings: NDArray[np.float32]
    card: Backdrop
    in_picture: Backdrop


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
    stops = stops_of(plan, lit)
    radiance = _exposed(lit.kind, lit.turn, stops)
    card = _card(
        lit.kind,
        lit.turn,
        stops,
        lit.backdrop,
        lit.ground,
        plan.middle_radius,
        rod_outline(plan),
        _reach(plan),
    )
    in_picture = card_in_picture(card, camera, aspect)
    if around is None:
        around = surroundings(radiance, in_picture)
    return Lighting(radiance, around, card, in_picture)


def camera_of(plan: Plan, aspect: float) -> Camera:
    """The camera of a design.

    Parameters
    ----------
    plan : Plan
    aspect : float
        Width over height of the pictures.
    """
    asked = plan.design.camera
    framing = framing_of(plan, asked.view)
    lean = framing.lean(aspect, asked.lean)
    return rolled(adjusted(framing.camera(aspect, lean), asked), lean)


def stage_for(
    wrap: Wrap,
    aspect: float,
    *,
    camera: Camera | None = None,
    light: LightSpec | None = None,
    around: NDArray[np.float32] | None = None,
) -> Stage:
    """Make the stage of a wrap as its design describes it.

    Parameters
    ----------
    wrap : Wrap
    aspect : float
        Width over height of the pictures.
    camera : Camera, optional
        Replaces that of the design.
    light : LightSpec, optional
        Replaces that of the design.
    around : (h, 2h, 3) float32, optional
        Approximate surroundings, instead of those computed for this card.
    """
    plan, design = wrap.plan, wrap.design
    if camera is None:
        camera = camera_of(plan, aspect)
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
    """The radiance map of a light after the camera's exposure; a stop is a factor of 2."""
    light = radiance_map(kind, _LIGHT_ROWS, turn)
    return light * np.float32(2**stops) if stops else light


def _reach(plan: Plan) -> float:
    """Half the width of the card, mm: under all of a rod, seen as far off as that needs."""
    farthest = max(abs(end - plan.middle) for end in fitted_span(plan))
    return max(USUAL_REACH, _REACH_OF_ROD * farthest)


# Cached: takes a dozen times as long as the rest of the stage, and depends on no layer.
@lru_cache(maxsize=8)
def _card(
    kind: LightKind,
    turn: float,
    exposure: float,
    colour: str,
    ground: Ground,
    radius: float,
    rod: Outline,
    reach: float,
) -> Backdrop:
    """The card behind a rod in a light; `radius` is the blank's at the middle of the wrap, mm."""
    pattern = ground_pattern(ground)
    if pattern is None:
        albedo = tuple(srgb_to_linear(parse_hex(_CARDS.get(colour, colour))).tolist())
    else:
        albedo = pattern.albedo
    return backdrop(
        _exposed(kind, turn, exposure),
        albedo,
        rod=rod,
        drop=1.9 * radius + 5,
        behind=16 * radius,
        reach=reach,
        ground=pattern,
    )
