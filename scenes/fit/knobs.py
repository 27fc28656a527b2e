"""Fields that a fit may change: continuous ones, and those with discrete values."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from materials.shelf import Shelf
from scenes.design.document import Design
from scenes.design.layers import kind_of
from scenes.fit.fields import field_at
from scenes.fit.measures import MEASURES, Measure, Measured
from scenes.kinds.builder import ReliefBuilder
from scenes.kinds.numbers import ContinuousField, DiscreteField, Numbers, Purpose
from scenes.problems import DesignProblem, one_of, printable
from scenes.quantities import Angle, Count, Quantity

__all__ = ["Knob", "Switch", "check_free", "knobs_for", "switches_for"]


@dataclass(frozen=True, slots=True)
class Knob:
    """A continuous field and its bounds.

    Parameters
    ----------
    path : str
        Path of the field.
    low, high : float
        Bounds, in the file's units.
    start : float
        Present value, or the value that is equivalent to its alternative.
    step : float
        Smallest visible change, in the file's units.
    rank : float
        Cost of changing the field, besides the cost of 1 for each field.
    """

    path: str
    low: float
    high: float
    start: float
    step: float
    rank: float


@dataclass(frozen=True, slots=True)
class Switch:
    """A field with discrete values, and one of its other values.

    Parameters
    ----------
    path : str
        Path of the field.
    value : int or str
        The other value.
    rank : float
        Cost of the change, besides the cost of 1 for each field.
    """

    path: str
    value: Any
    rank: float


_SMOOTH = (
    ContinuousField("placement.to", 0.02, 1.0, (Purpose.LENGTH, Purpose.THREAD)),
    ContinuousField("placement.from", 0.02, 1.0, (Purpose.ASKED,)),
    ContinuousField("finish.coat_thickness", 0.1, 0.5, (Purpose.WEIGHT,)),
)
_STEPPED = (DiscreteField("finish.coats", 0.5, (Purpose.WEIGHT,)),)
"""Fields that belong to no layer, by path."""

_AROUND = 2
"""Counts tried on each side of the present one."""


def knobs_for(
    measured: Measured,
    measures: Sequence[Measure],
    free: Collection[str],
    kept: Collection[str],
) -> list[Knob]:
    """List the continuous fields that may be changed.

    Parameters
    ----------
    measured : Measured
        The present design.
    measures : sequence of Measure
        Measures in the wishes.
    free : collection of str
        Paths of the only fields that may be changed; if empty, all that affect the measures.
    kept : collection of str
        Paths of fields that may not be changed.
    """
    wanted, design = _purposes(measures), measured.design
    made = []
    for path, smooth in _smooth(measured):
        field = field_at(design, path)
        # Of a strip's gap, width and share only the one that the design gives is changed.
        asked = field.value is not None and bool(wanted.intersection(smooth.purposes))
        if not (path in free if free else asked) or path in kept:
            continue
        assert isinstance(field.marker, Quantity)
        value = field.value
        if value is None:
            held = MEASURES[path.rpartition(".")[2]].of(measured)
            assert held is not None
            value = field.marker.write(held, design.units)
        scale = field.marker.bound_scale(design.units)
        size = smooth.step if isinstance(field.marker, Angle) else smooth.step * abs(value)
        size = max(size, smooth.least / scale)
        low, high = field.marker.low / scale, field.marker.high / scale
        made.append(Knob(path, low, high, value, size, smooth.rank))
    return made


def switches_for(
    measured: Measured,
    shelf: Shelf,
    measures: Sequence[Measure],
    free: Collection[str],
    kept: Collection[str],
) -> list[Switch]:
    """List the other values of discrete fields to try, nearest first.

    Parameters
    ----------
    measured : Measured
        The present design.
    shelf : Shelf
        Threads to choose from.
    measures : sequence of Measure
    free, kept : collection of str
        As in `knobs_for`.
    """
    wanted, design = _purposes(measures), measured.design
    made = []
    for path, stepped in _stepped(measured):
        chosen = path in free if free else bool(wanted.intersection(stepped.purposes))
        if chosen and path not in kept:
            for number, value in enumerate(_values(design, shelf, path, stepped), 1):
                away = abs(value - field_at(design, path).value) if _is_count(value) else number
                made.append(Switch(path, value, stepped.rank * away))
    return sorted(made, key=lambda switch: switch.rank)


def check_free(measured: Measured, paths: Collection[str], option: str) -> frozenset[str]:
    """Check that a fit can change some fields.

    Parameters
    ----------
    measured : Measured
        The present design.
    paths : collection of str
        Paths of the fields.
    option : str
        Name of the option that gives them, for a refusal.

    Returns
    -------
    frozenset of str
        Their usual paths.

    Raises
    ------
    DesignProblem
    """
    design = measured.design
    known = [path for path, _ in (*_smooth(measured), *_stepped(measured))]
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


def _purposes(measures: Sequence[Measure]) -> set[Purpose]:
    return {purpose for measure in measures for purpose in measure.purposes}


def _smooth(measured: Measured) -> Iterator[tuple[str, ContinuousField]]:
    """Continuous fields by path: of reliefs, of no layer, of other layers."""
    below, above = _numbers_by_path(measured)
    yield from (
        (f"{path}.{smooth.field}", smooth) for path, own in below for smooth in own.continuous
    )
    for smooth in _SMOOTH:
        if measured.design.finish.coats or not smooth.field.startswith("finish."):
            yield smooth.field, smooth
    yield from (
        (f"{path}.{smooth.field}", smooth) for path, own in above for smooth in own.continuous
    )


def _stepped(measured: Measured) -> Iterator[tuple[str, DiscreteField]]:
    below, above = _numbers_by_path(measured)
    yield from (
        (f"{path}.{stepped.field}", stepped) for path, own in below for stepped in own.discrete
    )
    yield from ((stepped.field, stepped) for stepped in _STEPPED)
    yield from (
        (f"{path}.{stepped.field}", stepped) for path, own in above for stepped in own.discrete
    )


_Owners = list[tuple[str, Numbers[Any]]]


def _numbers_by_path(measured: Measured) -> tuple[_Owners, _Owners]:
    """Paths and numbers of reliefs, and of the other layers that are measured."""
    parted: tuple[_Owners, _Owners] = [], []
    for builder in measured.builders:
        own = kind_of(builder.layer).numbers
        parted[not isinstance(builder, ReliefBuilder)].append((builder.path, own))
    return parted


def _values(design: Design, shelf: Shelf, path: str, stepped: DiscreteField) -> Iterator[Any]:
    """Give the other values to try for a field."""
    field = field_at(design, path)
    if isinstance(field.marker, Count):
        for away in range(1, _AROUND + 1):
            for value in (field.value - away, field.value + away):
                # A finish is neither removed nor added to change the weight.
                if max(field.marker.low, 1) <= value <= field.marker.high and field.value:
                    yield value
    elif stepped.choices:
        yield from (str(choice) for choice in stepped.choices if choice != field.value)
    else:
        here = shelf.thread(field.value)
        lighter = [
            thread for thread in shelf.threads if thread.tex < here.tex and thread.kind is here.kind
        ]
        # One thread of each weight: the builder chooses its colour.
        seen: dict[float, str] = {}
        for thread in sorted(lighter, key=lambda thread: -thread.tex):
            seen.setdefault(thread.tex, thread.name)
        same = _same_colour(here.name, [thread.name for thread in lighter])
        yield from dict.fromkeys([*([same] if same else []), *seen.values()])


def _same_colour(name: str, others: Sequence[str]) -> str | None:
    """Find the same colour in another size: only the last word of the name differs."""
    stem = name.rpartition(" ")[0]
    return next((other for other in others if other.rpartition(" ")[0] == stem), None)


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)
