"""Wraps added to a rod, renamed and removed."""

import math
from collections.abc import Callable, Iterator

from scenes.design.checks import laid_span
from scenes.design.document import Design, WrapSpec, design_from, document_of
from scenes.design.rod import LEAST_BETWEEN, at_wrap, other_wraps, wrap_names
from scenes.editing.wrap_paths import with_paths_followed
from scenes.parts.layer import LayerModel
from scenes.parts.order import Agreement
from scenes.problems import DESIGN_REFUSALS, DesignProblem, shown
from scenes.quantities import Units

__all__ = ["LaidBetween", "added", "removed", "renamed"]

LaidBetween = Callable[[float, float], tuple[LayerModel, ...]]
"""Gives the layers of a wrap from the places where it begins and ends, mm."""

_Span = tuple[float, float]

_BESIDE_GUIDE = 12.0
"""Length of blank left beside the foot of a guide, mm: its thread runs out there (from memory)."""

_SHORTEST = 10.0
"""Shortest copy that is made where there is no room for the whole wrap, mm."""

_STEPS = {Units.MM: 1.0, Units.IN: 1.27}
"""Places of a copy are multiples of this, mm."""


def added(document: Design, name: str, laid: LaidBetween | None = None) -> Design:
    """Add a wrap as long as another where the blank is free, shorter if there is no room for that.

    The free place nearest to the other towards the tip is taken first. It has the finish of the
    other, its layers if no others are given, and no variants.

    Parameters
    ----------
    document : Design
        The rod.
    name : str
        Name of the other wrap.
    laid : callable, optional
        Gives the layers between two places, mm; may refuse them.

    Returns
    -------
    Design
        With the added wrap as the last of `wraps`.

    Raises
    ------
    DesignProblem
        If there is no place for it, or no more wraps are allowed.
    """
    source = at_wrap(document, name)
    names = wrap_names(document)
    free_name = next(
        wanted
        for wanted in (f"wrap {number}" for number in range(len(names) + 1, 2 * len(names) + 2))
        if wanted not in names
    )
    finish = next((wrap.finish for wrap in document.wraps if wrap.name == name), None)
    refused: ValueError | None = None
    here = source.placement
    layers = source.layers if laid is None else laid(here.start, here.end)
    for start, end in _places(source, layers):
        by = start - source.placement.start
        try:
            copied = tuple(_shifted(layer, by) for layer in source.layers)
            wrap = WrapSpec.model_construct(
                {"name", "placement", "layers"} | ({"finish"} if finish else set()),
                name=free_name,
                placement=source.placement.model_copy(update={"start": start, "end": end}),
                layers=copied if laid is None else laid(start, end),
                finish=finish,
            )
            made = document.model_copy(update={"wraps": (*document.wraps, wrap)})
            return design_from(document_of(made))
        except DESIGN_REFUSALS as problem:
            if end - start > source.placement.length - 1e-6:  # else its layers need more room
                refused = refused or problem
    if refused is not None:
        raise refused
    raise DesignProblem(
        f"the blank has no free place for {'a copy of ' if laid is None else 'a wrap beside '}"
        f"{shown(name)}; make a wrap shorter, or give "
        "stations further along the blank.",
        field="wraps",
    )


def renamed(design: Design, new: str) -> Design:
    """Give the wrap that a design describes another name.

    Parameters
    ----------
    design : Design
    new : str

    Raises
    ------
    DesignProblem
        If it is no name, or another wrap has it.
    """
    new = new.strip()
    agreed = tuple(_with_wrap_renamed(entry, design.wrap_name, new) for entry in design.agreed)
    made = document_of(design.model_copy(update={"wrap_name": new, "agreed": agreed}))
    return design_from(with_paths_followed(document_of(design), made, {design.wrap_name: new}))


def _with_wrap_renamed(entry: Agreement, old: str, new: str) -> Agreement:
    """A record of what was agreed, with another name for one of its wraps."""
    wraps = tuple(
        wrap.model_copy(update={"name": new}) if wrap.name == old else wrap
        for wrap in entry.agreed_wraps
    )
    return entry.model_copy(update={"agreed_wraps": wraps})


def removed(document: Design, name: str) -> Design:
    """Remove a wrap from a rod; if it was the first, the next one is.

    Variants that change the removed wrap name it from then on, and are set aside.

    Parameters
    ----------
    document : Design
        The rod.
    name : str
        Name of the wrap.

    Raises
    ------
    DesignProblem
        If it is the only wrap, or there is none of that name.
    """
    at_wrap(document, name)  # refuses a wrong name
    if not document.wraps:
        raise DesignProblem(f"{shown(name)} is the only wrap of the rod; change it instead.")
    kept = at_wrap(document, document.wraps[0].name) if name == document.wrap_name else document
    wraps = tuple(wrap for wrap in kept.wraps if wrap.name != name)
    made = kept.model_copy(update={"wraps": wraps})
    if not wraps:
        made.model_fields_set.discard("wraps")
    return design_from(with_paths_followed(document_of(document), document_of(made)))


def _places(design: Design, layers: tuple[LayerModel, ...]) -> Iterator[_Span]:
    """Placements for a wrap of some layers, the best first; lengths in mm from the butt.

    The layers lie where the wrap is that the design describes.
    """
    last = laid_span(design)[1]
    place, step = design.placement, _STEPS[design.units]
    first_laid, last_laid = laid_span(design.model_copy(update={"layers": layers}))
    before, beyond = place.start - first_laid, last_laid - place.end
    gaps = list(_gaps(design))
    upwards = [gap for gap in gaps if gap[0] >= last]
    downwards = [gap for gap in reversed(gaps) if gap[0] < last]
    for low, high in (*upwards, *downwards):
        if low >= last:
            start = math.ceil((low + before) / step) * step
        else:
            start = math.floor((high - beyond - place.length) / step) * step
        if start - before >= low and start + place.length + beyond <= high:
            yield start, start + place.length
    for low, high in sorted(gaps, key=lambda gap: gap[0] - gap[1]):
        start = math.ceil((low + before) / step) * step
        end = min(math.floor((high - beyond) / step) * step, start + place.length)
        if _SHORTEST <= end - start < place.length:
            yield start, end


def _gaps(design: Design) -> Iterator[_Span]:
    """Free spans of the measured blank, from butt to tip."""
    taken = []
    for rod in (design, *other_wraps(design)):
        start, end = laid_span(rod)
        taken.append((start - LEAST_BETWEEN, end + LEAST_BETWEEN))
    for fitting in design.blank.fitted:
        start, end = fitting.span
        beside = 0.0 if fitting.kind == "grip" else _BESIDE_GUIDE
        taken.append((start - beside, end + beside))
    stations = design.blank.stations
    free = stations[0].at
    for start, end in sorted(taken):
        if start > free:
            yield free, start
        free = max(free, end)
    if stations[-1].at > free:
        yield free, stations[-1].at


def _shifted(layer: LayerModel, by: float) -> LayerModel:
    """A layer whose own ends, where it has them, are shifted along the blank, mm."""
    if not layer.own_ends:
        return layer
    ends = {name: getattr(layer, name) for name in ("start", "end")}
    given = {name: at + by for name, at in ends.items() if at is not None}
    return layer.model_copy(update=given)
