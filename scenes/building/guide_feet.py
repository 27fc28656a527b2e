"""The feet of guides: their sizes on the blank, and whether what is bound has room on them."""

import numpy as np
from numpy.typing import NDArray

from geometry.blank import Blank
from geometry.bodies.guide import GuideSizes
from materials.shelf import Shelf
from scenes.parts.blank import BlankSpec
from scenes.parts.guides import AT_FRAME, AT_OUTER_END, IN_MIDDLE, GuideFoot
from scenes.problems import DesignProblem
from scenes.quantities import Units, about, counted, length

__all__ = ["check_feet", "guide_sizes"]

_INNERMOST_FIRST = (AT_FRAME, IN_MIDDLE, AT_OUTER_END)


def guide_sizes(foot: GuideFoot, blank: Blank) -> GuideSizes:
    """All sizes of a guide: those that its design gives, and usual ones.

    Parameters
    ----------
    foot : GuideFoot
    blank : Blank
    """
    return GuideSizes.of(
        foot.length,
        float(blank.radius(foot.at)),
        feet=foot.feet,
        width=foot.width,
        height=foot.height,
        ring=foot.ring,
    )


def check_feet(spec: BlankSpec, blank: Blank, shelf: Shelf, units: Units) -> None:
    """Check that every guide's foot lies on the blank, and that it has room for what is inlaid.

    Parameters
    ----------
    spec : BlankSpec
    blank : Blank
        Its shape.
    shelf : Shelf
    units : Units
        Of the lengths in a refusal.

    Raises
    ------
    DesignProblem
        With the path of the guide's field, or of its scheme if that asks for what has no room.
    """
    for index, foot in spec.guides:
        binding = spec.binding_of(foot)
        path = f"blank.fitted.{index}"
        thick = 2 * float(blank.radius(foot.at))
        if foot.width is not None and foot.width > thick:
            raise DesignProblem.at(
                f"{path}.width",
                f"{length(foot.width, units)} is wider than the blank there; give "
                f"{about(thick, units)} or less, the width of the foot.",
            )
        room = guide_sizes(foot, blank).end_length
        rings, band, trim = (
            [shelf.thread(run.thread).diameter_mm for run in runs for _ in range(run.count)]
            for runs in (binding.rings, binding.band, binding.trim)
        )

        own = foot.model_fields_set

        def field(name: str, path: str = path, foot: GuideFoot = foot) -> str:
            is_own = foot.scheme is None or name in foot.model_fields_set
            return f"{path}.{name if is_own else 'scheme'}"

        if rings:
            reach = binding.inset + np.cumsum(rings)
            if reach[-1] > room:
                raise DesignProblem.at(
                    field(AT_OUTER_END),
                    f"rings that end {about(float(reach[-1]), units)} from the wrap's end do not "
                    f"fit on one end of the foot, which is {about(room, units)} long; "
                    + _rings_advice(binding.inset, reach, room, units),
                )
        outer = binding.inset + sum(rings) if rings else 0.0
        needed = outer + sum(trim)
        if band:
            # It lies in the middle, so the longer side decides.
            needed = sum(band) + 2 * max(outer, sum(trim))
        if (band or trim) and needed > room:
            raise DesignProblem.at(
                field(next((name for name in _INNERMOST_FIRST if name in own), IN_MIDDLE)),
                f"rings, band and trim need {about(needed, units)} on one end of the foot, which "
                f"is {about(room, units)} long; give fewer threads.",
            )


def _rings_advice(inset: float, reach: NDArray[np.float64], room: float, units: Units) -> str:
    """Advise what fits on one end of a foot.

    Parameters
    ----------
    inset : float
        Distance of the first ring from the end, mm.
    reach : (n,) float
        Where each thread ends with this inset, mm.
    room : float
        Length of that end, mm.
    units : Units
    """
    if reach[-1] - inset <= room:
        return f"give an inset of {about(inset + room - float(reach[-1]), units)} or less"
    count = int(np.searchsorted(reach, room))
    if count:
        return f"give {counted(count, 'thread')} or fewer"
    count = int(np.searchsorted(reach - inset, room))
    if count:
        return f"give {counted(count, 'thread')} or fewer, without an inset"
    return "leave the rings out"
