"""Builder of covers, wound over everything on the blank."""

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from geometry.kept import KEPT
from geometry.layers.cover import Cover as CoverLayer
from geometry.layers.cover import air_under, wound_length
from geometry.layers.flaw import CrossedRow, PartedRows
from geometry.layers.trim import SeamTrim, TrimThread
from geometry.surface import Layer, Surface
from materials.thread import Thread
from scenes.figures.trust import SHELF_WIDTH_SHARE, WOUND_MM
from scenes.kinds.builder import (
    CARELESS,
    LayerBuilder,
    LayerResult,
    Palette,
    ReliefBuilder,
    ThreadUse,
    WoundBuilder,
)
from scenes.kinds.cover.model import CoverModel, Flaw, SlopeRows

__all__ = ["CoverBuilder", "CoverResult"]

_GAP_ROWS, _GAP_LENGTH = 1.6, 9.0
_CROSSED_ROWS, _CROSSED_LENGTH = 7.0, 6.5
"""Flaws as they are found on the bench: width in rows and length round the blank, mm (from
memory)."""


@dataclass(frozen=True)
class CoverResult:
    """Further results of winding a cover; computed only on demand.

    Parameters
    ----------
    beneath : Surface
        What the cover is wound over.
    cover : Cover
        Cover that is wound.
    given_up : tuple of (float, float)
        Stretches of the blank that are left to other threads, mm from the butt.
    """

    beneath: Surface
    cover: CoverLayer
    given_up: tuple[tuple[float, float], ...]

    @cached_property
    def _draped(self) -> Surface:
        return self.cover.draped(self.beneath)

    @cached_property
    def count(self) -> int:
        """Number of turns of thread."""
        return int(self.cover.kept(self._draped, self.given_up).size)

    @cached_property
    def air(self) -> float:
        """Air under its thread, mm³."""
        return air_under(self.beneath, self.cover)

    @cached_property
    def length(self) -> float:
        """Length of thread on the blank, mm."""
        return wound_length(self._draped, self.cover, self.given_up)


class CoverBuilder(WoundBuilder[CoverModel]):
    """Builder of a cover."""

    progress_label = "cover"

    @cached_property
    def thread(self) -> Thread:
        """Thread of the cover."""
        return self.plan.shelf.thread(self.layer.thread)

    def threads(self) -> Iterator[Thread]:
        """Yield its thread."""
        yield self.thread

    def cover(self, material: int = 0) -> CoverLayer:
        """Make the geometry layer."""
        width = self.thread.diameter_mm
        uneven = self.layer.unevenness * CARELESS * width
        return CoverLayer(
            *self.span,
            width,
            self.layer.row_width(width),
            material,
            uneven,
            self.layer.seed,
            self.layer.steepest_slope,
            self.layer.rows is SlopeRows.PACKED,
        )

    @cached_property
    def inlaying(self) -> tuple[LayerBuilder[Any], ...]:
        """Layers whose threads are wound along with it, in place of its rows."""
        after = itertools.dropwhile(lambda builder: builder is not self, self.plan.builders)
        over = itertools.takewhile(
            lambda builder: builder is self or not isinstance(builder, CoverBuilder), after
        )
        return tuple(builder for builder in over if builder.inlaid())

    @cached_property
    def replaced_spans(self) -> tuple[tuple[float, float], ...]:
        """Stretches in which other threads replace its rows, mm from the butt."""
        return tuple(span for builder in self.inlaying for span in builder.inlaid())

    @property
    def level_rows(self) -> int:
        """Number of turns of its thread if all that it lies on were level."""
        return self.cover().level_rows(self.replaced_spans)

    @property
    def climbs(self) -> bool:
        """Whether its rows follow slopes, so that there are more of them than on level ground."""
        reliefs = (
            earlier for earlier in self.plan.before(self) if isinstance(earlier, ReliefBuilder)
        )
        return self.cover().packed and next(reliefs, None) is not None

    @property
    def row_share(self) -> float:
        """Relative uncertainty of the distance from row to row."""
        wound = self.layer.wound
        return SHELF_WIDTH_SHARE if wound is None else WOUND_MM / wound.over

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Wind the cover, with a flaw where the design asks for one."""
        material = palette.index(self.plan.look_of(self.thread))
        wound = KEPT.laid(self.cover(material), surface)
        if self.layer.flaw is not Flaw.NONE:
            step("flaw")
            for part in self._flaw(surface, material):
                wound = KEPT.laid(part, wound)
        result = CoverResult(surface, self.cover(), self.replaced_spans)
        return LayerResult(
            wound,
            lambda: (ThreadUse(self.path, self.thread, result.length),),
            kind_result=result,
        )

    def _flaw(self, beneath: Surface, material: int) -> Iterator[Layer]:
        """Yield the layers of the flaw, mid wrap, towards the camera."""
        plan, row = self.plan, self.cover().laid_width
        facing = np.pi / 2 - plan.design.camera.turn
        if self.layer.flaw is Flaw.GAP:
            yield PartedRows(beneath, plan.middle, facing, _GAP_ROWS * row, _GAP_LENGTH)
            return
        over = _CROSSED_ROWS * row
        # The place that the thread leaves stays empty until its neighbours close up.
        yield PartedRows(beneath, plan.middle - over / 2, facing, row, _CROSSED_LENGTH)
        line = CrossedRow(plan.middle, facing, over, _CROSSED_LENGTH)
        thread = TrimThread(self.thread.diameter_mm, material)
        yield SeamTrim(line, (thread,), -row / 2, *self.span)
