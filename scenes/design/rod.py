"""Several wraps on one rod: a design seen from one of them, and checks between them.

A design's own placement and layers are its first wrap; `Design.wraps` lists the others. Everything
that works on one wrap works on the first. `at_wrap` gives the same rod with another wrap first, and
`put_back` writes what was edited there into the document.
"""

import itertools
from collections.abc import Iterator
from typing import TYPE_CHECKING, TypeVar

from pydantic_core import PydanticCustomError

from scenes.design import checks
from scenes.design.layers import layer_path
from scenes.problems import DesignProblem, nearest, one_of, refusal, shown
from scenes.quantities import about, length

if TYPE_CHECKING:
    from scenes.design.document import Design, WrapSpec
    from scenes.parts.part import Part

__all__ = [
    "LEAST_BETWEEN",
    "at_wrap",
    "binds_guides",
    "check_wraps",
    "other_wraps",
    "put_back",
    "wrap_names",
]

_P = TypeVar("_P", bound="Part")

LEAST_BETWEEN = 7.0
"""Least distance between what is wound in two wraps, mm: the finish of each runs out 3 mm beyond
it, and some bare blank is left between them (common practice, no source)."""

_AT_GRIP = 0.05
"""How far a wrap may reach below a grip, mm: it is wound up to it."""


def wrap_names(design: "Design") -> tuple[str, ...]:
    """Name the wraps of a rod, the one that the design describes first.

    Parameters
    ----------
    design : Design
    """
    return (design.wrap_name, *(wrap.name for wrap in design.wraps))


def at_wrap(design: "Design", name: str) -> "Design":
    """The same rod with another wrap in the place of the first.

    Its variants are those of that wrap.

    Parameters
    ----------
    design : Design
    name : str
        Name of one of its wraps.

    Raises
    ------
    DesignProblem
        If it has no wrap of that name.
    """
    names = wrap_names(design)
    if name == names[0]:
        return design
    if name in names:
        return _seen_from(design, names.index(name) - 1)
    if len(names) == 1:
        raise DesignProblem(f"{shown(name)} is not a wrap of this design; it has only one.")
    close = nearest(name, names)
    hint = f"did you mean {close}?" if close else f"give {one_of(names)}."
    raise DesignProblem(f"{shown(name)} is not a wrap of this design; {hint}")


def other_wraps(design: "Design") -> Iterator["Design"]:
    """Give the same rod from each of its other wraps, in the order of the document.

    Parameters
    ----------
    design : Design
    """
    return (_seen_from(design, index) for index in range(len(design.wraps)))


def binds_guides(design: "Design") -> bool:
    """Whether the guides of a rod are bound with the wrap that a design describes.

    They are counted once: with the wrap nearest the butt.

    Parameters
    ----------
    design : Design
    """
    return all(design.placement.start <= wrap.placement.start for wrap in design.wraps)


def _seen_from(design: "Design", index: int) -> "Design":
    """The same rod with one of its other wraps first; nothing is checked."""
    wraps = list(design.wraps)
    wrap = wraps[index]
    if wrap.finish is not None:
        # The others still have the finish that was the design's.
        wraps = [
            one.model_copy(update={"finish": design.finish}) if one.finish is None else one
            for one in wraps
        ]
    own = wrap.model_copy(
        update={
            "name": design.wrap_name,
            "placement": design.placement,
            "layers": design.layers,
            "variants": design.variants,
            "finish": None if wrap.finish is None else design.finish,
        }
    )
    return design.model_copy(
        update={
            "wrap_name": wrap.name,
            "placement": wrap.placement,
            "layers": wrap.layers,
            "finish": design.finish if wrap.finish is None else wrap.finish,
            "variants": wrap.variants,
            "wraps": (*wraps[:index], own, *wraps[index + 1 :]),
        }
    )


def put_back(document: "Design", name: str, edited: "Design") -> "Design":
    """Write an edit of a design that is seen from one of its wraps back into the document.

    Placement, layers and variants go to that wrap. Its finish does too if it has one of its own, or
    if the edit has changed it: the other wraps keep theirs. All else belongs to the rod.

    Parameters
    ----------
    document : Design
        The rod before the edit, its first wrap first.
    name : str
        Name of the wrap before the edit.
    edited : Design
        `at_wrap(document, name)` after the edit. Wraps may have been added; if the first wrap was
        removed, the named one becomes the first.

    Returns
    -------
    Design
        The rod after the edit, its first wrap first.
    """
    at = wrap_names(document).index(name) - 1
    place = _place_of_first(document, at, edited) if at >= 0 else None
    if place is None:
        return edited
    first, before = edited.wraps[place], document.wraps[at]
    shared = document.finish if first.finish is None else first.finish
    former = {wrap.name: wrap for wrap in document.wraps}

    def with_own_finish(wrap: "WrapSpec", had: "WrapSpec | None") -> "WrapSpec":
        """Leave the finish out if the wrap shares that of the first."""
        finish = document.finish if wrap.finish is None else wrap.finish
        own = finish != shared or (had is not None and had.finish is not None)
        return _with_fields(wrap, had or wrap, finish=finish if own else None)

    worked_at = _with_fields(
        before,
        before,
        name=edited.wrap_name,
        placement=edited.placement,
        layers=edited.layers,
        variants=edited.variants,
        finish=edited.finish,
    )
    wraps = [with_own_finish(wrap, former.get(wrap.name)) for wrap in edited.wraps]
    wraps[place] = with_own_finish(worked_at, before)
    return _with_fields(
        edited,
        document,
        wrap_name=first.name,
        placement=first.placement,
        layers=first.layers,
        variants=first.variants,
        finish=shared,
        wraps=tuple(wraps),
    )


def _place_of_first(document: "Design", at: int, edited: "Design") -> int | None:
    """Place of the document's first wrap among the others, seen from the wrap at `at`."""
    names = [wrap.name for wrap in edited.wraps]
    if document.wrap_name in names:
        return names.index(document.wrap_name)
    return at if len(names) == len(document.wraps) else None


def _with_fields(part: _P, before: "Part", **values: object) -> _P:
    """Copy a part with other values; a default that `before` left out is left out again."""
    made = part.model_copy(update=values)
    for name, value in values.items():
        left_out = name not in before.model_fields_set
        if left_out and value == type(part).model_fields[name].default:
            made.model_fields_set.discard(name)
    return made


def check_wraps(design: "Design") -> None:
    """Check the wraps of a rod: each by itself, their names, and that each has its place.

    Parameters
    ----------
    design : Design
        Its own placement and layers are checked already.

    Raises
    ------
    PydanticCustomError
        With the path of the wrong field, and one sentence.
    """
    if not design.wraps:
        return
    names = wrap_names(design)
    for index, name in enumerate(names):
        for other in names[:index]:
            if name.casefold() != other.casefold():
                continue
            told = (
                "is used twice"
                if name == other
                else f"differs from {shown(other)} in capitals alone"
            )
            raise refusal(
                f"{shown(name)} {told}; give each wrap its own name",
                field=f"wraps.{index - 1}.name",
            )
    rods = [design, *other_wraps(design)]
    for index, rod in enumerate(rods[1:]):
        try:
            checks.check(rod)
        except PydanticCustomError as error:
            raise _of_wrap(error, rod, index) from None
        _check_variants(rod, index)
    _check_grips(rods)
    _check_apart(rods)


def _check_variants(rod: "Design", index: int) -> None:
    listed = [variant.name for variant in rod.variants]
    for place, name in enumerate(listed):
        if name in listed[:place]:
            raise refusal(
                f"{shown(name)} is used twice; give each variant its own name",
                field=f"wraps.{index}.variants.{place}.name",
            )


def _of_wrap(error: PydanticCustomError, rod: "Design", index: int) -> PydanticCustomError:
    """Put the path of a wrap before the path of its field."""
    context = error.context or {}
    field = str(context.get("field", ""))
    paths = {layer_path(rod.layers, at): f"layers.{at}" for at in range(len(rod.layers))}
    owner, dot, rest = field.partition(".")
    if owner == "layers" and field in paths:
        owner, dot, rest = field, "", ""
    inner = f"{paths.get(owner, owner)}{dot}{rest}"
    return refusal(str(context.get("sentence", error.message())), field=f"wraps.{index}.{inner}")


def _place(index: int) -> str:
    """Path of the placement of a wrap, counted from the design's own."""
    return "placement" if index == 0 else f"wraps.{index - 1}.placement"


def _check_grips(rods: list["Design"]) -> None:
    """Check that no wrap of several lies under a grip."""
    units = rods[0].units
    for index, rod in enumerate(rods):
        start, end = checks.laid_span(rod)
        for fitting in rod.blank.fitted:
            if fitting.kind != "grip":
                continue
            first, last = fitting.span
            if first < end - _AT_GRIP and last > start + _AT_GRIP:
                raise refusal(
                    f"{shown(rod.wrap_name)} runs with its cover from {length(start, units)} to "
                    f"{length(end, units)} and reaches under the grip from "
                    f"{length(first, units)} to {length(last, units)}; move one of them",
                    field=f"{_place(index)}.from",
                )


def _check_apart(rods: list["Design"]) -> None:
    """Check that every two neighbouring wraps leave room between them."""
    units = rods[0].units
    spans = sorted((*checks.laid_span(rod), index, rod.wrap_name) for index, rod in enumerate(rods))
    for (first, end, below, name), (start, last, above, other) in itertools.pairwise(spans):
        if start - end >= LEAST_BETWEEN - _AT_GRIP:
            continue
        # The wrap that the document lists later is the one to move.
        later = max(below, above)
        place = rods[later].placement
        if later == above:
            field, least = "from", place.start + end + LEAST_BETWEEN - start
            advice = f"start it at {about(least, units, upwards=True)} or beyond"
        else:
            field, most = "to", place.end - (end + LEAST_BETWEEN - start)
            advice = f"end it at {about(most, units)} or before"
        what = "overlaps" if start < end else f"leaves {about(start - end, units)} to"
        here, there = (
            (f"{length(start, units)} to {length(last, units)}", (name, first, end))
            if later == above
            else (f"{length(first, units)} to {length(end, units)}", (other, start, last))
        )
        raise refusal(
            f"{shown(rods[later].wrap_name)}, with its cover from {here}, {what} "
            f"{shown(there[0])} from {length(there[1], units)} to {length(there[2], units)}; the "
            f"finish of both needs {about(LEAST_BETWEEN, units)} between them, so {advice}",
            field=f"{_place(later)}.{field}",
        )
