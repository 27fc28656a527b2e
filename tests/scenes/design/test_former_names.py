"""Files of earlier versions, which call some fields by other names."""

import re
from typing import Any

import pytest

from scenes.design.document import design_from, document_of, with_changes
from scenes.design.variants import variant
from scenes.files import samples, storage
from scenes.files.text_edits import rewritten
from scenes.kinds.cover.model import CoverModel
from scenes.parts.view import View
from scenes.problems import DesignProblem
from tests.scenes.design.test_rod import BASE, FURTHER

SAMPLE = "half-scale"


def old_text(lines: str = "hand = 0.4") -> str:
    """A sample as an earlier version wrote it: its cover's unevenness was called hand."""
    text = samples.text(SAMPLE)
    return text.replace('kind = "cover"\n', f'kind = "cover"\n{lines}\n', 1)


def test_a_file_with_a_former_name_opens_and_says_so_in_one_line() -> None:
    design = storage.parse(old_text())
    assert isinstance(design.cover, CoverModel)
    assert design.cover.unevenness == 0.4
    notes = [one for one in design.warnings if "former name" in one]
    assert len(notes) == 1
    assert notes[0].startswith("cover.unevenness: ")
    assert "hand" in notes[0]
    assert "\n" not in notes[0]
    # A copy, as a picture is drawn of, still says it.
    assert notes[0] in design.without_variants().warnings
    assert not any("former name" in one for one in storage.parse(samples.text(SAMPLE)).warnings)


def test_it_is_saved_under_its_new_name_alone() -> None:
    design = storage.parse(old_text())
    text = rewritten(old_text(), document_of(design), ())
    assert "unevenness = 0.4" in text
    assert "\nhand" not in text
    again = storage.parse(text)
    assert document_of(again) == document_of(design)
    assert not any("former name" in one for one in again.warnings)


@pytest.mark.parametrize("path", ["cover.hand", "layers.1.hand", "cover.unevenness"])
@pytest.mark.parametrize("base", [{}, {"cover.unevenness": 0.2}])
def test_a_path_may_go_by_the_former_name(path: str, base: dict[str, Any]) -> None:
    design = with_changes(samples.load(SAMPLE), base) if base else samples.load(SAMPLE)
    changed = with_changes(design, {path: 0.7})
    assert isinstance(changed.cover, CoverModel)
    assert changed.cover.unevenness == 0.7
    assert "hand" not in document_of(changed)["layers"][1]


@pytest.mark.parametrize(
    ("written", "current"),
    [
        ({"cover.hand": 1}, {"cover.unevenness": 1}),
        ({"layers.1.hand": 1}, {"layers.1.unevenness": 1}),
        ({"cover": {"hand": 1}}, {"cover": {"unevenness": 1}}),
    ],
)
def test_variants_get_the_new_name_and_say_so(
    written: dict[str, Any], current: dict[str, Any]
) -> None:
    document = document_of(storage.parse(old_text()))
    document["variants"] = [{"name": "careless", "changes": written}]
    design = design_from(document)
    assert design.variants[0].changes == current
    made = variant(design, "careless").cover
    assert isinstance(made, CoverModel)
    assert made.unevenness == 1
    (note,) = [one for one in design.warnings if "former name" in one]
    assert note.startswith("variants.0.changes: ")
    assert "hand" in note
    again = design_from(document_of(design))
    assert not any("former name" in one for one in again.warnings)


def test_a_variant_is_saved_under_its_new_name_alone() -> None:
    text = samples.text(SAMPLE)
    text += '\n[[variants]]\nname = "careless"\n[variants.changes]\n"cover.hand" = 0.9\n'
    saved = rewritten(text, document_of(storage.parse(text)), ())
    assert '"cover.unevenness" = 0.9' in saved
    assert "cover.hand" not in saved


def test_a_field_under_both_names_is_refused() -> None:
    with pytest.raises(DesignProblem) as caught:
        storage.parse(old_text("hand = 0.4\nunevenness = 0.2"))
    assert str(caught.value) == (
        "cover.hand: hand is the former name of unevenness, and both are given; leave hand out."
    )
    assert caught.value.field == "cover.hand"
    document = document_of(storage.parse(old_text()))
    changes = {"cover.hand": 1, "cover.unevenness": 0.5}
    document["variants"] = [{"name": "careless", "changes": changes}]
    (reason,) = design_from(document).variants_set_aside.values()
    assert re.search(r"cover\.\w+ is the same field as cover\.\w+; leave", reason)


def test_the_handedness_of_a_strip_keeps_its_name() -> None:
    design = with_changes(samples.load(SAMPLE), {"relief.hand": "left"})
    assert not any("former name" in one for one in design.warnings)


@pytest.mark.parametrize("layers", [None, 3, "cover", [1], [{"kind": 2}], [{"kind": "cover"}], {}])
def test_whatever_stands_for_layers_is_refused_by_the_model(layers: object) -> None:
    with pytest.raises(DesignProblem, match=r"^(cover|layers)"):
        design_from({**document_of(samples.load(SAMPLE)), "layers": layers})


def test_a_view_may_go_by_its_former_word() -> None:
    text = samples.text(SAMPLE)
    old = text.replace('view = "whole wrap"', 'view = "end-on"')
    assert old != text
    design = storage.parse(old)
    assert design.camera.view is View.ALONG_THE_ROD
    assert document_of(design)["camera"]["view"] == "along the rod"
    changed = with_changes(samples.load(SAMPLE), {"camera.view": "end-on"})
    assert changed.camera.view is View.ALONG_THE_ROD
    with pytest.raises(DesignProblem, match=r"camera\.view: .*along the rod"):
        storage.parse(text.replace('view = "whole wrap"', 'view = "end"'))


def test_a_further_wrap_is_read_by_former_names_too() -> None:
    text = BASE + FURTHER.replace("margin = 0", "margin = 0\nhand = 0.4").replace(
        '"cover.thread" = "Gorse Gold A"', '"cover.hand" = 0.6'
    )
    design = storage.parse(text)
    notes = [one for one in design.warnings if "former name" in one]
    assert [one.partition(":")[0] for one in notes] == [
        "wraps.0.cover.unevenness",
        "wraps.0.variants.0.changes",
    ]
    written = document_of(design)["wraps"][0]
    assert written["layers"][0]["unevenness"] == 0.4
    assert "hand" not in written["layers"][0]
    assert written["variants"][0]["changes"] == {"cover.unevenness": 0.6}
    again = with_changes(design, {"wraps.0.layers.0.hand": 0.7})
    assert document_of(again)["wraps"][0]["layers"][0]["unevenness"] == 0.7
