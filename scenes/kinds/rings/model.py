"""Rings in the document: other threads at the ends of a wrap."""

import itertools
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from scenes.kinds.edges import EdgeChoice
from scenes.parts.blank import Placement
from scenes.parts.layer import DesignContext, LayerModel, WoundModel
from scenes.parts.part import ThreadRuns
from scenes.problems import refusal
from scenes.quantities import Length, about, length

__all__ = ["Rings"]


class Rings(LayerModel):
    """Threads wound round the blank side by side, from the end of the wrap inwards."""

    role: ClassVar[str] = "rings"

    kind: Literal["rings"]
    ends: Annotated[EdgeChoice, Field(strict=False)] = EdgeChoice.BOTH
    """At which ends of the wrap: lower is nearer the butt."""
    inset: Annotated[
        float, Length(0, 500, "the distance from the wrap's end to the first of the rings")
    ] = 0.0
    threads: ThreadRuns
    """From the end of the wrap inwards."""
    inlaid: bool = True
    """Whether they take the place of rows of the cover, at its level; else they lie over all."""

    def cover_in(self, design: DesignContext) -> WoundModel | None:
        """Find the cover that was wound last before the rings.

        Parameters
        ----------
        design : DesignContext
        """
        found = None
        for layer in design.layers:
            if layer is self:
                break
            found = layer if isinstance(layer, WoundModel) else found
        return found

    def ends_in(self, design: DesignContext) -> tuple[float, float]:
        """Ends that rings are counted from, mm from the butt: of the cover, or else of the wrap.

        Parameters
        ----------
        design : DesignContext
        """
        cover = self.cover_in(design)
        return (cover or self).extent(design.placement)

    def check(self, design: DesignContext, path: str) -> None:
        """Check that there is a cover to lie in, and room."""
        cover, units = self.cover_in(design), design.units
        if self.inlaid:
            if cover is None:
                raise refusal(
                    "there is no cover whose rows these rings could take the place of; list them "
                    "after one, or set inlaid to false",
                    field=path,
                )
            after = itertools.dropwhile(lambda layer: layer is not cover, design.layers)
            between = next(
                layer
                for layer in after
                if layer is self or not isinstance(layer, WoundModel | Rings)
            )
            if between is not self:
                raise refusal(
                    f"another layer ({between.kind}) lies over the cover whose rows these rings "
                    "are to take the place of; list them right after the cover, or set "
                    "inlaid to false",
                    field=path,
                )
        start, end = self.ends_in(design)
        room = (end - start) / (2 if self.ends is EdgeChoice.BOTH else 1)
        if self.inset >= room:
            raise refusal(
                f"{length(self.inset, units)} from the end is beyond the "
                f"{about(room, units)} that there are; give less than that",
                field=f"{path}.inset",
            )

    def extent(self, placement: Placement) -> tuple[float, float]:
        """Range of the wrap, mm from the butt; the cover may reach further."""
        return placement.start, placement.end
