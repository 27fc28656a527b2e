"""An edit made on a rod seen from one of its wraps, written back into the document."""

import pytest

from scenes.design.document import Design, document_of, with_changes
from scenes.design.rod import at_wrap, put_back, wrap_names
from scenes.editing import list_edits
from scenes.files.storage import parse, text_of
from tests.scenes.design.test_rod import BASE, FURTHER, with_third


def edited(design: Design, name: str, **changes: object) -> Design:
    """Change the design seen from a wrap, and write it back."""
    paths = {path.replace("__", "."): value for path, value in changes.items()}
    return put_back(design, name, with_changes(at_wrap(design, name), paths))


@pytest.mark.parametrize("name", ["first wrap", "fore wrap", "tip wrap"])
def test_without_an_edit_the_document_is_the_same(name: str) -> None:
    design = with_third()
    seen = at_wrap(design, name)
    assert document_of(put_back(design, name, seen)) == document_of(design)
    # As every edit does, which writes the document and reads it again.
    again = put_back(design, name, with_changes(seen, {"title": "Other rings"}))
    assert document_of(again) == document_of(design) | {"title": "Other rings"}


def test_what_is_of_a_wrap_goes_to_that_wrap_and_the_rest_to_the_rod() -> None:
    design = with_third()
    changed = edited(
        design,
        "tip wrap",
        placement__to=530,
        cover__margin=1,
        camera__turn=40,
        blank__colour="#101010",
    )
    expected = document_of(design)
    expected["wraps"][1]["placement"]["to"] = 530
    expected["wraps"][1]["layers"][0]["margin"] = 1
    expected["camera"]["turn"] = 40
    expected["blank"]["colour"] = "#101010"
    assert document_of(changed) == expected


def test_a_finish_of_its_own_stays_that_wraps() -> None:
    changed = document_of(edited(with_third(), "fore wrap", finish__coats=2))
    assert changed["wraps"][0]["finish"] == {"coats": 2}
    assert changed["finish"] == {"coats": 3}
    assert "finish" not in changed["wraps"][1]


def test_a_shared_finish_that_is_changed_becomes_that_wraps_own() -> None:
    changed = edited(with_third(), "tip wrap", finish__coats=4)
    written = document_of(changed)
    assert written["wraps"][1]["finish"] == {"coats": 4}
    assert written["finish"] == {"coats": 3}
    assert written["wraps"][0]["finish"] == {"coats": 1}
    assert {name: at_wrap(changed, name).finish.coats for name in wrap_names(changed)} == {
        "first wrap": 3,
        "fore wrap": 1,
        "tip wrap": 4,
    }


def test_the_first_wrap_is_reached_from_another_as_well() -> None:
    # Seen from the tip wrap, the first stands in its place.
    changed = document_of(edited(with_third(), "tip wrap", wraps__1__layers__2__inset=4))
    expected = document_of(with_third())
    expected["layers"][2]["inset"] = 4
    assert changed == expected


def test_names_are_changed_where_they_stand() -> None:
    changed = edited(with_third(), "fore wrap", wrap_name="hook keeper")
    assert wrap_names(changed) == ("first wrap", "hook keeper", "tip wrap")
    changed = edited(with_third(), "fore wrap", wraps__0__name="butt wrap")
    assert wrap_names(changed) == ("butt wrap", "fore wrap", "tip wrap")
    assert document_of(changed)["layers"] == document_of(with_third())["layers"]


def test_variants_are_those_of_the_wrap() -> None:
    design = with_third()
    seen = at_wrap(design, "fore wrap")
    entry = {"name": "navy", "changes": {"cover.margin": 1}}
    changed = document_of(
        put_back(design, "fore wrap", list_edits.inserted(seen, "variants", entry))
    )
    assert [one["name"] for one in changed["wraps"][0]["variants"]] == ["gold", "navy"]
    assert changed["variants"] == document_of(design)["variants"]


def test_the_text_keeps_its_comments() -> None:
    text = BASE + FURTHER
    design = parse(text)
    changed = edited(design, "fore wrap", placement__to=475, finish__coats=2)
    assert text_of(changed, text) == text.replace("to = 470", "to = 475").replace(
        "coats = 1  #", "coats = 2  #"
    )
    seen = at_wrap(design, "fore wrap")
    rings = {"kind": "rings", "threads": [{"thread": "Gorse Gold A", "count": 2}]}
    added = put_back(design, "fore wrap", list_edits.inserted(seen, "layers", rings))
    written = text_of(added, text)
    assert parse(written) == added
    # The layer comes behind the one that is there; nothing else is touched.
    head, tail = text.split("\n[wraps.finish]")
    assert written.startswith(head)
    assert written.endswith(f"\n[wraps.finish]{tail}")
    assert '[[wraps.layers]]\nkind = "rings"' in written
    removed = put_back(added, "fore wrap", list_edits.removed(at_wrap(added, "fore wrap"), "rings"))
    assert text_of(removed, written) == text


def test_a_first_variant_of_a_wrap_is_written_as_a_block() -> None:
    text = BASE + FURTHER.split("[[wraps.variants]]")[0] + "\n# The last.\n[[agreed]]\n"
    text += 'date = "2026-11-30"\nnumber = "7K3Q-9XMA"\nscheme = "wide gap"\n'
    design = parse(text)
    entry = {"name": "navy", "changes": {"cover.margin": 1}}
    seen = list_edits.inserted(at_wrap(design, "fore wrap"), "variants", entry)
    written = text_of(put_back(design, "fore wrap", seen), text)
    block = '\n[[wraps.variants]]\nname = "navy"\n'
    assert written.count(block) == 1
    assert written.index(block) < written.index("# The last.\n[[agreed]]")
    assert written.count("#") == text.count("#")
