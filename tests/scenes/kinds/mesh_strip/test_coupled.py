"""What a taper does to cells that meet in the middle, against a walk along the winding."""

import numpy as np
import pytest

from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.kinds.mesh_strip.coupled import cell_offsets


def test_along_the_guide_line():
    # Count the cells from the middle to the first and last crossing, turn by turn.
    design = with_changes(
        samples.load("half-scale").without_variants(),
        {"relief.angle": 60, "relief.gap": 12},
    )
    plan = Plan(design, Shelf.shipped())
    winding = plan.relief.winding
    whole = round(2 * np.pi * plan.middle_radius / np.sin(design.relief.angle) / 2.822)
    for at, sign, off in zip(
        (plan.start, plan.end), (-1, 1), cell_offsets(plan.relief, "cells_along"), strict=True
    ):
        phase, cells, turns = float(winding.phase_at(plan.middle)), 0.0, 0
        here = plan.middle
        while True:
            beyond = float(winding.z_at(phase + sign * 2 * np.pi))
            if sign * (beyond - at) > 0:
                break
            cells += abs(float(np.diff(winding.length_at(np.array([here, beyond])))[0])) / 2.822
            phase, here, turns = phase + sign * 2 * np.pi, beyond, turns + 1
        assert turns >= 1
        assert off == pytest.approx(abs(cells - whole * turns), abs=1e-6)


def test_none_on_a_cylinder():
    changes = {"blank.stations": [{"at": 0, "diameter": 20}, {"at": 800, "diameter": 20}]}
    design = with_changes(
        samples.load("half-scale").without_variants(),
        {**changes, "relief.gap": 0, "relief.angle": 70},
    )
    # ahead = 2 pi r sin(alpha) / cell everywhere; what is left is the distance to a whole number.
    first, last = cell_offsets(Plan(design, Shelf.shipped()).relief, "cells_ahead")
    ahead = np.pi * 20 * np.sin(np.radians(70)) / 2.822
    assert first == pytest.approx(abs(ahead - round(ahead)), abs=1e-3)
    assert last == pytest.approx(first, abs=1e-3)
