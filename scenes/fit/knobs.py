"""What may be changed for a wish: fields that go smoothly, and those that go by steps."""

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


_SMOOTH = (
    ContinuousField("placement.to", 0.02, 1.0, (Purpose.LENGTH, Purpose.THREAD)),
    ContinuousField("placement.from", 0.02, 1.0, (Purpose.ASKED,)),
    ContinuousField("finish.coat_thickness", 0.1, 0.5, (Purpose.WEIGHT,)),
)
_STEPPED = (DiscreteField("finish.coats", 0.5, (Purpose.WEIGHT,)),)
"""Fields that belong to no layer, by their paths."""

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
    wanted, design = _purposes(measures), measured.design
    made = []
    for path, smooth in _smooth(measured):
        field = field_at(design, path)
        # Of a strip's gap, width and share that one is changed which the design gives.
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
    """List the steps that fields may be changed by, nearest first; arguments as for `knobs_for`."""
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
    """Check that fields can be changed by a fit, and give their paths in the usual form.

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
    """Smooth fields by path: those of a relief, of no layer, of other layers."""
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
    """Paths and numbers of a relief, and of the other layers that are measured."""
    parted: tuple[_Owners, _Owners] = [], []
    for builder in measured.builders:
        own = kind_of(builder.layer).numbers
        parted[not isinstance(builder, ReliefBuilder)].append((builder.path, own))
    return parted


def _values(design: Design, shelf: Shelf, path: str, stepped: DiscreteField) -> Iterator[Any]:
    """Give the other values that are tried for a field."""
    field = field_at(design, path)
    if isinstance(field.marker, Count):
        for away in range(1, _AROUND + 1):
            for value in (field.value - away, field.value + away):
                # A wrap is not made dry, or given a finish, for its weight.
                if max(field.marker.low, 1) <= value <= field.marker.high and field.value:
                    yield value
    elif stepped.choices:
        yield from (str(choice) for choice in stepped.choices if choice != field.value)
    else:
        here = shelf.thread(field.value)
        lighter = [
            thread for thread in shelf.threads if thread.tex < here.tex and thread.kind is here.kind
        ]
        # The nearest in size of each weight: its colour is the builder's to choose.
        seen: dict[float, str] = {}
        for thread in sorted(lighter, key=lambda thread: -thread.tex):
            seen.setdefault(thread.tex, thread.name)
        same = _same_colour(here.name, [thread.name for thread in lighter])
        yield from dict.fromkeys([*([same] if same else []), *seen.values()])


def _same_colour(name: str, others: Sequence[str]) -> str | None:
    """Find the same thread in another size: its name but for the size's letter."""
    stem = name.rpartition(" ")[0]
    return next((other for other in others if other.rpartition(" ")[0] == stem), None)


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)
