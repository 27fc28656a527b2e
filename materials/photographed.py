"""A thread's colour, read off a photograph beside a white or grey card.

The card gives the light's colour, and the builder the kind of lamp (`materials.lamps`); its
spectrum follows from both. The thread is given the smoothest reflectance that looks as it does in
that light (`materials.reflectance`), and its colour is that of this reflectance by daylight; the
exposure is set so that the card has its own reflectance. Where the colour of the card differs from
that of the lamp, the difference is due to the camera's balance and is undone by Bradford's rule.
This holds where the card lies beside the thread, faces the same way, and is lit by the same light;
a camera's own curve and colours stay.

**Shine.** On nylon a highlight shows the lamp, not the dye: pixels far brighter than the middle one
are left out, and so are those far darker, the gaps between rows. A sheen stays over all of it: the
4 % that nylon's outside throws back of what it mirrors, but no more than the thread shows at its
darkest wavelength. A single photograph does not show how much of that meets the camera: from none
to all is taken off in even steps, the mean in CIELAB is the colour, and how far the steps lie from
it counts as uncertainty, which is largest for black thread. On metallic thread the highlight *is*
the colour, dyed film over a mirror, so it is kept, and only what is burnt out is left out. How
light it looks depends on what it mirrors, which a photograph does not show: lightness can be given,
else the mean of the marked part stands for it, and the uncertainty leaves it out.

**Uncertainty**, ΔE00, is of these parts, added as squares. The sheen, as above. Other spots: thread
and card are each parted into a grid, the colour is worked out anew from every part of the one with
every part of the other, and 19 of 20 of these lie within. Rounding to eight bits. The dye: things
of one colour in one light differ by daylight, the more, the farther the light is from it, and
always under LEDs; of the 99 measured reflectances of [CIE224], 19 of 20 come out within, under each
of A, D50, D75 and the blue-pumped LEDs (tests/materials/test_photographed.py). The lamp, where it
is unknown: the largest error of colour and dye if it was any of `_OTHERWISE`, for a camera may have
balanced all of a lamp's colour away. The camera, whose three channels are not those of an eye: with
the measured sensitivities of two cameras, each with the linear profile that suits it best in that
light, 19 of 20 of the same 99 reflectances come out within. Not included are colours that a camera
makes more pleasing than they are, a card of another reflectance than given, a fluorescent tube and
an LED of violet light.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.adaptation import adaptation
from materials.colour import (
    format_hex,
    lab_to_linear,
    linear_to_lab,
    linear_to_srgb,
    linear_to_xyz,
    luminance,
    xyz_to_lab,
    xyz_to_linear,
)
from materials.difference import delta_e_2000
from materials.lamps import Lamp, spectrum
from materials.metal import normal_reflectance
from materials.observer import D65, MATCHING
from materials.problems import MaterialProblem
from materials.reflectance import by_daylight
from materials.spot import Spot
from materials.thread import Thread, ThreadKind

__all__ = ["GREY_CARD", "Reading", "balanced", "corrected", "read_thread"]

Array = NDArray[np.float64]

GREY_CARD = 0.18
"""Reflectance of a photographer's grey card."""

_WHITE = linear_to_xyz(np.ones(3))

_LEAST_REFLECTANCE = 0.02

_DARKEST_CARD = 0.02
_UNEVEN = 1.25
"""Luminance of the brightest part of a card over the darkest from which the builder is warned."""

_CERTAIN = 95.0
"""Percentage of readings within the uncertainty."""

_SHEEN = float(normal_reflectance(1.53))
"""Share of the light that nylon's outside throws back (index from memory)."""

_ROOM = 1 / 3
"""How bright, over a white card, what a thread mirrors can be by a lamp. A lamp is small, and its
highlight is not marked, so that is the room: at most a white wall that gets a third of the light
held under the lamp ([EN12464] asks for a fifth to a third of it on walls; from memory). A
window or sky is large, and may be mirrored wherever one looks."""

_SHARES: Array = (np.arange(8) + 0.5) / 8
"""Of the most sheen that there may be, each as likely."""

_EIGHT_BITS = 0.5
"""Uncertainty, ΔE00, of a colour of eight bits a channel, in the photograph and on the shelf."""

_DYE = 0.18
"""Uncertainty of the dye for the light's distance from daylight, both ΔE00."""

_DYE_BY_LED = 2.4
"""What is added, as squares, under LEDs, whose spectra are far from smooth."""

_CAMERA = 5.0
"""Uncertainty of the camera by daylight, ΔE00: from the sensitivities that the National Physical
Laboratory measured of two cameras, as colour-science has them."""

_CAMERA_BY_DISTANCE = 0.18
"""What is added, as squares, for the light's distance from daylight, both ΔE00."""

_AMONG_DAYLIGHTS = 8.0
"""ΔE00 from D65, as whites, of a common phase of daylight, about D55."""

_OTHERWISE: tuple[tuple[Lamp, float | None], ...] = (
    (Lamp.LED, None),
    (Lamp.LED, 2700.0),
    (Lamp.INCANDESCENT, None),
)
"""What the lamp may have been, and its colour temperature; None as the card shows it."""

_NONE = 3e-4
"""Linear light of the lowest value of eight bits: at it a channel may have been cut off."""

_FAR = 10.0
"""Distance from daylight, ΔE00, from which the builder is warned."""

_POOR: dict[Lamp | None, str] = {Lamp.LED: "LED light", Lamp.INCANDESCENT: "A lamp's warm light"}


@dataclass(frozen=True, slots=True)
class Reading:
    """A thread's colour.

    Parameters
    ----------
    linear_rgb : (3,) float
        Under neutral light, exposed by the card; may lie outside what sRGB can show.
    uncertainty : float
        ΔE00, as described in the module; of metallic thread without its lightness.
    kind : ThreadKind
        What the thread is made of.
    thread, card : Spot
        As they were photographed.
    reflectance : float
        Reflectance of the card, 0 to 1.
    lamp : Lamp, optional
        Kind of lamp as given.
    kelvin : float, optional
        Colour temperature as given, K.
    notes : tuple of str
        What the builder should know, a sentence each.
    """

    linear_rgb: Array
    uncertainty: float
    kind: ThreadKind
    thread: Spot
    card: Spot
    reflectance: float
    lamp: Lamp | None
    kelvin: float | None
    notes: tuple[str, ...]

    @property
    def colour(self) -> str:
        """As the shelf keeps it, ``#rrggbb``."""
        return format_hex(linear_to_srgb(np.clip(self.linear_rgb, 0, 1)))

    @property
    def colour_before(self) -> str:
        """As it was photographed, ``#rrggbb``."""
        return format_hex(linear_to_srgb(np.clip(self.thread.mean, 0, 1)))

    def apart(self, thread: Thread) -> float:
        """Colour difference from a thread, ΔE00; of metallic thread at equal lightness.

        Parameters
        ----------
        thread : Thread
            Thread of the shelf.
        """
        metallic = self.kind is ThreadKind.METALLIC
        return float(_apart(self.linear_rgb, thread.linear_rgb, metallic))


def corrected(
    linear: ArrayLike,
    card: ArrayLike,
    reflectance: float,
    lamp: Lamp | None = None,
    kelvin: float | None = None,
) -> Array:
    """Colours as they would be by daylight, by what a card shows.

    Parameters
    ----------
    linear : array_like, shape (..., 3)
        Photographed linear RGB.
    card : array_like, shape (3,)
        What the card shows, linear RGB.
    reflectance : float
        Reflectance of the card: 0 black to 1 white.
    lamp : Lamp, optional
        Kind of lamp; daylight where it is unknown.
    kelvin : float, optional
        The lamp's colour temperature, where it is known, K.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Linear RGB; the card itself comes to `reflectance` in each channel.

    Raises
    ------
    MaterialProblem
        If the card shows no light, or the lamp is none.
    """
    seen, light = _seen(linear, card, reflectance, lamp, kelvin)
    return xyz_to_linear(by_daylight(seen, light)[0] * _WHITE)


def _seen(
    linear: ArrayLike, card: ArrayLike, reflectance: float, lamp: Lamp | None, kelvin: float | None
) -> tuple[Array, Array]:
    """XYZ over that of white, (..., 3), with the camera's balance undone; and the light, (n,)."""
    shown = linear_to_xyz(card) / reflectance
    light = spectrum(lamp, shown, kelvin)
    white = light @ MATCHING
    return linear_to_xyz(linear) @ adaptation(shown, white).T / white, light


def balanced(linear: ArrayLike, card: ArrayLike, reflectance: float) -> Array:
    """Approximate `corrected` by Bradford's rule alone, which needs no spectra.

    Parameters
    ----------
    linear : array_like, shape (..., 3)
        Photographed linear RGB.
    card : array_like, shape (3,)
        What the card shows, linear RGB.
    reflectance : float
        Reflectance of the card: 0 black to 1 white.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Linear RGB.
    """
    white, neutral = linear_to_xyz(card), linear_to_xyz(np.full(3, reflectance))
    return xyz_to_linear(linear_to_xyz(linear) @ adaptation(white, neutral).T)


def read_thread(
    thread: ArrayLike,
    card: ArrayLike,
    *,
    reflectance: float = GREY_CARD,
    kind: ThreadKind = ThreadKind.NCP_NYLON,
    light: float | None = None,
    lamp: Lamp | None = None,
    kelvin: float | None = None,
) -> Reading:
    """Read a thread's colour beside a card.

    Parameters
    ----------
    thread, card : array_like, shape (h, w, 3)
        Parts of one photograph, encoded sRGB, 0 to 1.
    reflectance : float
        Reflectance of the card: 0.18 for a grey card, about 0.9 for a white card.
    kind : ThreadKind
        What the thread is: on metallic thread shine is kept.
    light : float, optional
        Relative luminance that metallic thread is given, since a photograph does not show it.
    lamp : Lamp, optional
        Kind of lamp, where it is known.
    kelvin : float, optional
        The lamp's colour temperature, where it is known, K.

    Raises
    ------
    MaterialProblem
        If thread or card is too small, dark or burnt out, or no card has the reflectance, or no
        lamp the colour temperature.
    """
    if not _LEAST_REFLECTANCE <= reflectance <= 1:
        raise MaterialProblem(
            f"card-reflectance: {reflectance:g} is not between {_LEAST_REFLECTANCE:g} and 1; give "
            "0.18 for a grey card, 0.9 for a white one."
        )
    metallic = kind is ThreadKind.METALLIC
    on_card = Spot.of(card, "card")
    on_thread = Spot.of(thread, "thread", keep_shine=metallic)
    if luminance(on_card.mean) < _DARKEST_CARD or not (on_card.mean > 0).all():
        raise MaterialProblem(
            f"card is {format_hex(linear_to_srgb(on_card.mean))} in the photograph, which is too "
            "dark to tell the light by; photograph it brighter, or mark the card itself."
        )

    def looked_at(lamp: Lamp | None, kelvin: float | None) -> tuple[Array, Array]:
        """Linear RGB: the colour, then what it is with each share of the sheen off; the light."""
        seen, lit = _seen(on_thread.mean, on_card.mean, reflectance, lamp, kelvin)
        bare, darkest = by_daylight(seen, lit)
        mirrored = 1.0 if lamp in (None, Lamp.DAYLIGHT) else _ROOM
        shares = np.zeros(1) if metallic else _SHARES * min(_SHEEN * mirrored, float(darkest))
        labs = xyz_to_lab((bare - shares[:, None]) * _WHITE)
        found = lab_to_linear(np.concatenate((labs.mean(axis=0)[None], labs)))
        return (found if light is None or not metallic else _as_light(found, light)), lit

    readings, falling = looked_at(lamp, kelvin)
    rgb, distance = readings[0], _from_daylight(falling)
    parts = [
        _spots(on_thread, on_card, reflectance, metallic),
        float(np.percentile(_apart(readings, rgb, metallic), _CERTAIN)),
        _EIGHT_BITS,
        float(np.hypot(_CAMERA, _CAMERA_BY_DISTANCE * distance)),
    ]
    far = [_dye(distance, lamp)]
    for other, warmth in _OTHERWISE if lamp is None else ():
        found, lit = looked_at(other, warmth)
        dye = _dye(_from_daylight(lit), other)
        far.append(float(np.hypot(_apart(found[0], rgb, metallic), dye)))
    parts.append(max(far))
    uncertainty = float(np.linalg.norm(parts))
    unsure = metallic and light is None
    notes = tuple(_notes(on_thread, on_card, rgb, distance, lamp, unsure))
    return Reading(rgb, uncertainty, kind, on_thread, on_card, reflectance, lamp, kelvin, notes)


def _spots(thread: Spot, card: Spot, reflectance: float, metallic: bool) -> float:
    """ΔE00 within which the colour lies by other parts of thread and card."""
    middle = balanced(thread.mean, card.mean, reflectance)
    others = [balanced(thread.parts, part, reflectance) for part in card.parts]
    return float(np.percentile(_apart(np.concatenate(others), middle, metallic), _CERTAIN))


def _apart(rgb: Array, other: Array, metallic: bool) -> Array:
    """ΔE00; of metallic thread with the lightness made the same."""
    same = _as_light(rgb, float(luminance(other))) if metallic else rgb
    return delta_e_2000(linear_to_lab(same), linear_to_lab(other))


def _as_light(rgb: Array, light: float) -> Array:
    """The same hue and strength at another luminance."""
    return rgb * (light / np.maximum(luminance(rgb), 1e-9))[..., None]


def _dye(distance: float, lamp: Lamp | None) -> float:
    """ΔE00 within which things of one colour in a light are of one colour by daylight."""
    if lamp is Lamp.LED:
        return float(np.hypot(_DYE * distance, _DYE_BY_LED))
    # A camera balances daylight too, so that of a card without colour may have had some.
    return _DYE * max(distance, _AMONG_DAYLIGHTS)


def _from_daylight(light: Array) -> float:
    """ΔE00 of a light, as a white, from D65."""
    white = light @ MATCHING / (D65 @ MATCHING) * _WHITE
    return float(delta_e_2000(xyz_to_lab(white), linear_to_lab(np.ones(3))))


def _notes(
    thread: Spot, card: Spot, rgb: Array, distance: float, lamp: Lamp | None, unsure: bool
) -> list[str]:
    notes = []
    if lamp is None:
        notes.append(
            "The kind of lamp is not given, which makes the colour much less certain: a camera "
            "balances a lamp's colour away, so the card does not tell; give daylight, LED or "
            "incandescent as the lamp."
        )
    if distance > _FAR or lamp is Lamp.LED:
        notes.append(
            f"{_POOR.get(lamp, 'Light so far from daylight')} is poor for judging colour: threads "
            "that match in it may differ by daylight; photograph the spool by a window."
        )
    if thread.mean.min() < _NONE:
        notes.append(
            "The thread's colour in this light is stronger than the photograph can hold, and comes "
            "out weaker."
        )
    light = luminance(card.parts)
    if light.max() > _UNEVEN * light.min():
        notes.append(
            f"The card is lit unevenly: one part is {100 * (light.max() / light.min() - 1):.0f} % "
            "brighter than another."
        )
    if thread.burnt > 0:
        notes.append(
            f"{max(100 * thread.burnt, 1):.0f} % of the thread is burnt out and left out, so it "
            "may be lighter than this."
        )
    if unsure:
        notes.append(
            "How light metallic thread is, a photograph does not tell: it is as light here as "
            "where it is marked, and the uncertainty is of hue and strength alone."
        )
    if rgb.max() > 1 or rgb.min() < 0:
        shown = linear_to_lab(np.clip(rgb, 0, 1))
        off = float(delta_e_2000(linear_to_lab(rgb), shown))
        if off >= 0.5:
            notes.append(f"The colour lies ΔE00 {off:.1f} beyond what a screen can show.")
    return notes
