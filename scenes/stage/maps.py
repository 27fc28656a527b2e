"""A surface as images over (distance along the blank, angle): what a renderer looks up.

The grid resolves single threads; triangles that fine would be smaller than a pixel. So a renderer
takes a thinned mesh for the shape and these maps, at the grid's full resolution, for what lies on
it. Image filtering then averages them as the picture shrinks; the thread's place, which has steps
where rows begin, is told instead by how rows run on from each point.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter

from geometry.array_blocks import over_blocks
from geometry.bodies.slopes import slopes_of
from geometry.layers.rows import Rows, thread_numbers
from geometry.surface import Surface
from materials.appearance import Appearance
from materials.colour import to_bytes
from scenes.stage.edges import soften_edges
from scenes.stage.noise import hashed

__all__ = ["ROW_STEPS", "TUBE_ROUNDING", "SurfaceMaps", "crests", "row_rounding", "surface_maps"]

_FILM_TURN = 3.2
"""Length of one turn of the film round its thread, in thread diameters (from memory)."""

_FILM_SLOPE = 0.065
"""How far a facet of the film may stand off the thread's run, as a slope (from memory)."""

TUBE_ROUNDING = 225
"""Rounding of a tube, of 255: its flanks are seen down to where the next thread begins."""

ROW_STEPS = 64.0
"""Steps of a row in which rows from one texel to the next are told."""

_MOST_ROW_DEVIATION = 0.3
"""Rows to the next texel may be so far from what the thread's direction says, as on a flank;
further off the next texel belongs to another thread."""

_VISIBILITY_WIDTHS = (0.35, 1.2)
"""Widths, mm, over which a place is compared with its surroundings to find how deep it lies: a
thread's and a relief cell's."""


@dataclass(frozen=True, slots=True)
class SurfaceMaps:
    """Maps of (nz, nt) texels; theta wraps round.

    Parameters
    ----------
    slopes : (nz, nt, 3) float32
        Hoop slope, axial slope, and the square of both together, whose average as the picture
        shrinks, less the square of the averaged slope, is the variance that a pixel no longer
        draws.
    mirror : (nz, nt, 4) uint8
        sRGB of the mirror tint times metallic, then metallic.
    body : (nz, nt, 3) uint8
        sRGB of the body colour times what is not metallic. So both are light that adds up: where
        gold and black nylon share a pixel it mirrors half of gold, and black scatters the rest.
    thread : (nz, nt, 4) uint8
        Perceptual roughness along the thread; rounding of the rows (`row_rounding`); visibility,
        the share of the surroundings that reaches this place; thread direction from the hoop,
        -pi/2 to pi/2 as 0 to 255.
    outside : (nz, nt, 3) float32
        Hoop and axial slope of the finish's outside (of the thread itself when dry); thickness of
        the finish, mm.
    rows : (nz, nt, 4) uint8
        How rows run through each texel, not to be mixed with another's: place across the row in
        256ths, then 128 and `ROW_STEPS` times the rows to the next station and to the next angle.
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
    """Maps of a laid surface.

    Parameters
    ----------
    surface, beneath : Surface
        The outermost thread, and what shows through it where it is translucent.
    outside : Surface or None
        The outside of the finish, if there is any.
    palette : tuple of Appearance
        By material index.
    row_width : float
        Distance from row to row of the thread, mm.
    """
    shape = surface.shape
    slopes = np.empty((*shape, 3), np.float32)
    mirror = np.empty((*shape, 4), np.uint8)
    body = np.empty((*shape, 3), np.uint8)
    threads = np.empty((*shape, 4), np.uint8)
    base = np.array([look.base_colour for look in palette])
    through = np.array([look.translucency for look in palette])
    metallic = np.array([look.metallic for look in palette])
    rough = np.array([look.roughness_along for look in palette])
    sparkle = np.array([look.sparkle for look in palette])
    rounding = np.array([row_rounding(look) for look in palette])
    mirrors = np.column_stack((_mirror(base, metallic), np.rint(255 * metallic).astype(np.uint8)))
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
    printed = np.array([look.printed for look in palette])
    soften_edges((mirror, body), surface, row_width, printed)
    return SurfaceMaps(slopes, mirror, body, threads, coat, rows)


def _mirror(base: NDArray[np.float64], metallic: NDArray[np.float64]) -> NDArray[np.uint8]:
    return to_bytes(base * metallic[:, None])


def _body(base: NDArray[np.float64], metallic: NDArray[np.float64]) -> NDArray[np.uint8]:
    return to_bytes(base * (1 - metallic[:, None]))


def row_rounding(look: Appearance) -> float:
    """Sine of the steepest normal across a row; 0 for a surface without rows.

    Normals spread evenly in x = -R to R have the mean square R²/3; a microfacet lobe of width
    alpha has the mean square slope alpha²/2 (Beckmann's, as Heitz 2014, eq. 71, defines alpha).
    The rows make up what the lobe across has and the film's own lobe along has not.
    """
    along, across = look.roughness_along**2, look.roughness_across**2
    return float(np.sqrt(max(0.0, min(0.9, 1.5 * (across**2 - along**2)))))


def _rows(surface: Surface, part: slice, row_width: float) -> NDArray[np.uint8]:
    """Tell how rows run through each texel (`SurfaceMaps.rows`).

    A row is two or three texels wide, too few to find by interpolation where between them a row
    begins. A texel that knows its own place and how rows run on from it is exact. Where the next
    texel lies on another thread, the one behind tells instead.
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
            # Whole rows are skipped where theta passes 2 pi, and between strips.
            off -= np.rint(off)
        off = np.where(np.abs(astray[0]) < np.abs(astray[1]), *astray)
        off[np.abs(off) > _MOST_ROW_DEVIATION] = 0
        encoded[..., channel] = np.rint(128 + ROW_STEPS * (expected + off)).clip(0, 255)
    return encoded


def _facets(surface: Surface, part: slice, diameter: float) -> NDArray[np.float64]:
    """Slope along the thread of the film wound on it, for a sparkle of 1.

    Metallic thread is a flat film wound round a core in a long helix. Each turn of the film shows
    as a facet that leans one way along its length and stands a little off its neighbours; which
    facet leans how is hashed from the number of the thread and of the facet, so that it stays on
    the thread while the rod turns and is the same on every machine. On hoop-wound thread facets
    run on from one turn to the next where theta passes 2 pi.
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
    """The radius with the round of single threads filled up to their crests, (nz, nt) mm.

    A few grid points across a tube draw its slope in steps. The tube's place across itself is
    known exactly (`Surface.row`), so the renderer rounds it from that, down from these crests.
    """
    radius = surface.radius.astype(np.float32)
    tube = surface.tube
    if tube.any():
        radius[tube] = Rows.of(surface).crest[tube]
    return radius


def _visibility(surface: Surface, ridges: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Share of the surroundings that reaches each place: less in valleys and beside trims.

    A place at the depth d below its surroundings, averaged over a width w, sees past walls of the
    slope 2 d / w, which leave 1 / (1 + (2 d / w)²) of a cosine-weighted half sky (a V groove's
    sin² of the opening half angle).
    """
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
