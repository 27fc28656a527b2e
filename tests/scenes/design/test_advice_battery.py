"""Every number that a refusal advises, over odd values of every field of every sample, followed.

Fields in lists count too: stations and fittings of the blank, threads of trims and rings, courses,
strokes.
"""

import itertools
import re
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel

from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import Design, document_of, with_changes
from scenes.files import samples
from scenes.fit.fields import field_at
from scenes.problems import DESIGN_REFUSALS, DesignProblem
from scenes.quantities import Count, Quantity, marker_of
from tests.varied_samples import VARIED

SHELF = Shelf.shipped()

N = r"(-?[0-9]+(?:\.[0-9]+)?)(?: (?:[a-z%/0-9³]+|turns a minute))?"

ADVICE: tuple[tuple[str, str], ...] = (
    # Each with the field that its numbers are given to: of the layer, or of the refusal if empty.
    (rf"give a gap of {N} or (?:less|more)", "gap"),
    (rf"give a strip of {N} or (?:less|more)", "strip_width"),
    (rf"give a share of {N} or (?:less|more)", "covered_share"),
    (rf"give an angle of {N}", "angle"),
    (rf"give {N} strips or fewer \(starts\)", "starts"),
    (rf"give an inset of {N}", "inset"),
    (rf"give a margin of {N} or less", "margin"),
    (rf"give a pitch of {N} to {N}", "pitch"),
    (rf"give a spacing from {N} to {N}", "spacing"),
    (rf"give a spacing of {N} or more", "spacing"),
    (rf"give {N} cross(?:es)? round the blank or fewer", "around"),
    (rf"set repeats to {N}", "repeats"),
    (r"set side_by_side to (\d+)\b(?! and give)", "side_by_side"),
    (rf"give a cell of {N} or less", "cell"),
    (rf"give 1 to {N}, or leave", ""),
    (rf"start the wrap at {N} or beyond", "from"),
    (rf"end the wrap at {N} or before", "to"),
    (rf"which is {N} wide; give that or less", ""),
    (rf"runs from {N} to {N}; give a place in it", ""),
    (rf"give a place from {N} to {N}", ""),
    (rf"is less than yarn_height, {N}; give .* that or more", ""),
    (rf"; give {N} to {N}$", ""),
    (rf"(?:butt to tip|one diameter), or give {N} to {N}$", ""),
    (rf"give {N} or (?:less|more|fewer)", ""),
)

FEWER = re.compile(rf"give {N} threads? or fewer(?:, without an inset| and an inset of {N})?")
MORE = re.compile(rf"than the blank inside it, {N}; give .* more than that")
LEFT_OUT = re.compile(r"(?:; |, so |, or )leave (it|\w+) out")
BETWEEN = re.compile(rf"is not between {N} and {N}; give ")

MOST_STEPS = 4
"""How often advice may lead to further advice on the same layer."""

NO_NUMBER = (
    # What no number mends, or more than one field does.
    r"give (?:both|all three), or the swing cannot be worked out",
    r"give the end nearer the tip",
    r"list the stations from butt to tip$",
    r"give each place one diameter$",
    r"threads in one repeat are more than \d+; give that or fewer",
    r"give the width of one yarn, less than that",
    r"give less than that",
    r"set side_by_side to 1 and give a chart of ",
    r"give a cell and a strip of ",
    r"give a chart of (?:\d+ columns and )?\d+ rows or fewer",
    r"give a blank of .* or thicker in the middle of the wrap",
    r"must stay between 0 and 90 degrees all the way up",
    r"leave the rings out",
    r"give the strip a gap, or give \"along the blank\"",
    r"give as many threads as make a bundle",
    r"give a last thread of .* or thicker",
    r"give that many threads or fewer",
    r"give threads that lie",
    r"give the strip a wider gap",
    r"there is no room for a single one: give fewer or thinner threads at its edge",
    r"give a chart of \d+ columns or fewer",
    r"give a wrap of ",
)


def refusal(design: Design, changes: dict[str, Any]) -> DesignProblem | None:
    try:
        Plan(with_changes(design, changes), SHELF).prepare()
    except DESIGN_REFUSALS as problem:
        return problem if isinstance(problem, DesignProblem) else DesignProblem(str(problem))
    return None


def numbers(design: Design, *, whole: bool) -> Iterator[tuple[str, Any]]:
    """Every field that holds a number: of the layers, and if `whole` of all else too."""
    parts: dict[str, Any] = {design.path_of(layer): layer for layer in design.layers}
    if whole:
        names = ("blank", "placement", "finish", "bench")
        parts |= {name: getattr(design, name) for name in names}
    for owner, part in parts.items():
        for name, info in type(part).model_fields.items():
            path = f"{owner}.{info.alias or name}"
            marker = field_at(design, path).marker if name not in ("kind", "name") else None
            if isinstance(marker, Quantity | Count):
                yield path, marker


def listed(design: Design) -> Iterator[tuple[str, Any]]:
    """Every field that holds a number inside a list or table of a layer, or of the blank."""
    parts = [(design.path_of(layer), layer) for layer in design.layers]
    for owner, part in [*parts, ("blank", design.blank)]:
        for path, marker in within(part, owner):
            if path.count(".") > 1:
                yield path, marker


def within(part: object, path: str) -> Iterator[tuple[str, Any]]:
    if isinstance(part, BaseModel):
        for name, info in type(part).model_fields.items():
            inner, marker = f"{path}.{info.alias or name}", marker_of(info)
            if isinstance(marker, Quantity | Count):
                yield inner, marker
            yield from within(getattr(part, name), inner)
    elif isinstance(part, tuple):
        for position, entry in enumerate(part):
            yield from within(entry, f"{path}.{position}")


def odd(marker: Any, design: Design) -> list[float]:
    if isinstance(marker, Count):
        return [marker.low, marker.high, (marker.low + marker.high) // 2, marker.high + 1]
    scale = marker.bound_scale(design.units)
    low, high = marker.low / scale, marker.high / scale
    return [low, high + 1, *(low + share * (high - low) for share in (0.02, 0.2, 1.0))]


def read(number: str) -> float | int:
    return float(number) if "." in number else int(number)


def advised(design: Design, told: DesignProblem) -> list[dict[str, Any]]:
    """Changes that a refusal advises, each of which should help; empty where no number does."""
    sentence, field = str(told).rstrip("."), told.field
    owner = owner_of(design, field)
    fewer = FEWER.search(sentence)
    if fewer:
        inset = read(fewer[2]) if fewer[2] else 0
        threads = field if field.endswith(("threads", "rings")) else f"{owner}.threads"
        return [{threads: first_threads(design, threads, int(fewer[1])), f"{owner}.inset": inset}]
    more = MORE.search(sentence)
    if more:
        return [{field: 1.01 * read(more[1])}]
    for words, name in ADVICE:
        match = re.search(words, sentence)
        if match:
            path = f"{owner}.{name}" if name else field
            return [{path: read(number)} for number in match.groups()]
    left_out = LEFT_OUT.search(sentence)
    if left_out:
        return [{field if left_out[1] == "it" else f"{owner}.{left_out[1]}": None}]
    assert any(re.search(words, sentence) for words in NO_NUMBER), f"no advice in: {sentence}"
    return []


def owner_of(design: Design, field: str) -> str:
    """The layer or table that a field stands in."""
    owners = {design.path_of(layer) for layer in design.layers} | set(document_of(design))
    within = [owner for owner in owners if field == owner or field.startswith(f"{owner}.")]
    fitting = re.match(r"blank\.fitted\.\d+", field)
    return fitting[0] if fitting else max(within, key=len, default=field.partition(".")[0])


def first_threads(design: Design, field: str, most: int) -> list[dict[str, Any]]:
    """The list of threads at a field, cut to its first ones."""
    made: list[dict[str, Any]] = []
    for entry in field_at(design, field).value:
        count = min(entry["count"], most - sum(one["count"] for one in made))
        made += [{**entry, "count": count}] if count > 0 else []
    return made


def changed(design: Design, changes: dict[str, Any], advice: dict[str, Any]) -> dict[str, Any]:
    """Follow advice: it takes the place of what it cannot stand beside."""
    made = dict(changes)
    for path in advice:
        owner, _, name = path.rpartition(".")
        layer = next((one for one in design.layers if design.path_of(one) == owner), None)
        for rival in layer.rivals(name) if layer else ():
            made.pop(f"{owner}.{rival}", None)
    return made | advice


def not_accepted(design: Design, changes: dict[str, Any], told: DesignProblem) -> Iterator[str]:
    """Follow all that a refusal advises, and what is advised then, and yield what is refused."""
    bounds = BETWEEN.search(str(told))
    for advice in (
        [{told.field: read(number)} for number in bounds.groups()]
        if bounds
        else advised(design, told)
    ):
        seen, following, again = [str(told)], changed(design, changes, advice), None
        for _ in range(MOST_STEPS):
            again = refusal(design, following)
            if again is None:
                break
            seen.append(f"{following}: {again}")
            # What another layer says against it is another matter, and so is what a bound is.
            if bounds or owner_of(design, again.field) != owner_of(design, told.field):
                again = again if str(again) == str(told) else None
                break
            further = advised(design, again)
            if not further:
                again = None
                break
            following = changed(design, following, further[0])
        if again is not None:
            yield " -> ".join(seen)


# One sample in each unit stands for what all have.
WHOLE = ("half-scale", "ringed-guide")


# Where wraps and grips stand in each other's way, a builder chooses which to move.
ONE_WRAP = [name for name in sorted({*VARIED, *WHOLE}) if not samples.load(name).wraps]


@pytest.mark.parametrize("name", ONE_WRAP)
def test_every_advice_helps(name: str) -> None:
    design = samples.load(name).without_variants()
    seen: set[tuple[str, ...]] = set()
    failed: list[str] = []
    for path, marker in itertools.chain(numbers(design, whole=name in WHOLE), listed(design)):
        for value in odd(marker, design):
            told = refusal(design, {path: value})
            if told is None:
                continue
            kind = tuple(re.sub(r"[0-9.]+", "#", words) for words in (told.field, str(told)))
            if kind not in seen:
                seen.add(kind)
                failed += not_accepted(design, {path: value}, told)
    assert not failed, "\n".join(failed)
