"""Rows of a cover on the slopes of real designs."""

import numpy as np
import pytest

from geometry.grid import Detail
from geometry.surface import Surface
from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples


@pytest.mark.parametrize("slope", [0.4, 1.0])
@pytest.mark.parametrize("name", ["cord-lattice", "full-mesh", "half-scale"])
def test_no_row_stands_on_a_steeper_slope_than_rows_hold(name: str, slope: float) -> None:
    """Square-cut ends, and the comb edge of a strip, are cliffs of up to 1.8 mm in the relief."""
    design = with_changes(samples.load(name).without_variants(), {"cover.steepest_slope": slope})
    plan = Plan(design, Shelf.shipped())
    assert plan.relief is not None
    assert plan.cover is not None
    bare = Surface.bare(plan.blank, plan.grid(Detail.DRAFT))
    cover = plan.cover.cover()
    raised = plan.relief.relief().apply(bare)
    draped = cover.draped(raised)
    wound = draped.between(cover.start, cover.end)
    steepness = np.abs(np.diff(draped.radius[wound], axis=0)) / draped.step
    assert steepness.max() <= slope + 1e-9
    assert (draped.radius >= raised.radius - 1e-9).all()
