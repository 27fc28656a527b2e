"""Angle and width of a mesh strip from any two figures, and cells along a taper."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from geometry import winding
from geometry.errors import GeometryError
from geometry.strip import StripFigure, strip_from
from scenes.kinds.mesh_strip.builder import StripBuilder
from scenes.kinds.mesh_strip.model import MeshStripModel

__all__ = ["CoupledStrip", "cell_offsets", "circumference_per_strip"]


class CoupledStrip:
    """A strip whose angle and gap, width or share are solved together.

    Parameters
    ----------
    path : str
        Path of the layer.
    table : dict
        Its table in the document with all defaults; it may be invalid.
    radius : float
        Radius of the bare blank at the middle of the wrap, mm.
    in_mm : float
        Unit of the document, mm.
    """

    def __init__(self, path: str, table: Mapping[str, Any], radius: float, in_mm: float) -> None:
        self._path = path
        self._in_mm = in_mm
        self.radius = radius
        self.starts = int(table["starts"])
        self.cell = table["cell"] * in_mm
        self.given = next(
            StripFigure(name) for name in MeshStripModel.alternatives if name in table
        )
        self.angle = math.radians(table["angle"])
        self.value = table[self.given] * self._scale(self.given)

    def figure(self, name: str, value: float) -> tuple[StripFigure, float] | None:
        """Express a measure's value as one of the run's figures; None if it is not one.

        Parameters
        ----------
        name : str
            Name of the measure.
        value : float
            In the unit of the measure.
        """
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
        # There is no strip at an angle of 0, as `made` says.
        return StripFigure.ANGLE, math.asin(sine[name]) if sine[name] < 1 else 0.0

    def now(self, figure: StripFigure) -> float | None:
        """Current value of a figure, mm or rad; None if the run is not possible.

        Parameters
        ----------
        figure : StripFigure
        """
        try:
            angle, width = strip_from(
                self.radius, {StripFigure.ANGLE: self.angle, self.given: self.value}, self.starts
            )
        except GeometryError:
            return None
        return self._figures(angle, width)[figure]

    def held(self, path: str) -> tuple[StripFigure, float]:
        """Give the figure that is kept while one field changes: the one that the other field gives.

        Parameters
        ----------
        path : str
            Path of the field that changes.
        """
        if path == f"{self._path}.angle":
            return self.given, self.value
        return StripFigure.ANGLE, self.angle

    def made(
        self, known: Mapping[StripFigure, float], fields: Sequence[str]
    ) -> dict[str, float] | None:
        """Find field values with which the strip has two given figures.

        Parameters
        ----------
        known : dict
            Two figures, mm and rad.
        fields : sequence of str
            Paths of the fields to give.

        Returns
        -------
        dict or None
            Value by path, in the design's own units; None if there is no such strip.
        """
        if len(known) != 2 or set(known) == {StripFigure.ANGLE, StripFigure.PITCH}:
            return None
        if known.get(StripFigure.ANGLE) == 0:
            return None
        try:
            angle, width = strip_from(self.radius, known, self.starts)
        except GeometryError:
            return None
        # Known figures stay as wished, without rounding errors of the formula.
        figures = {**self._figures(angle, width), **known}
        names = {path: StripFigure(path.removeprefix(f"{self._path}.")) for path in fields}
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
        """Size of the design's unit of a figure, in mm or rad."""
        return {StripFigure.ANGLE: math.pi / 180, StripFigure.SHARE: 1.0}.get(figure, self._in_mm)


def circumference_per_strip(builder: StripBuilder) -> float:
    """Circumference of the blank at the middle of the wrap, divided by the number of strips, mm.

    Parameters
    ----------
    builder : StripBuilder
    """
    return 2 * math.pi * builder.plan.middle_radius / builder.layer.starts


def cell_offsets(builder: StripBuilder, name: str) -> tuple[float, float] | None:
    """Offset at the ends of the wrap of cells that meet in its middle.

    Along the guide line the offsets of all turns add up; at the seam between two turns only their
    own counts.

    Parameters
    ----------
    builder : StripBuilder
    name : str
        ``cells_along`` or ``cells_ahead``.

    Returns
    -------
    start, end : float
        Offsets in cells; None if there is no further turn.
    """
    plan, mesh, wound = builder.plan, builder.layer, builder.winding
    ends = np.array([plan.start, plan.end])
    if name == "cells_ahead":
        whole = round(circumference_per_strip(builder) * math.sin(mesh.angle) / mesh.cell)
        around = 2 * np.pi * plan.blank.radius(ends) / mesh.starts
        ahead = around * np.sin(wound.angle_at(ends)) / mesh.cell
        first, last = np.abs(ahead - whole).tolist()
        return first, last
    # Crossings of one line along the blank, counted from the one in the middle.
    step = 2 * math.pi / mesh.starts
    middle = float(wound.phase_at(plan.middle))
    span = (wound.phase_at(ends) - middle) / step
    turns = np.array([math.ceil(span[0]), math.floor(span[1])])
    if turns[0] == turns[1]:
        return None
    run = wound.length_at(wound.z_at(middle + step * turns))
    run -= wound.length_at(np.array([plan.middle]))
    whole = round(circumference_per_strip(builder) / math.sin(mesh.angle) / mesh.cell)
    first, last = np.abs(run / mesh.cell - whole * turns).tolist()
    return first, last
