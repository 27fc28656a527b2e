"""Where the fibres and flakes of a blank lie: the pattern below its lacquer.

It is fixed to the rod, so that it runs on from a bare length into a wrap and shows wherever no
thread lies. Layers never meet it: it is laid on the finished surface, where that shows the blank.

Cloth is 2 x 2 twill, its tows along and round the blank, as many round it as close without a seam.
A tow that floats over two others is bowed along its length and lens-shaped across [Irawan2012].
Tape is wound both ways at 45 degrees over fibres along the blank. Widths, depths and angles are
from memory: 3K tows are 2 mm wide, and the cloth a fifth of a millimetre thick.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from geometry.surface import Surface
from materials.blank_looks import BlankFinish, is_lacquered, lacquered_looks
from scenes.building.build import Plan
from scenes.kinds.builder import Palette
from scenes.stage.noise import hashed

__all__ = ["LACQUER_MM", "TWILL_TOW_MM", "dressed", "measured_around"]

Floats = NDArray[np.float32]

LACQUER_MM = 0.1
"""Thickness of clear lacquer (from memory)."""

TWILL_TOW_MM = 2.0
"""Width of a tow of the cloth (from memory)."""

_BOW_MM = 0.07
_LENS_MM = 0.04
"""How far the ends of a float, and the sides of a tow, lie below its middle (from memory)."""

_TAPE_MM = 5.0
_TAPE_PITCH_MM = 9.0
_TAPE_EDGE_MM = 0.5
_TAPE_STEP_MM = 0.03
"""Width of a tape, distance between tapes, and width and height of the step at its edge."""

_FLAKE_MM = 0.12
"""Least distance between places with a flake of their own."""

_FLAKE_PERIOD = 64
"""Cells along the blank after which flakes repeat: packed, they take a fifth of the room."""

_CLIMB = 0.06
"""Least angle from the hoop of fibres and flakes, rad: threads at less count as wound round."""

_MOST_LAY = pi / 2
"""Fibres along the blank."""


@dataclass(frozen=True, slots=True)
class _Pattern:
    """What lies below the lacquer at each place of a grid.

    Parameters
    ----------
    look : (nz, nt) int16
        Which of the looks.
    lay, row, along : (nz, nt) float32
        As in `Surface`.
    depth : (nz, nt) float32
        Below the outside of the fibres, mm.
    """

    look: NDArray[np.int16]
    lay: Floats
    row: Floats
    along: Floats
    depth: Floats


def dressed(
    surface: Surface,
    plan: Plan,
    palette: Palette,
    bare: int,
    row_width: float,
    *,
    wet: bool | None = None,
) -> Surface:
    """A surface with the pattern of its blank, where it shows the blank.

    Parameters
    ----------
    surface : Surface
        With every layer on it.
    plan : Plan
    palette : Palette
        The looks of the pattern are added to it.
    bare : int
        Material of the blank on the surface.
    row_width : float
        Distance between rows of thread as renderers take it, mm.
    wet : bool, optional
        Whether it lies under finish or lacquer; by default whether the design has finish.
    """
    blank = plan.design.blank
    if not is_lacquered(blank.finish):
        return surface
    seen = surface.material == bare
    if not seen.any():
        return surface
    wet = plan.finished if wet is None else wet
    looks = [palette.index(look) for look in lacquered_looks(blank.colour, blank.finish, wet)]
    pattern = _pattern(surface, plan, blank.finish, row_width)
    if pattern is None:
        return surface.with_arrays(
            material=np.where(seen, np.int16(looks[0]), surface.material).astype(np.int16)
        )
    material = np.array(looks, np.int16)[pattern.look]
    return surface.with_arrays(
        radius=np.where(seen, surface.radius - pattern.depth, surface.radius),
        material=np.where(seen, material, surface.material).astype(np.int16),
        lay=np.where(seen, pattern.lay, surface.lay),
        row=np.where(seen, pattern.row, surface.row),
        along=np.where(seen, pattern.along, surface.along),
    )


def _pattern(
    surface: Surface, plan: Plan, finish: BlankFinish, row_width: float
) -> _Pattern | None:
    if finish is BlankFinish.CARBON_TWILL:
        return _twill(surface, plan, row_width)
    if finish is BlankFinish.CARBON_TAPE:
        return _tape(surface, plan, row_width)
    return _flakes(surface) if finish in (BlankFinish.METALLIC, BlankFinish.PEARL) else None


def measured_around(plan: Plan) -> float:
    """Way round the middle of the measured blank, mm: the same for every wrap of a rod.

    Parameters
    ----------
    plan : Plan
    """
    stations = plan.design.blank.stations
    return 2 * pi * float(plan.blank.radius((stations[0].at + stations[-1].at) / 2))


def _twill(surface: Surface, plan: Plan, row_width: float) -> _Pattern:
    around = measured_around(plan)
    # The pattern repeats after four tows.
    tows = 4 * max(1, round(around / (4 * TWILL_TOW_MM)))
    width = around / tows
    z = surface.z[:, None] / width
    turn = surface.theta[None, :] * (tows / (2 * pi))
    j, i = np.floor(z).astype(np.int64), np.floor(turn).astype(np.int64)
    z_rest, turn_rest = z - j, turn - i
    step = (i + j) % 4
    lengthwise = step < 2
    # Places along the float, 0 to 1, and across the tow, -1 to 1.
    run = np.where(lengthwise, step + z_rest, step - 2 + turn_rest) / 2
    across = 2 * np.where(lengthwise, turn_rest, z_rest) - 1
    depth = _BOW_MM * (1 - np.sin(pi * run)) + _LENS_MM * across**2
    # A quarter of a strand off the columns of a grid that has two of them to a strand.
    place = np.where(lengthwise, -turn, z) + 0.25 * row_width / width
    return _Pattern(
        np.zeros(surface.shape, np.int16),
        np.where(lengthwise, np.float32(_MOST_LAY), np.float32(_CLIMB)),
        (place * (width / row_width)).astype(np.float32),
        np.zeros(surface.shape, np.float32),
        depth.astype(np.float32),
    )


def _tape(surface: Surface, plan: Plan, row_width: float) -> _Pattern:
    around = measured_around(plan)
    # At 45 degrees a tape climbs by the way round in a turn.
    starts = max(1, round(around / np.sqrt(2) / _TAPE_PITCH_MM))
    pitch = around / starts
    half = _TAPE_MM / np.sqrt(2)
    z, turn = surface.z[:, None], surface.theta[None, :] * (around / (2 * pi))
    edge = _TAPE_EDGE_MM
    look = np.zeros(surface.shape, np.int16)
    lay = np.full(surface.shape, _MOST_LAY, np.float32)
    row = np.broadcast_to(-turn / row_width, surface.shape).astype(np.float32)
    depth = np.full(surface.shape, 2 * _TAPE_STEP_MM, np.float32)
    for climb in (-1.0, 1.0):
        off = z - climb * turn
        from_middle = np.abs((off / pitch) % 1 - 0.5) * pitch
        on = from_middle < half
        rise = np.clip((half - from_middle) / edge, 0, 1)
        depth = np.where(on, depth - np.float32(_TAPE_STEP_MM) * rise, depth)
        lay = np.where(on, np.float32(climb * pi / 4), lay)
        row = np.where(on, (off / np.sqrt(2) / row_width).astype(np.float32), row)
    return _Pattern(look, lay, row, np.zeros_like(row), depth.astype(np.float32))


def _flakes(surface: Surface) -> _Pattern:
    nz, nt = surface.shape
    width = 2 * pi * float(surface.radius.mean()) / nt
    # Whole grid points, so that all flakes are of one size.
    tall, wide = (max(1, round(_FLAKE_MM / step)) for step in (surface.step, width))
    cell_z = (np.arange(nz) // tall % _FLAKE_PERIOD)[:, None]
    cell_t = (np.arange(nt) // wide)[None, :]
    cell = cell_z * 4096 + cell_t
    lay = _CLIMB + (_MOST_LAY - _CLIMB) * (2 * hashed(cell, 41) - 1)
    lay = np.where(np.abs(lay) < _CLIMB, _CLIMB, lay)
    # A number and a place along it, from which `scenes.stage.maps` hashes a facet's slope.
    number = np.floor(60_000 * hashed(cell, 42)) + 0.5
    look = np.floor(3 * hashed(cell, 43)).astype(np.int16)
    along = 500 * hashed(cell, 44)
    return _Pattern(
        look,
        lay.astype(np.float32),
        number.astype(np.float32),
        along.astype(np.float32),
        np.zeros(surface.shape, np.float32),
    )
