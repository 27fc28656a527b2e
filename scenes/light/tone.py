"""From scene light to the screen: one exposure and one curve for every picture.

Lights are calibrated so that a grey ball of 18 % reads 0.18. Up to `LINEAR_TO` the curve is the
identity, so that a thread of a given sRGB colour is shown in that colour; above, a shoulder rolls
off like film's and never clips: beyond the knee x follows t (1 + t / w²) / (1 + t),
[Reinhard2002] eq. 4, scaled to leave the knee with slope 1 and to reach white at `WHITE`.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["EXPOSURE", "LINEAR_TO", "WHITE", "display_light"]

EXPOSURE = 1.0
"""Scene radiance is multiplied by this, in every picture."""

LINEAR_TO = 0.73
"""Display light up to which the curve is the identity."""

WHITE = 7.0
"""Scene radiance that is shown as white."""


def display_light(radiance: ArrayLike) -> NDArray[np.float64]:
    """Linear light on the display for scene radiance, channel by channel.

    Parameters
    ----------
    radiance : (...) float
        Linear sRGB, already exposed; negative values are taken as 0.

    Returns
    -------
    (...) float
        0 to 1.
    """
    x = np.clip(np.asarray(radiance, dtype=np.float64), 0, WHITE)
    room = 1 - LINEAR_TO
    t = (x - LINEAR_TO) / room
    white = (WHITE - LINEAR_TO) / room
    shoulder = LINEAR_TO + room * t * (1 + t / white**2) / (1 + np.abs(t))
    return np.where(x <= LINEAR_TO, x, shoulder)
