"""The wraps of an open rod: each worked at, added, renamed, removed, and all of it undone."""

import tomllib
from pathlib import Path

import pytest

from render.editor.desk import Desk
from render.editor.pending import PendingValue, ValuePending
from scenes.files import samples
from scenes.problems import DesignProblem
from tests.scenes.design.test_rod import BASE, FURTHER


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "rod.toml"
    path.write_text(BASE + FURTHER, encoding="utf-8")
    return path


def saved(desk: Desk, file: Path) -> str:
    desk.save()
    return file.read_text(encoding="utf-8")


def test_edits_of_a_further_wrap_are_saved_with_every_comment(file: Path) -> None:
    desk = Desk.open(str(file))
    assert desk.work_at("fore wrap") == []
    assert not desk.changed
    assert desk.subject.design.wrap_name == "fore wrap"
    desk.change("placement.to", 475)
    desk.change("finish.coats", 2)
    assert desk.undo_description == "2 coats"
    after = saved(desk, file)
    assert after == (BASE + FURTHER).replace("to = 470", "to = 475").replace(
        "coats = 1  #", "coats = 2  #"
    )
    assert desk.wrap_name == "fore wrap"
    assert not desk.changed


def test_undo_goes_to_the_wrap_that_was_changed(file: Path) -> None:
    desk = Desk.open(str(file))
    desk.work_at("fore wrap")
    desk.change("cover.margin", 2)
    desk.work_at("first wrap")
    desk.change("bands.inset", 4)
    desk.undo()
    assert (desk.wrap_name, desk.design.layers[2].inset) == ("first wrap", 3)
    desk.undo()
    assert (desk.wrap_name, desk.design.layers[0].margin) == ("fore wrap", 0)
    assert desk.text == BASE + FURTHER
    desk.redo()
    desk.redo()
    assert (desk.wrap_name, desk.design.layers[2].inset) == ("first wrap", 4)
    assert tomllib.loads(desk.text)["wraps"][0]["layers"][0]["margin"] == 2


def test_a_wrap_is_added_renamed_and_removed_and_all_is_undone(file: Path) -> None:
    desk = Desk.open(str(file))
    desk.work_at("fore wrap")
    desk.add_wrap()
    assert desk.wrap_names == ("first wrap", "fore wrap", "wrap 3")
    assert desk.wrap_name == "wrap 3"
    desk.rename_wrap("tip wrap")
    assert desk.undo_description == "wrap 3 is tip wrap now"
    written = saved(desk, file)
    # The file as it was, and the copy behind it.
    assert written.startswith((BASE + FURTHER).rstrip("\n"))
    entry = tomllib.loads(written)["wraps"][1]
    assert (entry["name"], entry["placement"]) == ("tip wrap", {"from": 477, "to": 527})
    desk.remove_wrap()
    assert (desk.wrap_name, desk.wrap_names) == ("first wrap", ("first wrap", "fore wrap"))
    desk.remove_wrap()
    assert desk.wrap_names == ("fore wrap",)
    with pytest.raises(DesignProblem, match="only wrap"):
        desk.remove_wrap()
    for name in ("first wrap", "tip wrap", "wrap 3", "fore wrap"):
        desk.undo()
        assert desk.wrap_name == name
    assert desk.text == BASE + FURTHER


def test_a_wrap_of_another_kind_is_laid_where_the_blank_is_free(file: Path) -> None:
    desk = Desk.open(str(file))
    desk.add_wrap("open diamonds")
    assert desk.wrap_names == ("first wrap", "fore wrap", "wrap 3")
    kinds = [layer.kind for layer in samples.load("open-diamonds").layers]
    assert [layer.kind for layer in desk.design.layers] == kinds
    assert desk.undo_description == "wrap 3 added"
    written = tomllib.loads(saved(desk, file))["wraps"][1]
    assert [layer["kind"] for layer in written["layers"]] == kinds
    desk.undo()
    assert desk.text == BASE + FURTHER
    with pytest.raises(DesignProblem, match="did you mean open diamonds"):
        desk.add_wrap("open diamond")
    assert desk.text == BASE + FURTHER


def test_a_wrong_name_changes_nothing(file: Path) -> None:
    desk = Desk.open(str(file))
    with pytest.raises(DesignProblem, match="did you mean fore wrap"):
        desk.work_at("for wrap")
    desk.work_at("fore wrap")
    with pytest.raises(DesignProblem, match="used twice"):
        desk.rename_wrap("first wrap")
    assert (desk.wrap_name, desk.can_undo) == ("fore wrap", False)


def test_what_was_typed_for_another_wrap_is_not_set_in_this_one(file: Path) -> None:
    desk = Desk.open(str(file))
    units = desk.design.units
    for path, text in (("wrap.margin", "9000"), ("blank.mass", "heavy")):
        with pytest.raises(ValuePending):
            desk.type_in(PendingValue(path, text, text, units))
    dropped = desk.work_at("fore wrap")
    assert [one.path for one in dropped] == ["wrap.margin"]
    assert list(desk.pending) == ["blank.mass"]


def test_a_variant_is_kept_with_its_wrap(file: Path) -> None:
    desk = Desk.open(str(file))
    pin = desk.pin()
    desk.work_at("fore wrap")
    desk.change("cover.margin", 2)
    with pytest.raises(DesignProblem, match='A shows "first wrap"'):
        desk.keep_variant("wide", pin)
    pin = desk.pin()
    desk.change("cover.margin", 3)
    desk.keep_variant("wider", pin)
    wraps = tomllib.loads(desk.text)["wraps"]
    assert [one["name"] for one in wraps[0]["variants"]] == ["gold", "wider"]
    assert wraps[0]["layers"][0]["margin"] == 2
    # A variant of the first wrap loses none of those that were kept since it was pinned.
    desk.undo()
    desk.work_at("first wrap")
    pin = desk.pin()
    desk.work_at("fore wrap")
    desk.rename_variant("gold", "golden")
    desk.work_at("first wrap")
    desk.change("bands.inset", 5)
    desk.keep_variant("inset", pin)
    written = tomllib.loads(desk.text)
    assert [one["name"] for one in written["wraps"][0]["variants"]] == ["golden"]
    assert written["variants"][-1]["name"] == "inset"
    assert written["layers"][2]["inset"] == 3


def test_the_wrap_stays_when_the_file_is_read_anew(file: Path) -> None:
    desk = Desk.open(str(file))
    desk.work_at("fore wrap")
    file.write_text((BASE + FURTHER).replace("margin = 0\n\n[wraps.f", "margin = 1\n\n[wraps.f"))
    desk.reload()
    assert (desk.wrap_name, desk.design.layers[0].margin) == ("fore wrap", 1)
