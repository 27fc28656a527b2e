"""Wishes that are solved in closed form: a strip from two of its figures, a run from its turns."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from geometry import winding
from geometry.errors import GeometryError
from geometry.strip import StripFigure, strip_from
from scenes.fit.trials import Trials
from scenes.fit.wishes import Wish
from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.mesh_strip.model import Laid, MeshStrip
from scenes.quantities import Units

__all__ = ["Strip", "one_angle"]

_PROPORTIONAL = {"turns": 1, "diamonds": 1, "pitch": -1, "diamond_length": -1}
"""Power of tan(alpha) that a measure goes with, where a run keeps its angle all the way."""


def one_angle(trials: Trials, stepped: Mapping[str, Any], wish: Wish) -> float | None:
    """Find the angle of a run that keeps it: turns go with tan(alpha), pitch with its inverse.

    Returns
    -------
    float or None
        Degrees; None if the run does not keep its angle, or this wish does not follow from it so.
    """
    here = trials.look(stepped)
    relief = here.design.relief if here.design else None
    keeps = isinstance(relief, CordLattice) or (
        isinstance(relief, MeshStrip) and relief.laid is Laid.FIXED_ANGLE
    )
    power = _PROPORTIONAL.get(wish.measure.name)
    if power is None or not keeps:
        return None
    value = here.value(wish.measure)
    if not value:
        return None
    assert isinstance(relief, MeshStrip | CordLattice)
    return math.degrees(math.atan(math.tan(relief.angle) * (wish.value / value) ** power))


class Strip:
    """The mesh strip of a design with some changes, to be made anew from any two of its figures.

    Parameters
    ----------
    trials : Trials
    stepped : dict
        What is changed already, by path; the design need not be right with it.
    """

    def __init__(self, trials: Trials, stepped: Mapping[str, Any]) -> None:
        document = trials.raw(stepped)
        relief = trials.design.relief
        assert isinstance(relief, MeshStrip)
        index = next(i for i, one in enumerate(trials.design.layers) if one is relief)
        table, placement = document["layers"][index], document["placement"]
        self.above = trials.design.path_of(relief)
        self._in_mm = Units(document["units"]).in_mm
        middle = (placement["from"] + placement["to"]) / 2 * self._in_mm
        self.radius = float(trials.design.blank.measured().radius(middle))
        self.starts = int(table["starts"])
        self.cell = table["cell"] * self._in_mm
        self.given = next(StripFigure(one) for one in relief.alternatives if one in table)
        self.angle = math.radians(table["angle"])
        self.value = table[self.given] * self._scale(self.given)

    def figure(self, wish: Wish) -> tuple[StripFigure, float] | None:
        """Say a wish as one of the strip's figures; None if it is not one."""
        name, value = wish.measure.name, wish.value
        if name in tuple(StripFigure):
            return StripFigure(name), value
        if name == "cells":
            return StripFigure.WIDTH, value * self.cell
        around = 2 * math.pi * self.radius / self.starts
        sine = {
            "cells_along": around / (value * self.cell),
            "cells_ahead": value * self.cell / around,
        }
        if name not in sine:
            return None
        # No strip has an angle of nought.
        return StripFigure.ANGLE, math.asin(sine[name]) if sine[name] < 1 else 0.0

    def now(self, figure: StripFigure) -> float | None:
        """Read one of its figures off as it is; None if it is not right."""
        try:
            angle, width = strip_from(
                self.radius, {StripFigure.ANGLE: self.angle, self.given: self.value}, self.starts
            )
        except GeometryError:
            return None
        return self._figures(angle, width)[figure]

    def held(self, path: str) -> tuple[StripFigure, float]:
        """Give the figure that the other field holds, while the one at `path` changes."""
        if path == f"{self.above}.angle":
            return self.given, self.value
        return StripFigure.ANGLE, self.angle

    def made(
        self, known: Mapping[StripFigure, float], fields: Sequence[str]
    ) -> dict[str, float] | None:
        """Make the strip that has two figures.

        Parameters
        ----------
        known : dict
            Two figures, mm and rad.
        fields : sequence of str
            Paths of the fields to give.

        Returns
        -------
        dict or None
            What they hold then, in the design's own units; None if there is no such strip.
        """
        if len(known) != 2 or set(known) == {StripFigure.ANGLE, StripFigure.PITCH}:
            return None
        try:
            angle, width = strip_from(self.radius, known, self.starts)
        except GeometryError:
            return None
        # What is known is given as it was wished, not as it comes back from the formula.
        figures = {**self._figures(angle, width), **known}
        names = {path: StripFigure(path.removeprefix(f"{self.above}.")) for path in fields}
        return {path: figures[name] / self._scale(name) for path, name in names.items()}

    def _figures(self, angle: float, width: float) -> dict[StripFigure, float]:
        at = (self.radius, angle, width, self.starts)
        return {
            StripFigure.ANGLE: angle,
            StripFigure.WIDTH: width,
            StripFigure.GAP: float(winding.gap_from_width(*at)),
            StripFigure.SHARE: float(winding.share_from_width(*at)),
        }

    def _scale(self, figure: StripFigure) -> float:
        """One of the design's units of a figure, in mm or rad."""
        return {StripFigure.ANGLE: math.pi / 180, StripFigure.SHARE: 1.0}.get(figure, self._in_mm)
