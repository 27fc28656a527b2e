"""What geometry refuses of a strip, with the path of the field at fault."""

import math

import pytest

from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import Design, design_from, document_of
from scenes.files import samples
from scenes.kinds.mesh_strip.model import MeshStripModel
from scenes.problems import DesignProblem, at_field


def steep(name: str | None) -> Design:
    """A strip so steep that it turns back, which the document's own checks would refuse first."""
    document = document_of(samples.load("half-scale"), defaults=True)
    document.pop("variants", None)
    relief = next(one for one in document["layers"] if one["kind"] == "mesh strip")
    relief["laid"] = "unsteered"
    if name is not None:
        # Two reliefs and two covers: a role alone no longer tells which.
        cover = next(one for one in document["layers"] if one["kind"] == "cover")
        other = {**relief, "laid": "fixed angle", "name": "first strip"}
        document["layers"] = [other, cover, {**relief, "name": name}, {**cover, "name": "last"}]
    design = design_from(document)
    layers = tuple(
        one.model_copy(update={"angle": math.radians(88)})
        if isinstance(one, MeshStripModel) and one.laid == "unsteered"
        else one
        for one in design.layers
    )
    return design.model_copy(update={"layers": layers})


@pytest.mark.parametrize(
    ("name", "field"), [(None, "relief.angle"), ("second strip", "second strip.angle")]
)
def test_a_strip_that_turns_back_is_refused_by_the_path_of_its_angle(
    name: str | None, field: str
) -> None:
    plan = Plan(steep(name), Shelf.shipped())
    with pytest.raises(DesignProblem, match=r"88 degrees an unsteered strip stops") as caught:
        plan.prepare()
    assert caught.value.field == field
    assert str(caught.value).startswith(f"{field}: at 88 degrees")


def test_only_what_geometry_refuses_is_given_a_path() -> None:
    with pytest.raises(ZeroDivisionError), at_field("relief"):
        _ = 1 / 0
