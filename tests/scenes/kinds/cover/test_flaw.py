"""Mistakes shown on purpose, as a design asks for them."""

import numpy as np
import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.building.build import Plan, build
from scenes.design.document import with_changes
from scenes.files import samples


@pytest.mark.parametrize("flaw", ["gap", "crossed row"])
def test_a_flaw_is_in_the_middle_and_turned_to_the_camera(flaw: str) -> None:
    design = samples.load("full-mesh")
    perfect, spoilt = (
        build(Plan(with_changes(design, {"cover.flaw": kind}), Shelf.shipped()), Detail.DRAFT)
        for kind in ("none", flaw)
    )
    at = np.nonzero(spoilt.surface.material != perfect.surface.material)
    assert at[0].size > 0
    # The slit shows blank or strip; it is open towards the camera's quarter of the blank.
    facing = np.pi / 2 - design.camera.turn
    away = (spoilt.surface.theta[at[1]] - facing + np.pi) % (2 * np.pi) - np.pi
    assert np.abs(away).max() < np.pi / 4
    middle = (design.placement.start + design.placement.end) / 2
    assert np.abs(spoilt.surface.z[at[0]] - middle).max() < 2
    assert (spoilt.surface.radius[at] < perfect.surface.radius[at]).all()
    # A crossed row lies a thread higher than the rows that it crosses.
    risen = (spoilt.surface.radius - perfect.surface.radius).max()
    width = Shelf.shipped().thread("Ember Copper A").diameter_mm
    wanted = width if flaw == "crossed row" else 0.0
    assert risen == pytest.approx(wanted, abs=0.35 * width)
