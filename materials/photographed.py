"""A thread's colour, read off a photograph beside a white or grey card.

The card tells the light: what it shows is taken to the white of sRGB (`materials.adaptation`), and
the exposure is set so that it has its own reflectance. The thread is taken along. That holds where
the card lies beside the thread, faces as it faces, and is lit by the same light; a camera's own
curve and colours stay in.

**Shine.** On nylon a highlight shows the lamp, not the dye: pixels far brighter than the middle
one are left out, and so are those far darker, the gaps between rows. A sheen stays over all of it,
the 4 % that nylon's outside throws back. How much of that meets the camera no single photograph
tells: half is taken off, and none or all of it counts as uncertainty, which is large for black
thread alone. On metallic thread the highlight *is* the colour, dyed film over a mirror, so it is
kept, and only what is burnt out is left out. How light it looks depends on what it mirrors, which
no photograph tells: lightness can be given, else the mean of what is marked stands for it, and the
uncertainty leaves it out.

**Uncertainty**, ΔE00, is of two parts, added as squares. Other spots: thread and card are each
parted into a grid, the colour is worked out anew from every part of the one with every part of the
other, without sheen and with all of it, and 19 of 20 of these lie within. The light: 19 of 20
patches of a colour chart come out within a quarter of the light's own distance from daylight, or
close to it, under incandescent and warm LED lamps, and within a tenth by daylight
(tests/materials/test_photographed.py). A camera that bends colours is not in it, nor a card that
is not what it is said to be, nor the colour that a cold LED lamp or a tube hides from the card.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.adaptation import adaptation
from materials.colour import (
    format_hex,
    linear_to_lab,
    linear_to_srgb,
    linear_to_xyz,
    luminance,
    srgb_to_linear,
    xyz_to_linear,
)
from materials.difference import delta_e_2000
from materials.metal import normal_reflectance
from materials.problems import MaterialProblem
from materials.thread import Thread, ThreadKind

__all__ = ["GREY_CARD", "Reading", "Spot", "corrected", "read_thread"]

Array = NDArray[np.float64]

GREY_CARD = 0.18
"""Reflectance of a photographer's grey card."""

_LEAST_REFLECTANCE = 0.02

_BURNT = 253 / 255
"""Encoded sRGB from which a channel may have been cut off."""

_MOST_BURNT = 0.2
"""Share of burnt-out pixels with which the rest would tell no colour."""

_SHINE = 2.5
"""Standard deviations from the middle beyond which luminance is shine or gap."""

_EVEN = 0.02
"""Share of its luminance by which a pixel may always differ: a flat card has no deviation."""

_SIGMA_OF_MAD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""

_LEAST_SIDE = 8
_PARTS = 4
_LEAST_KEPT = 0.1
"""Pixels of a side at least; parts along each side; share of a part's pixels that must count."""

_DARKEST_CARD = 0.02
_UNEVEN = 1.25
"""Luminance of the brightest part of a card over the darkest from which it is said."""

_CERTAIN = 95.0
"""Percentage of readings within the uncertainty."""

_SHEEN = float(normal_reflectance(1.53))
"""Share of the light that nylon's outside throws back (index from memory)."""

_LIGHT = 0.25
"""Uncertainty for the light's distance from daylight, both ΔE00."""

_FAR = 10.0
"""Distance from daylight from which the builder is told."""


@dataclass(frozen=True, slots=True)
class Spot:
    """What of one thing in a photograph counts.

    Parameters
    ----------
    mean : (3,) float
        Linear RGB of all that counts.
    parts : (n, 3) float
        Linear RGB of the parts of a grid.
    burnt, shine : float
        Shares of its pixels left out because they were cut off, or are shine or gap.
    """

    mean: Array
    parts: Array
    burnt: float
    shine: float

    @classmethod
    def of(cls, srgb: ArrayLike, what: str, *, keep_shine: bool = False) -> "Spot":
        """Take the mean of what counts.

        Parameters
        ----------
        srgb : array_like, shape (h, w, 3)
            Encoded sRGB, 0 to 1.
        what : str
            What a refusal calls it.
        keep_shine : bool
            Leave out only what is burnt out.

        Raises
        ------
        MaterialProblem
            If it is too small, or too much of it is burnt out.
        """
        encoded = np.asarray(srgb, dtype=np.float64)
        if encoded.ndim != 3 or min(encoded.shape[:2]) < _LEAST_SIDE:
            high, wide = encoded.shape[:2]
            raise MaterialProblem(
                f"{what} is {wide}x{high} pixels, but should be {_LEAST_SIDE}x{_LEAST_SIDE} or "
                "more."
            )
        linear, light = srgb_to_linear(encoded), luminance(srgb_to_linear(encoded))
        whole: NDArray[np.bool_] = np.asarray((encoded < _BURNT).all(axis=-1))
        burnt = float(1 - whole.mean())
        if burnt > _MOST_BURNT:
            raise MaterialProblem(
                f"{what} is burnt out in {100 * burnt:.0f} % of its pixels, but should be in "
                f"{100 * _MOST_BURNT:.0f} % at most; photograph it darker or in softer light."
            )
        kept = whole
        if not keep_shine:
            middle = float(np.median(light[whole]))
            deviation = _SIGMA_OF_MAD * float(np.median(np.abs(light[whole] - middle)))
            near = np.abs(light - middle) <= max(_SHINE * deviation, _EVEN * middle)
            kept = np.asarray(whole & near)
        return cls(
            linear[kept].mean(axis=0),
            _parts(linear, kept),
            burnt,
            float(whole.mean() - kept.mean()),
        )


def _parts(linear: Array, kept: NDArray[np.bool_]) -> Array:
    """Means of the parts of a grid, of those that have enough pixels that count."""
    found = []
    for rows, row_kept in zip(_split(linear, 0), _split(kept, 0), strict=True):
        for part, counts in zip(_split(rows, 1), _split(row_kept, 1), strict=True):
            if counts.mean() >= _LEAST_KEPT:
                found.append(part[counts].mean(axis=0))
    return np.array(found)


def _split(array: NDArray[np.generic], axis: int) -> list[NDArray[np.generic]]:
    return np.array_split(array, _PARTS, axis=axis)


@dataclass(frozen=True, slots=True)
class Reading:
    """A thread's colour.

    Parameters
    ----------
    linear_rgb : (3,) float
        Under neutral light, exposed by the card; may lie outside what sRGB can show.
    uncertainty : float
        ΔE00, as the module says; of metallic thread without its lightness.
    kind : ThreadKind
    thread, card : Spot
        As they were photographed.
    reflectance : float
        Of the card.
    notes : tuple of str
        What the builder should know, a sentence each.
    """

    linear_rgb: Array
    uncertainty: float
    kind: ThreadKind
    thread: Spot
    card: Spot
    reflectance: float
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
        """ΔE00 from a thread; of metallic thread with its lightness made the same."""
        rgb, other = self.linear_rgb, thread.linear_rgb
        if self.kind is ThreadKind.METALLIC:
            rgb = _as_light(rgb, float(luminance(other)))
        return float(delta_e_2000(linear_to_lab(rgb), linear_to_lab(other)))


def corrected(linear: ArrayLike, card: ArrayLike, reflectance: float) -> Array:
    """Colours as they would be in neutral light, by what a card shows.

    Scaling Display P3's RGB instead of Bradford's responses brought more threads back within ΔE00 4
    in the project's own lights, which are three numbers each (all of them under low sun), but bent
    the strong colours of real spectra more: at worst 8 instead of 5 under CIE A.

    Parameters
    ----------
    linear : array_like, shape (..., 3)
        Photographed linear RGB.
    card : array_like, shape (3,)
        What the card shows.
    reflectance : float
        What it should: 0 black to 1 white.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Linear RGB; the card itself comes to `reflectance` in each channel.

    Raises
    ------
    MaterialProblem
        If the card shows no light.
    """
    white = linear_to_xyz(card)
    neutral = linear_to_xyz(np.full(3, reflectance))
    return xyz_to_linear(linear_to_xyz(linear) @ adaptation(white, neutral).T)


def read_thread(
    thread: ArrayLike,
    card: ArrayLike,
    *,
    reflectance: float = GREY_CARD,
    kind: ThreadKind = ThreadKind.NCP_NYLON,
    light: float | None = None,
) -> Reading:
    """Read a thread's colour beside a card.

    Parameters
    ----------
    thread, card : array_like, shape (h, w, 3)
        Parts of one photograph, encoded sRGB, 0 to 1.
    reflectance : float
        Of the card: 0.18 for a grey card, about 0.9 for a white one.
    kind : ThreadKind
        What the thread is: on metallic thread shine is kept.
    light : float, optional
        Relative luminance that metallic thread is given, since no photograph tells it.

    Raises
    ------
    MaterialProblem
        If one of them tells nothing, or the reflectance is none.
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
    sheen = np.zeros(1) if metallic else _SHEEN * np.array([0.5, 0.0, 1.0])
    rgb = _without(corrected(on_thread.mean, on_card.mean, reflectance), sheen[0])
    others = [
        _without(corrected(on_thread.parts, part, reflectance), share)
        for part in on_card.parts
        for share in sheen
    ]
    readings = np.concatenate(others)
    if metallic:
        rgb = rgb if light is None else _as_light(rgb, light)
        readings = _as_light(readings, float(luminance(rgb)))
    apart = delta_e_2000(linear_to_lab(readings), linear_to_lab(rgb))
    distance = _from_daylight(on_card.mean)
    uncertainty = float(np.hypot(np.percentile(apart, _CERTAIN), _LIGHT * distance))
    unsure = metallic and light is None
    notes = tuple(_notes(on_thread, on_card, rgb, distance, unsure))
    return Reading(rgb, uncertainty, kind, on_thread, on_card, reflectance, notes)


def _as_light(rgb: Array, light: float) -> Array:
    """The same hue and strength at another luminance."""
    return rgb * (light / np.maximum(luminance(rgb), 1e-9))[..., None]


def _without(rgb: Array, sheen: float) -> Array:
    """Take a sheen off, which has the colour of the light; no colour has less than none left."""
    return np.where(rgb > 0, np.maximum(rgb - sheen, 0), rgb)


def _from_daylight(light: Array) -> float:
    """ΔE00 of a light, as a white, from D65."""
    white = linear_to_lab(light / luminance(light))
    return float(delta_e_2000(white, linear_to_lab(np.ones(3))))


def _notes(thread: Spot, card: Spot, rgb: Array, distance: float, unsure: bool) -> list[str]:
    notes = []
    if distance > _FAR:
        notes.append(
            "The light was far from daylight, which makes the colour less certain; by a window it "
            "comes out better."
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
