"""Rows of a cover on the slopes of real designs."""

import numpy as np
import pytest

from geometry.grid import Detail
from geometry.surface import Surface
from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples


@pytest.mark.parametrize("friction", [0.3, 0.5])
@pytest.mark.parametrize("name", ["cord-lattice", "full-mesh", "half-scale"])
def test_no_row_stands_on_more_than_friction_holds(name: str, friction: float) -> None:
    """Square-cut ends, and the comb edge of a strip, are cliffs of up to 1.8 mm in the relief."""
    design = with_changes(samples.load(name).without_variants(), {"cover.friction": friction})
    plan = Plan(design, Shelf.shipped())
    assert plan.relief is not None
    assert plan.cover is not None
    bare = Surface.bare(plan.blank, plan.grid(Detail.DRAFT))
    cover = plan.cover.cover()
    raised = plan.relief.relief().apply(bare)
    draped = cover.draped(raised)
    wound = draped.between(cover.start, cover.end)
    slope = np.abs(np.diff(draped.radius[wound], axis=0)) / draped.step
    assert slope.max() <= friction + 1e-9
    assert (draped.radius >= raised.radius - 1e-9).all()
