"""The answers before a first design as they are typed, any of them unfinished."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from scenes.numerals import read_number
from scenes.parts.order import OrderSpec
from scenes.problems import DesignProblem, shown
from scenes.quantities import Units, Words, marker_of
from scenes.starting.first_design import FirstAnswers
from scenes.starting.readings import read_readings
from scenes.starting.wrap_kinds import wrap_kind

__all__ = ["FIELDS", "field_at_fault", "open_problems", "read_answers"]

FIELDS = (
    "title",
    "customer",
    "rod",
    "units",
    "readings",
    "below",
    "above",
    "from",
    "to",
    "wrap",
    "threads",
)
"""The questions, in the order in which they are asked."""

_TITLE_LONGEST = 200
_MISSING = {
    "title": "a title is missing; call the design what you like",
    "readings": "readings are missing; give a distance from the butt and a diameter in each line",
    "wrap": "the kind of wrap is missing; choose one",
}


def read_answers(given: Mapping[str, Any]) -> FirstAnswers:
    """Read the answers.

    Parameters
    ----------
    given : dict
        Text by field (`FIELDS`); ``threads`` is a list of names.

    Raises
    ------
    DesignProblem
        For the first answer that is missing or cannot be read.
    """
    problems: dict[str, str] = {}
    read = _read_all(given, problems)
    for field in FIELDS:
        if field in problems:
            raise DesignProblem.at(field, problems[field])
    return _put_together(read)


def open_problems(given: Mapping[str, Any]) -> dict[str, str]:
    """Say of each answer that is missing or cannot be read why, one sentence by its field.

    Parameters
    ----------
    given : dict
        As for `read_answers`.
    """
    problems: dict[str, str] = {}
    read = _read_all(given, problems)
    # What only holds between answers is looked at once each of them can be read.
    stand_in = {
        "units": Units.MM,
        "title": "",
        "readings": (),
        "wrap": "",
        "customer": "",
        "rod": "",
    }
    if not problems.keys() & set(_PLACES):
        for _ in ("from", "to"):
            try:
                _put_together({**stand_in, **read})
            except DesignProblem as problem:
                problems[problem.field] = str(problem).removeprefix(f"{problem.field}: ")
                if problem.field not in ("from", "to"):
                    break
                read[problem.field] = 0.0
    return problems


_PLACES = ("below", "above", "from", "to")


def _put_together(read: Mapping[str, Any]) -> FirstAnswers:
    return FirstAnswers(
        title=read["title"],
        units=read["units"],
        readings=read["readings"],
        start=read["from"],
        end=read["to"],
        wrap=read["wrap"],
        threads=read["threads"],
        customer=read["customer"],
        rod=read["rod"],
        below=read["below"],
        above=read["above"],
    )


def field_at_fault(path: str) -> str:
    """Find the question whose answer a refused design rests on.

    Parameters
    ----------
    path : str
        Path of a field of the design, or name of a question.
    """
    if path in FIELDS:
        return path
    by_path = {
        "blank.fitted": "below",
        "blank": "readings",
        "placement.from": "from",
        "placement": "to",
        "title": "title",
        "order.customer": "customer",
        "order.rod": "rod",
    }
    found = next((name for start, name in by_path.items() if path.startswith(start)), "wrap")
    return found


def _read_all(given: Mapping[str, Any], problems: dict[str, str]) -> dict[str, Any]:
    """Read every answer; what cannot be read is left out, with its reason in `problems`."""
    read: dict[str, Any] = {}

    def take(field: str, reader: Callable[[str], Any]) -> None:
        text = str(given.get(field) or "")
        if not text.strip() and field in _MISSING:
            problems[field] = f"{_MISSING[field]}."
            return
        try:
            read[field] = reader(text)
        except DesignProblem as problem:
            problems[field] = str(problem).removeprefix(f"{field}: ")

    take("units", _units)
    units = read.get("units", Units.MM)
    take("title", lambda text: _words(text, Words(_TITLE_LONGEST, "a title")))
    for field in ("customer", "rod"):
        marker = marker_of(OrderSpec.model_fields[field])
        assert isinstance(marker, Words)
        take(field, partial(_words, marker=marker))
    take("readings", lambda text: read_readings(text, units))
    for field in _PLACES:
        take(field, lambda text: float(read_number(text.strip(), units)) if text.strip() else None)
    take("wrap", lambda text: wrap_kind(text).name)
    threads = given.get("threads")
    read["threads"] = [str(name) for name in threads] if isinstance(threads, list | tuple) else []
    return read


def _units(text: str) -> Units:
    if text not in tuple(Units):
        raise DesignProblem(f'{shown(text)} is no unit of lengths; give "mm" or "in".')
    return Units(text)


def _words(text: str, marker: Words) -> str:
    plain = " ".join(text.split())
    if len(plain) > marker.longest:
        raise DesignProblem(
            f"{shown(plain)} has {len(plain)} characters; give {marker.what} in {marker.longest} "
            "at most."
        )
    if not plain.isprintable():
        raise DesignProblem(
            f"{shown(plain)} holds a character that cannot be printed; leave it out."
        )
    return plain
