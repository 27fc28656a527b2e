"""What the outside of a rod blank is made of: paint, carbon cloth or tape, flakes, pearl.

All but plain and matt paint lie under clear lacquer. What a renderer does with lacquer it does with
finish already: refraction, the outer reflection, what is kept in. So these looks are those of what
lies below it, and `scenes.stage.blank_pattern` says where each of them is.

Carbon fibres are round, so a tow of them mirrors on cones about its direction, as hair does
[Marschner2003], and woven tows of two directions light up by turns, as in any cloth [Irawan2012].
Paint with flakes is a clear binder in which mirrors lie nearly level [Ershov2001]: the smooth lobe
is that of all of them, single ones flash as facets. Pearl's flakes are mica coated with titania,
whose colour is interference in that coat [BornWolf].
"""

from dataclasses import replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.appearance import Appearance
from materials.colour import parse_hex, srgb_to_linear, xyz_to_linear
from materials.finish import FINISH
from materials.metal import dye_transmittance, dyed_film_reflectance, normal_reflectance
from materials.observer import D65, MATCHING, WAVELENGTHS

__all__ = [
    "CARBON_INDEX",
    "MICA_INDEX",
    "TITANIA_INDEX",
    "BlankFinish",
    "blank_appearance",
    "coated_plate_reflectance",
    "interference_colour",
    "is_lacquered",
    "lacquered_looks",
]

Array = NDArray[np.float64]
Triple = tuple[float, float, float]

CARBON_INDEX = (2.65, 1.35)
"""n and k of graphite along its sheets, which lie along the outside of a fibre (from memory)."""

TITANIA_INDEX = 2.5
MICA_INDEX = 1.58
"""Refractive indices of the coat and of the plate of a pearl flake (from memory)."""

_TITANIA_NM = (52.0, 60.0, 68.0)
"""Thicknesses of titania on the flakes of a white pearl (from memory: 40 to 60 nm is white)."""

_PEARL_SHARE = 0.42
_FLAKE_SHARE = 0.8
_FIBRE_SHARE = 0.85
"""Shares of a place that are flakes of pearl, flakes of metal, and fibres (from memory)."""

_FLAKE_TONES = (0.72, 1.0, 1.3)
"""Brightness of flakes at different depths in the binder, relative to the mean (from memory)."""


class BlankFinish(StrEnum):
    """What the outside of a blank is like."""

    PLAIN = "plain"
    MATT = "matt"
    LACQUERED = "lacquered"
    CARBON_TWILL = "carbon twill"
    CARBON_TAPE = "carbon tape"
    METALLIC = "metallic"
    PEARL = "pearl"


def is_lacquered(finish: BlankFinish) -> bool:
    """Whether clear lacquer lies over a blank.

    Parameters
    ----------
    finish : BlankFinish
        What its outside is like.
    """
    return finish not in (BlankFinish.PLAIN, BlankFinish.MATT)


def blank_appearance(colour: str, finish: BlankFinish = BlankFinish.PLAIN) -> Appearance:
    """Look of a bare blank of paint.

    Parameters
    ----------
    colour : str
        sRGB, ``#rgb`` or ``#rrggbb``.
    finish : BlankFinish
        What its outside is like; below lacquer the paint is as smooth as plain paint.

    Returns
    -------
    Appearance
        Roughness from memory.

    Raises
    ------
    MaterialProblem
        If the colour is not a hex colour.
    """
    base = _triple(srgb_to_linear(parse_hex(colour)))
    rough = 0.62 if finish is BlankFinish.MATT else 0.28
    return Appearance("blank", base, roughness_along=rough, roughness_across=rough)


def lacquered_looks(colour: str, finish: BlankFinish, wet: bool) -> tuple[Appearance, ...]:
    """Looks below the lacquer of a blank.

    Parameters
    ----------
    colour : str
        sRGB, ``#rgb`` or ``#rrggbb``: of paint, of the resin between fibres, of flakes of metal, of
        the paint under pearl.
    finish : BlankFinish
        What its outside is like; one with lacquer.
    wet : bool
        True below lacquer or finish. False in a dry wrap, where the lacquer is left out: paint is
        then as glossy as lacquer, fibres and flakes are without gloss.

    Returns
    -------
    tuple of Appearance
        One for paint and fibres; for flakes and pearl one for each kind of flake.

    Raises
    ------
    MaterialProblem
        If the colour is not a hex colour.
    """
    base = srgb_to_linear(parse_hex(colour))
    looks = _below(base, finish)
    return looks if wet else tuple(_in_air(look) for look in looks)


def coated_plate_reflectance(
    wavelength: ArrayLike, thickness: ArrayLike, outside: float = FINISH.ior
) -> Array:
    """Reflectance of a mica plate coated with titania, seen straight on in a clear binder.

    Parameters
    ----------
    wavelength : array_like, shape (...)
        In vacuum, nm.
    thickness : array_like, shape (...)
        Of the titania on either side, nm.
    outside : float
        Refractive index of the binder.

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 to 1: Airy's sum for the coat [BornWolf], section 7.6, and both sides of the plate added
        as intensities, because plates differ in thickness.

    Notes
    -----
    Below lacquer no ray is further than 41 degrees from the normal, 24 in titania: at most the
    colour is that of a coat 8 % thinner. That is left out.
    """
    length, coat = np.asarray(wavelength, np.float64), np.asarray(thickness, np.float64)
    first = (outside - TITANIA_INDEX) / (outside + TITANIA_INDEX)
    second = (TITANIA_INDEX - MICA_INDEX) / (TITANIA_INDEX + MICA_INDEX)
    turn = np.exp(4j * np.pi * TITANIA_INDEX * coat / length)
    side = np.abs((first + second * turn) / (1 + first * second * turn)) ** 2
    return np.asarray(2 * side / (1 + side))


def interference_colour(thickness: float, outside: float = FINISH.ior) -> Array:
    """Colour that flakes of pearl mirror in daylight, linear RGB.

    Parameters
    ----------
    thickness : float
        Of the titania, nm.
    outside : float
        Refractive index of the binder.

    Returns
    -------
    ndarray of float64, shape (3,)
        0 to 1; of CIE illuminant D65 and the 1931 observer.
    """
    reflected = coated_plate_reflectance(WAVELENGTHS, thickness, outside)
    return np.asarray(np.clip(xyz_to_linear((reflected * D65) @ MATCHING), 0, 1))


def _below(base: Array, finish: BlankFinish) -> tuple[Appearance, ...]:
    if finish is BlankFinish.METALLIC:
        f0 = dyed_film_reflectance(dye_transmittance(base), finished=True)
        return tuple(
            Appearance(
                "flakes",
                _triple(base * 0.5),
                metallic=_FLAKE_SHARE,
                roughness_along=0.42,
                roughness_across=0.42,
                sparkle=1.0,
                wet=True,
                mirror_colour=_triple(np.clip(f0 * tone, 0, 1)),
            )
            for tone in _FLAKE_TONES
        )
    if finish is BlankFinish.PEARL:
        colours = [interference_colour(thickness) for thickness in _TITANIA_NM]
        # What a flake does not mirror passes it twice: to the paint below and back.
        passed = (1 - np.mean(colours, axis=0)) ** 2
        body = base * (1 + passed * _PEARL_SHARE / (1 - _PEARL_SHARE))
        return tuple(
            Appearance(
                "pearl",
                _triple(np.clip(body, 0, 1)),
                metallic=_PEARL_SHARE,
                roughness_along=0.45,
                roughness_across=0.45,
                sparkle=0.5,
                wet=True,
                mirror_colour=_triple(colour),
            )
            for colour in colours
        )
    if finish in (BlankFinish.CARBON_TWILL, BlankFinish.CARBON_TAPE):
        carbon = float(normal_reflectance(*CARBON_INDEX, FINISH.ior))
        fibres = Appearance(
            "carbon fibres",
            _triple(base),
            metallic=_FIBRE_SHARE,
            roughness_along=0.38,
            roughness_across=0.72,
            wet=True,
            mirror_colour=(carbon, carbon, carbon),
        )
        return (fibres,)
    return (Appearance("paint", _triple(base), roughness_along=0.28, roughness_across=0.28),)


def _in_air(look: Appearance) -> Appearance:
    """A look below lacquer as a dry wrap shows it, whose surface has no clear one over it."""
    if look.metallic:
        return replace(look, wet=False)
    return replace(look, wet=False, roughness_along=0.12, roughness_across=0.12)


def _triple(rgb: Array) -> Triple:
    r, g, b = rgb.tolist()
    return r, g, b
