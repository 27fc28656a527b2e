"""The other wraps of a rod on the stage: where they are, what is bare, what is kept."""

import itertools

import numpy as np
import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.building.build import Plan, build
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.rod import at_wrap
from scenes.files import samples
from scenes.parts.view import View
from scenes.stage.camera import camera_for, fitted_span
from scenes.stage.feet import foot_plans
from scenes.stage.fittings import fittings
from scenes.stage.other_wraps import body_of, other_bodies
from scenes.stage.stage import wraps_of

SHELF = Shelf.shipped()


@pytest.fixture(scope="module")
def rod() -> Design:
    """A wrap of 326 to 378 mm beside a grip; a further one, and a guide just beyond that."""
    document = document_of(samples.load("ringed-grip-wrap").without_variants())
    cover = {"kind": "cover", "thread": "Deepwater Navy A", "margin": 0}
    place = {"from": 420, "to": 440}
    document["wraps"] = [{"name": "fore wrap", "placement": place, "layers": [cover]}]
    guide = {"kind": "guide", "at": 462, "length": 30, "thread": "Hawthorn Red A"}
    document["blank"]["fitted"].append(guide)
    return design_from(document)


def test_each_is_built_as_in_a_design_of_its_own(rod: Design) -> None:
    wrap = build(Plan(rod, SHELF), Detail.DRAFT)
    own, other, guide = wraps_of(wrap)
    assert own.surface is wrap.surface
    alone = document_of(at_wrap(rod, "fore wrap"))
    del alone["wraps"]
    expected = body_of(build(Plan(design_from(alone), SHELF), Detail.DRAFT))
    np.testing.assert_array_equal(other.surface.z, expected.surface.z)
    np.testing.assert_array_equal(other.surface.radius, expected.surface.radius)
    np.testing.assert_array_equal(other.outside.radius, expected.outside.radius)
    assert other.palette == expected.palette
    assert guide.surface.z[0] > other.surface.z[-1] - 1e-9


def test_nothing_lies_on_one_place_twice(rod: Design) -> None:
    # Grids of wraps and feet, and the bare blank between them, follow each other along the rod.
    for name in ("first wrap", "fore wrap"):
        plan = Plan(at_wrap(rod, name), SHELF)
        bare = [
            (float(body.mesh.points[:, 2].min()), float(body.mesh.points[:, 2].max()))
            for body in fittings(plan)
            if body.name == "blank"
        ]
        spans = sorted([*plan.grid_spans, *(foot.grid for foot in foot_plans(plan)), *bare])
        assert len(spans) == 6
        for (_, end), (start, _) in itertools.pairwise(spans):
            assert start == pytest.approx(end, abs=1e-3)


def test_they_are_kept_while_another_wrap_is_edited(rod: Design) -> None:
    (before,) = other_bodies(Plan(rod, SHELF), Detail.DRAFT)
    edited = with_changes(rod, {"bands.inset": 4, "title": "Other"})
    assert other_bodies(Plan(edited, SHELF), Detail.DRAFT)[0] is before
    for changes in (
        {"wraps.0.layers.0.thread": "Gorse Gold A"},
        {"wraps.0.placement.to": 441},
        {"finish.coats": 2},
        {"blank.colour": "#203040"},
    ):
        changed = with_changes(rod, changes)
        assert other_bodies(Plan(changed, SHELF), Detail.DRAFT)[0] is not before
    assert other_bodies(Plan(rod, SHELF), Detail.NORMAL)[0] is not before


def test_the_whole_rod_fills_its_view(rod: Design) -> None:
    plan = Plan(rod, SHELF)
    assert fitted_span(plan) == (210, 477)
    camera = camera_for(plan, View.WHOLE_ROD, 3.0)
    ends = np.array([[210 - plan.middle, 0, 0], [477 - plan.middle, 0, 0]])
    place, _ = camera.project(ends, (1500, 500))
    assert 0 < place[0, 0] < 120
    assert 1380 < place[1, 0] < 1500
    # From any of its wraps it is the same picture.
    there = Plan(at_wrap(rod, "fore wrap"), SHELF)
    other, _ = camera_for(there, View.WHOLE_ROD, 3.0).project(
        ends + np.array((plan.middle - there.middle, 0, 0)), (1500, 500)
    )
    np.testing.assert_allclose(other, place, atol=1.0)
    # The view of a wrap does not show it.
    nearer, _ = camera_for(plan, View.WHOLE_WRAP, 3.0).project(ends, (1500, 500))
    assert nearer[0, 0] < 0
    assert nearer[1, 0] > 1500
