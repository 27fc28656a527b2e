"""New layers to try in a design, and what they depend on.

Each kind yields a few, the likeliest first: threads that stand out, widths that fit between the
grips, a place in the stack. `scenes.editing.layer_defaults` takes the first one with which the
whole design is valid and has no new warning.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from materials.colour import linear_to_lab
from materials.difference import delta_e_2000
from materials.shelf import Shelf
from materials.thread import Thread
from scenes.kinds.taper import middle_radius
from scenes.parts.layer import DesignContext, LayerModel, ReliefModel, WoundModel, wound
from scenes.parts.part import TrimThread

__all__ = ["Entry", "NewLayer", "Surroundings", "under_cover"]

Entry = dict[str, Any]

_APART = 12.0
"""CIEDE2000 between threads that stand out from each other at arm's length (from memory)."""

_MARGIN = 8.0
"""A cover starts 5 to 10 mm beyond the relief (common practice, no source)."""

_KEPT_CLEAR = 1.0
"""Distance between a new cover and a grip, mm."""


@dataclass(frozen=True)
class NewLayer:
    """A new layer to try.

    Parameters
    ----------
    entry : dict
        Fields as in a file in mm, without ``kind``.
    at : int, optional
        Position in the stack; behind the last layer of its kind if not given.
    cover : dict, optional
        Fields of a cover to wind over it, where there is none.
    """

    entry: Entry
    at: int | None = None
    cover: Entry | None = None


class Surroundings:
    """The design around a new layer.

    Parameters
    ----------
    design : DesignContext
    shelf : Shelf
    named : sequence of str
        Threads that the design names, in order; some may be missing from the shelf.
    """

    def __init__(self, design: DesignContext, shelf: Shelf, named: Sequence[str]) -> None:
        self.design = design
        self.shelf = shelf
        self._named = [name for name in named if name in shelf]

    @cached_property
    def cover(self) -> WoundModel | None:
        """The cover that was wound last."""
        return next(iter(wound(self.design.layers)[::-1]), None)

    @cached_property
    def radius(self) -> float:
        """Radius of the bare blank at the middle of the wrap, mm."""
        return middle_radius(self.design)

    @cached_property
    def ground(self) -> Thread:
        """Thread that new threads must stand out from."""
        if self.cover is not None and self.cover.thread in self.shelf:
            return self.shelf.thread(self.cover.thread)
        return self.shelf.thread(self._named[0]) if self._named else self.shelf.threads[0]

    @cached_property
    def threads(self) -> tuple[str, ...]:
        """Three threads that stand out from the ground and from each other.

        Threads of the design come first, then those of the shelf that differ most.
        """
        own = [self.shelf.thread(name) for name in dict.fromkeys(self._named)]
        alike = [
            thread for thread in self.shelf.threads if thread.diameter_mm == self.ground.diameter_mm
        ]
        chosen: list[Thread] = []
        for thread in own:
            if len(chosen) < 3 and self._apart(thread, [self.ground, *chosen]) > _APART:
                chosen.append(thread)
        while len(chosen) < 3:
            chosen.append(
                max(alike, key=lambda thread: self._apart(thread, [self.ground, *chosen]))
            )
        return tuple(thread.name for thread in chosen)

    @staticmethod
    def _apart(thread: Thread, others: list[Thread]) -> float:
        """Least CIEDE2000 difference from others."""
        lab = linear_to_lab(np.array([candidate.linear_rgb for candidate in (thread, *others)]))
        return float(np.min(delta_e_2000(lab[:1], lab[1:])))

    @cached_property
    def ink(self) -> str:
        """Ink colour, ``#rrggbb``: dark on light thread, light on dark."""
        lightness = float(linear_to_lab(np.array(self.ground.linear_rgb))[0])
        return "#14171b" if lightness > 50 else "#f6efdc"

    @cached_property
    def margin(self) -> float:
        """Margin of a new cover, mm: that of the last cover, or less where the grips need it."""
        place, stations = self.design.placement, self.design.blank.stations
        room = [place.start - stations[0].at, stations[-1].at - place.end]
        for part in self.design.blank.fitted:
            first, last = part.span
            room += [place.start - last - _KEPT_CLEAR] if last <= place.end else []
            room += [first - _KEPT_CLEAR - place.end] if first >= place.start else []
        most = _MARGIN if self.cover is None else self.cover.margin
        return max(0.0, min(most, math.floor(2 * min(room)) / 2))

    def thread_runs(self, *counts: int) -> list[Entry]:
        """List threads side by side, a count for each of `threads`.

        Parameters
        ----------
        counts : int
            Number of threads of the first, the second and the third.
        """
        return [
            {"thread": name, "count": count}
            for name, count in zip(self.threads, counts, strict=False)
        ]

    def total_width(self, threads: Sequence[TrimThread]) -> float:
        """Total width of threads side by side, mm.

        Parameters
        ----------
        threads : sequence of TrimThread
        """
        return sum(self.shelf.thread(run.thread).diameter_mm * run.count for run in threads)

    def usual_places(self, entry: Entry) -> Iterator[NewLayer]:
        """Begin a layer behind the last of its kind, or else on top of all layers.

        Parameters
        ----------
        entry : Entry
            Fields as in a file in mm, without ``kind``.
        """
        yield NewLayer(entry)
        yield NewLayer(entry, len(self.design.layers))


def under_cover(surroundings: Surroundings, entries: Sequence[Entry]) -> Iterator[NewLayer]:
    """Begin a relief under a cover that has none, or else with a cover of its own.

    Parameters
    ----------
    surroundings : Surroundings
    entries : sequence of Entry
        Fields to try, the likeliest first.
    """
    layers = surroundings.design.layers
    bare = [
        index
        for index, layer in enumerate(layers)
        if isinstance(layer, WoundModel) and not _over_relief(layers, index)
    ]
    over = {"thread": surroundings.ground.name, "margin": surroundings.margin}
    for entry in entries:
        if bare:
            yield NewLayer(entry, bare[-1])
        elif surroundings.cover is None:
            yield NewLayer(entry, 0, over)
        yield NewLayer(entry, len(layers), over)


def _over_relief(layers: Sequence[LayerModel], index: int) -> bool:
    """Whether a cover lies over a relief of its own."""
    for layer in reversed(layers[:index]):
        if isinstance(layer, WoundModel):
            return False
        if isinstance(layer, ReliefModel):
            return True
    return False
