"""The stage of a wrap: what a design's light and camera make of it."""

import numpy as np
import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.problems import DesignProblem
from scenes.stage.stage import Stage, stage_for


def wrap(**light: float) -> Wrap:
    changes = {f"light.{name}": value for name, value in light.items()}
    design = samples.load("half-scale")
    changed = with_changes(design, changes) if changes else design
    return build(Plan(changed, Shelf.shipped()), Detail.DRAFT)


@pytest.fixture(scope="module")
def calibrated() -> Stage:
    return stage_for(wrap(), 16 / 9)


@pytest.mark.parametrize("stops", [-1.5, 1])
def test_a_stop_doubles_all_light(calibrated: Stage, stops: float) -> None:
    """A stop of exposure is a factor of 2 ([ISO2720], exposure values)."""
    stage = stage_for(wrap(exposure=stops), 16 / 9)
    for name in ("light", "surroundings"):
        np.testing.assert_allclose(
            getattr(stage, name), 2.0**stops * getattr(calibrated, name), rtol=1e-5
        )
    np.testing.assert_allclose(
        stage.backdrop.radiance, 2.0**stops * calibrated.backdrop.radiance, rtol=1e-5
    )


@pytest.mark.parametrize("stops", [-5, 4.5, float("nan"), "dark"])
def test_absurd_exposure_is_refused(stops: object) -> None:
    with pytest.raises(DesignProblem, match=r"light\.exposure"):
        with_changes(samples.load("half-scale"), {"light.exposure": stops})
