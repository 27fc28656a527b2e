"""Values that do not fit yet: they wait beside the design, and are tried again at every edit."""

import json
from pathlib import Path

import pytest

from render.editor.desk import Desk
from render.editor.pending import PendingValue, ValuePending
from render.editor.recovery import find_lost_work, open_slot
from scenes.design.document import document_of
from scenes.files import samples
from scenes.quantities import Units


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("half-scale"), encoding="utf-8")
    return path


def typed(desk: Desk, path: str, number: float, units: Units = Units.MM) -> bool:
    """Type a number into a field; whether it fits."""
    try:
        desk.type_in(PendingValue(path, str(number), number, units))
    except ValuePending:
        return False
    return True


def test_a_value_that_does_not_fit_waits_with_its_reason(file: Path) -> None:
    desk = Desk.open(str(file))
    before = desk.text
    assert not typed(desk, "relief.gap", 70)
    assert (desk.text, desk.changed, desk.can_undo) == (before, False, False)
    assert desk.pending["relief.gap"].problem.startswith("relief.gap: 70 mm leaves no strip")
    assert typed(desk, "relief.gap", 30)
    assert (desk.design.relief.gap, desk.pending) == (30, {})


def test_two_values_that_fit_only_together_are_set_together(file: Path) -> None:
    desk = Desk.open(str(file))
    # The wrap moves past where it was: it would end before it starts.
    assert not typed(desk, "placement.from", 455)
    assert typed(desk, "placement.to", 467)
    assert (desk.design.placement.start, desk.design.placement.end) == (455, 467)
    assert desk.pending == {}
    assert [one.path for one in desk.pending_used] == ["placement.from"]
    desk.undo()
    assert (desk.design.placement.start, desk.can_undo) == (326, False)


def test_a_pending_value_fits_after_another_edit_and_no_reason_outlives_its_cause(
    file: Path,
) -> None:
    desk = Desk.open(str(file))
    assert not typed(desk, "relief.gap", 70)
    desk.change("relief.angle", 44)
    assert desk.design.relief.gap == 21.2
    desk.change("relief.angle", 33)
    assert (desk.design.relief.gap, desk.pending) == (70, {})
    assert not typed(desk, "relief.gap", 200)
    desk.change("relief.angle", 32)
    told = desk.pending["relief.gap"].problem
    desk.change("relief.angle", 30)
    assert desk.pending["relief.gap"].problem != told


def test_taking_back_sets_nothing_and_tells_what_fits(file: Path) -> None:
    desk = Desk.open(str(file))
    desk.change("relief.angle", 33)
    desk.change("relief.angle", 45)
    assert not typed(desk, "relief.gap", 70)
    desk.undo()
    assert desk.design.relief.gap == 21.2
    assert desk.can_redo
    assert desk.pending["relief.gap"].problem.startswith("It fits now")
    assert typed(desk, "relief.gap", 70)
    assert desk.pending == {}


def test_a_rival_field_that_is_set_later_is_not_undone(file: Path) -> None:
    desk = Desk.open(str(file))
    assert not typed(desk, "relief.gap", 70)
    assert typed(desk, "relief.strip_width", 20)
    desk.change("relief.angle", 33)
    assert (desk.design.relief.gap, desk.design.relief.strip_width) == (None, 20)


def test_the_same_value_as_the_design_ends_the_waiting(file: Path) -> None:
    desk = Desk.open(str(file))
    assert not typed(desk, "relief.gap", 70)
    heard: list[int] = []
    desk.on_change(lambda: heard.append(len(desk.pending)))
    assert typed(desk, "relief.gap", 21.2)
    assert (desk.pending, heard[-1], desk.can_undo) == ({}, 0, False)
    assert not typed(desk, "relief.gap", 70)
    desk.drop_pending("relief.gap")
    assert desk.pending == {}


def test_a_value_whose_entry_has_gone_is_dropped(file: Path) -> None:
    desk = Desk.open(str(file))
    assert not typed(desk, "blank.stations.1.at", 900)
    assert not typed(desk, "relief.gap", 70)
    desk.remove("blank.stations.0")
    assert list(desk.pending) == ["relief.gap"]


def test_units_of_a_pending_value_are_its_own(file: Path) -> None:
    desk = Desk.open(str(file))
    assert not typed(desk, "placement.from", 18, Units.IN)
    assert typed(desk, "placement.to", 467)
    assert desk.design.placement.start == pytest.approx(457.2)


def test_pending_values_are_recovered(file: Path, tmp_path: Path) -> None:
    state = tmp_path / "state"
    state.mkdir()
    desk = Desk.open(str(file), slot=open_slot(state))
    assert not typed(desk, "relief.gap", 70)
    desk.keep_pending(PendingValue("finish.coats", "two", None, Units.MM, "two is no number."))
    desk.close()
    (lost,) = find_lost_work(state)
    assert document_of(desk.design)["layers"][0]["gap"] == 21.2
    again = Desk.open(str(file), slot=open_slot(state))
    again.recover(lost)
    assert again.pending == desk.pending
    again.drop_pending()
    again.close()
    (lost,) = find_lost_work(state)
    assert lost.snapshot.pending == []


@pytest.mark.parametrize("pending", [None, 3, [3], [{}], [{"path": 3}], {"path": "relief.gap"}])
def test_any_recovery_file_is_read(file: Path, tmp_path: Path, pending: object) -> None:
    state = tmp_path / "state"
    state.mkdir()
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.change("relief.gap", 30)
    desk.close()
    (written,) = (state / "recovery").glob("*.json")
    written.write_text(json.dumps(json.loads(written.read_text()) | {"pending": pending}))
    (lost,) = find_lost_work(state)
    again = Desk.open(str(file))
    again.recover(lost)
    assert (again.design.relief.gap, again.pending) == (30, {})
