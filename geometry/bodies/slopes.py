"""How steeply a surface leans, hoopwise and along the blank."""

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.surface import Surface

__all__ = ["slopes", "slopes_of"]

Radii = NDArray[np.floating]
Mask = NDArray[np.bool_]


def slopes(surface: Surface) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Slopes of the whole surface.

    Parameters
    ----------
    surface : Surface
        Surface whose radius is differentiated.

    Returns
    -------
    hoop, axial : (nz, nt) float32
        (dr/d theta) / r and dr/dz. The outward normal is e_r - hoop e_theta - axial e_z, to be
        brought to unit length.
    """
    hoop = np.empty(surface.shape, np.float32)
    axial = np.empty(surface.shape, np.float32)

    def work(part: slice) -> None:
        hoop[part], axial[part] = slopes_of(surface, part)

    over_blocks(work, slice(0, surface.z.size), surface.theta.size)
    return hoop, axial


def slopes_of(
    surface: Surface,
    part: slice,
    of: Radii | None = None,
    apart: NDArray[np.integer] | None = None,
) -> tuple[Radii, Radii]:
    """Slopes at some stations, by central differences (one-sided at the surface's ends).

    Parameters
    ----------
    surface : Surface
        Grid, and the radius where `of` is not given.
    part : slice
        Stations.
    of : (nz, nt) float, optional
        Another radius on the same grid, mm, in place of the surface's own.
    apart : (nz, nt) int, optional
        Number of the body at each place. A step from one body to the next is no slope: beside a
        border the difference is one-sided, and between two borders the slope is 0.

    Returns
    -------
    hoop, axial : (n, nt) float
        As for `slopes`.
    """
    nz, nt = surface.shape
    whole: Radii = surface.radius if of is None else of
    radius = whole[part]
    hoop = np.empty_like(radius)
    np.subtract(radius[:, 2:], radius[:, :-2], out=hoop[:, 1:-1])
    np.subtract(radius[:, 1], radius[:, -1], out=hoop[:, 0])
    np.subtract(radius[:, 0], radius[:, -2], out=hoop[:, -1])
    hoop /= 2
    before = np.clip(np.arange(part.start, part.stop) - 1, 0, nz - 1)
    after = np.clip(np.arange(part.start, part.stop) + 1, 0, nz - 1)
    axial = whole[after] - whole[before]
    axial /= (after - before)[:, None]
    if apart is not None:
        mine = apart[part]
        ahead, behind = (
            (np.roll(radius, by, axis=1), np.roll(mine, by, axis=1) == mine) for by in (-1, 1)
        )
        _take_one_side(hoop, radius, ahead, behind)
        ahead, behind = ((whole[at], apart[at] == mine) for at in (after, before))
        _take_one_side(axial, radius, ahead, behind)
    hoop /= (2 * np.pi / nt) * radius
    axial /= surface.step
    return hoop, axial


def _take_one_side(
    rise: Radii, radius: Radii, ahead: tuple[Radii, Mask], behind: tuple[Radii, Mask]
) -> None:
    """Correct `rise` where the point ahead or behind belongs to another body.

    `ahead` and `behind` are the neighbours' radius, mm, and whether they belong to the same body.
    """
    at = np.nonzero(~(ahead[1] & behind[1]))
    up = ahead[1][at] * (ahead[0][at] - radius[at])
    down = behind[1][at] * (radius[at] - behind[0][at])
    rise[at] = up + down
