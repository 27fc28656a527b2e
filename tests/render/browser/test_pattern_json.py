"""Lines of the wrap unrolled, as a browser gets them."""

import numpy as np
import pytest
from numpy.typing import NDArray

from materials.shelf import Shelf
from render.browser.pattern_json import ANGLE_STEP, LENGTH_STEP, pattern_json
from render.request.subject import Subject
from scenes.design.document import with_changes
from scenes.files import samples


class Kept:
    """Whole numbers as they were given."""

    def __init__(self) -> None:
        self.numbers: list[NDArray[np.integer]] = []

    def picture(self, image: NDArray[np.uint8]) -> str:
        raise AssertionError("the pattern has no pictures")

    def columns(self, whole: NDArray[np.integer]) -> str:
        self.numbers.append(whole)
        return "points"


def test_lines_and_marks_stand_where_a_ruler_finds_them() -> None:
    design = samples.load("half-scale").without_variants()
    plan = Subject(design, Shelf.shipped()).plan()
    kept = Kept()
    data = pattern_json(plan, kept)
    (points,) = kept.numbers
    theta, z = (points * (ANGLE_STEP, LENGTH_STEP)).T
    assert sum(count for _, count in data["lines"]) == len(points)
    # One sheet, whose edges are the seam; no line is outside the wrap.
    assert np.abs(theta).max() == pytest.approx(np.pi, abs=ANGLE_STEP)
    assert (z.min(), z.max()) == pytest.approx(data["span"], abs=LENGTH_STEP)
    # The strip's upper edge and its next lower edge on the guide line are one gap apart.
    at = {name: along for _, along, name in data["marks"]}
    assert at["2 lower"] - at["1 upper"] == pytest.approx(design.relief.gap, abs=0.02)
    # Radii of the blank as the caliper read them.
    radii = np.reshape(data["radii"], (-1, 2))
    for station in design.blank.stations:
        if radii[0, 0] < station.at < radii[-1, 0]:
            found = np.interp(station.at, *radii.T)
            assert 2 * found == pytest.approx(station.diameter, abs=0.02)


def test_what_has_no_lines_says_why() -> None:
    design = with_changes(samples.load("half-scale").without_variants(), {"relief.gap": 21})
    plan = Subject(design, Shelf.shipped()).plan()
    with pytest.MonkeyPatch.context() as patch:

        def refuse(_: object) -> None:
            from scenes.problems import DesignProblem

            raise DesignProblem("it cannot be drawn flat.")

        patch.setattr("render.browser.pattern_json.pattern_of", refuse)
        data = pattern_json(plan, Kept())
    assert data["problem"] == "it cannot be drawn flat."
    assert not data["lines"]
    assert data["radii"]
