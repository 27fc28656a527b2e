"""The wrap fills the picture's place on the page, and stands where it does in no file."""

from collections.abc import Callable, Coroutine
from typing import Any

import numpy as np
import pytest

from render.request.subject import Subject
from scenes.building.build import Plan
from scenes.stage.camera import Camera, adjusted, camera_for
from tests.render.page.picture.test_epochs import OnSight, Sight, on_sight

__all__ = ["on_sight"]

SIZES = ((390, 285), (544, 296), (820, 480), (896, 600), (1056, 780), (300, 600))
"""Of the picture's place on pages of several shapes, CSS pixels."""


def camera_of(subject: Subject, aspect: float) -> Camera:
    camera = camera_for(subject.plan(), subject.design.camera.view, aspect)
    return adjusted(camera, subject.design.camera)


def seen(plan: Plan, camera: Camera, aspect: float) -> np.ndarray:
    """Parts of the picture's width and height that the wrap takes, by its ends' circles."""
    start, end = plan.wound_span
    angle = np.linspace(0, 2 * np.pi, 60)
    ring = plan.middle_radius * np.stack((0 * angle, np.cos(angle), np.sin(angle)), axis=-1)
    half = np.array(((end - start) / 2, 0, 0))
    size = round(1000 * aspect), 1000
    place, _ = camera.project(np.concatenate((ring - half, ring + half)), size)
    # The view is kept in the middle: what reaches farthest to one side counts twice.
    extent: np.ndarray = 2 * np.abs(place / size - 0.5).max(axis=0)
    return extent


@pytest.mark.parametrize("size", SIZES)
def test_the_first_view_fills_the_place_and_no_file(on_sight: OnSight, size: Any) -> None:
    async def test(sight: Sight) -> None:
        aspect = size[0] / size[1]
        sight.hello(sight.owner, *size)
        view, desk = sight.view(sight.owner), sight.page.desk
        shown = sight.wanted().sides["B"]
        wide, high = seen(shown.plan(), camera_of(shown, aspect), aspect)
        assert wide <= 0.975
        assert high <= 0.8
        assert wide > 0.94 or high > 0.7
        # Wider by a fifth than a still has it.
        still = seen(desk.subject.plan(), camera_of(desk.subject, aspect), aspect)
        assert wide / still[0] == pytest.approx(1.19, abs=0.04)
        assert view.as_viewed(desk.subject).design.camera.zoom == 1
        sight.picture._keep(sight.owner.client)
        assert "zoom" not in desk.design.camera.model_fields_set

    on_sight(test)


def played(act: Callable[[Sight], None]) -> Callable[[Sight], Coroutine[Any, Any, None]]:
    async def test(sight: Sight) -> None:
        act(sight)

    return test


def test_a_zoom_of_ones_own_stays_until_the_whole_is_asked_for(on_sight: OnSight) -> None:
    def act(sight: Sight) -> None:
        owner, desk = sight.owner, sight.page.desk
        sight.hello(owner, 896, 600)
        filled = sight.view(owner).look["zoom"]
        sight.look(owner, {"zoom": 3.0})
        sight.hello(owner, 390, 285)
        desk.change("placement.to", 380)
        assert sight.view(owner).look["zoom"] == 3
        assert sight.view(owner).as_viewed(desk.subject).design.camera.zoom == 3
        sight.look(owner, {"fitted": True})
        assert sight.view(owner).look["zoom"] == owner.state["pic_filling"]["whole wrap"]
        # A longer wrap is seen whole again.
        desk.change("placement.to", 425)
        shown = sight.wanted().sides["B"]
        wide, _ = seen(shown.plan(), camera_of(shown, 390 / 285), 390 / 285)
        assert 0.94 < wide <= 0.975
        # The design says itself how near it is looked at.
        desk.change("camera.zoom", 0.5)
        assert sight.view(owner).look["zoom"] == 0.5
        assert filled == pytest.approx(1.19, abs=0.04)

    on_sight(played(act))


def test_a_place_of_the_rod_stays_where_it_is_told_to(on_sight: OnSight) -> None:
    """As `gestures.js` zooms about a pointer, by the scale that the program tells it."""

    def act(sight: Sight) -> None:
        sight.hello(sight.owner, 896, 600)
        for view in ("whole wrap", "close"):
            sight.look(sight.owner, {"view": view, "zoom": 1.2, "along": 5.0})
            scale = sight.owner.state["pic_scale"]
            pointer = 200.0  # pixels from the middle
            length = scale["height"] * scale["zoom"] / 600 / scale["slant"]
            place = np.array((5.0 + pointer * length / 1.2, 0.0, 0.0))
            along = 5.0 + pointer * length * (1 / 1.2 - 1 / 3.0)
            before = camera_of(sight.wanted().sides["B"], 896 / 600)
            sight.look(sight.owner, {"zoom": 3.0, "along": along})
            after = camera_of(sight.wanted().sides["B"], 896 / 600)
            x = [camera.project(place, (896, 600))[0][0] for camera in (before, after)]
            # Perspective, of a camera many rods away.
            assert x[0] == pytest.approx(448 + pointer, abs=3)
            assert x[1] == pytest.approx(448 + pointer, abs=3)

    on_sight(played(act))
