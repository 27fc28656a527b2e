"""A strip on a blank, from any two of its figures: angle, pitch, gap, width and covered share.

On a cylinder of the local radius all five follow from two. With A = 2 pi r / n, the part of the
circumference that each of n starts has: p/n = A / tan(alpha), g = p/n - w / sin(alpha) and the
share s = n w / (p sin(alpha)) = w / (A cos(alpha)), from which every pair here is solved.
"""

from collections.abc import Mapping
from enum import StrEnum

import numpy as np

from geometry import winding
from geometry.errors import GeometryError

__all__ = ["StripFigure", "strip_from"]


class StripFigure(StrEnum):
    """What may be known of a strip."""

    ANGLE = "angle"
    """To the axis, rad."""
    PITCH = "pitch"
    """Advance of one strip in a turn, mm."""
    GAP = "gap"
    """Along the axis, mm."""
    WIDTH = "strip_width"
    """Across the run, mm."""
    SHARE = "covered_share"
    """Of the blank, 0 to 1."""


def strip_from(
    radius: float, known: Mapping[StripFigure, float], starts: int = 1
) -> tuple[float, float]:
    """Angle and width of the strip of which two figures are known.

    Parameters
    ----------
    radius : float
        Bare radius, mm.
    known : dict of StripFigure to float
        Two figures, mm or rad; not angle and pitch together, which mean the same.
    starts : int
        Strips side by side.

    Returns
    -------
    angle, width : float
        rad and mm.

    Raises
    ------
    GeometryError
        If no strip has these two.
    """
    figures = dict(known)
    if len(figures) != 2 or set(figures) == {StripFigure.ANGLE, StripFigure.PITCH}:
        raise ValueError(f"two figures make a strip, not {', '.join(figures)}")
    around = 2 * np.pi * radius / starts
    if StripFigure.PITCH in figures:
        pitch = figures.pop(StripFigure.PITCH)
        figures[StripFigure.ANGLE] = float(np.arctan2(2 * np.pi * radius, pitch))
    angle = figures.get(StripFigure.ANGLE)
    gap = figures.get(StripFigure.GAP)
    width = figures.get(StripFigure.WIDTH)
    share = figures.get(StripFigure.SHARE)
    if angle is None:
        angle = _angle(radius, starts, around, gap, width, share)
    if width is None and gap is not None:
        width = float(winding.width_from_gap(radius, angle, gap, starts))
    elif width is None:
        width = float(winding.width_from_share(radius, angle, share or 0.0, starts))
    if not (0 < angle < np.pi / 2 and width > 0):
        raise GeometryError("known", "no strip has these two figures on this blank")
    return float(angle), float(width)


def _angle(
    radius: float,
    starts: int,
    around: float,
    gap: float | None,
    width: float | None,
    share: float | None,
) -> float:
    """Find the angle from two of the others, rad."""
    if width is not None and gap is not None:
        return float(winding.constant_gap_angle(radius, width, gap, starts))
    if width is not None and share is not None:
        cosine = width / (around * share)
        if cosine >= 1:
            raise GeometryError(
                "share",
                f"{share:.4g} is less than a strip of {width:.4g} mm covers at any angle; give "
                f"{width / around:.4g} or more",
            )
        return float(np.arccos(cosine))
    # p/n (1 - s) = g
    if gap is None or share is None or share >= 1 or gap <= 0:
        raise GeometryError("gap", "only a covered share of 1 leaves no gap, at any angle")
    return float(np.arctan2(around * (1 - share), gap))
