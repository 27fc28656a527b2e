"""Coordinates along and across a wound strip, on a grid."""

import numpy as np
from numpy.typing import NDArray

from geometry.winding import Winding, interpolate

__all__ = ["StripFrame"]

Array = NDArray[np.float64]


class StripFrame:
    """Coordinates along and across the nearest strip, for grids of fixed angles.

    At a fixed angle theta the nearest centre line crosses at some z_c with the local angle alpha.
    On the unrolled blank a point a = z - z_c further up the axis lies a sin(alpha) across the run
    and a cos(alpha) along it. Both are linear in z, so the coefficients are tabulated once for
    each angle and turn, and a grid point costs one look-up.

    Parameters
    ----------
    winding : Winding
        Centre line of the strip.
    theta : (nt,) float
        Angles of the grid, rad.
    """

    def __init__(self, winding: Winding, theta: Array) -> None:
        self.winding = winding
        self.theta = theta
        self.centre = winding.crossings(theta).T.copy()
        self.first = winding.first_number()
        self.angle = winding.angle_at(self.centre)
        self.sine = np.sin(self.angle)
        cosine = np.cos(self.angle)
        self._table = (
            self.sine.ravel(),
            (-self.centre * self.sine).ravel(),
            cosine.ravel(),
            (winding.length_at(self.centre) - self.centre * cosine).ravel(),
        )
        self._halfway = self._halfway_phases()

    def _halfway_phases(self) -> tuple[Array, Array]:
        """Where a point is equally far across from two neighbouring strips: z, mm, and phase, rad.

        On a taper this is not halfway in phase, and a strip that nearly fills the turn would be
        cut short on one side.
        """
        winding = self.winding
        step = 2 * np.pi / winding.starts
        before = winding.phase[0] - np.linspace(step, 0, 64, endpoint=False)
        phase = np.concatenate((before, winding.phase))
        lower, upper = winding.z_at(phase), winding.z_at(phase + step)
        sine, sine_above = np.sin(winding.angle_at(lower)), np.sin(winding.angle_at(upper))
        return (lower * sine + upper * sine_above) / (sine + sine_above), phase + step / 2

    def coordinates(self, z: Array) -> tuple[Array, Array]:
        """Distance along and across the nearest strip.

        Parameters
        ----------
        z : (m,) float
            Stations, mm.

        Returns
        -------
        along, across : (m, nt) float
            mm; `across` is 0 on the centre line and grows towards the tip.
        """
        winding, nt = self.winding, self.theta.size
        per_start = winding.starts / (2 * np.pi)
        phase = interpolate(z, *self._halfway)[:, None] * per_start - self.first
        number = phase - winding.hand.sign * per_start * self.theta[None, :]
        np.rint(number, out=number)
        np.clip(number, 0, self.centre.shape[0] - 1, out=number)
        number *= nt
        number += np.arange(nt)
        index = number.astype(np.intp)
        sine, across_at, cosine, along_at = self._table
        z = z[:, None]
        across = sine[index]
        across *= z
        across += across_at[index]
        along = cosine[index]
        along *= z
        along += along_at[index]
        return along, across
