"""Variants renamed and made the design, and what they lose with a layer."""

import pytest

from scenes.design.document import design_from, document_of
from scenes.design.variants import design_hash, variant, variants
from scenes.editing.list_edits import moved, removed
from scenes.editing.variant_edits import (
    described,
    losses_by_removal,
    made_the_design,
    renamed,
    with_former_design_kept,
)
from scenes.files import samples
from scenes.problems import DesignProblem

VARIED = [name for name in samples.names() if samples.load(name).variants]


@pytest.mark.parametrize("name", VARIED)
def test_every_variant_of_the_samples_can_be_the_design_and_back(name: str) -> None:
    design = samples.load(name)
    looks = [design_hash(made) for _, made in variants(design)]
    for place, listed in enumerate(design.variants, start=1):
        made = made_the_design(design, listed.name)
        seen = [design_hash(one) for _, one in variants(made)]
        swapped = looks.copy()
        swapped[0], swapped[place] = looks[place], looks[0]
        assert seen == swapped
        back = made_the_design(made, f"before {listed.name}")
        assert [design_hash(one) for _, one in variants(back)] == looks


def test_a_name_in_use_and_a_variant_that_is_none_are_refused() -> None:
    design = samples.load("half-scale")
    with pytest.raises(DesignProblem, match='"dry" is used twice'):
        renamed(design, "wide gap", "dry")
    with pytest.raises(DesignProblem, match="did you mean wide gap"):
        renamed(design, "wide gpa", "x")
    with pytest.raises(DesignProblem, match="name"):
        renamed(design, "dry", " ")
    assert [one.name for one in moved(design, "variants.3", 0).variants][:2] == [
        "dry",
        "narrow gap",
    ]


def test_a_design_kept_as_a_variant_of_one_of_its_variants() -> None:
    design = samples.load("half-scale")
    made = with_former_design_kept(design, variant(design, "dry"), "cold")
    assert [one.name for one in made.variants] == [
        *(one.name for one in design.variants),
        "cold",
    ]
    looks = dict(variants(made))
    assert design_hash(looks["cold"]) == design_hash(design.without_variants())
    assert design_hash(looks["dry"]) == design_hash(made.without_variants())
    with pytest.raises(DesignProblem, match="nothing differs"):
        with_former_design_kept(design, design, "same")


def test_what_variants_lose_with_a_layer_is_told_before() -> None:
    design = samples.load("half-scale")
    told = losses_by_removal(design, "trim")
    assert told == ('Variants lose with it: "warm trim" changes nothing else, and goes too.')
    document = document_of(design)
    changes = {**document["variants"][2]["changes"], "finish.coats": 1}
    document["variants"][2] = {"name": "warm trim", "changes": changes}
    told = losses_by_removal(design_from(document), "trim")
    assert told == 'Variants lose with it: "warm trim" the threads of the trim.'
    left = removed(design_from(document), "trim").variants[2]
    assert left.changes == {"finish.coats": 1}
    assert losses_by_removal(design, "variants.0") == ""
    assert losses_by_removal(design, "blank.stations.4") == ""


def test_a_variant_in_words() -> None:
    design = samples.load("half-scale")
    assert [one.words for one in described(design)][:2] == [("gap 16 mm",), ("gap 36 mm",)]
    odd = {**document_of(design), "variants": [{"name": "odd", "changes": {"relief.gap": 99}}]}
    (one,) = described(design_from(odd))
    assert one.words == ("Gap of the relief 99",)
    assert one.reason.startswith("relief.gap: 99 mm leaves no strip")
