"""Spectrum of the light of a photograph, from the kind of lamp and the colour of the light.

**Daylight**, and a lamp of unknown kind: D65 seen through a filter that warms or cools it and a
second that is green or magenta, each smooth, so that it has the colour asked for. The first is that
of a photographer's light balancing filter, exponential in 1/λ, which takes blackbodies to
blackbodies (Wien's law). **Incandescent**: a blackbody. **LED**: two published phosphor LEDs, warm
and cold, mixed to that colour.
"""

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.observer import D65, LED_COLD, LED_WARM, MATCHING, WAVELENGTHS, as_light, blackbody
from materials.problems import MaterialProblem

__all__ = ["Lamp", "spectrum"]

Array = NDArray[np.float64]


class Lamp(StrEnum):
    """Kind of light that a thread was photographed in, in the words of the command line."""

    DAYLIGHT = "daylight"
    INCANDESCENT = "incandescent"
    LED = "LED"


INCANDESCENT_KELVIN = 2856.0
"""Illuminant A [ISO11664-2], which stands for household bulbs and halogen lamps."""

_UNDER: Array = np.array([1.0, 15.0, 3.0])
"""Of X, Y and Z in the denominator of CIE 1960 chromaticity."""

_COLDEST, _HOTTEST = 1500.0, 10000.0
_WARMING: Array = 560 / WAVELENGTHS - 1
_GREENING: Array = ((WAVELENGTHS - 560) / 100) ** 2
_STRONGEST = 12.0
"""Of either filter, so that a card in stage light leads to some light and not to none."""


def spectrum(lamp: Lamp | None, white: ArrayLike, kelvin: float | None = None) -> Array:
    """Spectrum of a light.

    Parameters
    ----------
    lamp : Lamp, optional
        None where it is unknown.
    white : array_like, shape (3,)
        XYZ of what the card shows. It is ignored for an incandescent lamp, and where a colour
        temperature is given: any other colour of the card is then due to the camera's balance.
    kelvin : float, optional
        The colour temperature that is printed on a lamp.

    Returns
    -------
    ndarray of float64, shape (n,)
        As `materials.observer.as_light` scales it.

    Raises
    ------
    MaterialProblem
        If no lamp has that colour temperature, or it is given without a lamp.
    """
    if kelvin is not None:
        if lamp not in (Lamp.INCANDESCENT, Lamp.LED):
            raise MaterialProblem(
                f"kelvin: {kelvin:g} is a lamp's colour temperature, but no lamp is given; give "
                "incandescent or LED as the lamp."
            )
        if not _COLDEST <= kelvin <= _HOTTEST:
            raise MaterialProblem(
                f"kelvin: {kelvin:g} is not between {_COLDEST:g} and {_HOTTEST:g}; give the colour "
                "temperature on the lamp, such as 2700."
            )
    match lamp:
        case Lamp.INCANDESCENT:
            return blackbody(kelvin or INCANDESCENT_KELVIN)
        case Lamp.LED:
            return _mixed(np.asarray(white) if kelvin is None else blackbody(kelvin) @ MATCHING)
        case _:
            return _filtered(np.asarray(white, dtype=np.float64))


def _filtered(white: Array) -> Array:
    """D65 through two smooth filters, in the colour of a white."""
    # Only a photograph waits for it to load.
    from scipy.optimize import least_squares

    wanted = white[[0, 2]] / white[1]

    def light(strength: Array) -> Array:
        return as_light(D65 * np.exp(strength[0] * _WARMING + strength[1] * _GREENING))

    found = least_squares(
        lambda strength: (light(strength) @ MATCHING)[[0, 2]] - wanted,
        np.zeros(2),
        bounds=(-_STRONGEST, _STRONGEST),
        xtol=1e-12,
    )
    return light(found.x)


def _mixed(white: Array) -> Array:
    """Warm and cold LED, mixed to come nearest to a white, by the CIE 1960 chromaticity.

    On that the nearest has about the same colour temperature ([CIE15], 9.5).
    """
    warm, cold = LED_WARM @ MATCHING, LED_COLD @ MATCHING
    start, along = _uv(warm), _uv(cold) - _uv(warm)
    part = float(np.clip((_uv(white) - start) @ along / (along @ along), 0, 1))
    # Chromaticities mix by their denominators.
    share = part * (warm @ _UNDER) / (part * (warm @ _UNDER) + (1 - part) * (cold @ _UNDER))
    return as_light((1 - share) * LED_WARM + share * LED_COLD)


def _uv(xyz: Array) -> Array:
    return np.array([4 * xyz[0], 6 * xyz[1]]) / (xyz @ _UNDER)
