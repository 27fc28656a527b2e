"""The drawing of the blank, with what is fitted on it and where the wrap is."""

from typing import Any

import numpy as np

from scenes.design.checks import laid_span
from scenes.design.document import Design
from scenes.design.rod import other_wraps
from scenes.quantities import Length, Units

__all__ = ["profile_of"]

Json = dict[str, Any]

_OUTLINE_POINTS = 121
"""Points of the drawn outline of the blank."""

_LENGTH = Length(0, 0, "")


def profile_of(design: Design, units: Units) -> Json:
    """Data of the drawing of the blank, with lengths in the units shown.

    Parameters
    ----------
    design : Design
    units : Units
    """
    blank, place = design.blank.measured(), design.placement
    stations = design.blank.stations
    spans = [fitting.span for fitting in design.blank.fitted]
    wound = laid_span(design)
    ends = [stations[0].at, stations[-1].at, *(end for span in spans for end in span)]
    first, last = min(ends), max(ends)
    z = np.linspace(first, last, _OUTLINE_POINTS)

    def to(mm: float) -> float:
        return round(_LENGTH.write(float(mm), units), 4)

    return {
        "first": to(first),
        "last": to(last),
        "outline": [[to(a), to(2 * r)] for a, r in zip(z, blank.radius(z), strict=True)],
        "stations": [
            {"path": f"blank.stations.{i}", "at": to(station.at), "diameter": to(station.diameter)}
            for i, station in enumerate(stations)
        ],
        "fitted": [
            {
                "path": f"blank.fitted.{i}",
                "kind": fitting.kind,
                "from": to(fitting.span[0]),
                "to": to(fitting.span[1]),
                "diameter": to(getattr(fitting, "diameter", 0.0)),
            }
            for i, fitting in enumerate(design.blank.fitted)
        ],
        "from": to(place.start),
        "to": to(place.end),
        "wound": [to(at) for at in wound],
        "others": [
            {"name": rod.wrap_name, "wound": [to(at) for at in laid_span(rod)]}
            for rod in other_wraps(design)
        ],
        "unit": units.value,
        "step": 0.05 if units is Units.IN else 1.0,
        "fine": 0.005 if units is Units.IN else 0.05,
    }
