"""The shape of a wrap with few points: a grid of radii, thinned to triangles of useful size."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.grid import THINNEST
from geometry.surface import Surface
from scenes.stage.bodies import WrapBody
from scenes.stage.maps import crests

__all__ = ["MESH_POINTS", "WrapShape", "wrap_shape"]

MESH_POINTS = 12_000
"""Approximate number of points of a wrap in a still picture."""

_LEAST_ANGLES = 24
"""Least number of angles: an outline of so many corners is within a hundredth of its radius."""


@dataclass(frozen=True, slots=True)
class WrapShape:
    """A grid of radii, and the texture coordinates of its points on the maps of the wrap.

    Parameters
    ----------
    surface : Surface
        The outside, thinned.
    across : (nt' + 1,) float32
        Texture coordinate of each angle, 0 to 1; the first angle is repeated at the end.
    along : (nz',) float32
        Texture coordinate of each station, 0 to 1.
    """

    surface: Surface
    across: NDArray[np.float32]
    along: NDArray[np.float32]


def wrap_shape(wrap: WrapBody, points: int) -> WrapShape:
    """Thin the outside of a wrap to about `points` points.

    Stations are thinned by powers of two up to `THINNEST`, which every grid divides by, and angles
    with them. Where that leaves too many, angles are thinned up to twice as far.

    Parameters
    ----------
    wrap : WrapBody
    points : int
        Wanted number of points; there are more if the grid cannot be thinned further.
    """
    stride, surface = 1, wrap.surface
    while surface.radius.size / stride**2 > 2 * points:
        if 2 * stride > THINNEST or not surface.divides_by(2 * stride):
            break
        stride *= 2
    around = stride
    if surface.radius.size / stride**2 > 2 * points:
        _, angles = surface.shape
        for wide in range(stride, min(2 * stride, angles // _LEAST_ANGLES) + 1):
            around = wide if angles % wide == 0 else around
    outer = wrap.outside or wrap.surface
    if wrap.outside is None:
        # One point stands for many threads, so their round sections would make a jagged outline.
        outer = outer.with_arrays(radius=crests(outer).astype(np.float64))
    thinned = outer.thinned(stride, around)
    nz, nt = wrap.surface.shape
    stations, angles = thinned.shape
    # Texel centres: station i lies at (i + 1/2) / nz, angle j at (j + 1/2) / nt.
    across = (np.arange(angles + 1) / angles).astype(np.float32) + np.float32(0.5 / nt)
    along = np.linspace(0, 1, stations).astype(np.float32)
    along = (along * np.float32(nz - 1) + np.float32(0.5)) / np.float32(nz)
    return WrapShape(thinned, across, along)
