"""New entries of the blank's lists: nothing new lies on what is there."""

import pytest

from scenes.editing.blank_defaults import new_fitting
from scenes.editing.list_edits import inserted, removed
from scenes.files import samples


@pytest.mark.parametrize("name", ["full-mesh", "half-scale", "slow-beat", "two-start-band"])
def test_fittings_are_added_clear_of_the_wrap_and_of_each_other(name: str) -> None:
    design = samples.load(name)
    for kind in ("grip", "grip", "guide", "guide", "grip"):
        warned = design.warnings
        design = inserted(design, "blank.fitted", new_fitting(design, kind))
        assert design.warnings == warned


def test_a_first_grip_ends_where_the_finish_begins() -> None:
    design = removed(samples.load("slow-beat"), "blank.fitted.0")
    assert design.blank.fitted == ()
    grip = new_fitting(design, "grip")
    start = min(layer.extent(design.placement)[0] for layer in design.layers)
    assert grip["to"] == pytest.approx(start - 3, abs=0.06)
    assert grip["diameter"] > max(station.diameter for station in design.blank.stations)
