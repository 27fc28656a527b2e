"""Layers to start from: what a new one is like in the design that it is added to.

Each kind has a few ways to begin, the likeliest first: threads that stand out from what is there,
widths that fit between the grips, a place in the stack. The first that the whole design bears
without a new warning is taken. A kind that says nothing here begins as in the samples, or with
whatever its fields allow.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin

import numpy as np
from pydantic import ValidationError

from materials.colour import linear_to_lab
from materials.difference import delta_e_2000
from materials.shelf import Shelf
from materials.thread import Thread
from scenes.artwork.charts import WARP, colours_of, nearest_threads
from scenes.artwork.images import read_image
from scenes.artwork.shipped import shipped_names
from scenes.building.build import Plan
from scenes.design.document import Design
from scenes.design.layers import LAYER_KINDS
from scenes.design.threads import check_threads, thread_names
from scenes.editing.list_edits import check_kind, inserted, of_kind, starter
from scenes.files import samples
from scenes.files.companion_files import SHIPPED, Beside
from scenes.kinds.cover.model import Cover
from scenes.kinds.mesh_strip.model import MeshStrip
from scenes.kinds.rings.model import Rings
from scenes.kinds.seam_trim.model import SeamTrim
from scenes.kinds.taper import middle_radius, radii
from scenes.kinds.woven.model import MOST_SIDE
from scenes.parts.layer import LayerModel, ReliefModel
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

__all__ = ["added", "begun", "turned_into"]

Entry = dict[str, Any]

_APART = 12.0
"""CIEDE2000 between threads that stand out from each other at arm's length (from memory)."""

_MARGIN = 8.0
"""A cover starts 5 to 10 mm beyond the relief (common practice, no source)."""

_KEPT_CLEAR = 1.0
"""Between a new cover and a grip, mm."""

_MESH = {"cell": 2.8, "yarn_width": 0.6, "yarn_height": 0.28, "angle": 45}
_FINE_MESH = {"cell": 1.4, "yarn_width": 0.35, "yarn_height": 0.18, "angle": 45}
"""Nine and eighteen yarns to the inch."""

_CORD = 0.9
_CORD_ANGLE = 36.0
_DIAMOND = 7.0
"""Width of a lattice's diamonds, mm: about as the sample's."""


@dataclass(frozen=True)
class Beginning:
    """One way to add a layer.

    Parameters
    ----------
    entry : dict
        As in a file in mm.
    at : int, optional
        Position in the stack; behind its like if not given.
    cover : dict, optional
        A cover to wind over it, where it would have none.
    """

    entry: Entry
    at: int | None = None
    cover: Entry | None = None


def added(design: Design, kind: str, shelf: Shelf, beside: Beside, at: int | None = None) -> Design:
    """Add a layer of a kind.

    Parameters
    ----------
    design : Design
    kind : str
    shelf : Shelf
    beside : Beside
    at : int, optional
        Position that it takes; the likeliest if not given.

    Raises
    ------
    DesignProblem
        If there is no such kind, or no way to begin one is right in this design: then what is
        wrong with the likeliest.
    """

    def make(way: Beginning) -> Design:
        place = way.at if at is None else at
        made = design
        if way.cover is not None:
            # First the cover: no relief may be without one.
            made = inserted(made, "layers", _in_units(way.cover, design.units), place)
        return inserted(made, "layers", _in_units(way.entry, design.units), place)

    return _first_right(design, list(begun(design, kind, shelf)), make, shelf, beside)


def turned_into(design: Design, path: str, kind: str, shelf: Shelf, beside: Beside) -> Design:
    """Make a layer another of its role: a mesh strip a lattice, say. It keeps its name.

    Raises
    ------
    DesignProblem
        If there is no such layer or kind, or the design would not be right so.
    """
    return _first_right(
        design,
        list(begun(design, kind, shelf)),
        lambda way: of_kind(design, path, kind, _in_units(way.entry, design.units)),
        shelf,
        beside,
    )


def begun(design: Design, kind: str, shelf: Shelf) -> Iterator[Beginning]:
    """Give ways to begin a layer of a kind, the likeliest first.

    Raises
    ------
    DesignProblem
        If there is no such kind.
    """
    check_kind(kind)
    around = _Around(design, shelf)
    known = _WAYS.get(kind)
    if known is not None:
        yield from known(around)
        return
    if any(one.kind == kind for name in samples.names() for one in samples.load(name).layers):
        yield Beginning(starter(kind, Units.MM))
    filled = _filled(LAYER_KINDS[kind], around)
    if issubclass(LAYER_KINDS[kind], ReliefModel):
        yield from _under_cover(around, [filled])
    else:
        yield Beginning(filled)
        yield Beginning(filled, len(design.layers))


def _first_right(
    design: Design,
    ways: list[Beginning],
    make: Callable[[Beginning], Design],
    shelf: Shelf,
    beside: Beside,
) -> Design:
    warned = set(design.warnings)
    refused: ValueError | None = None
    bearable: Design | None = None
    for way in ways:
        try:
            made = make(way)
            check_threads(made, shelf)
            Plan(made.without_variants(), shelf, beside).prepare()
        except DESIGN_REFUSALS as problem:
            refused = refused or problem
            continue
        if set(made.warnings) <= warned:
            return made
        bearable = bearable or made
    if bearable is not None:
        return bearable
    assert refused is not None
    raise refused


class _Around:
    """What a new layer finds in a design.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    """

    def __init__(self, design: Design, shelf: Shelf) -> None:
        self.design = design
        self.shelf = shelf

    @cached_property
    def cover(self) -> Cover | None:
        """The cover that was wound last."""
        covers = [one for one in self.design.layers if isinstance(one, Cover)]
        return covers[-1] if covers else None

    @cached_property
    def radius(self) -> float:
        """Of the bare blank at the middle of the wrap, mm."""
        return middle_radius(self.design)

    @cached_property
    def ground(self) -> Thread:
        """The thread that a new one is to stand out from."""
        named = [name for _, name in thread_names(self.design) if name in self.shelf]
        if self.cover is not None and self.cover.thread in self.shelf:
            named.insert(0, self.cover.thread)
        return self.shelf.thread(named[0]) if named else self.shelf.threads[0]

    @cached_property
    def threads(self) -> tuple[str, ...]:
        """Three threads that stand out from the ground and from each other.

        Those that the design has come first, then what is farthest from all on the shelf.
        """
        used = dict.fromkeys(name for _, name in thread_names(self.design) if name in self.shelf)
        own = [self.shelf.thread(name) for name in used]
        alike = [one for one in self.shelf.threads if one.diameter_mm == self.ground.diameter_mm]
        chosen: list[Thread] = []
        for thread in own:
            if len(chosen) < 3 and self._apart(thread, [self.ground, *chosen]) > _APART:
                chosen.append(thread)
        while len(chosen) < 3:
            chosen.append(max(alike, key=lambda one: self._apart(one, [self.ground, *chosen])))
        return tuple(one.name for one in chosen)

    @staticmethod
    def _apart(thread: Thread, others: list[Thread]) -> float:
        """Least difference from others, CIEDE2000."""
        lab = linear_to_lab(np.array([one.linear_rgb for one in (thread, *others)]))
        return float(np.min(delta_e_2000(lab[:1], lab[1:])))

    @cached_property
    def ink(self) -> str:
        """Dark on light thread, light on dark."""
        lightness = float(linear_to_lab(np.array(self.ground.linear_rgb))[0])
        return "#14171b" if lightness > 50 else "#f6efdc"

    @cached_property
    def margin(self) -> float:
        """How far a cover may run beyond the wrap, mm: as the last, or what the grips leave."""
        place, stations = self.design.placement, self.design.blank.stations
        room = [place.start - stations[0].at, stations[-1].at - place.end]
        for one in self.design.blank.fitted:
            first, last = one.span
            room += [place.start - last - _KEPT_CLEAR] if last <= place.end else []
            room += [first - _KEPT_CLEAR - place.end] if first >= place.start else []
        most = _MARGIN if self.cover is None else self.cover.margin
        return max(0.0, min(most, math.floor(2 * min(room)) / 2))

    def runs(self, *counts: int) -> list[Entry]:
        """Threads side by side, so many of each that stands out."""
        return [
            {"thread": name, "count": count}
            for name, count in zip(self.threads, counts, strict=False)
        ]

    def widths(self, threads: Any) -> float:
        """Width of threads side by side, mm."""
        return sum(self.shelf.thread(one.thread).diameter_mm * one.count for one in threads)


# ---- One function for each kind


def _under_cover(around: _Around, entries: list[Entry]) -> Iterator[Beginning]:
    """A relief goes under a cover that has none; else it brings its own."""
    layers = around.design.layers
    bare = [
        index
        for index, one in enumerate(layers)
        if isinstance(one, Cover) and not _over_relief(layers, index)
    ]
    over = {"kind": "cover", "thread": around.ground.name, "margin": around.margin}
    for entry in entries:
        if bare:
            yield Beginning(entry, bare[-1])
        elif around.cover is None:
            yield Beginning(entry, 0, over)
        yield Beginning(entry, len(layers), over)


def _over_relief(layers: tuple[LayerModel, ...], index: int) -> bool:
    """Whether a cover lies over a relief of its own."""
    for one in reversed(layers[:index]):
        if isinstance(one, Cover):
            return False
        if isinstance(one, ReliefModel):
            return True
    return False


def _mesh_strip(around: _Around) -> Iterator[Beginning]:
    strips = [{"kind": "mesh strip", **mesh, "covered_share": 0.5} for mesh in (_MESH, _FINE_MESH)]
    yield from _under_cover(around, strips)


def _cord_lattice(around: _Around) -> Iterator[Beginning]:
    round_ = 2 * math.pi * float(radii(around.design).min())
    most = int(round_ * math.cos(math.radians(_CORD_ANGLE)) / _CORD)
    count = max(1, min(most, max(3, round(round_ / _DIAMOND))))
    entry = {
        "kind": "cord lattice",
        "cord_diameter": _CORD,
        "count": count,
        "angle": _CORD_ANGLE,
    }
    yield from _under_cover(around, [entry, {**entry, "cord_diameter": 0.3}])


def _cover(around: _Around) -> Iterator[Beginning]:
    entry = {"kind": "cover", "thread": around.threads[0], "margin": around.margin}
    yield Beginning(entry)
    yield Beginning(entry, len(around.design.layers))


def _seam_trim(around: _Around) -> Iterator[Beginning]:
    entry = {"kind": "seam trim", "threads": around.runs(2)}
    trims = [one for one in around.design.layers if isinstance(one, SeamTrim)]
    ends = [one.offset + around.widths(one.threads) for one in trims if one.threads is not None]
    if ends:
        # Beside the outermost one there is.
        yield Beginning({**entry, "offset": math.ceil(100 * max(ends)) / 100})
    yield Beginning(entry)
    yield Beginning(entry, len(around.design.layers))


def _crossed(around: _Around) -> Iterator[Beginning]:
    length = around.design.placement.length
    pattern = {"kind": "diamond", "threads": around.runs(2, 2)}
    for count in (2, 1, 3):
        # Where as many spacings as cross round the blank are one turn, threads run at 45 degrees.
        repeats = max(1, round(length * count / (2 * math.pi * around.radius)))
        entry = {"kind": "crossed pattern", "around": count, "repeats": repeats, "pattern": pattern}
        yield Beginning(entry)
        yield Beginning(entry, len(around.design.layers))


def _decal(around: _Around) -> Iterator[Beginning]:
    last = len(around.design.layers)
    relief = around.design.relief_under(around.design.layers[-1])
    banded = isinstance(relief, MeshStrip) or isinstance(around.design.layers[-1], MeshStrip)
    title = around.design.title.strip()
    for words in dict.fromkeys((title[:24].strip(), title.split(" ")[0][:24], "My rod")):
        for runs in ("along the flat band", "along the blank"):
            if words and (banded or runs == "along the blank"):
                entry = {"kind": "decal", "text": words, "ink": around.ink, "runs": runs}
                yield Beginning(entry)
                yield Beginning(entry, last)


_CHART = "shoal.png"


def _woven(around: _Around) -> Iterator[Beginning]:
    pixels = read_image(SHIPPED.read(_CHART, "chart"), _CHART, "chart", MOST_SIDE)
    colours = [one for one in colours_of(pixels) if one != WARP]
    alike = [one for one in around.shelf.threads if one.size == around.ground.size]
    threads = nearest_threads(colours, alike)
    entry = {
        "kind": "woven panel",
        "chart": _CHART,
        "warp": around.threads[0],
        "colours": [
            {"colour": one, "thread": thread.name}
            for one, thread in zip(colours, threads, strict=True)
        ],
    }
    for times in (2, 1):
        sized = {**entry, "repeats": times, "side_by_side": times}
        yield Beginning(sized)
        yield Beginning(sized, len(around.design.layers))


def _rings(around: _Around) -> Iterator[Beginning]:
    layers = around.design.layers
    length = around.design.placement.length
    entry: Entry = {"kind": "rings", "threads": around.runs(3)}
    if around.cover is not None:
        first = next(i for i, one in enumerate(layers) if one is around.cover) + 1
        behind = first
        while behind < len(layers) and isinstance(layers[behind], Rings):
            behind += 1
        there = [one for one in layers[first:behind] if isinstance(one, Rings)]
        ends = [one.inset + around.widths(one.threads) for one in there]
        # A little of the cover shows before them, and before those that are there.
        insets = [math.ceil(10 * max(ends)) / 10 + 1] if ends else []
        for inset in (*insets, min(2.0, length / 10)):
            yield Beginning({**entry, "inset": round(inset, 2)}, behind)
    yield Beginning(
        {**entry, "inlaid": False, "inset": round(min(2.0, length / 10), 2)}, len(layers)
    )


def _overlay(around: _Around) -> Iterator[Beginning]:
    kept, out = around.threads[:2]
    entry = {
        "kind": "overlay",
        "sequence": [{"thread": kept}, {"thread": out, "removed": True}],
        "margin": around.margin,
    }
    yield Beginning(entry)
    yield Beginning(entry, len(around.design.layers))


_WAYS: Mapping[str, Callable[[_Around], Iterator[Beginning]]] = {
    "mesh strip": _mesh_strip,
    "cord lattice": _cord_lattice,
    "cover": _cover,
    "seam trim": _seam_trim,
    "crossed pattern": _crossed,
    "decal": _decal,
    "woven panel": _woven,
    "rings": _rings,
    "overlay": _overlay,
}


# ---- Any kind


def _filled(model: type[Part], around: _Around) -> Entry:
    """Fill what a part must give, from what its fields allow."""
    entry: Entry = {}
    infos = model.model_fields
    must = [name for name, info in infos.items() if info.is_required()]
    for name in [*must, *model.alternatives[:1]]:
        info = infos[name]
        entry[info.alias or name] = _value(info.annotation, marker_of(info), around)
    return entry


def _value(annotation: Any, marker: Marker | None, around: _Around) -> Any:
    """Give a value, in mm and degrees, that a field's type and marker allow."""
    if isinstance(marker, ShelfName):
        return around.threads[0]
    if isinstance(marker, FileName):
        return next((one for one in shipped_names() if one.endswith(marker.endings)), "")
    if isinstance(marker, Words):
        return "My rod"[: marker.longest]
    if isinstance(marker, Colour):
        return around.ink
    if isinstance(marker, Count | Quantity):
        likely = 45 if isinstance(marker, Angle) else 2
        return min(max(likely, marker.low), marker.high)
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return inner[0]
    if origin in (Union, UnionType):
        return _value(inner[0], None, around)
    if origin is tuple:
        return [_value(inner[0], None, around)]
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return _filled(annotation, around)
    if isinstance(annotation, type) and issubclass(annotation, StrEnum):
        return next(iter(annotation)).value
    return False


def _in_units(entry: Entry, units: Units) -> Entry:
    """Give an entry in the units of a design, as finely as a caliper reads."""
    if units is Units.MM:
        return dict(entry)
    try:
        model = LAYER_KINDS[entry["kind"]].model_validate(entry, context={"units": Units.MM})
    except ValidationError:
        return dict(entry)
    table = model.model_dump(
        mode="json", by_alias=True, exclude_unset=True, exclude_none=True, context={"units": units}
    )
    return {
        name: round(value, 3) if isinstance(value, float) else value
        for name, value in table.items()
    }
