"""What may be changed for a wish: fields that go smoothly, and those that go by steps."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from geometry.winding import Hand
from materials.shelf import Shelf
from scenes.design.document import Design
from scenes.fit.fields import field_at
from scenes.fit.measures import MEASURES, Measure, Measured
from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.mesh_strip.model import Laid, MeshStrip
from scenes.problems import DesignProblem, one_of, printable
from scenes.quantities import Count, Quantity

__all__ = ["Knob", "Switch", "check_free", "knobs_for", "switches_for"]


@dataclass(frozen=True, slots=True)
class Knob:
    """A field that goes smoothly between two bounds.

    Parameters
    ----------
    path : str
    low, high : float
        In the file's units.
    start : float
        What it holds, or would hold in place of its alternative.
    step : float
        A change that is seen, in the file's units.
    rank : float
        How unlikely a builder is to want it changed, in fields.
    """

    path: str
    low: float
    high: float
    start: float
    step: float
    rank: float


@dataclass(frozen=True, slots=True)
class Switch:
    """A field that goes by steps, at one of its other values.

    Parameters
    ----------
    path : str
    value : int or str
    rank : float
        How unlikely a builder is to want it so, in fields.
    """

    path: str
    value: Any
    rank: float


class _For(StrEnum):
    """For which wishes a field is changed when nobody says which are free."""

    RUN = "run"
    """Where the run of strip or cord lies."""
    LENGTH = "length"
    WEIGHT = "weight"
    COVER = "cover"
    ASKED = "asked"
    """Only if asked."""


_PURPOSES = {
    "turns": (_For.RUN, _For.LENGTH),
    "diamonds": (_For.RUN, _For.LENGTH),
    "strip_length": (_For.RUN, _For.LENGTH),
    "cord_length": (_For.RUN, _For.LENGTH),
    "wrap_length": (_For.LENGTH,),
    "cells": (_For.RUN,),
    "cells_along": (_For.RUN,),
    "cells_ahead": (_For.RUN,),
    "weight": (_For.WEIGHT, _For.COVER),
    "cover_thread": (_For.COVER,),
}
"""What is changed for each measure; for all others the run."""

_KNOBS: dict[str, tuple[float, float, tuple[_For, ...]]] = {
    "relief.angle": (5.0, 0.0, (_For.RUN,)),
    "relief.cell": (0.05, 2.0, (_For.ASKED,)),
    "relief.yarn_height": (0.1, 1.5, (_For.WEIGHT,)),
    "relief.yarn_width": (0.1, 2.0, (_For.ASKED,)),
    "relief.cord_diameter": (0.1, 1.0, (_For.WEIGHT,)),
    "relief.flatten": (0.1, 1.5, (_For.ASKED,)),
    "placement.to": (0.02, 1.0, (_For.LENGTH, _For.COVER)),
    "placement.from": (0.02, 1.0, (_For.ASKED,)),
    "finish.coat_thickness": (0.1, 0.5, (_For.WEIGHT,)),
    "cover.margin": (0.2, 1.0, (_For.ASKED,)),
}
"""Step (degrees, or a share of what it holds), rank, and for which wishes."""

_ALTERNATIVE = (0.1, 0.0, (_For.RUN, _For.WEIGHT))
"""The same for a strip's gap, width or share: with the angle, whichever is given."""

_SWITCHES: dict[str, tuple[float, tuple[_For, ...]]] = {
    "relief.starts": (1.5, (_For.RUN,)),
    "relief.count": (0.5, (_For.RUN, _For.WEIGHT)),
    "relief.hand": (0.5, (_For.ASKED,)),
    "relief.laid": (1.0, (_For.ASKED,)),
    "finish.coats": (0.5, (_For.WEIGHT,)),
    "cover.thread": (1.5, (_For.COVER,)),
}
"""Rank of each step, and for which wishes."""

_AROUND = 2
"""Steps tried to either side."""


def knobs_for(
    measured: Measured,
    measures: Sequence[Measure],
    free: Collection[str],
    kept: Collection[str],
) -> list[Knob]:
    """List the smooth fields that may be changed.

    Parameters
    ----------
    measured : Measured
        The design as it is.
    measures : sequence of Measure
        Those wished for.
    free : collection of str
        Paths that alone may be changed; if empty, those that serve the measures.
    kept : collection of str
        Paths that may not.
    """
    wanted, design = _wanted(measures), measured.design
    made = []
    for path, step, rank, purposes in _smooth(design):
        field = field_at(design, path)
        # Of a strip's gap, width and share that one is changed which the design gives.
        asked = field.value is not None and bool(wanted.intersection(purposes))
        if not (path in free if free else asked) or path in kept:
            continue
        assert isinstance(field.marker, Quantity)
        value = field.value
        if value is None:
            held = MEASURES[path.rpartition(".")[2]].of(measured)
            assert held is not None
            value = field.marker.write(held, design.units)
        scale = field.marker.bound_scale(design.units)
        size = step if path.endswith(".angle") else step * abs(value)
        if path.endswith(".gap"):
            size = max(size, 1 / scale)
        made.append(
            Knob(path, field.marker.low / scale, field.marker.high / scale, value, size, rank)
        )
    return made


def switches_for(
    measured: Measured,
    shelf: Shelf,
    measures: Sequence[Measure],
    free: Collection[str],
    kept: Collection[str],
) -> list[Switch]:
    """List the steps that fields may be changed by, nearest first; arguments as for `knobs_for`."""
    wanted, design = _wanted(measures), measured.design
    made = []
    for path, rank, purposes in _stepped(design):
        chosen = path in free if free else bool(wanted.intersection(purposes))
        if chosen and path not in kept:
            for number, value in enumerate(_values(design, shelf, path), 1):
                away = abs(value - field_at(design, path).value) if _counts(value) else number
                made.append(Switch(path, value, rank * away))
    return sorted(made, key=lambda switch: switch.rank)


def check_free(design: Design, paths: Collection[str], option: str) -> frozenset[str]:
    """Check that fields can be changed by a fit, and give their paths in the usual form.

    Raises
    ------
    DesignProblem
    """
    known = [path for path, *_ in _smooth(design)] + [path for path, *_ in _stepped(design)]
    usual = set()
    for path in paths:
        usual.add(field_at(design, path).path)
        if field_at(design, path).path not in known:
            raise DesignProblem(
                f"{option}: {printable(path)} is not a field that a fit changes; give "
                f"{one_of(known)}.",
                field=path,
            )
    return frozenset(usual)


def _wanted(measures: Sequence[Measure]) -> set[_For]:
    return {one for measure in measures for one in _PURPOSES.get(measure.name, (_For.RUN,))}


def _smooth(design: Design) -> Iterator[tuple[str, float, float, tuple[_For, ...]]]:
    relief = design.relief
    if isinstance(relief, MeshStrip):
        above = design.path_of(relief)
        yield (f"{above}.angle", *_KNOBS["relief.angle"])
        for name in relief.alternatives:
            yield (f"{above}.{name}", *_ALTERNATIVE)
        for name in ("cell", "yarn_height", "yarn_width"):
            yield (f"{above}.{name}", *_KNOBS[f"relief.{name}"])
    if isinstance(relief, CordLattice):
        above = design.path_of(relief)
        for name in ("angle", "cord_diameter", "flatten"):
            yield (f"{above}.{name}", *_KNOBS[f"relief.{name}"])
    for path in ("placement.to", "placement.from"):
        yield (path, *_KNOBS[path])
    if design.finish.coats:
        yield ("finish.coat_thickness", *_KNOBS["finish.coat_thickness"])
    if design.cover is not None:
        yield (f"{design.path_of(design.cover)}.margin", *_KNOBS["cover.margin"])


def _stepped(design: Design) -> Iterator[tuple[str, float, tuple[_For, ...]]]:
    relief = design.relief
    if isinstance(relief, MeshStrip):
        for name in ("starts", "hand", "laid"):
            yield (f"{design.path_of(relief)}.{name}", *_SWITCHES[f"relief.{name}"])
    if isinstance(relief, CordLattice):
        yield (f"{design.path_of(relief)}.count", *_SWITCHES["relief.count"])
    yield ("finish.coats", *_SWITCHES["finish.coats"])
    if design.cover is not None:
        yield (f"{design.path_of(design.cover)}.thread", *_SWITCHES["cover.thread"])


def _values(design: Design, shelf: Shelf, path: str) -> Iterator[Any]:
    """Give the other values that are tried for a field."""
    field = field_at(design, path)
    if isinstance(field.marker, Count):
        for away in range(1, _AROUND + 1):
            for value in (field.value - away, field.value + away):
                # A wrap is not made dry, or given a finish, for its weight.
                if max(field.marker.low, 1) <= value <= field.marker.high and field.value:
                    yield value
    elif path.endswith(".hand"):
        yield from (hand.value for hand in Hand if hand.value != field.value)
    elif path.endswith(".laid"):
        yield from (laid.value for laid in Laid if laid.value != field.value)
    else:
        here = shelf.thread(field.value)
        lighter = [one for one in shelf.threads if one.tex < here.tex and one.kind is here.kind]
        # The nearest in size of each weight: its colour is the builder's to choose.
        seen: dict[float, str] = {}
        for one in sorted(lighter, key=lambda thread: -thread.tex):
            seen.setdefault(one.tex, one.name)
        same = _same_colour(here.name, [one.name for one in lighter])
        yield from dict.fromkeys([*([same] if same else []), *seen.values()])


def _same_colour(name: str, others: Sequence[str]) -> str | None:
    """Find the same thread in another size: its name but for the size's letter."""
    stem = name.rpartition(" ")[0]
    return next((other for other in others if other.rpartition(" ")[0] == stem), None)


def _counts(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)
