"""The clear sky and the low sun: the analytic model of [Preetham1999].

The sky is its fitted distribution of luminance and chromaticity (appendix A.2); the sun is a
blackbody seen through the air of appendix A.1. Light is photometric here (kcd/m², klx, CIE
1931 colorimetry); ``scenes.light.lights`` turns it into linear sRGB and scales it.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "distribution",
    "perez",
    "sky_xyY",
    "sun_illuminance",
    "zenith_chromaticity",
    "zenith_luminance",
]

Array = NDArray[np.float64]

# Rows A to E of the distribution, each as slope and offset in turbidity: appendix A.2, to the five
# places of the authors' program (the paper prints four).
_PEREZ_Y = ((0.17872, -1.46303), (-0.35540, 0.42749), (-0.02266, 5.32505), (0.12064, -2.57705),
            (-0.06696, 0.37027))  # fmt: skip
_PEREZ_SMALL_X = ((-0.01925, -0.25922), (-0.06651, 0.00081), (-0.00041, 0.21247),
                  (-0.06409, -0.89887), (-0.00325, 0.04517))  # fmt: skip
_PEREZ_SMALL_Y = ((-0.01669, -0.26078), (-0.09495, 0.00921), (-0.00792, 0.21023),
                  (-0.04405, -1.65369), (-0.01092, 0.05291))  # fmt: skip

# Zenith chromaticity: rows T², T, 1; columns θs³, θs², θs, 1 (appendix A.2).
_ZENITH_X = np.array(
    [
        [0.00166, -0.00375, 0.00209, 0.0],
        [-0.02903, 0.06377, -0.03202, 0.00394],
        [0.11693, -0.21196, 0.06052, 0.25886],
    ]
)
_ZENITH_Y = np.array(
    [
        [0.00275, -0.00610, 0.00317, 0.0],
        [-0.04214, 0.08970, -0.04153, 0.00516],
        [0.15346, -0.26756, 0.06670, 0.26688],
    ]
)

# Ozone absorption per cm, every 20 nm from 440 nm (appendix A.1, table 2, thinned).
_OZONE_NM = np.arange(440.0, 781.0, 20.0)
_OZONE = np.array([0.0, 0.006, 0.014, 0.030, 0.045, 0.063, 0.080, 0.103, 0.120,
                   0.125, 0.105, 0.079, 0.057, 0.036, 0.023, 0.014, 0.010, 0.007])  # fmt: skip
_OZONE_CM = 0.35

_SUN_KELVIN = 5778.0  # effective temperature of the sun's disc, from memory
_SUN_KLX = 128.0  # illuminance above the air, facing the sun, from memory
_SECOND_RADIATION = 1.438777e-2  # hc/k in m·K [CODATA2018]


def perez(
    theta: ArrayLike, gamma: ArrayLike, a: float, b: float, c: float, d: float, e: float
) -> Array:
    """Evaluate the five-parameter sky distribution of [Perez1993].

    Parameters
    ----------
    theta, gamma : array_like
        Angle from the zenith and from the sun, radians; broadcast together. Below the horizon
        the value on the horizon is given.
    a, b, c, d, e : float
        Darkening to the horizon, its gradient, the glow round the sun, its width, back-scatter.

    Returns
    -------
    ndarray of float64
        Relative value F(θ, γ), [Preetham1999] eq. 2.
    """
    cos_theta = np.maximum(np.cos(np.asarray(theta, np.float64)), 1e-3)
    gamma = np.asarray(gamma, np.float64)
    horizon = 1.0 + a * np.exp(b / cos_theta)
    glow: Array = horizon * (1.0 + c * np.exp(d * gamma) + e * np.cos(gamma) ** 2)
    return glow


def distribution(turbidity: float) -> Array:
    """Give the parameters A to E for Y, x and y at one turbidity.

    Parameters
    ----------
    turbidity : float
        Haze of the air: 2 very clear, 10 hazy.

    Returns
    -------
    ndarray of float64, shape (3, 5)
        Rows Y, x, y; columns A, B, C, D, E (appendix A.2).
    """
    table = np.array([_PEREZ_Y, _PEREZ_SMALL_X, _PEREZ_SMALL_Y])
    result: Array = table[..., 0] * turbidity + table[..., 1]
    return result


def _check(turbidity: float, sun_zenith: float) -> None:
    if not 2.0 <= turbidity <= 10.0:
        raise ValueError(f"turbidity is {turbidity}; this sky is fitted for 2 to 10.")
    if not 0.0 <= sun_zenith <= math.pi / 2.0:
        raise ValueError(f"sun_zenith is {sun_zenith} rad; the sun must be up, 0 to pi/2.")


def zenith_luminance(turbidity: float, sun_zenith: float) -> float:
    """Luminance straight overhead (appendix A.2).

    Parameters
    ----------
    turbidity : float
        2 to 10.
    sun_zenith : float
        Angle of the sun from the zenith, radians.

    Returns
    -------
    float
        kcd/m².

    Raises
    ------
    ValueError
        If the turbidity or the sun's place is outside the fit.
    """
    _check(turbidity, sun_zenith)
    chi = (4.0 / 9.0 - turbidity / 120.0) * (math.pi - 2.0 * sun_zenith)
    return (4.0453 * turbidity - 4.9710) * math.tan(chi) - 0.2155 * turbidity + 2.4192


def zenith_chromaticity(turbidity: float, sun_zenith: float) -> tuple[float, float]:
    """Chromaticity straight overhead (appendix A.2).

    Parameters
    ----------
    turbidity : float
        2 to 10.
    sun_zenith : float
        Angle of the sun from the zenith, radians.

    Returns
    -------
    tuple of float
        CIE 1931 (x, y).

    Raises
    ------
    ValueError
        If the turbidity or the sun's place is outside the fit.
    """
    _check(turbidity, sun_zenith)
    haze = np.array([turbidity**2, turbidity, 1.0])
    place = np.array([sun_zenith**3, sun_zenith**2, sun_zenith, 1.0])
    return float(haze @ _ZENITH_X @ place), float(haze @ _ZENITH_Y @ place)


def sky_xyY(theta: ArrayLike, gamma: ArrayLike, turbidity: float, sun_zenith: float) -> Array:
    """Colour and luminance of the clear sky, without the sun's disc.

    Parameters
    ----------
    theta, gamma : array_like
        Angle from the zenith and from the sun, radians; broadcast together.
    turbidity : float
        2 to 10.
    sun_zenith : float
        Angle of the sun from the zenith, radians.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        CIE 1931 x, y and luminance Y in kcd/m², [Preetham1999] eq. 3 and 4.

    Raises
    ------
    ValueError
        If the turbidity or the sun's place is outside the fit.
    """
    zenith = (
        *zenith_chromaticity(turbidity, sun_zenith),
        zenith_luminance(turbidity, sun_zenith),
    )
    luminance, small_x, small_y = distribution(turbidity)
    parts = [
        value * perez(theta, gamma, *row) / perez(0.0, sun_zenith, *row)
        for value, row in zip(zenith, (small_x, small_y, luminance), strict=True)
    ]
    return np.stack(parts, axis=-1)


def _matching(nm: Array) -> Array:
    """CIE 1931 matching functions (n, 3): the multi-lobe fits of [Wyman2013]."""

    def lobe(peak: float, below: float, above: float) -> Array:
        t = (nm - peak) / np.where(nm < peak, below, above)
        return np.exp(-0.5 * t * t)

    x = 1.056 * lobe(599.8, 37.9, 31.0) + 0.362 * lobe(442.0, 16.0, 26.7)
    x -= 0.065 * lobe(501.1, 20.4, 26.2)
    y = 0.821 * lobe(568.8, 46.9, 40.5) + 0.286 * lobe(530.9, 16.3, 31.1)
    z = 1.217 * lobe(437.0, 11.8, 36.0) + 0.681 * lobe(459.0, 26.0, 13.8)
    return np.stack([x, y, z], axis=-1)


def sun_illuminance(turbidity: float, sun_zenith: float) -> Array:
    """Light of the sun's disc through the air, on a plane that faces it.

    A blackbody of 5778 K, 128 klx above the air, dimmed by Rayleigh scattering, aerosols
    (Ångström: β from the turbidity, α = 1.3) and 0.35 cm of ozone (appendix A.1). Water vapour
    and mixed gases are left out: they absorb outside the range that the eye sees well.

    Parameters
    ----------
    turbidity : float
        2 to 10.
    sun_zenith : float
        Angle of the sun from the zenith, radians.

    Returns
    -------
    ndarray of float64, shape (3,)
        CIE 1931 X, Y, Z in klx.

    Raises
    ------
    ValueError
        If the turbidity or the sun's place is outside the fit.
    """
    _check(turbidity, sun_zenith)
    nm = np.arange(380.0, 781.0, 5.0)
    metres, microns = nm * 1e-9, nm * 1e-3
    above = metres**-5 / np.expm1(_SECOND_RADIATION / (metres * _SUN_KELVIN))
    # Relative optical mass (appendix A.1, after Kasten).
    degrees = math.degrees(sun_zenith)
    mass = 1.0 / (math.cos(sun_zenith) + 0.15 * (93.885 - degrees) ** -1.253)
    beta = 0.04608365822 * turbidity - 0.04586025928
    depth = 0.008735 * microns**-4.08 + beta * microns**-1.3
    depth += _OZONE_CM * np.interp(nm, _OZONE_NM, _OZONE)
    matching = _matching(nm)
    xyz: Array = (above * np.exp(-depth * mass)) @ matching
    return xyz * (_SUN_KLX / float(above @ matching[:, 1]))
