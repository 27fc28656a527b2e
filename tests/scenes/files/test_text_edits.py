"""A design file changed in place. What comes out is read by tomllib, which wrote none of it."""

import random
import tomllib
from collections.abc import Callable
from typing import Any

import pytest

from scenes.design.document import Design, design_from, document_of
from scenes.files import samples
from scenes.files.text_edits import rewritten
from scenes.files.toml_blocks import cut
from scenes.files.toml_writing import document_text

Document = dict[str, Any]
ORDER = tuple(Design.model_fields)


def edited(name: str, change: Callable[[Document], object]) -> str:
    """Change a sample and write it into its own text."""
    document = document_of(samples.load(name))
    change(document)
    text = rewritten(samples.text(name), document, ORDER)
    assert document_of(design_from(tomllib.loads(text))) == document_of(design_from(document))
    return text


def comments(text: str) -> list[str]:
    return [line.partition("#")[2].strip() for line in text.splitlines() if " # " in f" {line}"]


TRICKY = '''# [not a header]
turnlight = 1
notes = """
[[layers]] in a text
# not a comment """
title = 'a "quoted" [one]'
rows = [
  [1, 2], # ]
  [3, 4],
]

# about a
[a]   # [b]
x = "]"

# about the first
  [[ c . "d.e" ]]
y = 1
[[c."d.e"]]
'''


def test_a_file_is_cut_at_its_headers() -> None:
    blocks = cut(TRICKY)
    assert "".join(block.text for block in blocks) == TRICKY
    assert [(block.path, block.listed) for block in blocks] == [
        ((), False),
        (("a",), False),
        (("c", "d.e"), True),
        (("c", "d.e"), True),
    ]
    assert blocks[1].text.startswith("# about a\n")
    assert blocks[2].text.startswith("# about the first\n")


@pytest.mark.parametrize("name", samples.names())
def test_every_sample_is_cut_and_joined(name: str) -> None:
    text = samples.text(name)
    assert "".join(block.text for block in cut(text)) == text


@pytest.mark.parametrize("name", samples.names())
def test_a_document_is_written_whole(name: str) -> None:
    document = document_of(samples.load(name))
    assert tomllib.loads(document_text(document)) == document


@pytest.mark.parametrize(
    "notes", ["a\nb", '"""\n""""', "tab\there\n", "\\ back \\\\ slash\n", "\n\nfirst", "' '' '''\n"]
)
def test_notes_of_any_kind_are_written(notes: str) -> None:
    assert tomllib.loads(document_text({"notes": notes})) == {"notes": notes}


def test_a_layer_goes_with_its_comments_and_no_others() -> None:
    text = edited("half-scale", lambda d: (d["layers"].pop(2), d["variants"].pop(2)))
    gone = set(comments(samples.text("half-scale"))) - set(comments(text))
    assert gone == {
        "tacked down beside the strip; without it 0.25, and it slides",
        "snug against the strip",
        "from the strip outwards",
    }


def test_a_comment_above_a_header_goes_with_it() -> None:
    text = samples.text("half-scale").replace(
        '[[layers]]\nkind = "cover"', '# over it\n[[layers]]\nkind = "cover"'
    )
    document = tomllib.loads(text)
    document["layers"].insert(0, document["layers"].pop(1))
    moved = rewritten(text, document, ORDER)
    assert tomllib.loads(moved) == document
    assert '# over it\n[[layers]]\nkind = "cover"' in moved
    del document["layers"][0]
    assert "# over it" not in rewritten(text, document, ORDER)


def test_a_layer_is_added_in_its_place() -> None:
    ring = {
        "kind": "seam trim",
        "name": "outer",
        "offset": 2.5,
        "threads": [{"thread": "Sloe Black A", "count": 1}],
    }

    def add(document: Document) -> None:
        document["layers"][2]["name"] = "inner"
        del document["variants"][2]  # its path would now mean two trims
        document["layers"].insert(2, dict(ring))

    text = edited("half-scale", add)
    assert text.index('name = "outer"') < text.index("snug against the strip")
    assert comments(text) == comments(samples.text("half-scale"))


def test_list_entries_keep_their_comments() -> None:
    def change(document: Document) -> None:
        document["blank"]["stations"].insert(1, {"at": 140.0, "diameter": 20.4})
        del document["blank"]["stations"][-1]
        document["layers"][2]["threads"].append({"thread": "Rowan Red A", "count": 1})

    text = edited("half-scale", change)
    assert "{ at = 386, diameter = 16.90 },  # the middle of the wrap" in text
    assert "  { at = 140, diameter = 20.4 },\n" in text


def test_variants_are_renamed_moved_added_and_taken_out() -> None:
    def change(document: Document) -> None:
        document["variants"].reverse()
        document["variants"][0]["name"] = "no finish"
        document["variants"].insert(1, {"name": "left", "changes": {"relief.hand": "left"}})
        del document["variants"][3]

    text = edited("half-scale", change)
    assert comments(text) == comments(samples.text("half-scale"))


def test_whole_tables_come_and_go() -> None:
    def change(document: Document) -> None:
        del document["light"]
        del document["finish"]
        document["shelf"] = "mine.toml"
        del document["blank"]["fitted"]

    text = edited("half-scale", change)
    assert "[light]" not in text
    assert "[[blank.fitted]]" not in text
    assert text.index('shelf = "mine.toml"') < text.index("[blank]")
    back = rewritten(text, document_of(samples.load("half-scale")), ORDER)
    assert tomllib.loads(back) == tomllib.loads(samples.text("half-scale"))
    # New tables stand where a document has them.
    assert back.index("[[layers]]") < back.index("[finish]") < back.index("[light]")
    assert back.index("[light]") < back.index("[camera]") < back.index("[[variants]]")
    assert back.index("[blank]") < back.index("[[blank.fitted]]") < back.index("[placement]")


def test_units_may_change_under_the_comments() -> None:
    document = document_of(samples.load("full-mesh"))
    document["title"] = "Other"
    inches = samples.load("two-start-band")
    text = rewritten(samples.text("full-mesh"), document_of(inches), ORDER)
    assert design_from(tomllib.loads(text)) == inches


UNUSUAL = """turnlight = 1
units = "mm"
title = "Unusual"
finish.coats = 1 # dotted
light = { kind = "north window" } # inline
layers = [ # an array
  { kind = "mesh strip", cell = 3, yarn_width = 1, yarn_height = 0.3, angle = 45, gap = 20 }, # r
  { kind = "cover", thread = "Heron Silver A" }, # c
  { kind = "seam trim", threads = [ { thread = "Sloe Black A", count = 2 } ] }, # t
]
[blank]
colour = "#15181c"
[[blank.stations]] # s1
at = 100
diameter = 20
[[blank.stations]] # s2
at = 600
diameter = 18
[placement] # p
from = 200
to = 300
[[variants]]
name = "v"
[variants.changes]
relief.gap = 30 # without quotes
"""


def test_unusual_layouts_are_changed_in_place() -> None:
    document = document_of(design_from(tomllib.loads(UNUSUAL)))
    document["finish"]["coats"] = 3
    document["light"]["turn"] = 10.0
    document["layers"][0]["gap"] = 22.0
    document["layers"].append(
        {"kind": "seam trim", "name": "o", "offset": 1.0, "threads": [{"thread": "Rowan Red A"}]}
    )
    document["blank"]["stations"][1]["diameter"] = 17.5
    document["variants"][0]["changes"] = {"relief": {"gap": 28}}
    text = rewritten(UNUSUAL, document, ORDER)
    assert tomllib.loads(text) == document
    assert comments(text) == comments(UNUSUAL)


def test_a_table_without_quotes_is_a_path_too() -> None:
    document = tomllib.loads(UNUSUAL)
    assert document["variants"][0]["changes"] == {"relief": {"gap": 30}}
    design_from(document)
    document["variants"][0]["changes"] = {"relief": {"gapp": 30}}
    (reason,) = design_from(document).variants_set_aside.values()
    assert reason.startswith("relief.gapp is not a field; did you mean gap?")


@pytest.mark.parametrize("seed", range(40))
def test_any_sample_may_be_written_over_any_text(seed: int) -> None:
    rng = random.Random(seed)
    text = samples.text(rng.choice(samples.names()))
    document = document_of(samples.load(rng.choice(samples.names())))
    variants = document.setdefault("variants", [])
    for entries in (document["layers"], variants, document["blank"]["stations"]):
        rng.shuffle(entries)
        del entries[
            rng.randrange(len(entries) + (entries is variants)) + (entries is not variants) :
        ]
    for key in ("finish", "camera", "notes", "light"):
        if rng.random() < 0.3:
            del document[key]
    result = tomllib.loads(rewritten(text, document, ORDER))
    assert result.get("variants", []) == document.pop("variants")
    result.pop("variants", None)
    assert result == document
