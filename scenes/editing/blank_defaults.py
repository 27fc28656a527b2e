"""New entries of the blank's lists: stations, and fittings clear of what is there already."""

import math
from typing import Any

from scenes.building.build import FINISH_MARGIN
from scenes.design.checks import laid_span
from scenes.design.document import Design
from scenes.design.threads import layer_threads
from scenes.files import samples
from scenes.parts.guides import GuideScheme
from scenes.parts.part import Part
from scenes.quantities import Length

__all__ = ["GRIP_LENGTH", "GRIP_WALL", "new_fitting", "new_scheme", "next_station"]

Entry = dict[str, Any]

GRIP_LENGTH = 120.0
"""Length of a new grip, mm (invented default)."""

GRIP_WALL = 6.0
"""Wall of a new grip where no other is on the blank, mm (invented default)."""

_APART = 20.0
"""Distance of a new guide's foot from what lies before it, mm (invented default)."""

_LENGTH = Length(0, 0, "")


def next_station(design: Design) -> Entry:
    """Continue up the blank as the last two stations do.

    Parameters
    ----------
    design : Design

    Returns
    -------
    dict
        The station as in the design's file, in its units.
    """
    before, last = design.blank.stations[-2:]
    apart = last.at - before.at
    thinner = max(last.diameter + (last.diameter - before.diameter), last.diameter / 2)
    return {
        "at": _LENGTH.write(round(last.at + apart, 1), design.units),
        "diameter": _LENGTH.write(round(thinner, 2), design.units),
    }


def new_fitting(design: Design, kind: str) -> Entry:
    """Place a grip or a guide clear of the wrap, of its finish and of what is fitted already.

    A first grip goes before the wrap, where nothing is fitted there; all else goes beyond what
    lies nearest the tip. What it is made of is as on the last one of its kind.

    Parameters
    ----------
    design : Design
    kind : str
        ``grip`` or ``guide``.

    Returns
    -------
    dict
        The fitting as in the design's file, in its units.
    """
    fitted, units = design.blank.fitted, design.units
    start, end = laid_span(design)
    start, end = start - FINISH_MARGIN, end + FINISH_MARGIN
    like = [one for one in fitted if one.kind == kind]
    shipped = (one for name in samples.names() for one in samples.load(name).blank.fitted)
    model = like[-1] if like else next(one for one in shipped if one.kind == kind)
    entry: Entry = model.model_dump(
        mode="json",
        by_alias=True,
        exclude_unset=True,
        exclude_none=True,
        context={"units": units},
    )
    tipward = math.ceil(10 * max([end, *(one.span[1] for one in fitted)])) / 10
    if kind != "grip":
        at = tipward + _APART + (model.span[1] - model.span[0]) / 2
        return {**entry, "at": _LENGTH.write(round(at, 1), units)}
    span = (tipward, tipward + GRIP_LENGTH)
    if start > 0 and all(one.span[0] >= end for one in fitted):
        span = (max(0.0, start - GRIP_LENGTH), start)
    entry |= {
        name: _LENGTH.write(round(place, 1), units)
        for name, place in zip(("from", "to"), span, strict=True)
    }
    if not like:
        thickest = max(station.diameter for station in design.blank.stations)
        entry["diameter"] = _LENGTH.write(round(thickest + 2 * GRIP_WALL), units)
    return entry


def new_scheme(design: Design) -> Entry:
    """Make a scheme for guides: like the last one, else as the last guide is bound.

    Parameters
    ----------
    design : Design

    Returns
    -------
    dict
        The scheme as in the design's file, in its units, with a name of its own.
    """
    blank, units = design.blank, design.units
    names = [scheme.name for scheme in blank.guide_schemes]
    name = next(
        one
        for one in ("guides", *(f"guides {number}" for number in range(2, len(names) + 3)))
        if one not in names
    )
    model: Part | None = None
    if blank.guide_schemes:
        model = blank.guide_schemes[-1]
    elif blank.guides:
        model = blank.guides[-1][1]
    if model is None:
        return {"name": name, "thread": next(iter(layer_threads(design)))}
    entry: Entry = model.model_dump(
        mode="json",
        by_alias=True,
        include=set(GuideScheme.model_fields),
        exclude_unset=True,
        exclude_none=True,
        context={"units": units},
    )
    return {**entry, "name": name}
