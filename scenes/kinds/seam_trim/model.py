"""Seam trims in the document: threads along the edge of a relief."""

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from geometry.layers.settle import FRICTION
from scenes.kinds.edges import EdgeChoice
from scenes.parts.layer import DesignContext, EdgeModel
from scenes.parts.part import Part, ThreadName, ThreadRuns, only_one
from scenes.problems import refusal
from scenes.quantities import Count, Example, Length, Ratio, about, length

__all__ = ["FRICTION_BOUNDS", "MOST_TRIM_THREADS", "Grade", "SeamTrimModel"]

FRICTION_BOUNDS = 0.05, 5.0
"""Least and most friction of a trim; the most stands for thread that is tacked down."""

MOST_TRIM_THREADS = 400
"""Threads in one trim: side by side they are some 70 mm wide, more than any gap."""


class Grade(Part):
    """Shades spread evenly from one thread to another, one thread of each."""

    first: ThreadName = Field(alias="from")
    last: ThreadName = Field(alias="to")
    count: Annotated[int, Count(2, 60, "the number of threads in all, both ends counted")]


class SeamTrimModel(EdgeModel):
    """Threads laid along the edge where relief meets flat, from the relief outwards.

    A strip's edges are its two sides; a lattice has none, so its edges are the rings where it
    begins and ends.
    """

    alternatives: ClassVar[tuple[str, ...]] = ("threads", "grade")
    material_fields: ClassVar[tuple[str, ...]] = ("friction",)

    kind: Literal["seam trim"]
    edge: Annotated[EdgeChoice, Field(strict=False)] = EdgeChoice.BOTH
    offset: Annotated[
        float,
        Length(-60, 60, "the distance from the relief's edge, below zero to climb the relief"),
    ] = 0.0
    friction: Annotated[
        float,
        Ratio(
            *FRICTION_BOUNDS,
            "the steepest slope that holds the trim, as rise over run; more if it is tacked down",
        ),
    ] = FRICTION
    threads: ThreadRuns | None = None
    """From the edge outwards."""
    grade: Annotated[
        Grade | None, Example('{ from = "Heron Silver A", to = "Slate Gleam A", count = 8 }')
    ] = None

    @property
    def count(self) -> int:
        """Number of threads side by side."""
        if self.grade is not None:
            return self.grade.count
        return sum(run.count for run in self.threads or ())

    @property
    def graded(self) -> bool:
        """Whether its threads are a grade."""
        return self.grade is not None

    @model_validator(mode="after")
    def _checked(self) -> Self:
        only_one(self)
        if self.count > MOST_TRIM_THREADS:
            raise refusal(
                f"{self.count} threads side by side are more than {MOST_TRIM_THREADS}; give fewer "
                "threads, since they must lie in the gap",
                field="threads",
            )
        return self

    def check(self, design: DesignContext, path: str) -> None:
        """Check that the trim starts on the relief or on the flat beside it."""
        relief, units = design.relief_under(self), design.units
        if relief is None:
            raise refusal(
                "a seam trim has no edge to lie along here; give a relief or leave the trim out",
                field=path,
            )
        if not _is_before(design, design.cover_over(relief), self):
            raise refusal(
                "the relief has no thread over it yet where this trim is laid; list the trim "
                "after the cover",
                field=path,
            )
        width, room = relief.flat(design)
        if -self.offset > width / 2:
            raise refusal(
                f"{length(self.offset, units)} climbs beyond the middle of the relief, which is "
                f"{about(width, units)} from edge to edge; give -{about(width / 2, units)} "
                "or more",
                field=f"{path}.offset",
            )
        if self.offset > max(room, 0.0):
            raise refusal(
                f"{length(self.offset, units)} is beyond the flat beside the relief, which is "
                f"{about(room, units)} wide; give that or less",
                field=f"{path}.offset",
            )

    def warnings(self, design: DesignContext, path: str) -> Iterator[str]:
        """Warn of another trim that starts in the same place."""
        for other in (layer for layer in design.layers if isinstance(layer, SeamTrimModel)):
            if other is self:
                return
            both = other.edge is self.edge or EdgeChoice.BOTH in (other.edge, self.edge)
            same = design.relief_under(other) is design.relief_under(self)
            if both and same and other.offset == self.offset:
                yield (
                    f"{path}.offset: {length(self.offset, design.units)} is where another trim "
                    "on the same edge starts; give an offset beside it."
                )


def _is_before(design: DesignContext, layer_a: object, other: object) -> bool:
    """Whether one layer is laid before another."""
    first = next(layer for layer in design.layers if layer is layer_a or layer is other)
    return first is layer_a
