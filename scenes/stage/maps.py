"""A surface as images over (distance along the blank, angle), which renderers use as textures.

The grid resolves single threads; triangles of that size would be smaller than a pixel. So a
renderer uses a thinned mesh for the shape, and these maps at the full resolution of the grid for
the detail. Texture filtering averages the maps in small pictures. Only the position across a row
cannot be averaged, because it jumps where rows begin; it is stored with its gradients at each
texel.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.array_blocks import over_blocks
from geometry.bodies.slopes import slopes_of
from geometry.layers.rows import Rows, thread_numbers
from geometry.surface import Surface
from materials.appearance import Appearance
from materials.colour import to_bytes
from scenes.stage.borders import border_codes
from scenes.stage.edges import soften_edges
from scenes.stage.noise import hashed

__all__ = ["ROW_STEPS", "TUBE_ROUNDING", "SurfaceMaps", "crests", "row_rounding", "surface_maps"]

_FILM_TURN = 3.2
"""Length of thread for one turn of its film, in thread diameters (from memory)."""

_FILM_SLOPE = 0.065
"""Greatest tilt of a facet of the film from the thread, as a slope (from memory)."""

TUBE_ROUNDING = 225
"""Rounding of a tube, times 255: its flanks are visible down to the next thread."""

ROW_STEPS = 64.0
"""Steps for one row in which the change of row between texels is stored."""

_MOST_ROW_DEVIATION = 0.3
"""Greatest difference, in rows, between the change to the next texel and that expected from the
thread's direction. With a greater one the next texel belongs to another thread."""

_VISIBILITY_WIDTHS = (0.35, 1.2)
"""Widths, mm, of the surroundings to which the depth of a place is relative.

Those of a thread and of a relief cell."""


@dataclass(frozen=True, slots=True)
class SurfaceMaps:
    """Maps of (nz, nt) texels; theta is periodic.

    Parameters
    ----------
    slopes : (nz, nt, 3) float32
        Hoop slope, axial slope, and the sum of their squares. The filtered third channel minus the
        squares of the filtered slopes is the variance of slope within a pixel.
    mirror : (nz, nt, 4) uint8
        sRGB of the mirror tint times metallic, then metallic.
    body : (nz, nt, 3) uint8
        sRGB of the body colour times (1 - metallic). So both are additive: a pixel shared by gold
        and black nylon mirrors half as much as gold.
    thread : (nz, nt, 4) uint8
        Perceptual roughness along the thread; rounding of the rows (`row_rounding`); visibility,
        the share of the surroundings visible from this place; thread direction from the hoop,
        -pi/2 to pi/2 as 0 to 255.
    outside : (nz, nt, 3) float32
        Hoop and axial slope of the outside of the finish (of the thread for a dry wrap); thickness
        of the finish, mm.
    rows : (nz, nt, 4) uint8
        Position of each texel across its row, times 256; then 128 plus `ROW_STEPS` times the change
        of row to the next station and to the next angle; then its code as in
        `scenes.stage.borders.border_codes`. Must not be filtered.
    """

    slopes: NDArray[np.float32]
    mirror: NDArray[np.uint8]
    body: NDArray[np.uint8]
    thread: NDArray[np.uint8]
    outside: NDArray[np.float32]
    rows: NDArray[np.uint8]


def surface_maps(
    surface: Surface,
    beneath: Surface,
    outside: Surface | None,
    palette: tuple[Appearance, ...],
    row_width: float,
) -> SurfaceMaps:
    """Compute the maps of a surface.

    Parameters
    ----------
    surface, beneath : Surface
        The outermost thread, and the surface seen through it where it is translucent.
    outside : Surface or None
        The outside of the finish; None for a dry wrap.
    palette : tuple of Appearance
        By material index.
    row_width : float
        Distance between adjacent rows of thread, mm.
    """
    shape = surface.shape
    slopes = np.empty((*shape, 3), np.float32)
    mirror = np.empty((*shape, 4), np.uint8)
    body = np.empty((*shape, 3), np.uint8)
    threads = np.empty((*shape, 4), np.uint8)
    base = np.array([look.base_colour for look in palette])
    tint = np.array([look.tint for look in palette])
    through = np.array([look.translucency for look in palette])
    metallic = np.array([look.metallic for look in palette])
    rough = np.array([look.roughness_along for look in palette])
    sparkle = np.array([look.sparkle for look in palette])
    rounding = np.array([row_rounding(look) for look in palette])
    mirrors = np.column_stack((_mirror(tint, metallic), np.rint(255 * metallic).astype(np.uint8)))
    bodies = _body(base, metallic)
    plain = np.rint(255 * np.column_stack((rough, rounding))).astype(np.uint8)
    coat = np.empty((*shape, 3), np.float32)
    rows = np.empty((*shape, 4), np.uint8)
    ridges = crests(surface)
    visibility = _visibility(surface, ridges)
    apart = thread_numbers(surface) if surface.tube.any() else None

    def work(part: slice) -> None:
        tube = surface.tube[part]
        lean, rise = slopes_of(surface, part, ridges, apart)
        glint = sparkle[surface.material[part]]
        if glint.any():
            glint *= _facets(surface, part, row_width)
            lay = surface.lay[part]
            lean, rise = lean + glint * np.cos(lay), rise + glint * np.sin(lay)
        slopes[part, :, 0], slopes[part, :, 1] = lean, rise
        slopes[part, :, 2] = lean * lean + rise * rise
        coat[part, :, 0], coat[part, :, 1] = slopes_of(outside or surface, part)
        coat[part, :, 2] = 0 if outside is None else outside.radius[part] - surface.radius[part]
        material = surface.material[part]
        rows[part] = _rows(surface, part, row_width)
        mirror[part], body[part] = mirrors[material], bodies[material]
        seen = through[material] > 0
        if seen.any():
            top, under = material[seen], beneath.material[part][seen]
            share = through[top][:, None]
            mixed = base[top] * (1 - share) + base[under] * share
            mirror[part][seen, :3] = _mirror(mixed, metallic[top])
            body[part][seen] = _body(mixed, metallic[top])
        threads[part, :, :2] = plain[material]
        threads[part, :, 1][tube] = TUBE_ROUNDING
        threads[part, :, 2] = visibility[part]
        threads[part, :, 3] = np.rint((surface.lay[part] / np.pi + 0.5) * 255)

    over_blocks(work, slice(0, shape[0]), shape[1])
    rows[..., 3] = border_codes(surface, ridges, rows, ROW_STEPS, row_width)
    printed = np.array([look.printed for look in palette])
    soften_edges((mirror, body), surface, row_width, printed)
    return SurfaceMaps(slopes, mirror, body, threads, coat, rows)


def _mirror(base: NDArray[np.float64], metallic: NDArray[np.float64]) -> NDArray[np.uint8]:
    return to_bytes(base * metallic[:, None])


def _body(base: NDArray[np.float64], metallic: NDArray[np.float64]) -> NDArray[np.uint8]:
    return to_bytes(base * (1 - metallic[:, None]))


def row_rounding(look: Appearance) -> float:
    """Sine of the steepest normal across a row; 0 for a surface without rows.

    Normals spread evenly over x = -R to R have the mean square R²/3. A microfacet lobe of width
    alpha has the mean square slope alpha²/2 (Beckmann's distribution, as alpha is defined in
    [Heitz2014], eq. 71). The rows supply the difference between the lobe across the thread and that
    along it.

    Parameters
    ----------
    look : Appearance
    """
    along, across = look.roughness_along**2, look.roughness_across**2
    return float(np.sqrt(max(0.0, min(0.9, 1.5 * (across**2 - along**2)))))


def _rows(surface: Surface, part: slice, row_width: float) -> NDArray[np.uint8]:
    """Position of each texel across its row, and its gradients (`SurfaceMaps.rows`).

    A row is two or three texels wide, too few to interpolate the position of a boundary between
    them. Position and gradients at one texel are exact. Where the next texel lies on another
    thread, the gradient to the previous one is used.
    """
    row, lay = surface.row[part], surface.lay[part]
    width = 2 * np.pi * surface.radius[part].mean(axis=1, keepdims=True) / surface.theta.size
    stations = np.arange(part.start, part.stop)
    before = surface.row[np.maximum(stations - 1, 0)]
    after = surface.row[np.minimum(stations + 1, surface.z.size - 1)]
    along = np.cos(lay) * np.float32(surface.step / row_width)
    around = -np.sin(lay) * (width / row_width).astype(np.float32)
    encoded = np.full((*row.shape, 4), 255, np.uint8)
    encoded[..., 0] = np.floor((row - np.floor(row)) * 256).clip(0, 255)
    steps = (
        (along, after - row, row - before),
        (around, np.roll(row, -1, axis=1) - row, row - np.roll(row, 1, axis=1)),
    )
    for channel, (expected, ahead, behind) in enumerate(steps, 1):
        astray = [step - expected for step in (ahead, behind)]
        for off in astray:
            # The row number jumps by whole rows at theta = 2 pi and between strips.
            off -= np.rint(off)
        off = np.where(np.abs(astray[0]) < np.abs(astray[1]), *astray)
        off[np.abs(off) > _MOST_ROW_DEVIATION] = 0
        encoded[..., channel] = np.rint(128 + ROW_STEPS * (expected + off)).clip(0, 255)
    return encoded


def _facets(surface: Surface, part: slice, diameter: float) -> NDArray[np.float64]:
    """Slope along the thread of the film wound on it, for a sparkle of 1.

    Metallic thread is a flat film wound round a core in a long helix. Each turn of the film appears
    as a facet, whose slope varies along its length and differs from its neighbours'. The slope is
    hashed from the numbers of thread and facet, so that it is fixed to the thread and the same on
    every machine. On hoop-wound thread facets continue from one turn to the next at theta = 2 pi.
    """
    number = np.floor(surface.row[part]).astype(np.int64)
    around = 2 * np.pi * surface.radius[part].mean(axis=1, keepdims=True)
    run = surface.along[part] + np.where(surface.lay[part] == 0, number * around, 0)
    place = run / (_FILM_TURN * diameter) + hashed(number, 11)
    facet = np.floor(place).astype(np.int64)
    lean = 2 * (place - facet) - 1
    own = 2 * hashed(facet * 8191 + number * 131, 12) - 1
    return _FILM_SLOPE * (0.5 * lean + own)


def crests(surface: Surface) -> NDArray[np.float32]:
    """Radius with the grooves between tubes filled up to the crests of the threads.

    A few grid points across a tube give its slope only in steps. The position across the tube is
    known exactly (`Surface.row`), so the renderer computes the rounding below these crests from it.

    Parameters
    ----------
    surface : Surface

    Returns
    -------
    (nz, nt) float32
        mm.
    """
    radius = surface.radius.astype(np.float32)
    tube = surface.tube
    if tube.any():
        radius[tube] = Rows.of(surface).crest[tube]
    return radius


def _visibility(surface: Surface, ridges: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Share of the surroundings visible from each place: less in valleys and beside trims.

    A place at the depth d below the mean of its surroundings over a width w is taken as the bottom
    of a V groove with walls of slope 2 d / w. It sees 1 / (1 + (2 d / w)²) of a cosine-weighted
    hemisphere: sin² of half the opening angle.
    """
    from scipy.ndimage import uniform_filter

    visibility = np.ones(surface.shape, np.float32)
    width = float(ridges.mean()) * 2 * np.pi / surface.theta.size
    for size in _VISIBILITY_WIDTHS:
        window = (max(1, round(size / surface.step)) | 1, max(1, round(size / width)) | 1)
        depth = uniform_filter(ridges, window, mode=("nearest", "wrap"))
        depth -= ridges
        np.maximum(depth, 0, out=depth)
        depth *= 2 / size * 2
        depth *= depth
        depth += 1
        visibility /= depth
    return np.rint(255 * visibility).astype(np.uint8)
