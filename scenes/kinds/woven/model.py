"""Woven panels in the document: panels woven from a chart."""

import math
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from scenes.artwork.charts import MOST_COLOURS
from scenes.kinds.flat.runs import RunDirection, check_support
from scenes.parts.layer import DesignContext, LayerModel
from scenes.parts.part import Part, ThreadName, TrimThread
from scenes.problems import refusal, shown
from scenes.quantities import Angle, Colour, Count, Example, FileName, Length, Ratio

__all__ = ["ChartColour", "WovenPanel"]


class ChartColour(Part):
    """Thread of one colour of the chart."""

    colour: Annotated[str, Colour("a colour of the chart")]
    thread: ThreadName


class WovenPanel(LayerModel):
    """A panel woven thread by thread: one pixel of the chart is one crossing.

    The warp runs along the blank or along the flat band, the picks run across it. Where the chart
    has the warp's own colour, or nothing, the warp lies on top; elsewhere a pick of that colour.
    The chart stands upright when the tip points up.
    """

    role: ClassVar[str] = "woven"

    kind: Literal["woven panel"]
    chart: Annotated[
        str, FileName(100, "the file name of a PNG chart", endings=(".png",), chart=True)
    ]
    warp: ThreadName
    """Runs the length of the panel."""
    colours: Annotated[
        tuple[ChartColour, ...],
        Field(strict=False, min_length=1, max_length=MOST_COLOURS),
        Example('[ { colour = "#1f7fe8", thread = "Heron Silver A" } ]'),
    ]
    """Which thread is woven for each colour of the chart."""
    runs: Annotated[RunDirection, Field(strict=False)] = RunDirection.BLANK
    """Which way it lies: straight along the blank, or along the flat band beside a strip."""
    repeats: (
        Annotated[int, Count(1, 400, "how often the chart is woven, one above the other")] | None
    ) = None
    """Default: once along the blank; along the band as often as there is room for."""
    side_by_side: Annotated[int, Count(1, 60, "how often the chart is woven beside itself")] = 1
    closed: bool = False
    """Whether it goes all the way round, its warp spread so that its ends meet."""
    spread: Annotated[
        float, Ratio(1, 2, "from thread to thread, in diameters: 1 if they touch")
    ] = 1.0
    edge: Annotated[
        tuple[TrimThread, ...],
        Field(strict=False, max_length=12),
        Example('[ { thread = "Heron Silver A", count = 2 } ]'),
    ] = ()
    """Threads that hold its edge: rings at both ends, or along both sides on the band."""
    at: (
        Annotated[
            float, Length(0, 6000, "the distance of its middle from the butt"), Example("350")
        ]
        | None
    ) = None
    """Default: mid wrap."""
    around: Annotated[
        float, Angle(-360, 360, "where its middle is round the blank, from the guide line")
    ] = math.pi / 2

    @model_validator(mode="after")
    def _checked(self) -> Self:
        seen: set[str] = set()
        for index, entry in enumerate(self.colours):
            if entry.colour.lower() in seen:
                raise refusal(
                    f"{shown(entry.colour)} is listed twice; give each colour one thread",
                    field=f"colours.{index}.colour",
                )
            seen.add(entry.colour.lower())
        if self.closed and self.runs is RunDirection.BAND:
            raise refusal(
                f'a panel "{self.runs.value}" cannot close round the blank; leave closed out',
                field="closed",
            )
        return self

    def check(self, design: DesignContext, path: str) -> None:
        """Check that there is thread under it, and a band if it lies along one."""
        check_support(self, self.runs, self.at, design, path)
