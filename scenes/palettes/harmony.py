"""Harmony of hues: templates of sectors on the hue circle.

Colours are harmonious whose hues lie in the sectors of one template, turned as a whole by any
angle: the types i, V, L, I, Y and X of [CohenOr2006], after Matsuda, whose sectors take 5, 22 or
26 % of the circle. Type T, half of the circle, tells too little to be offered. The circle is that
of CIELAB's hue angle, as in [Tan2018], because equal steps of it look more alike than those of HSV,
which [CohenOr2006] use.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["NEUTRAL", "TEMPLATES", "Template", "chroma", "degrees_outside", "hue"]

Array = NDArray[np.float64]

NEUTRAL = 8.0
"""Chroma in CIELAB below which a thread goes with every hue (common practice, no source)."""

_NARROW, _MIDDLE, _WIDE = 0.05 * 360, 0.22 * 360, 0.26 * 360


@dataclass(frozen=True, slots=True)
class Template:
    """Sectors of the hue circle.

    Parameters
    ----------
    name : str
        In words.
    sectors : tuple of (float, float)
        Middle and width of each, degrees; that of the ground is the first, in whose middle it lies.
    """

    name: str
    sectors: tuple[tuple[float, float], ...]


TEMPLATES = (
    Template("opposite hues", ((0, _NARROW), (180, _NARROW))),
    Template("neighbouring hues", ((0, _WIDE),)),
    Template("a family opposite one hue", ((0, _NARROW), (180, _WIDE))),
    Template("one hue, light to dark", ((0, _NARROW),)),
    Template("hues a quarter turn on", ((0, _NARROW), (90, _MIDDLE))),
    Template("hues a quarter turn back", ((0, _NARROW), (-90, _MIDDLE))),
    Template("two opposite families", ((0, _WIDE), (180, _WIDE))),
)
"""The types I, V, Y, i, L, L mirrored, and X, in the order in which they are offered."""


def hue(lab: ArrayLike) -> Array:
    """Hue angle in CIELAB.

    Parameters
    ----------
    lab : (..., 3) float

    Returns
    -------
    (...) float
        Degrees, -180 to 180.
    """
    values = np.asarray(lab, dtype=np.float64)
    return np.degrees(np.arctan2(values[..., 2], values[..., 1]))


def chroma(lab: ArrayLike) -> Array:
    """Chroma in CIELAB, (...) float.

    Parameters
    ----------
    lab : (..., 3) float
    """
    values = np.asarray(lab, dtype=np.float64)
    return np.hypot(values[..., 1], values[..., 2])


def degrees_outside(template: Template, ground: float, hue_angle: float) -> list[float]:
    """How far a hue lies outside each sector of a template.

    Parameters
    ----------
    template : Template
        Turned so that the ground lies in the middle of its first sector.
    ground : float
        Hue of the ground, degrees.
    hue_angle : float
        Degrees.

    Returns
    -------
    list of float
        Degrees; 0 inside.
    """
    return [
        max(0.0, abs(math.remainder(hue_angle - ground - middle, 360)) - width / 2)
        for middle, width in template.sectors
    ]
