"""The light blurred for rough reflections, once for every renderer that looks it up.

A reflection off a rough surface is the light averaged over a lobe. As real-time renderers do (Karis
2013, "Real shading in Unreal Engine 4", course notes of SIGGRAPH), the lobe is taken to be that of
GGX seen straight on, so that it is round, depends on direction and roughness alone, and can be
worked out beforehand.

A round lobe is a convolution on the sphere. On a map of rows and columns it is a circular
convolution along the columns for every pair of rows, which is a product in the Fourier domain
(Driscoll & Healy 1994, "Computing Fourier transforms and convolutions on the 2-sphere", use the
same step). No sample is drawn, so nothing is noisy.

The result is kept as octahedral maps (Engelhardt & Dachsbacher 2008, "Octahedron environment maps",
Proc. VMV): squares without poles, looked up without trigonometric functions.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from materials.metal import dielectric_reflectance
from scenes.light.lights import solid_angles

__all__ = ["IN_AIR", "IN_FINISH", "LEVELS", "SIDE", "octahedral", "prefiltered"]

Floats = NDArray[np.float32]
Array = NDArray[np.float64]

LEVELS = 8
"""Perceptual roughnesses, evenly from 0 to 1, that the light is blurred for."""

IN_AIR, IN_FINISH = LEVELS, LEVELS + 1
"""Numbers of the maps of what a white scatterer sends."""

SIDE = 256
"""Texels along a side of an octahedral map, without its border."""

_ROWS = (128, 64)
"""Rows of the maps that are blurred, where the light has a multiple of them: for the narrowest
lobe, whose half width is 1.5 degrees, and for all wider ones."""


def prefiltered(
    radiance: Floats, ior: float, *, levels: Sequence[int] = range(LEVELS + 2)
) -> Floats:
    """Octahedral maps of the light, blurred as rough and as white surfaces blur it.

    Parameters
    ----------
    radiance : (h, 2h, 3) float32
        Radiance map as `scenes.light.lights.radiance_map` makes it.
    ior : float
        Index of the finish.
    levels : sequence of int
        Numbers of the maps to make, `IN_AIR` and `IN_FINISH` among them; by default all.

    Returns
    -------
    (levels, SIDE + 2, SIDE + 2, 3) float32
        Linear sRGB radiance: the light as it is, mirrored by each of the other roughnesses, and
        sent by a white scatterer in air (`IN_AIR`) and under finish (`IN_FINISH`). A border of one
        texel repeats what lies beyond each edge.
    """
    return np.stack([_on_octahedron(_blurred(radiance, ior, level)) for level in levels])


def octahedral(toward: Array) -> Array:
    """Place of directions on the unfolded octahedron.

    Parameters
    ----------
    toward : (..., 3) float
        Unit vectors, y up.

    Returns
    -------
    (..., 2) float
        -1 to 1; the lower half is folded over the four corners.
    """
    place = toward[..., ::2] / np.abs(toward).sum(axis=-1, keepdims=True)
    folded = (1 - np.abs(place[..., ::-1])) * np.where(place >= 0, 1, -1)
    return np.where(toward[..., 1:2] < 0, folded, place)


def _blurred(radiance: Floats, ior: float, level: int) -> Floats:
    """The light of one map, not yet on an octahedron."""
    if level == 0:
        return radiance
    height = radiance.shape[0]
    narrow, wide = (height if height % rows else rows for rows in _ROWS)
    if level in (IN_AIR, IN_FINISH):
        return _averaged(radiance, _scattering_lobe(1.0 if level == IN_AIR else ior, wide))
    return _averaged(radiance, _mirror_lobe(level / (LEVELS - 1), narrow if level == 1 else wide))


def _averaged(radiance: Floats, lobe: tuple[Floats, Array]) -> Floats:
    """The light averaged over a lobe round each direction, (rows, 2 rows, 3)."""
    share, norm = lobe
    rows = len(norm)
    factor = radiance.shape[0] // rows
    power = radiance * solid_angles(radiance.shape[0])[..., None]
    blocks = power.reshape(rows, factor, 2 * rows, factor, 3).sum(axis=(1, 3))
    sent = np.moveaxis(np.fft.rfft(blocks, axis=1), 1, 0)
    mixed = np.matmul(share, sent.real) + 1j * np.matmul(share, sent.imag)
    summed = np.fft.irfft(np.moveaxis(mixed, 0, 1), 2 * rows, axis=1)
    return (np.maximum(summed, 0) / norm).astype(np.float32)


@lru_cache(maxsize=LEVELS)
def _mirror_lobe(roughness: float, rows: int) -> tuple[Floats, Array]:
    """The lobe of a rough mirror seen straight on, as `_lobe` gives it.

    Of a direction at the angle g from the mirrored one, the half vector leans g / 2; its share is
    D(g / 2) cos g, with GGX's D = 1 / (1 + (alpha² - 1) cos²)² up to a factor (Walter et al. 2007,
    "Microfacet models for refraction through rough surfaces", eq. 33).
    """
    between = _cosines(rows)
    share = np.maximum(between, 0) / (1 + (roughness**4 - 1) * (1 + between) / 2) ** 2
    return _lobe(share.astype(np.float32))


@lru_cache(maxsize=2)
def _scattering_lobe(ior: float, rows: int) -> tuple[Floats, Array]:
    """The lobe of a white scatterer under a smooth outside, as `_lobe` gives it.

    The cosine, times the share that the outside lets in (Fresnel): of what comes in low, least.
    """
    cosine = np.linspace(0, 1, 513)
    enters = np.zeros_like(cosine)
    enters[1:] = cosine[1:] * (1 - dielectric_reflectance(cosine[1:], ior))
    return _lobe(np.interp(_cosines(rows), cosine, enters).astype(np.float32))


def _cosines(rows: int) -> Floats:
    """Cosines between the first direction of each row and every direction, (rows, rows, 2 rows)."""
    polar = np.pi * (np.arange(rows) + 0.5) / rows
    azimuth = np.pi * np.arange(2 * rows) / rows
    cosine, sine = np.cos(polar).astype(np.float32), np.sin(polar).astype(np.float32)
    between = np.multiply.outer(np.outer(sine, sine), np.cos(azimuth).astype(np.float32))
    between += np.outer(cosine, cosine)[..., None]
    return np.asarray(between)


def _lobe(share: Floats) -> tuple[Floats, Array]:
    """A lobe between every two rows, by frequency along them, and its sum for each row.

    Returns
    -------
    (rows + 1, rows, rows) float32, (rows, 1, 1) float
    """
    norm = np.einsum("ijk,jk->i", share, solid_angles(len(share)))[:, None, None]
    return np.ascontiguousarray(np.moveaxis(np.fft.rfft(share, axis=2).real, 2, 0)), norm


def _on_octahedron(radiance: Floats) -> Floats:
    """A radiance map as an octahedral map with its border."""
    # The page reads the constants of this module and blurs no light.
    from scipy.ndimage import map_coordinates

    rows = radiance.shape[0]
    row, column = _places(rows)
    # One more column and row on either side: columns wrap round, rows end at the poles.
    padded = np.pad(radiance, ((0, 0), (1, 1), (0, 0)), mode="wrap")
    padded = np.pad(padded, ((1, 1), (0, 0), (0, 0)), mode="edge")
    return np.stack(
        [
            map_coordinates(padded[..., k], (row + 1, column + 1), order=1, mode="nearest")
            for k in range(3)
        ],
        axis=-1,
    )


@lru_cache(maxsize=3)
def _places(rows: int) -> tuple[Array, Array]:
    """Where the texels of an octahedral map lie on a radiance map, in its rows and columns."""
    at = (np.arange(-1, SIDE + 1) + 0.5) / SIDE * 2 - 1
    u, v = np.meshgrid(at, at)
    # Beyond an edge the map goes on upside down, mirrored at the edge's middle.
    across, down = np.abs(u) > 1, np.abs(v) > 1
    u, v = np.where(across, np.sign(u) * 2 - u, u), np.where(down, np.sign(v) * 2 - v, v)
    u, v = np.where(down, -u, u), np.where(across, -v, v)
    y = 1 - np.abs(u) - np.abs(v)
    x = np.where(y < 0, (1 - np.abs(v)) * np.where(u >= 0, 1, -1), u)
    z = np.where(y < 0, (1 - np.abs(u)) * np.where(v >= 0, 1, -1), v)
    length = np.sqrt(x * x + y * y + z * z)
    row = np.arccos(y / length) / np.pi * rows - 0.5
    column = np.mod(np.arctan2(z, x), 2 * np.pi) / np.pi * rows - 0.5
    return row, column
