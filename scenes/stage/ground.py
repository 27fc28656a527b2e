"""Patterns of the ground under the rod: wood, slate and linen, computed.

A pattern is one tile that is repeated over the card without a seam. Each texel holds the share of a
lighter colour, the rest is a darker one. Colours are mixed as linear light, so the mean over many
texels, as a distant camera sees them, is the mean colour. All hosts draw the same bytes.

Sizes and colours are from memory: yarns of 0.6 mm in plain weave for linen, staves of 36 mm with
growth rings of 3 mm for a bench top, mottling from a few millimetres to some centimetres for slate.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from materials.colour import parse_hex, srgb_to_linear
from scenes.parts.view import Ground
from scenes.stage.noise import hashed, tiled_noise

__all__ = ["LINEN_YARN_MM", "GroundPattern", "ground_pattern"]

Array = NDArray[np.float64]
Colour = tuple[float, float, float]

_SIDE = 512
"""Texels along either side of a tile."""

_BYTE = 255

LINEN_YARN_MM = 0.6
"""Distance between neighbouring yarns of linen, mm."""

_LINEN_YARNS = 64
"""Yarns in a tile, either way: an even number, because they cross over and under by turns."""

_STAVES = 4
_STAVE_MM = 36.0
"""Number of staves in a tile of the bench top, and their width, mm."""

_RING_MM = 3.0
"""Distance between growth rings, mm."""

_WOOD_LENGTH_MM = 384.0
_SLATE_MM = 320.0
"""Length of a tile of wood along the rod, and of a tile of slate either way, mm."""


@dataclass(frozen=True, slots=True)
class GroundPattern:
    """A tile of two colours.

    Parameters
    ----------
    shares : (h, w) uint8
        Share of the lighter colour, 0 to 1 as 0 to 255. Columns run along the rod from butt to
        tip, rows along the card from the viewer to the back. Read-only.
    size : (float, float)
        Width and height of the tile, mm.
    albedo : 3 float
        Mean diffuse reflectance, linear RGB.
    dark, light : 3 float
        Diffuse reflectance at share 0 and 1, linear RGB.
    """

    shares: NDArray[np.uint8]
    size: tuple[float, float]
    albedo: Colour
    dark: Colour
    light: Colour

    @property
    def reflectance(self) -> NDArray[np.float32]:
        """Diffuse reflectance of each texel, (h, w, 3), linear RGB."""
        share = self.shares[..., None].astype(np.float32) / np.float32(_BYTE)
        dark, light = np.array(self.dark, np.float32), np.array(self.light, np.float32)
        return np.asarray(dark + share * (light - dark), np.float32)

    @property
    def relative(self) -> tuple[Colour, Colour]:
        """The dark and the light colour, each divided by the mean."""
        dark, light = (
            np.divide(colour, self.albedo).tolist() for colour in (self.dark, self.light)
        )
        return tuple(dark), tuple(light)


@lru_cache(maxsize=len(Ground))
def ground_pattern(ground: Ground) -> GroundPattern | None:
    """The pattern of a ground; None for card, which has one colour.

    Parameters
    ----------
    ground : Ground
    """
    if ground not in _GROUNDS:
        return None
    look = _GROUNDS[ground]
    shares = np.rint(_BYTE * np.clip(look.shares(), 0, 1)).astype(np.uint8)
    shares.setflags(write=False)
    albedo, dark = (srgb_to_linear(parse_hex(text)) for text in (look.albedo, look.dark))
    # The light colour follows from the mean colour and the mean share.
    light = dark + (albedo - dark) / (shares.mean() / _BYTE)
    a, d, b = (tuple(colour.tolist()) for colour in (albedo, dark, light))
    return GroundPattern(shares, look.size, a, d, b)


def _wood() -> Array:
    """A bench top of glued staves, their grain along the rod."""
    # mm from the middle of a stave, and which stave it is.
    row = (np.arange(_SIDE) + 0.5) / _SIDE * _STAVES
    stave = row.astype(np.intp)
    across = ((row - stave) - 0.5) * _STAVE_MM
    own = hashed(np.arange(3 * _STAVES), 71).reshape(_STAVES, 3)
    centre = (90 * own[:, 0] - 45)[stave]
    tone = (0.3 * own[:, 1] - 0.15)[stave]
    # A board cuts the rings, cylinders about the pith, at a depth that changes along it.
    depth = np.stack([_noise((2, 3), 80 + k)[_SIDE // 2] for k in range(_STAVES)])[stave]
    away = np.hypot((across - centre)[:, None], 24 + 8 * depth)
    ring = away / _RING_MM + 0.35 * _noise((24, 6), 72) + 0.06 * _noise((128, 24), 75)
    phase = ring - np.floor(ring)
    # Late wood darkens slowly through the year, and ends abruptly in winter; years differ.
    year = hashed(np.floor(ring).astype(np.intp) + 64 * stave[:, None], 76)
    late = (0.4 + 0.6 * year) * phase**2 * (1 - _smooth((phase - 0.8) / 0.2))
    fibres = _noise((256, 24), 73)
    pores = _smooth((_noise((256, 64), 74) - 0.4) / 0.4)
    seam = _smooth(1 - (_STAVE_MM / 2 - np.abs(across)) / 0.35)[:, None]
    clouds = _noise((12, 5), 77)
    worn = 0.68 + tone[:, None] + 0.06 * clouds + 0.09 * fibres
    return np.asarray(worn - 0.34 * late - 0.14 * pores - 0.25 * seam)


def _slate() -> Array:
    """A riven slab: mottled, with low steps where it has split.

    Steps that face the viewer, from whose side all lights come, are bright, the others dark.
    """
    mottled = sum(
        (0.6**octave * _noise((6 * 2**octave, 5 * 2**octave), 91 + octave) for octave in range(6)),
        np.zeros((_SIDE, _SIDE)),
    )
    # A split runs along layers that are nearly level: plateaus with narrow steps between them.
    height = 4 * _noise((4, 3), 98) + 1.2 * _noise((14, 11), 99) + 0.3 * _noise((64, 48), 96)
    plateaus = np.floor(height) + _smooth((height - np.floor(height)) / 0.12)
    rising = plateaus - np.roll(plateaus, 1, axis=0)
    grain = _noise((256, 256), 97)
    return np.asarray(0.48 + 0.19 * mottled + 0.10 * grain + 0.5 * np.clip(rising, -0.6, 0.2))


def _linen() -> Array:
    """Plain weave: every yarn goes over and under those across it by turns."""
    lengthwise, tone = _yarns(51)
    crosswise, cross_tone = (array.T for array in _yarns(61))
    # At a crossing where one is high, the other is low.
    wave, cross_wave = _wave(), -_wave().T
    high, low = lengthwise + wave, crosswise + cross_wave
    top = np.maximum(high, low)
    return np.asarray(0.10 + 0.42 * top + np.where(high > low, tone, cross_tone))


def _wave() -> Array:
    """Height of the middle of yarns along the first axis, in half their thickness."""
    place = (np.arange(_SIDE) + 0.5) / _SIDE * _LINEN_YARNS
    by_turns = 1 - 2 * (np.arange(_SIDE) * _LINEN_YARNS // _SIDE % 2)
    return np.asarray(0.5 * np.sin(np.pi * place)[:, None] * by_turns)


def _yarns(seed: int) -> tuple[Array, Array]:
    """Yarns along the first axis, side by side along the second: roundness, and share of each."""
    place = (np.arange(_SIDE) + 0.5) / _SIDE * _LINEN_YARNS
    yarn = place.astype(np.intp)
    # They are spun unevenly: along a yarn its thickness changes over some ten crossings.
    slub = tiled_noise((_SIDE, _LINEN_YARNS), (7, _LINEN_YARNS), seed + 2)[:, yarn]
    askew = 0.16 * tiled_noise((_SIDE, _LINEN_YARNS), (21, _LINEN_YARNS), seed)[:, yarn]
    off = 2 * (place - yarn) - 1 + askew
    round_ = np.sqrt(np.clip(1 - (off / (0.95 + 0.12 * slub)) ** 2, 0, 1))
    tone = 0.16 * (hashed(np.arange(_LINEN_YARNS), seed + 1) - 0.5)
    return round_, tone[yarn] + 0.06 * slub


def _noise(cells: tuple[int, int], seed: int) -> Array:
    return tiled_noise((_SIDE, _SIDE), cells, seed)


def _smooth(x: Array) -> Array:
    """Rises from 0 at 0 to 1 at 1, level at both ends."""
    x = np.clip(x, 0, 1)
    return np.asarray(x * x * (3 - 2 * x))


@dataclass(frozen=True, slots=True)
class _Look:
    """What a ground looks like.

    Parameters
    ----------
    albedo, dark : str
        Mean colour and darkest colour, sRGB.
    size : (float, float)
        Width and height of the tile, mm.
    shares : callable
        Computes the share of the lighter colour, (_SIDE, _SIDE) float.
    """

    albedo: str
    dark: str
    size: tuple[float, float]
    shares: Callable[[], Array]


_GROUNDS = {
    Ground.WORKBENCH: _Look("#835f3e", "#4a321f", (_WOOD_LENGTH_MM, _STAVES * _STAVE_MM), _wood),
    Ground.SLATE: _Look("#363a3f", "#1d2023", (_SLATE_MM, _SLATE_MM), _slate),
    Ground.LINEN: _Look(
        "#9c9280", "#5c5444", (_LINEN_YARNS * LINEN_YARN_MM, _LINEN_YARNS * LINEN_YARN_MM), _linen
    ),
}
