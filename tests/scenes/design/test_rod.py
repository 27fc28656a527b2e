"""Several wraps in one design: how they are read, written, refused and seen."""

from typing import Any

import pytest

from materials.shelf import Shelf
from scenes.customer.number import design_number, dry
from scenes.design.changes import changes_between
from scenes.design.differences import canonical, differences, labels
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.rod import LEAST_BETWEEN, at_wrap, other_wraps, wrap_names
from scenes.design.threads import check_threads, thread_names
from scenes.design.variants import design_hash, variants
from scenes.files import samples
from scenes.files.companion_files import SHIPPED, layer_files
from scenes.files.storage import parse, text_of
from scenes.problems import DesignProblem

BASE = samples.text("ringed-grip-wrap")
"""A wrap of 326 to 378 mm with its underwrap, beyond a grip of 210 to 318 mm."""

FURTHER = """
# Beyond the first.
[[wraps]]
name = "fore wrap"

[wraps.placement]  # up to the first guide
from = 420
to = 470

# One layer only.
[[wraps.layers]]
kind = "cover"
thread = "Deepwater Navy A"
margin = 0

[wraps.finish]
coats = 1  # thin here

[[wraps.variants]]
name = "gold"
changes = { "cover.thread" = "Gorse Gold A" }
"""


def rod(**changes: str) -> Design:
    """The rod, with some words of its further wrap replaced."""
    text = FURTHER
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    return parse(BASE + text)


def with_third() -> Design:
    """A rod with a third wrap, which has the finish of the design."""
    document = document_of(parse(BASE + FURTHER))
    layers = [{"kind": "cover", "thread": "Gorse Gold A", "margin": 0}]
    third = {"name": "tip wrap", "placement": {"from": 500, "to": 520}, "layers": layers}
    document["wraps"].append(third)
    return design_from(document)


def test_a_file_of_one_wrap_is_what_it_was() -> None:
    several = []
    for name in samples.names():
        design = samples.load(name)
        assert text_of(design, samples.text(name)) == samples.text(name)
        if design.wraps:
            several.append(name)
            continue
        assert wrap_names(design) == ("first wrap",)
        assert "wraps" not in document_of(design)
    assert several == ["boat-rod", "fly-rod", "spinning-rod"]


def test_each_wrap_is_seen_as_a_design_of_its_own() -> None:
    design = with_third()
    assert wrap_names(design) == ("first wrap", "fore wrap", "tip wrap")
    fore = at_wrap(design, "fore wrap")
    assert wrap_names(fore) == ("fore wrap", "first wrap", "tip wrap")
    assert (fore.placement.start, fore.placement.end) == (420, 470)
    assert [layer.kind for layer in fore.layers] == ["cover"]
    assert fore.finish.coats == 1
    assert fore.blank == design.blank
    # Paths and variants are those of that wrap.
    assert with_changes(fore, {"cover.margin": 2}).layers[0].margin == 2
    gold = dict(variants(fore))["gold"]
    assert gold.layers[0].thread == "Gorse Gold A"
    # A finish of its own does not become that of the others.
    finishes = {one.wrap_name: one.finish.coats for one in (fore, *other_wraps(fore))}
    assert finishes == {"first wrap": 3, "fore wrap": 1, "tip wrap": 3}
    assert at_wrap(design, "first wrap") is design


def test_seen_from_another_wrap_it_is_the_same_rod() -> None:
    design = with_third()
    number = design_number(design, Shelf.shipped(), SHIPPED)
    for name in wrap_names(design):
        there = at_wrap(design, name)
        back = at_wrap(there, "first wrap")
        assert design_from(document_of(there)) == there
        for field in ("placement", "layers", "finish"):
            assert canonical(getattr(back, field)) == canonical(getattr(design, field))
        assert design_number(there, Shelf.shipped(), SHIPPED) == number


def test_every_wrap_counts_for_number_and_hash() -> None:
    design, thinner = rod(), rod(change=("margin = 0", "margin = 1"))
    shelf = Shelf.shipped()
    numbers = {design_number(one, shelf, SHIPPED) for one in (design, thinner)}
    numbers.add(design_number(parse(BASE), shelf, SHIPPED))
    assert len(numbers) == 3
    assert design_hash(design) != design_hash(thinner)


def test_threads_and_files_of_every_wrap_are_looked_for() -> None:
    design = rod()
    assert ("wraps.0.layers.0.thread", "Deepwater Navy A") in list(thread_names(design))
    wrong = with_changes(design, {"wraps.0.layers.0.thread": "No Such A"})
    with pytest.raises(DesignProblem) as caught:
        check_threads(wrong, Shelf.shipped())
    assert caught.value.field == "wraps.0.layers.0.thread"
    document = document_of(design)
    picture = {"kind": "decal", "picture": "heron.png", "runs": "along the blank"}
    document["wraps"][0]["layers"].append(picture)
    assert ("wraps.0.layers.1.picture", "heron.png") in list(layer_files(design_from(document)))


def test_edits_keep_the_comments_of_a_further_wrap() -> None:
    text = BASE + FURTHER
    changed = with_changes(rod(), {"wraps.0.placement.to": 475, "wraps.0.finish.coats": 2})
    edited = text_of(changed, text)
    assert edited == text.replace("to = 470", "to = 475").replace("coats = 1  #", "coats = 2  #")
    own = with_changes(rod(), {"bands.inset": 4, "wrap_name": "grip wrap"})
    edited = text_of(own, text)
    assert "# One layer only.\n[[wraps.layers]]" in edited
    assert parse(edited) == own


def test_a_further_wrap_is_added_and_taken_out_of_a_file() -> None:
    added = text_of(rod(), BASE)
    assert added.startswith(BASE.rstrip("\n"))
    assert "[[wraps.layers]]\nkind" in added
    assert parse(added) == rod()
    document = document_of(rod())
    del document["wraps"]
    assert text_of(design_from(document), BASE + FURTHER).rstrip() == BASE.rstrip()


def test_a_dry_rod_is_dry_all_over() -> None:
    bare = dry(with_third())
    assert {one.finish.coats for one in (bare, *other_wraps(bare))} == {0}


REFUSED: dict[str, tuple[tuple[str, str], str, str]] = {
    "the name of the first": (
        ('"fore wrap"', '"first wrap"'),
        "wraps.0.name",
        '"first wrap" is used twice; give each wrap its own name.',
    ),
    "no end": (("to = 470", "to = 410"), "wraps.0.placement.to", "is not beyond placement.from"),
    "no blank": (("from = 420\nto = 470", "from = 580\nto = 600"), "wraps.0.placement.to", "end"),
    "over the first": (
        ("from = 420", "from = 370"),
        "wraps.0.placement.from",
        'overlaps "first wrap" from 326 mm to 378 mm; the finish of both needs 7 mm between them, '
        "so start it at 385 mm or beyond.",
    ),
    "too near": (
        ("from = 420", "from = 380"),
        "wraps.0.placement.from",
        'leaves 2 mm to "first wrap"',
    ),
    "before the first, too near": (
        ("from = 420\nto = 470", "from = 319\nto = 325"),
        "wraps.0.placement.to",
        "so end it at 319 mm or before.",
    ),
    "under the grip": (
        ("from = 420\nto = 470", "from = 250\nto = 300"),
        "wraps.0.placement.from",
        "reaches under the grip from 210 mm to 318 mm; move one of them.",
    ),
    "a misspelt field": (
        ("margin = 0", "margn = 0"),
        "wraps.0.layers.0.margn",
        "did you mean margin?",
    ),
    "an unknown kind": (
        ('kind = "cover"', 'kind = "covr"'),
        "wraps.0.layers.0.kind",
        "did you mean cover?",
    ),
    "a trim without a relief": (
        (
            'kind = "cover"\nthread = "Deepwater Navy A"\nmargin = 0',
            'kind = "seam trim"\nthreads = [ { thread = "Sloe Black A" } ]',
        ),
        "wraps.0.layers.0",
        "",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_mistake_gets_one_sentence_with_the_path_of_its_wrap(case: str) -> None:
    change, field, words = REFUSED[case]
    with pytest.raises(DesignProblem) as caught:
        rod(change=change)
    assert caught.value.field == field
    assert words in str(caught.value)
    assert str(caught.value).endswith((".", "?"))
    assert "\n" not in str(caught.value)


def test_two_variants_of_a_wrap_have_two_names() -> None:
    document: dict[str, Any] = document_of(rod())
    document["wraps"][0]["variants"] *= 2
    with pytest.raises(DesignProblem) as caught:
        design_from(document)
    assert caught.value.field == "wraps.0.variants.1.name"


def test_the_place_that_is_advised_is_one() -> None:
    with pytest.raises(DesignProblem):
        rod(change=("from = 420", "from = 384.8"))
    assert rod(change=("from = 420", "from = 385")).wraps[0].placement.start == 378 + LEAST_BETWEEN


def test_a_wrap_that_is_not_there_is_refused_with_the_nearest_name() -> None:
    with pytest.raises(DesignProblem, match="did you mean fore wrap"):
        at_wrap(rod(), "for wrap")
    with pytest.raises(DesignProblem, match="it has only one"):
        at_wrap(parse(BASE), "fore wrap")


def test_a_layer_may_still_be_called_wraps_where_there_are_none() -> None:
    text = BASE.replace('name = "bands"', 'name = "wraps"').split("[[variants]]")[0]
    design = parse(text)
    assert with_changes(design, {"wraps.inset": 4}).layers[2].inset == 4
    with pytest.raises(DesignProblem, match="cannot name a layer"):
        parse(text + FURTHER)


def test_a_difference_in_a_further_wrap_is_named_with_it() -> None:
    design = with_third()
    changes: dict[str, object] = {
        "wraps.0.placement.to": 475,
        "wraps.0.layers.0.thread": "Gorse Gold A",
    }
    changed = with_changes(design, changes)
    assert differences(design, changed) == [
        "fore wrap: to 475 mm",
        "fore wrap: cover Gorse Gold A",
    ]
    assert changes_between(design, changed) == changes
    thin = with_changes(design, {"wraps.1.finish.coats": 2})
    assert differences(design, thin) == ["tip wrap: 2 coats"]
    assert differences(thin, design) == ["tip wrap: 3 coats"]
    # What all wraps share is named once.
    assert differences(design, with_changes(design, {"finish.coats": 2})) == ["2 coats"]


def test_a_wrap_that_one_design_lacks_is_named() -> None:
    design, fewer = with_third(), rod()
    assert labels([design, fewer]) == ["with tip wrap", "without tip wrap"]
    with pytest.raises(DesignProblem, match="in the same wraps"):
        changes_between(design, fewer)


def test_setting_one_of_two_alternatives_in_a_further_wrap_removes_the_other() -> None:
    document = document_of(rod())
    mesh = document_of(samples.load("half-scale"))["layers"][0]
    mesh = {key: value for key, value in mesh.items() if key not in ("gap", "name")}
    cover = document["wraps"][0]["layers"][0]
    document["wraps"][0]["layers"] = [mesh | {"strip_width": 10}, cover | {"margin": 6}]
    design = design_from(document)
    changed = document_of(with_changes(design, {"wraps.0.layers.0.gap": 30}))
    assert changed["wraps"][0]["layers"][0]["gap"] == 30
    assert "strip_width" not in changed["wraps"][0]["layers"][0]
