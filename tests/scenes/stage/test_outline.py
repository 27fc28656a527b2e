"""The outline of the rod, against the bodies that are drawn and against rays."""

import numpy as np
import pytest

from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.files import samples
from scenes.stage.fittings import fittings
from scenes.stage.outline import Outline, rod_outline


@pytest.mark.parametrize("name", ["two-start-band", "scale-and-cross"])
def test_the_outline_is_that_of_the_bodies(name: str) -> None:
    plan = Plan(samples.load(name), Shelf.shipped())
    outline = rod_outline(plan)
    for body in fittings(plan):
        if body.name.startswith("guide"):
            continue
        at = body.mesh.points[:, 2] - plan.middle
        radius = np.hypot(*body.mesh.points[:, :2].T)
        # Where it is steep the outline is off by a sample.
        near = [
            np.interp(at + off, outline.places, outline.radius, left=0, right=0)
            for off in np.linspace(-outline.step, outline.step, 9)
        ]
        # The blank goes on inside a grip; the centres of its ends lie on the axis.
        outer = radius > 0.99 * np.min(near, axis=0)
        # The blank is shown a little farther where bands stand beside the wrap.
        outer &= (at > outline.places[0]) & (at < outline.places[-1])
        assert outer.mean() > 0.3
        assert (radius[outer] < np.max(near, axis=0)[outer] + 0.02).all()


def test_the_outline_does_not_depend_on_layers() -> None:
    design = samples.load("two-start-band")
    fewer = design.model_copy(update={"layers": design.layers[:1]})
    shelf = Shelf.shipped()
    assert rod_outline(Plan(design, shelf)) == rod_outline(Plan(fewer, shelf))


def test_a_silhouette_is_where_rays_begin_to_pass() -> None:
    rod = Outline(-100.0, 1.0, (5.0,) * 80 + (12.0,) * 41 + (7.0,) * 80)
    tangents = np.array([0.2, 1.0, 2.5])
    far = np.linspace(-60, 60, 6001)
    for tangent, row in zip(tangents, rod.silhouettes(tangents), strict=True):
        for place in (-40, -25, -20, 0, 18, 24, 33):
            # A ray that passes the axis at a distance is blocked if it is inside the rod anywhere.
            radius = np.interp(place + far * tangent, rod.places, rod.radius, left=0, right=0)
            widest = np.sqrt(np.max(radius**2 - far**2))
            assert row[place + 100] == pytest.approx(widest, abs=0.35)
