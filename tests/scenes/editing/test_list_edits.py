"""Lists of a design rearranged: what is moved keeps its place in the meaning of all else."""

import pytest

from scenes.design.changes import changed_in_units, changes_between
from scenes.design.document import design_from, document_of, with_changes
from scenes.design.variants import design_hash, variants
from scenes.editing.list_edits import (
    cleared,
    duplicated,
    inserted,
    moved,
    removed,
    sample_layer,
    with_kind,
)
from scenes.files import samples
from scenes.problems import DesignProblem
from scenes.quantities import Units


@pytest.fixture
def design():
    return samples.load("half-scale")


def threads(design):
    return [one.thread for one in design.trims[0].threads]


def test_an_entry_is_moved(design):
    before = threads(design)
    after = threads(moved(design, "trim.threads.0", 2))
    assert after == [before[1], before[2], before[0], before[3]]
    assert threads(moved(moved(design, "trim.threads.0", 2), "trim.threads.2", 0)) == before


def test_a_copy_stands_behind_its_original(design):
    before = threads(design)
    assert threads(duplicated(design, "trim.threads.1")) == [*before[:2], before[1], *before[2:]]


def test_variants_mean_the_same_layers_after_one_is_added(design):
    """What a variant makes of the old layers does not depend on what is laid beside them."""
    made = inserted(design, "layers", {**sample_layer("seam trim", Units.MM), "offset": 3})
    assert [layer.name for layer in made.trims] == ["trim 1", "trim 2"]
    old, new = dict(variants(design)), dict(variants(made))
    assert old.keys() == new.keys()
    for name in old:
        assert new[name].trims[0].threads == old[name].trims[0].threads
        assert new[name].relief == old[name].relief


def test_what_variants_change_goes_with_its_layer(design):
    left = removed(design, "trim")
    assert left.trims == ()
    assert not any(path.startswith("trim") for one in left.variants for path in one.changes)
    # A variant of which nothing is left would be the design itself.
    assert all(one.changes for one in left.variants)


def test_a_variant_set_aside_keeps_its_changes_through_edits_of_layers(design):
    lost = {"name": "lost", "changes": {"nowhere.at": 3}}
    document = document_of(design)
    odd = design_from({**document, "variants": [*document["variants"], lost]})
    made = inserted(odd, "layers", {**sample_layer("seam trim", Units.MM), "offset": 3})
    assert document_of(made)["variants"][-1] == lost
    assert document_of(removed(made, "trim 2"))["variants"][-1] == lost


def test_a_variant_of_a_layer_returns_with_the_kind_of_the_layer(design):
    table = document_of(design)["layers"][0]
    other = with_kind(design, "relief", "cord lattice")
    assert "wide gap" in other.variants_set_aside
    assert other.variants == design.variants
    back = with_kind(other, "relief", table["kind"], table)
    assert not back.variants_set_aside


def test_a_layer_that_others_need_cannot_go(design):
    with pytest.raises(DesignProblem, match="trim"):
        removed(design, "relief")


def test_a_layer_may_become_another_of_its_role(design):
    bare = with_changes(design.without_variants(), {"trim.offset": 1.5})
    made = with_kind(bare, "relief", "cord lattice")
    assert made.relief.kind == "cord lattice"
    assert made.cover == bare.cover


def test_a_copied_variant_has_its_own_name(design):
    made = duplicated(design, "variants.0")
    names = [one.name for one in made.variants]
    assert len(set(names)) == len(names) == len(design.variants) + 1
    assert names[:2] == ["narrow gap", "narrow gap 2"]


def test_a_field_left_out_has_its_default_again(design):
    given = with_changes(design, {"relief.crossing_height": 0.7})
    assert cleared(given, "relief.crossing_height").relief.crossing_height is None
    assert cleared(design, "relief.crossing_height") == design
    with pytest.raises(DesignProblem, match=r"cover\.thread is missing"):
        cleared(design, "cover.thread")


@pytest.mark.parametrize(
    ("do", "sentence"),
    [
        (lambda d: removed(d, "trim.threads.9"), "no position"),
        (lambda d: removed(d, "trim.thread.0"), "not a field|no position|no entry|empty"),
        (lambda d: removed(d, "finish"), "no entry of a list"),
        (lambda d: moved(d, "trim.threads.0", 9), "give 0 to 3"),
        (lambda d: moved(d, "blank.stations.0", 3), "from butt to tip"),
        (lambda d: inserted(d, "layers", {"kind": "wool"}), "wool"),
        (lambda d: inserted(d, "layers", "wool"), "not a table"),
        (lambda d: inserted(d, "nonsense", {}), "leads to no field"),
        (lambda d: inserted(d, "title", {}), "not a list"),
        (lambda d: inserted(d, "trim.threads", {"thread": "x"}, 99), "give 0 to 4"),
        (lambda d: sample_layer("mesh stripe", Units.MM), "did you mean mesh strip"),
        (lambda d: with_kind(d, "cover", "mesh strip"), "cover"),
    ],
)
def test_what_cannot_be_done_is_refused_in_a_sentence(design, do, sentence):
    with pytest.raises(DesignProblem, match=sentence):
        do(design)


def test_a_starter_is_in_the_units_asked_for():
    mm, inch = sample_layer("mesh strip", Units.MM), sample_layer("mesh strip", Units.IN)
    # The international inch (1959).
    assert mm["cell"] == pytest.approx(25.4 * inch["cell"])
    assert mm["angle"] == inch["angle"]


def test_a_change_in_other_units_is_the_same_change(design):
    made = changed_in_units(design, lambda one: with_changes(one, {"relief.gap": 1}), Units.IN)
    assert made.relief.gap == 25.4
    assert made.units is Units.MM
    assert design_hash(made) == design_hash(with_changes(design, {"relief.gap": 25.4}))
    assert document_of(made)["variants"] == document_of(design)["variants"]


def test_changes_between_designs_make_one_the_other(design):
    bare = design.without_variants()
    other = with_changes(
        bare, {"relief.strip_width": 20, "finish.coats": 4, "trim.offset": 1, "placement.to": 400}
    )
    changes = changes_between(bare, other)
    assert changes == {
        "relief.strip_width": 20,
        "finish.coats": 4,
        "trim.offset": 1,
        "placement.to": 400,
    }
    assert design_hash(with_changes(bare, changes)) == design_hash(other)
    with pytest.raises(DesignProblem, match="nothing differs"):
        changes_between(bare, bare)
