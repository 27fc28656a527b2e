"""The subject of a picture, and sizes of pictures."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.timing.kept_times import BuildWatch
from scenes.building.build import Plan, Wrap, build, build_for_bench
from scenes.design.document import Design
from scenes.files.companion_files import SHIPPED, CompanionFiles

__all__ = ["BUILDING", "Pixels", "Size", "Subject", "check_size"]

Pixels = NDArray[np.uint8]
"""A picture, (height, width, 3), sRGB."""

Size = tuple[int, int]
"""Width and height, pixels."""

BUILDING = 1
"""Steps of progress that `Subject.build` takes."""

_LEAST_SIDE, _MOST_SIDE = 16, 8192
_MOST_PIXELS = 40_000_000


def check_size(size: Size) -> None:
    """Check that a picture of some size can be drawn.

    Parameters
    ----------
    size : (int, int)
        Width and height, pixels.

    Raises
    ------
    RequestProblem
    """
    width, height = size
    if not (_LEAST_SIDE <= width <= _MOST_SIDE and _LEAST_SIDE <= height <= _MOST_SIDE):
        raise RequestProblem(
            f"size: {width}x{height} has a side that is not between {_LEAST_SIDE} and {_MOST_SIDE} "
            "pixels; give width and height such as 1280x720."
        )
    if width * height > _MOST_PIXELS:
        raise RequestProblem(
            f"size: {width}x{height} is {width * height / 1e6:.0f} megapixels; give "
            f"{_MOST_PIXELS / 1e6:.0f} at most."
        )


@dataclass(frozen=True, slots=True)
class Subject:
    """A design with what it needs to be built.

    Parameters
    ----------
    design : Design
    shelf : Shelf
        Where its threads are.
    beside : CompanionFiles, optional
        Where its pictures, charts and fonts are.
    variant : str, optional
        Name of the variant that it is; empty for a design of its own.
    """

    design: Design
    shelf: Shelf
    beside: CompanionFiles = SHIPPED
    variant: str = ""

    def plan(self) -> Plan:
        """Work out where everything of the design is."""
        return Plan(self.design, self.shelf, self.beside)

    def points(self, detail: Detail) -> float:
        """Points of the grid on which its wrap is built, millions; not those of other wraps.

        Parameters
        ----------
        detail : Detail

        Raises
        ------
        DesignProblem
            If the design cannot be laid out.
        """
        return self.plan().grid(detail).points / 1e6

    def points_of_rod(self, detail: Detail) -> float:
        """Points of the grids of all wraps on its rod, which pictures show, millions.

        Parameters
        ----------
        detail : Detail

        Raises
        ------
        DesignProblem
            If the design cannot be laid out.
        """
        plan = self.plan()
        return sum(one.grid(detail).points for one in (plan, *plan.others)) / 1e6

    def build(self, detail: Detail, progress: Progress) -> Wrap:
        """Build the wrap, advancing `progress` by `BUILDING`.

        Parameters
        ----------
        detail : Detail
        progress : Progress
        """
        progress.describe("blank")
        watch = BuildWatch(self.points(detail))
        wrap = build(self.plan(), detail, step=progress.describe)
        watch.built()
        progress.advance()
        return wrap

    def build_for_bench(self, progress: Progress) -> Wrap:
        """Build the wrap as it can be cut, at draft detail, advancing `progress` by `BUILDING`.

        The finish is not poured: the bench report pours and measures every coat by itself.

        Parameters
        ----------
        progress : Progress
        """
        progress.describe("blank")
        wrap = build_for_bench(self.plan(), progress.describe, poured=False)
        progress.advance()
        return wrap
