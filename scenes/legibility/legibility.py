"""Legibility of the lines of a trim: measured in a picture, judged by the limits of the eye.

From the colours of a band and of what it touches (`scenes.legibility.bands`) follow two figures for
print and one verdict:

* contrast: how much more light the band sends than its neighbour, (Y - Y') / (Y + Y'), as the
  median over all places where both are visible, so that a neighbour that glitters brighter and
  darker than the band in turn adds no contrast;
* ΔE00 of the median difference from place to place.

**The rule.** Would the eye notice if the neighbour ran on in place of the band? The band is a bar,
as wide as it is at the distance asked for, and the eye needs the modulation that
`materials.eye.bar_sensitivity` gives ([Barten2003], [Campbell1969]): for a bar
of one arc minute, the finest that 20/20 vision resolves, about half a per cent. An uneven surface
hides more: how much the contrast differs from place to place is taken as its own pattern
([Legge1980]). Colour alone helps too, as far as the eye's coarser colour channels
resolve it: ΔE00 at equal lightness after their blur ([Zhang1997]), against 1. ΔE00 after the
whole blur of the eye, against 1, is the upper limit.

`reserve` is the available over the needed contrast, by light or by colour, within that limit. Below
1 the band disappears. Below 3, the reserve that people need for reading single signs
([Whittaker1993], from memory), the band is hard to make out.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from materials.colour import linear_to_lab, luminance
from materials.difference import delta_e_2000
from materials.eye import ARC_MINUTE, bar_kept, bar_sensitivity, masked, visual_angle
from scenes.building.build import Plan, Wrap
from scenes.legibility.bands import BandContact, band_contacts
from scenes.parts.view import View
from scenes.stage.camera import ARMS_LENGTH, Camera, camera_for
from scenes.stage.stage import Stage

__all__ = [
    "ENOUGH_PIXELS",
    "HARD_BELOW",
    "LOST_BELOW",
    "VEIL",
    "BandReport",
    "legibility",
    "reading_view",
]

Array = NDArray[np.float64]

LOST_BELOW, HARD_BELOW = 1.0, 3.0
"""Reserves below which a band disappears, and is hard to make out."""

VEIL = 0.05
"""Stray light in the eye over the mean light of the wrap. The general disability glare equation
([CIE146], age 40) gives 6 % for a bright disc from half a degree to 5 degrees away from where
one looks; a rod at arm's length fills most of what counts of it."""

ENOUGH_PIXELS = 2.0
"""A band narrower than this in the picture is mixed with its neighbours and is not judged."""

_DARKEST = 1e-4
"""Least veil, so that the contrast of black against black is 0."""

_FEWEST_PLACES = 30
"""Fewest visible places for a verdict."""

_WHITE = 500 / np.pi
"""cd/m² of white: a white card under 500 lx, as a workbench should have ([EN12464], from
memory)."""

_ROOM = 1.25
"""Radius that a reading view shows, in radii of the blank: room for relief and finish."""

_TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation, for a normal distribution."""


@dataclass(frozen=True, slots=True)
class BandReport:
    """Legibility of one band of a trim against one neighbour.

    Parameters
    ----------
    trim : str
        The trim's path in the design, such as ``trim``.
    band : str
        Name of the band, such as ``the 2-thread Sloe Black A line``.
    against : str
        Name of the neighbour.
    arc_minutes : float
        Angular width of the narrower of two bands at the viewing distance.
    contrast : float
        -1 to 1; above 0 where the band is the lighter.
    delta_e : float
        ΔE00.
    needed : float
        Least contrast that the eye sees.
    reserve : float
        Available over needed contrast.
    judged : bool
        Whether the picture shows enough of the band for a verdict.
    sentence : str or None
        Warning for the builder if the band is lost or nearly so.
    """

    trim: str
    band: str
    against: str
    arc_minutes: float
    contrast: float
    delta_e: float
    needed: float
    reserve: float
    judged: bool
    sentence: str | None


def legibility(
    wrap: Wrap,
    stage: Stage,
    picture: NDArray[np.uint8],
    turn: float | None = None,
    *,
    distance: float = ARMS_LENGTH,
) -> list[BandReport]:
    """Measure every band of every trim against its neighbours.

    Parameters
    ----------
    wrap : Wrap
    stage : Stage
        Stage whose camera took the picture.
    picture : (h, w, 3) uint8
        sRGB; the whole wrap or a part of it, near enough that a band is two pixels wide, such as
        one taken by `reading_view`.
    turn : float, optional
        Turn of the rod, rad; the turn of the stage if not given.
    distance : float
        Viewing distance, mm.

    Returns
    -------
    list of BandReport
        For each trim from the relief outwards: the innermost band against the cover, each band
        against the next, the outermost against the cover or the blank. Both edges count together.
    """
    found = band_contacts(wrap, stage, picture, turn)
    light = [
        luminance(side)
        for contact in found
        for side in (contact.band_light, contact.neighbour_light)
    ]
    seen = np.concatenate(light) if light else np.empty(0)
    veil = max(_DARKEST, VEIL * float(seen.mean())) if seen.size else _DARKEST
    return [_report(contact, veil, distance) for contact in found]


def reading_view(plan: Plan, width: int = 2560) -> tuple[Camera, tuple[int, int]]:
    """A view that shows every thread, with the light as it falls for an eye at arm's length.

    Parameters
    ----------
    plan : Plan
    width : int
        Width of the picture, pixels.

    Returns
    -------
    camera : Camera
        Camera of the arm's length view, with a lens so long that the wrap fills the picture.
    size : (int, int)
        Size of the picture, pixels.
    """
    camera = camera_for(plan, View.ARMS_LENGTH, 1.0)
    ends = np.array(plan.wound_span)[:, None] - plan.middle
    around = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    radius = _ROOM * plan.blank.radius(np.array(plan.wound_span))[:, None]
    x = np.broadcast_to(ends, (2, around.size))
    rims = np.stack((x, radius * np.cos(around), radius * np.sin(around)), axis=-1)
    place, _ = camera.project(rims, (2, 2))
    wide, high = 1.02 * np.abs(place - 1).reshape(-1, 2).max(axis=0)
    lens = 2 * np.arctan(high * np.tan(camera.view_angle / 2))
    return replace(camera, view_angle=float(lens)), (width, round(width * high / wide))


def _report(contact: BandContact, veil: float, distance: float) -> BandReport:
    angle = float(visual_angle(contact.width, distance))
    contrast = delta_e = needed = reserve = float("nan")
    if len(contact.band_light):
        light, other = (
            luminance(contact.band_light) + veil,
            luminance(contact.neighbour_light) + veil,
        )
        contrasts = (light - other) / (light + other)
        contrast = float(np.median(contrasts))
        restless = _TO_SIGMA * float(np.median(np.abs(contrasts - contrast)))
        mean = float(np.median(light + other)) / 2 * _WHITE
        even = 1 / bar_sensitivity(np.rad2deg(angle), mean)
        needed = float(masked(even, restless))
        labs = linear_to_lab(contact.band_light), linear_to_lab(contact.neighbour_light)
        middle = np.median(labs[0] + labs[1], axis=0) / 2
        apart = np.median(labs[0] - labs[1], axis=0)
        kept = bar_kept(np.rad2deg(angle))
        delta_e = _delta_e(middle, apart)
        by_colour = _delta_e(middle, apart * kept * (0, 1, 1))
        reserve = min(max(abs(contrast) / needed, by_colour), _delta_e(middle, apart * kept))
    judged = len(contact.band_light) >= _FEWEST_PLACES and contact.pixels >= ENOUGH_PIXELS
    return BandReport(
        contact.trim,
        contact.band.words,
        contact.against,
        angle / ARC_MINUTE,
        contrast,
        delta_e,
        needed,
        reserve,
        judged,
        _sentence(contact, reserve, distance) if judged else None,
    )


def _delta_e(middle: Array, apart: Array) -> float:
    return float(delta_e_2000(middle + apart / 2, middle - apart / 2))


def _sentence(contact: BandContact, reserve: float, distance: float) -> str | None:
    if reserve >= HARD_BELOW:
        return None
    from_where = "at arm's length" if distance == ARMS_LENGTH else f"from {distance / 1000:.2g} m"
    band, against = contact.band.words, contact.against
    match contact.same_trim, reserve < LOST_BELOW:
        case True, True:
            verdict = f"{band} and {against} run into one"
        case True, False:
            verdict = f"{band} and {against} are hard to tell apart"
        case False, True:
            verdict = f"{band} disappears against {against}"
        case _:
            verdict = f"{band} is hard to make out against {against}"
    return f"{verdict[0].upper()}{verdict[1:]} {from_where}."
