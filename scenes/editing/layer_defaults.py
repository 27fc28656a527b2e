"""Default fields of a new layer, chosen to suit the design that it is added to.

Each kind proposes a few sets of fields, the likeliest first (`scenes.kinds.kind.Kind.defaults`).
The first that makes a valid design without a new warning is taken. A kind without proposals
starts as in the samples, or with values that its fields allow.
"""

from collections.abc import Callable, Iterator
from enum import StrEnum
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import ValidationError

from materials.shelf import Shelf
from scenes.artwork.shipped import shipped_names
from scenes.building.build import Plan
from scenes.design.document import Design
from scenes.design.layers import KINDS, LAYER_KINDS
from scenes.design.threads import check_threads, thread_names
from scenes.editing.list_edits import check_kind, inserted, sample_layer, with_kind
from scenes.files import samples
from scenes.files.companion_files import CompanionFiles
from scenes.kinds.defaults import Entry, NewLayer, Surroundings, under_cover
from scenes.parts.layer import ReliefModel, WoundModel
from scenes.parts.part import Part
from scenes.problems import DESIGN_REFUSALS
from scenes.quantities import (
    Angle,
    Colour,
    Count,
    FileName,
    Marker,
    Quantity,
    ShelfName,
    Units,
    Words,
    marker_of,
)

__all__ = ["COVER", "added", "beginnings", "converted", "entry_in_units"]

COVER = next(kind.name for kind in KINDS if issubclass(kind.model, WoundModel))
"""The kind of layer that is added as the cover of a relief without one."""

_COLOURS = ("#8a3b2e", "#3f6f78", "#b08d4a")
"""Colours of further entries of a list, after the ink (invented)."""


def added(
    design: Design, kind: str, shelf: Shelf, beside: CompanionFiles, at: int | None = None
) -> Design:
    """Add a layer of a kind, with default fields.

    Parameters
    ----------
    design : Design
    kind : str
        Name of the kind.
    shelf : Shelf
    beside : CompanionFiles
        Where the design's files are looked up.
    at : int, optional
        Position of the new layer; the likeliest if not given.

    Raises
    ------
    DesignProblem
        If there is no such kind, or no default makes a valid design: then the error of the
        likeliest.
    """

    def make(way: NewLayer) -> Design:
        place = way.at if at is None else at
        made = design
        if way.cover is not None:
            # The cover first, because a relief without one is refused.
            made = inserted(made, "layers", entry_in_units(COVER, way.cover, design.units), place)
        return inserted(made, "layers", entry_in_units(kind, way.entry, design.units), place)

    return _first_valid(design, list(beginnings(design, kind, shelf)), make, shelf, beside)


def converted(design: Design, path: str, kind: str, shelf: Shelf, beside: CompanionFiles) -> Design:
    """Replace a layer by one of another kind with the same role.

    The layer keeps its name.

    Parameters
    ----------
    design : Design
    path : str
        Path of the layer.
    kind : str
        Name of the new kind.
    shelf : Shelf
    beside : CompanionFiles
        Where the design's files are looked up.

    Raises
    ------
    DesignProblem
        If there is no such layer or kind, or the design would not be valid.
    """
    return _first_valid(
        design,
        list(beginnings(design, kind, shelf)),
        lambda way: with_kind(design, path, kind, entry_in_units(kind, way.entry, design.units)),
        shelf,
        beside,
    )


def beginnings(design: Design, kind: str, shelf: Shelf) -> Iterator[NewLayer]:
    """Propose fields for a new layer of a kind, the likeliest first.

    Parameters
    ----------
    design : Design
    kind : str
        Name of the kind.
    shelf : Shelf

    Raises
    ------
    DesignProblem
        If there is no such kind.
    """
    check_kind(kind)
    around = Surroundings(design, shelf, [name for _, name in thread_names(design)])
    known = next(one for one in KINDS if one.name == kind)
    if known.defaults is not None:
        yield from known.defaults(around)
        return
    if any(one.kind == kind for name in samples.names() for one in samples.load(name).layers):
        yield NewLayer(sample_layer(kind, Units.MM))
    filled = _filled(known.model, around)
    if issubclass(known.model, ReliefModel):
        yield from under_cover(around, [filled])
    else:
        yield from around.usual_places(filled)


def _first_valid(
    design: Design,
    ways: list[NewLayer],
    make: Callable[[NewLayer], Design],
    shelf: Shelf,
    beside: CompanionFiles,
) -> Design:
    warned = set(design.without_variants().warnings)
    refused: ValueError | None = None
    bearable: Design | None = None
    for way in ways:
        try:
            made = make(way)
            bare = made.without_variants()
            check_threads(bare, shelf)
            Plan(bare, shelf, beside).prepare()
        except DESIGN_REFUSALS as problem:
            refused = refused or problem
            continue
        if set(bare.warnings) <= warned:
            return made
        bearable = bearable or made
    if bearable is not None:
        return bearable
    assert refused is not None
    raise refused


def _filled(model: type[Part], around: Surroundings, nth: int = 0) -> Entry:
    """Give a value to each required field of a part, the `nth` of its list."""
    entry: Entry = {}
    infos = model.model_fields
    must = [name for name, info in infos.items() if info.is_required()]
    for name in [*must, *model.alternatives[:1]]:
        info = infos[name]
        least = next(
            (
                constraint.min_length
                for constraint in info.metadata
                if hasattr(constraint, "min_length")
            ),
            1,
        )
        entry[info.alias or name] = _value(info.annotation, marker_of(info), around, nth, least)
    return entry


def _value(
    annotation: Any, marker: Marker | None, around: Surroundings, nth: int = 0, least: int = 1
) -> Any:
    """Give a value, in mm and degrees, that a field's type and marker allow.

    Names and colours differ between the entries of a list (`nth`); `least` is its least length.
    """
    if isinstance(marker, ShelfName):
        return around.threads[nth % len(around.threads)]
    if isinstance(marker, FileName):
        return next((name for name in shipped_names() if name.endswith(marker.endings)), "")
    if isinstance(marker, Words):
        return (f"My rod {nth + 1}" if nth else "My rod")[: marker.longest]
    if isinstance(marker, Colour):
        return (around.ink, *_COLOURS)[nth % (len(_COLOURS) + 1)]
    if isinstance(marker, Count | Quantity):
        likely = 45 if isinstance(marker, Angle) else 2
        return min(max(likely, marker.low), marker.high)
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return inner[0]
    if origin in (Union, UnionType):
        return _value(inner[0], None, around)
    if origin is tuple:
        return [_value(inner[0], None, around, each) for each in range(least)]
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return _filled(annotation, around, nth)
    if isinstance(annotation, type) and issubclass(annotation, StrEnum):
        return next(iter(annotation)).value
    return False


def entry_in_units(kind: str, entry: Entry, units: Units) -> Entry:
    """Convert an entry to the units of a design, rounded to what a caliper shows.

    Parameters
    ----------
    kind : str
        Kind of the layer.
    entry : dict
        Fields as in a file in mm.
    units : Units

    Returns
    -------
    dict
        Fields as in a file in `units`, with ``kind``.
    """
    entry = {**entry, "kind": kind}
    if units is Units.MM:
        return entry
    try:
        model = LAYER_KINDS[kind].model_validate(entry, context={"units": Units.MM})
    except ValidationError:
        return entry
    table = model.model_dump(
        mode="json", by_alias=True, exclude_unset=True, exclude_none=True, context={"units": units}
    )
    return {
        name: round(value, 3) if isinstance(value, float) else value
        for name, value in table.items()
    }
