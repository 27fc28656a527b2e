"""Fields that a fit may change: continuous ones, and those with discrete values."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from materials.shelf import Shelf
from scenes.design.checks import laid_span
from scenes.design.document import Design
from scenes.design.layers import kind_of
from scenes.fit.fields import Field, field_at
from scenes.fit.measures import MEASURES, Measure, Measured
from scenes.kinds.builder import ReliefBuilder
from scenes.kinds.numbers import ContinuousField, DiscreteField, Numbers, Purpose
from scenes.parts.blank import Placement
from scenes.problems import DesignProblem, one_of, printable
from scenes.quantities import Angle, Count, Quantity

__all__ = ["Knob", "Switch", "changeable_fields", "check_free", "knobs_for", "switches_for"]


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
    narrowed : (bool, bool)
        Whether the lower and the upper bound are what builders use, and the document allows more.
    """

    path: str
    low: float
    high: float
    start: float
    step: float
    rank: float
    narrowed: tuple[bool, bool] = (False, False)

    def holds(self, value: float) -> bool:
        """Tell whether a value is within the bounds, apart from rounding.

        Parameters
        ----------
        value : float
            In the file's units.
        """
        slack = _SLACK * self.step
        return self.low - slack <= value <= self.high + slack


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
    away : int
        Distance of a whole number from the present one, below zero for less; of other values, the
        position among them, from 1.
    measure : str
        Measure that is the field itself; empty if there is none.
    unusual : bool
        Whether it is beyond what builders use.
    """

    path: str
    value: Any
    rank: float
    away: int
    measure: str = ""
    unusual: bool = False

    @property
    def counts(self) -> bool:
        """Whether the field is a whole number."""
        return isinstance(self.value, int)


_SMOOTH = (
    ContinuousField("placement.to", 0.02, 1.0, (Purpose.LENGTH, Purpose.THREAD)),
    ContinuousField("placement.from", 0.02, 1.0, (Purpose.ASKED,)),
    ContinuousField("finish.coat_thickness", 0.1, 0.5, (Purpose.WEIGHT,), usual=(0.05, 0.4)),
)
_STEPPED = (DiscreteField("finish.coats", 0.5, (Purpose.WEIGHT,), usual=(1, 6)),)
"""Fields that belong to no layer, by path; usual values are common practice, no source."""

_ENDS = ("placement.from", "placement.to")

_LENGTH_SHARES = (0.5, 1.5)
"""Least and greatest length of a wrap that serves another wish, as shares of the present one: one
that is shorter or longer is another design (common practice, no source)."""

_LENGTHS = (10.0, 600.0)
"""Least and greatest length of a wrap that builders use, mm (common practice, no source)."""

_SLACK = 1e-6
"""Distance beyond a bound that is rounding, in visible steps."""


def knobs_for(
    measured: Measured,
    measures: Sequence[Measure],
    free: Collection[str],
    kept: Collection[str],
    *,
    settings: Mapping[str, Any] = MappingProxyType({}),
    unusual: bool = False,
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
    settings : mapping
        Values of fields that are set, by path.
    unusual : bool
        Whether values that builders do not use are allowed too.
    """
    wanted, design = _purposes(measured, measures), measured.design
    both = all(path in free and path not in kept for path in _ENDS)
    made = []
    for path, smooth in _smooth(measured):
        field = field_at(design, path)
        asked = _is_used(measured, path) and bool(wanted.intersection(smooth.purposes))
        if not (path in free if free else asked) or path in kept:
            continue
        assert isinstance(field.marker, Quantity)
        value = field.value if field.value is not None else _alternative_value(measured, path)
        if value is None:
            continue
        scale = field.marker.bound_scale(design.units)
        size = smooth.step if isinstance(field.marker, Angle) else smooth.step * abs(value)
        size = max(size, smooth.least / scale)
        lowest, highest = field.marker.low / scale, field.marker.high / scale
        low, high = lowest, highest
        usual = None if unusual else smooth.usual
        if path in _ENDS:
            moved = _moved(path, settings, scale, design.placement)
            asked_length = unusual or MEASURES["wrap_length"] in measures
            usual = _usual_ends(design, path, moved, both=both, any_length=asked_length)
        if usual is not None:
            # A present value is allowed, however unusual.
            least, most = (bound / scale for bound in usual)
            low, high = max(low, min(least, value)), min(high, max(most, value))
        narrowed = (low > lowest, high < highest)
        made.append(Knob(path, low, high, value, size, smooth.rank, narrowed))
    return made


def _moved(
    path: str, settings: Mapping[str, Any], scale: float, placement: Placement
) -> tuple[float, float]:
    """Place a wrap of the present length so that its other end is where it is set, mm.

    Parameters
    ----------
    path : str
        Of the end that may change.
    settings : mapping
        As in `knobs_for`.
    scale : float
        Unit of the settings, mm.
    placement : Placement
    """
    start, end = placement.start, placement.end
    other = settings.get(_ENDS[path == _ENDS[0]])
    if isinstance(other, int | float):
        shift = other * scale - (end if path == _ENDS[0] else start)
        return start + shift, end + shift
    return start, end


def _usual_ends(
    design: Design, path: str, placed: tuple[float, float], *, both: bool, any_length: bool
) -> tuple[float, float]:
    """Find between which places one end of the wrap is usually moved, mm from the butt.

    Parameters
    ----------
    design : Design
    path : str
        Of the end.
    placed : (float, float)
        Ends from which it is moved, mm.
    both : bool
        Whether the other end moves too; then each moves half as far.
    any_length : bool
        Whether every length is allowed that builders use, not only those near the present one.
    """
    start, end = placed
    length = end - start
    least, most = _LENGTHS
    if not any_length:
        least, most = (share * length for share in _LENGTH_SHARES)
        least, most = max(least, _LENGTHS[0]), min(most, _LENGTHS[1])
    shorter, longer = ((bound - length) / (2 if both else 1) for bound in (least, most))
    # An end that reaches into a grip or a guide already goes no deeper.
    held = [one.span for one in design.blank.fitted]
    first, last = laid_span(design)
    if path == "placement.to":
        into = any(low < last < high for low, high in held)
        return end + shorter, end if into else end + longer
    into = any(low < first < high for low, high in held)
    return start if into else start - longer, start - shorter


def _is_used(measured: Measured, path: str) -> bool:
    """Tell whether a field is changed unless the builder chooses: of alternatives, the one given.

    Where only a whole number is given, such as the repeats of a pattern, the first alternative with
    continuous values is changed too.
    """
    above, _, name = path.rpartition(".")
    builder = next((builder for builder in measured.builders if builder.path == above), None)
    if builder is None or name not in builder.layer.alternatives:
        return True
    given = [one for one in builder.layer.alternatives if getattr(builder.layer, one) is not None]
    smooth = [field.field for field in kind_of(builder.layer).numbers.continuous]
    first = next((one for one in builder.layer.alternatives if one in smooth), None)
    return name in given or (bool(given) and name == first and not set(given).intersection(smooth))


def _alternative_value(measured: Measured, path: str) -> float | None:
    """Value that a field would have in place of its alternative, in the file's units."""
    above, _, name = path.rpartition(".")
    design = measured.design
    for builder in measured.builders:
        if builder.path == above:
            held = kind_of(builder.layer).numbers.alternative_values(builder).get(name)
            marker = field_at(design, path).marker
            if held is not None and isinstance(marker, Quantity):
                return float(marker.write(held, design.units))
    return None


def switches_for(
    measured: Measured,
    shelf: Shelf,
    measures: Sequence[Measure],
    free: Collection[str],
    kept: Collection[str],
    *,
    unusual: bool = False,
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
    unusual : bool
        As in `knobs_for`.
    """
    wanted = _purposes(measured, measures)
    wished = {measure.name for measure in measures}
    made = []
    for path, stepped in _stepped(measured):
        asked = _is_used(measured, path) and bool(wanted.intersection(stepped.purposes))
        if (path in free if free else asked) and path not in kept:
            made += [
                switch
                for switch in _other_values(measured, shelf, path, stepped)
                # A number that is wished for itself may be any.
                if unusual or not switch.unusual or switch.measure in wished
            ]
    return sorted(made, key=lambda switch: switch.rank)


def changeable_fields(measured: Measured) -> list[str]:
    """List the paths of the fields that a fit can change.

    Parameters
    ----------
    measured : Measured
        The present design.
    """
    return [path for path, _ in (*_smooth(measured), *_stepped(measured))]


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
    known = changeable_fields(measured)
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


def _purposes(measured: Measured, measures: Sequence[Measure]) -> set[Purpose]:
    """Purposes of measures, as the layers have them that the measures are read off."""
    found: set[Purpose] = set()
    for measure in measures:
        owners = (kind_of(builder.layer).numbers for builder in measured.builders)
        own = (numbers.measure(measure.name) for numbers in owners)
        found.update(next((one.purposes for one in own if one is not None), measure.purposes))
    return found


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


def _other_values(
    measured: Measured, shelf: Shelf, path: str, stepped: DiscreteField
) -> Iterator[Switch]:
    """Give the other values of a field, the nearest first."""
    field = field_at(measured.design, path)
    if isinstance(field.marker, Count):
        yield from _other_counts(measured, field, field.marker, stepped)
        return
    if stepped.choices:
        values = [str(choice) for choice in stepped.choices if choice != field.value]
    else:
        values = _lighter_threads(shelf, field.value)
    for away, value in enumerate(values, 1):
        yield Switch(path, value, stepped.rank * away, away)


def _other_counts(
    measured: Measured, field: Field, marker: Count, stepped: DiscreteField
) -> Iterator[Switch]:
    """Give all other whole numbers that a field may have, the nearest first."""
    now = field.value
    if now is None:
        value = MEASURES[stepped.measure].of(measured) if stepped.measure else None
        now = None if value is None else max(round(value), 1)
    # A finish is neither removed nor added to change the weight.
    if not now:
        return
    least, most = stepped.usual or (marker.low, marker.high)
    numbers = range(max(marker.low, 1), marker.high + 1)
    for number in sorted(numbers, key=lambda number: abs(number - now)):
        if number != field.value:
            away = number - now
            unusual = not min(least, now) <= number <= max(most, now)
            yield Switch(
                field.path, number, stepped.rank * abs(away), away, stepped.measure, unusual
            )


def _lighter_threads(shelf: Shelf, name: str) -> list[str]:
    """Names of lighter threads of the same kind, the heaviest first."""
    here = shelf.thread(name)
    lighter = [
        thread for thread in shelf.threads if thread.tex < here.tex and thread.kind is here.kind
    ]
    # One thread of each weight: the builder chooses its colour.
    seen: dict[float, str] = {}
    for thread in sorted(lighter, key=lambda thread: -thread.tex):
        seen.setdefault(thread.tex, thread.name)
    same = _same_colour(here.name, [thread.name for thread in lighter])
    return list(dict.fromkeys([*([same] if same else []), *seen.values()]))


def _same_colour(name: str, others: Sequence[str]) -> str | None:
    """Find the same colour in another size: only the last word of the name differs."""
    stem = name.rpartition(" ")[0]
    return next((other for other in others if other.rpartition(" ")[0] == stem), None)
