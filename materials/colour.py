"""sRGB, linear RGB, XYZ and CIELAB, with hex strings at the edge.

Every function works on the last axis of an array of shape ``(..., 3)`` and lets NaN through.
Linear RGB has the sRGB primaries and the D65 white, 0 to 1 for colours a screen can show; values
beyond are kept, not clipped.

Sources: [IEC61966] (sRGB); [CIE15] (CIELAB).
"""

import re
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.problems import MaterialProblem

__all__ = [
    "format_hex",
    "from_bytes",
    "lab_to_linear",
    "lab_to_xyz",
    "linear_to_lab",
    "linear_to_srgb",
    "linear_to_xyz",
    "luminance",
    "parse_hex",
    "srgb_to_linear",
    "to_bytes",
    "xyz_to_lab",
    "xyz_to_linear",
]

Array = NDArray[np.float64]

# [IEC61966] gives the matrix to four places; so do we, and invert it exactly.
_TO_XYZ: Array = np.array(
    [
        [0.4124, 0.3576, 0.1805],
        [0.2126, 0.7152, 0.0722],
        [0.0193, 0.1192, 0.9505],
    ]
)
_FROM_XYZ: Array = np.asarray(np.linalg.inv(_TO_XYZ), dtype=np.float64)

# D65 from its chromaticity (0.3127, 0.3290), as in [IEC61966].
_WHITE: Array = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])

_DELTA = 6 / 29  # [CIE15]: where the cube root gives way to a straight line

_STEPS = 1 << 15
"""Linear steps from black to white for `to_bytes`; the darkest byte is ten of them wide."""

_HEX = re.compile(r"#(?:[0-9a-fA-F]{3}|[0-9a-fA-F]{6})")


def srgb_to_linear(srgb: ArrayLike) -> Array:
    """Undo the sRGB curve.

    Parameters
    ----------
    srgb : array_like, any shape
        Encoded sRGB, 0 to 1. Values below 0 follow the straight part of the curve.

    Returns
    -------
    ndarray of float64, same shape
        Linear RGB.

    Examples
    --------
    >>> round(float(srgb_to_linear(0.5)), 7)
    0.2140411
    """
    v = np.asarray(srgb, dtype=np.float64)
    curved = ((np.maximum(v, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.where(v <= 0.04045, v / 12.92, curved)


def linear_to_srgb(linear: ArrayLike) -> Array:
    """Apply the sRGB curve, the inverse of `srgb_to_linear`.

    Parameters
    ----------
    linear : array_like, any shape
        Linear RGB. Nothing is clipped.

    Returns
    -------
    ndarray of float64, same shape
        Encoded sRGB.
    """
    v = np.asarray(linear, dtype=np.float64)
    curved = 1.055 * np.maximum(v, 0.0031308) ** (1 / 2.4) - 0.055
    return np.where(v <= 0.0031308, v * 12.92, curved)


def from_bytes(levels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light of sRGB in bytes.

    Parameters
    ----------
    levels : (...) uint8
        Encoded sRGB.

    Returns
    -------
    (...) float32
        0 to 1.
    """
    return np.asarray(_linear_levels()[levels])


def to_bytes(linear: NDArray[np.floating]) -> NDArray[np.uint8]:
    """Bytes of sRGB nearest to linear light; beyond 0 to 1 it is clipped.

    Parameters
    ----------
    linear : (...) float
        Linear RGB.

    Returns
    -------
    (...) uint8
    """
    steps = np.rint(np.clip(linear, 0, 1) * np.float32(_STEPS)).astype(np.uint16)
    return np.asarray(_levels()[steps])


@cache
def _linear_levels() -> NDArray[np.float32]:
    return srgb_to_linear(np.arange(256) / 255).astype(np.float32)


@cache
def _levels() -> NDArray[np.uint8]:
    return np.rint(255 * linear_to_srgb(np.arange(_STEPS + 1) / _STEPS)).astype(np.uint8)


def linear_to_xyz(linear: ArrayLike) -> Array:
    """Linear RGB to CIE XYZ (2 degree observer, D65), with white at Y = 1.

    Parameters
    ----------
    linear : array_like, shape (..., 3)
        Linear RGB.

    Returns
    -------
    ndarray of float64, shape (..., 3)
    """
    return _triples(linear) @ _TO_XYZ.T


def xyz_to_linear(xyz: ArrayLike) -> Array:
    """CIE XYZ (D65, white at Y = 1) to linear RGB.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        White at Y = 1.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Outside 0 to 1 for colours that sRGB cannot show.
    """
    return _triples(xyz) @ _FROM_XYZ.T


def xyz_to_lab(xyz: ArrayLike) -> Array:
    """CIE XYZ to CIELAB against the D65 white ([CIE15], section 8.2.1).

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        White at Y = 1.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        L* (0 black, 100 white), a* (green to red), b* (blue to yellow).
    """
    t = _triples(xyz) / _WHITE
    f = np.where(t > _DELTA**3, np.cbrt(t), t / (3 * _DELTA**2) + 4 / 29)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)


def lab_to_xyz(lab: ArrayLike) -> Array:
    """CIELAB against the D65 white to CIE XYZ, the inverse of `xyz_to_lab`.

    Parameters
    ----------
    lab : array_like, shape (..., 3)
        L*, a*, b*.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        White at Y = 1.
    """
    v = _triples(lab)
    fy = (v[..., 0] + 16) / 116
    f = np.stack([fy + v[..., 1] / 500, fy, fy - v[..., 2] / 200], axis=-1)
    t = np.where(f > _DELTA, f**3, 3 * _DELTA**2 * (f - 4 / 29))
    return t * _WHITE


def linear_to_lab(linear: ArrayLike) -> Array:
    """Linear RGB to CIELAB (D65).

    Parameters
    ----------
    linear : array_like, shape (..., 3)
        Linear RGB.

    Returns
    -------
    ndarray of float64, shape (..., 3)
    """
    return xyz_to_lab(linear_to_xyz(linear))


def lab_to_linear(lab: ArrayLike) -> Array:
    """CIELAB (D65) to linear RGB.

    Parameters
    ----------
    lab : array_like, shape (..., 3)
        L*, a*, b*.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Outside 0 to 1 for colours that sRGB cannot show.
    """
    return xyz_to_linear(lab_to_xyz(lab))


def luminance(linear: ArrayLike) -> Array:
    """Relative luminance Y: 0 black, 1 white.

    Parameters
    ----------
    linear : array_like, shape (..., 3)
        Linear RGB.

    Returns
    -------
    ndarray of float64, shape (...)
    """
    return np.asarray(_triples(linear) @ _TO_XYZ[1])


def parse_hex(text: str) -> Array:
    """Read ``#rgb`` or ``#rrggbb``.

    Parameters
    ----------
    text : str
        Upper or lower case; ``#rgb`` means ``#rrggbb`` with each digit doubled.

    Returns
    -------
    ndarray of float64, shape (3,)
        Encoded sRGB, 0 to 1.

    Raises
    ------
    MaterialProblem
        If the text is anything else.

    Examples
    --------
    >>> parse_hex("#f80").tolist()
    [1.0, 0.5333333333333333, 0.0]
    """
    if not _HEX.fullmatch(text):
        shown = repr(text)
        if len(shown) > 40:
            shown = shown[:37] + "..."
        raise MaterialProblem(
            f"colour is {shown}, but should be '#rgb' or '#rrggbb', such as '#1f7fe8'."
        )
    digits = text[1:]
    if len(digits) == 3:
        digits = "".join(2 * d for d in digits)
    return np.array([int(digits[i : i + 2], 16) for i in (0, 2, 4)], dtype=np.float64) / 255


def format_hex(srgb: ArrayLike) -> str:
    """Write one colour as ``#rrggbb``, the nearest that eight bits can hold.

    Parameters
    ----------
    srgb : array_like, shape (3,)
        Encoded sRGB; values beyond 0 to 1 are clipped.

    Returns
    -------
    str

    Raises
    ------
    MaterialProblem
        If the colour is not three finite numbers.

    Examples
    --------
    >>> format_hex([1, 0.5, 0])
    '#ff8000'
    """
    v = np.asarray(srgb, dtype=np.float64)
    if v.shape != (3,) or not np.isfinite(v).all():
        raise MaterialProblem(
            f"colour is {np.array2string(v, threshold=6)}, but should be three finite numbers."
        )
    r, g, b = np.rint(np.clip(v, 0, 1) * 255).astype(int).tolist()
    return f"#{r:02x}{g:02x}{b:02x}"


def _triples(values: ArrayLike) -> Array:
    v = np.asarray(values, dtype=np.float64)
    if v.ndim == 0 or v.shape[-1] != 3:
        raise MaterialProblem(
            f"colours have shape {v.shape}, but the last axis should hold three numbers."
        )
    return v
