"""Which variants of a design are compared."""

import pytest

from materials.shelf import Shelf
from render.common.problems import RequestProblem
from render.request.options import subjects_of
from render.request.subject import Subject
from scenes.design.document import design_from, document_of
from scenes.files import samples


def subject(*gaps: float) -> Subject:
    document = document_of(samples.load("half-scale"))
    entries = [{"name": f"{gap} mm", "changes": {"relief.gap": gap}} for gap in gaps]
    return Subject(design_from({**document, "variants": entries}), Shelf.shipped())


def test_variants_that_do_not_fit_are_left_out_of_a_comparison() -> None:
    reliefs = [document_of(one.design)["layers"][0] for one in subjects_of([subject(16, 99)])]
    assert [relief["gap"] for relief in reliefs] == [21.2, 16]


def test_a_comparison_without_a_variant_that_fits_is_refused_with_the_reason() -> None:
    told = r'no variant fits this design; "99 mm": relief\.gap: 99'
    with pytest.raises(RequestProblem, match=told):
        subjects_of([subject(99)])
