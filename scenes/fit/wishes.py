"""Wishes as they are typed: ``turns=5``, ``cells=whole``, ``relief.strip_width=25``, ``meet``."""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from materials.toml_text import parse_value_or_words
from scenes.design.document import Design, document_of
from scenes.design.layers import kind_of
from scenes.figures.figures import Kind
from scenes.figures.formatter import FigureFormatter
from scenes.fit.fields import field_at
from scenes.fit.measures import MEASURES, UNITS, Measure, Measured, measure_named
from scenes.problems import DesignProblem, nearest, not_a_number, one_of, printable, shown
from scenes.quantities import Angle, Length, Quantity, Ratio, Units

__all__ = ["MEET", "Relation", "Request", "Wish", "read_request"]

MEET = "meet"
"""The wish that the pattern closes at the guide line: whole diamonds, or whole cells."""

WHOLE = "whole"
"""What is typed instead of a value, for any whole number."""

_MOST_WISHES = 12
_LONGEST = 300

_WHOLE_WITHIN = 4e-4
"""Tolerance of a whole number, in turns, cells or diamonds; too small to measure."""

_WITHIN = 1e-4
"""Relative tolerance of a wish for a value; too small to measure."""

_BUILT_WITHIN = 1e-3
"""The same for slow measures: thread and finish vary far more between builders."""

_SLACK = 1e-9
"""Relative tolerance of a bound, for errors of converted units."""


class Relation(StrEnum):
    """Required relation of a measure to the value."""

    IS = "="
    AT_MOST = "≤"
    AT_LEAST = "≥"
    WHOLE = "whole"


@dataclass(frozen=True, slots=True)
class Wish:
    """A required value or bound of a measure.

    Parameters
    ----------
    measure : Measure
    relation : Relation
    value : float
        In the measure's internal unit; NaN for any whole number.
    """

    measure: Measure
    relation: Relation
    value: float = math.nan

    @property
    def within(self) -> float:
        """Tolerance within which the wish is met, in the measure's internal unit."""
        if self.relation in (Relation.AT_MOST, Relation.AT_LEAST):
            return _SLACK * max(abs(self.value), 1.0)
        return self.margin

    @property
    def margin(self) -> float:
        """Difference that nobody can notice; a solution keeps half of it from a bound."""
        if self.measure.kind is Kind.NUMBER:
            return _WHOLE_WITHIN
        share = _BUILT_WITHIN if self.measure.slow else _WITHIN
        return share * max(abs(self.value), 1e-2)

    def miss(self, value: float) -> float:
        """Distance of a value from the wish; 0 if it is met.

        Parameters
        ----------
        value : float
            In the measure's internal unit.

        Returns
        -------
        float
            In the same unit.
        """
        if self.relation is Relation.WHOLE:
            return abs(value - max(round(value), 1))
        off = value - self.value
        if self.relation is Relation.IS:
            return abs(off)
        return max(off if self.relation is Relation.AT_MOST else -off, 0.0)

    def met(self, value: float) -> bool:
        """Tell whether a value meets the wish.

        Parameters
        ----------
        value : float
            In the measure's internal unit.
        """
        return self.miss(value) <= self.within

    def text(self, units: Units) -> str:
        """Write the wish in words.

        Parameters
        ----------
        units : Units
            Units of lengths.
        """
        name = self.measure.name.replace("_", " ")
        if self.relation is Relation.WHOLE:
            return f"whole {name}"
        words = {Relation.IS: "", Relation.AT_MOST: "at most ", Relation.AT_LEAST: "at least "}
        return f"{name} {words[self.relation]}{self.measure.text(self.value, units)}"


@dataclass(frozen=True, slots=True)
class Request:
    """Everything that is wished of a design.

    Parameters
    ----------
    settings : dict
        Fixed values of fields, by path, in the design's own units.
    wishes : tuple of Wish
        Measures to be reached by changing other fields.
    """

    settings: dict[str, Any]
    wishes: tuple[Wish, ...]


def read_request(
    measured: Measured,
    wish: Sequence[str] = (),
    at_most: Sequence[str] = (),
    at_least: Sequence[str] = (),
) -> Request:
    """Read wishes as they are typed.

    Parameters
    ----------
    measured : Measured
        The present design.
    wish : sequence of str
        Each ``measure=value``, ``measure=whole``, ``path=value`` or ``meet``.
    at_most, at_least : sequence of str
        Each ``measure=value``.

    Raises
    ------
    DesignProblem
        With one sentence about the first that is not valid, or about two that contradict.
    """
    texts = [*wish, *at_most, *at_least]
    if len(texts) > _MOST_WISHES:
        raise DesignProblem(f"wish: {len(texts)} wishes are more than {_MOST_WISHES}; give fewer.")
    settings: dict[str, Any] = {}
    wishes: list[Wish] = []
    for text in wish:
        if text.strip().casefold() == MEET:
            wishes += _meeting(measured)
            continue
        name, value = _parts(text, "turns=5")
        if "." not in name:
            wishes.append(_wish(measured, name, value, Relation.IS))
            continue
        path, setting = _setting(measured.design, name, value)
        twin = _measure_of_alternative(measured.design, path, settings)
        if twin:
            wishes.append(_wish(measured, twin, value, Relation.IS))
        elif path in settings and settings[path] != setting:
            raise DesignProblem(f"wish: {path} is given twice, with two values; keep one.")
        else:
            settings[path] = setting
    for bounds, relation in ((at_most, Relation.AT_MOST), (at_least, Relation.AT_LEAST)):
        for text in bounds:
            name, value = _parts(text, "weight=4")
            wishes.append(_wish(measured, name, value, relation))
    wishes = list(dict.fromkeys(wishes))
    _check_together(wishes, measured.design.units)
    return Request(settings, tuple(wishes))


def _parts(text: str, example: str) -> tuple[str, str]:
    """Split a wish into name and value."""
    if len(text) > _LONGEST:
        raise DesignProblem(f"wish: {shown(text)} is too long to be a wish.")
    bound = re.search("[<>≤≥]", text)
    if bound:
        word = "--at-most" if bound[0] in "<≤" else "--at-least"
        name, _, value = re.sub("[<>≤≥]=?", "=", text, count=1).partition("=")
        right = printable(f"{name.strip()}={value.strip()}")
        raise DesignProblem(f"wish: {shown(text)} is not a wish; write a bound as {word} {right}.")
    name, equals, value = text.partition("=")
    if not (name.strip() and equals and value.strip()):
        raise DesignProblem(
            f"wish: {shown(text)} is not a name and a value; write it like {example}."
        )
    return name.strip(), value.strip()


def _wish(measured: Measured, name: str, text: str, relation: Relation) -> Wish:
    if "." in name:
        name = name.rpartition(".")[2]
    measure = measure_named(name)
    if measure is None:
        raise DesignProblem(_unknown(measured, name))
    units = measured.design.units
    if not measure.slow and measure.of(measured) is None:
        raise DesignProblem(
            f"wish: this design has no {measure.name} ({measure.what}); wish for "
            f"{one_of(_names(measured))}."
        )
    if text.casefold() == WHOLE and relation is Relation.IS:
        if measure.kind is not Kind.NUMBER:
            raise DesignProblem(
                f"wish: {measure.name} is not counted, so it cannot be whole; give {measure.what}."
            )
        return Wish(measure, Relation.WHOLE)
    value = _value(measure, text, units)
    low, high = measure.low, measure.high
    # Only a gap may be 0.
    if not low <= value <= high or (value == 0 and measure.name != "gap"):
        between = (
            "more than 0"
            if math.isinf(high)
            else f"between {measure.text(low, units)} and {measure.text(high, units)}"
        )
        raise DesignProblem(
            f"wish: {measure.name} {measure.text(value, units)} is not {between}; give "
            f"{measure.what}."
        )
    return Wish(measure, relation, value)


def _unknown(measured: Measured, name: str) -> str:
    if name.casefold() == MEET:
        return f"wish: {MEET} takes no value; write --wish {MEET}."
    names = _names(measured)
    fields = {path.rpartition(".")[2]: path for path in _paths(measured.design)}
    close = fields.get(name) or nearest(name, [*names, *fields.values()])
    hint = f"did you mean {close}?" if close else f"give {one_of(names)}, or a field's path."
    return f"wish: {shown(name)} is nothing that can be wished for; {hint}"


def _names(measured: Measured) -> list[str]:
    return [
        measure.name
        for measure in MEASURES.values()
        if measure.slow or measure.of(measured) is not None
    ]


def _paths(design: Design) -> Iterator[str]:
    """List the paths of the fields that are changed most often."""
    document = document_of(design, defaults=True)
    parts = {"placement": document["placement"], "finish": document["finish"]}
    for layer, table in zip(design.layers, document["layers"], strict=True):
        parts[design.path_of(layer)] = table
    for path, table in parts.items():
        yield from (f"{path}.{name}" for name in table if name not in ("kind", "name"))


_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*([^\d\s.,].*)?")


def _number(text: str) -> tuple[float, str] | None:
    """Split a text into number and unit."""
    match = _NUMBER.fullmatch(text)
    if match is None:
        return None
    return float(match[1]), (match[2] or "").strip()


def _value(measure: Measure, text: str, units: Units) -> float:
    """Read the value of a measure, in its internal unit."""
    scales = UNITS[measure.kind]
    usual = "" if "" in scales else FigureFormatter(units).unit(measure.kind)
    found = _number(text)
    if found is None or not math.isfinite(found[0]):
        wanted = f" in {usual}" if usual else ""
        raise DesignProblem(
            f"wish: {measure.name} = {not_a_number(text)}; give {measure.what}{wanted}."
        )
    number, unit = found
    return number * _scale(scales, unit or usual, f"wish: {measure.name} =", text)


def _scale(scales: Mapping[str, float], unit: str, lead: str, text: str, path: str = "") -> float:
    """Find the size of a unit in internal units."""
    if unit in scales:
        return scales[unit]
    right = [name for name in scales if name]
    wanted = f"give it in {one_of(right)}" if right else "give a number without a unit"
    raise DesignProblem(f"{lead} {shown(text)} has a wrong unit; {wanted}.", field=path)


def _setting(design: Design, path: str, text: str) -> tuple[str, Any]:
    """Read the value of a field: as in the file, or with a unit."""
    field = field_at(design, path)
    path = field.path
    found = _number(text)
    if found is None or not found[1]:
        return path, parse_value_or_words(text)
    number, unit = found
    marker = field.marker
    if not isinstance(marker, Quantity):
        return path, parse_value_or_words(text)
    kind = next(
        (kind for quantity, kind in _KINDS.items() if isinstance(marker, quantity)), Kind.NUMBER
    )
    scale = _scale(UNITS[kind], unit, f"{printable(path)}:", text, path)
    return path, marker.write(number * scale, design.units)


_KINDS: dict[type[Quantity], Kind] = {
    Length: Kind.LENGTH,
    Angle: Kind.ANGLE,
    Ratio: Kind.SHARE,
}


def _measure_of_alternative(design: Design, path: str, settings: dict[str, Any]) -> str | None:
    """Give the measure of a field whose alternative is set already; None if none is."""
    above, _, name = path.rpartition(".")
    relief = design.relief
    if relief is None or design.path_of(relief) != above or name not in relief.alternatives:
        return None
    others = [
        f"{above}.{alternative}" for alternative in relief.alternatives if alternative != name
    ]
    return name if any(alternative in settings for alternative in others) else None


def _meeting(measured: Measured) -> Iterator[Wish]:
    """The wishes with which a layer closes along the guide line."""
    for builder in measured.builders:
        meeting = kind_of(builder.layer).numbers.meeting
        if meeting is None:
            continue
        for name, most in meeting(builder):
            if most is None:
                yield Wish(MEASURES[name], Relation.WHOLE)
            else:
                yield Wish(MEASURES[name], Relation.AT_MOST, most)
        return
    raise DesignProblem(
        f"wish: {MEET} is for diamonds of cords or of crossed threads and for cells of mesh, and "
        f"this design has none of them; wish for {one_of(_names(measured))}."
    )


def _check_together(wishes: Sequence[Wish], units: Units) -> None:
    """Check that no two wishes for one measure exclude each other."""
    for index, later in enumerate(wishes):
        for earlier in wishes[:index]:
            if later.measure is not earlier.measure:
                continue
            values = [wish.value for wish in (later, earlier) if wish.relation is Relation.IS]
            low = [wish.value for wish in (later, earlier) if wish.relation is Relation.AT_LEAST]
            high = [wish.value for wish in (later, earlier) if wish.relation is Relation.AT_MOST]
            least = max([*values, *low], default=-math.inf)
            most = min([*values, *high], default=math.inf)
            both = {later.relation, earlier.relation} == {Relation.IS, Relation.WHOLE}
            if least > most or (both and values[0] != round(values[0])):
                raise DesignProblem(
                    f"wish: {earlier.text(units)} and {later.text(units)} contradict each other; "
                    "keep one."
                )
