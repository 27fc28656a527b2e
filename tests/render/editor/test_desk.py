"""The open document: changed by path, taken back, saved with its comments, and never lost.

What a document must hold after a change is checked against TOML's own reader and against the file
as a person wrote it, not against what the desk says of itself.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, given, settings

from geometry.errors import GeometryError
from materials import toml_text
from materials.shelf import Shelf, ShelfProblem
from materials.thread import Thread, ThreadKind
from render.editor import recovery
from render.editor.desk import Desk
from render.editor.disk import DiskState, OverwriteRefused
from render.editor.recovery import Snapshot, find_lost_work, open_slot
from render.page.files import files
from scenes.design.document import document_of
from scenes.design.variants import design_hash, variants
from scenes.files import own_shelf, samples, storage
from scenes.problems import DesignProblem
from scenes.quantities import Units

REFUSALS = (DesignProblem, GeometryError, ShelfProblem)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("half-scale"), encoding="utf-8")
    return path


@pytest.fixture
def state(tmp_path: Path) -> Path:
    folder = tmp_path / "state"
    folder.mkdir()
    return folder


def lines_that_differ(before: str, after: str) -> list[str]:
    old = before.splitlines()
    return [line for line in after.splitlines() if line not in old]


# ---- changes


def test_a_change_is_made_by_path_and_told(file):
    desk = Desk.open(str(file))
    told = []
    desk.on_change(lambda: told.append(desk.revision))
    desk.change("relief.gap", 30)
    assert desk.design.relief.gap == 30
    assert told == [1]
    assert desk.changed
    assert desk.undo_description == "gap 30 mm"


def test_a_change_keeps_every_comment(file):
    before = file.read_text(encoding="utf-8")
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    desk.save()
    after = file.read_text(encoding="utf-8")
    assert after.count("#") == before.count("#")
    assert [line.split("#")[0].strip() for line in lines_that_differ(before, after)] == ["gap = 30"]
    assert tomllib.loads(after)["layers"][0]["gap"] == 30
    assert not desk.changed


@pytest.mark.parametrize(
    ("path", "value", "named"),
    [
        ("relief.gap", 90, "relief.gap"),
        ("relief.gap", "wide", "relief.gap"),
        ("relief.gapp", 20, "relief.gapp"),
        ("cover.thread", "Nobody's Thread", "cover.thread"),
        ("placement.to", 100, "placement.to"),
        ("finish.coats", 2.5, "finish.coats"),
        ("layers", [], "layers"),
    ],
)
def test_a_bad_value_is_refused_and_changes_nothing(file, path, value, named):
    desk = Desk.open(str(file))
    before = (desk.text, desk.design, desk.revision, desk.can_undo)
    with pytest.raises(REFUSALS) as refused:
        desk.change(path, value)
    assert named in str(refused.value)
    assert (desk.text, desk.design, desk.revision, desk.can_undo) == before


def test_changes_are_made_together_or_not_at_all(file):
    desk = Desk.open(str(file))
    with pytest.raises(DesignProblem):
        desk.changes({"placement.from": 300, "placement.to": 200})
    assert desk.design.placement.start == 326
    # Each alone would be refused: the wrap moves past where it was.
    desk.changes({"placement.from": 455, "placement.to": 575})
    assert (desk.design.placement.start, desk.design.placement.end) == (455, 575)


def test_a_number_in_inches_is_an_inch_in_a_file_of_mm(file):
    desk = Desk.open(str(file))
    desk.change("relief.gap", 1, units=Units.IN)
    # The international inch, exact since 1959.
    assert tomllib.loads(desk.text)["layers"][0]["gap"] == 25.4
    desk.change("placement.to", 15.5, units=Units.IN)
    assert tomllib.loads(desk.text)["placement"]["to"] == 393.7


def test_a_refusal_speaks_the_units_it_was_given(file):
    desk = Desk.open(str(file))
    with pytest.raises(DesignProblem, match=r"3 in leaves no strip.*0\.66.* in blank"):
        desk.change("relief.gap", 3, units=Units.IN)


def test_a_drag_is_one_step(file):
    desk = Desk.open(str(file))
    for gap in (26, 27, 28, 29):
        desk.change("relief.gap", gap, gesture="drag 1")
    for gap in (30, 31):
        desk.change("relief.gap", gap, gesture="drag 2")
    desk.undo()
    assert desk.design.relief.gap == 29
    desk.undo()
    assert desk.design.relief.gap == 21.2
    assert not desk.can_undo
    assert not desk.changed
    desk.redo()
    assert desk.design.relief.gap == 29


def test_a_drag_that_comes_back_is_no_change(file):
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30, gesture="drag")
    desk.change("relief.gap", 21.2, gesture="drag")
    assert not desk.changed


# ---- any change at all, taken back

NUMBERS = st.one_of(st.integers(-5, 400), st.floats(-5, 400), st.floats(0, 3), st.integers(0, 12))
PATHS = st.sampled_from(
    [
        "relief.gap",
        "relief.strip_width",
        "relief.covered_share",
        "relief.angle",
        "relief.starts",
        "relief.laid",
        "cover.margin",
        "cover.thread",
        "trim.offset",
        "trim.threads",
        "trim.grade",
        "finish.coats",
        "finish.coat_thickness",
        "placement.from",
        "placement.to",
        "placement.guide_line",
        "blank.colour",
        "blank.stations.2.diameter",
        "title",
        "notes",
        "camera.view",
        "light.kind",
        "nonsense",
    ]
)
VALUES = st.one_of(
    NUMBERS,
    st.sampled_from(
        [
            "Gorse Gold A",
            "fixed angle",
            "#102030",
            "close",
            "low sun",
            "",
            'a "quoted" title # not a comment',
            "two\nlines",
            [{"thread": "Tarn Teal A", "count": 3}],
            {"from": "Dusk Indigo A", "to": "Tarn Teal A", "count": 5},
            None,
            True,
            [],
        ]
    ),
    st.text(max_size=12),
)
ACTIONS = st.one_of(
    st.tuples(st.just("change"), PATHS, VALUES),
    st.tuples(st.just("drag"), PATHS, NUMBERS),
    st.tuples(st.just("add_layer"), st.sampled_from(["seam trim", "mesh strip", "cover", "x"])),
    st.tuples(
        st.sampled_from(["remove", "duplicate", "clear"]),
        st.sampled_from(["trim", "relief", "trim.threads.1", "variants.0", "blank.fitted.0"]),
    ),
    st.tuples(
        st.just("move"),
        st.sampled_from(["trim", "trim.threads.0", "blank.stations.0", "variants.1"]),
        st.integers(-1, 5),
    ),
    st.tuples(st.sampled_from(["undo", "redo"])),
)

BOUNDED = settings(
    derandomize=True,
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)


def act(desk: Desk, action: tuple[Any, ...]) -> None:
    """Do something to a desk; if it is refused, see that nothing has changed."""
    name, *given = action
    before = (desk.design, desk.text, desk.can_undo, desk.can_redo)
    try:
        if name == "change":
            desk.change(given[0], given[1])
        elif name == "drag":
            desk.change(given[0], given[1], gesture="drag")
        else:
            getattr(desk, name)(*given)
    except REFUSALS as problem:
        refused = problem
    else:
        return
    assert str(refused).isprintable()
    assert (desk.design, desk.text, desk.can_undo, desk.can_redo) == before


@BOUNDED
@given(st.sampled_from(["half-scale", "graded-trim"]), st.lists(ACTIONS, max_size=8))
def test_whatever_is_done_can_be_taken_back_and_done_again(name, actions):
    desk = Desk.open(f"sample:{name}")
    for action in actions:
        act(desk, action)
    # The text is a file that holds the design, whatever was done.
    assert design_hash(storage.parse(desk.text)) == design_hash(desk.design)
    last, steps = desk.text, 0
    while desk.can_undo:
        desk.undo()
        steps += 1
    assert desk.text == samples.text(name)
    assert not desk.changed
    for _ in range(steps):
        desk.redo()
    assert desk.text == last


@BOUNDED
@given(PATHS, st.one_of(st.none(), st.binary(max_size=5), st.floats(), st.text(), VALUES))
def test_any_value_is_taken_or_refused(path, value):
    desk = Desk.open("sample:half-scale")
    act(desk, ("change", path, value))


# ---- files


def test_a_sample_has_no_file_and_is_not_changed():
    desk = Desk.open("sample:half-scale")
    assert desk.path is None
    assert not desk.changed
    with pytest.raises(DesignProblem, match="no file yet"):
        desk.save()


def test_save_as_adds_the_ending_and_asks_before_writing_over(tmp_path):
    desk = Desk.open("sample:half-scale")
    desk.save_as(tmp_path / "wrap")
    assert desk.path == tmp_path / "wrap.toml"
    assert (tmp_path / "wrap.toml").read_text(encoding="utf-8") == samples.text("half-scale")
    other = tmp_path / "other.toml"
    precious = samples.text("cord-lattice")
    other.write_text(precious, encoding="utf-8")
    with pytest.raises(OverwriteRefused, match="write over it"):
        desk.save_as(other)
    assert other.read_text(encoding="utf-8") == precious
    desk.save_as(other, over=True)
    assert other.read_text(encoding="utf-8") == samples.text("half-scale")


def test_a_file_that_cannot_be_written_is_left_alone(file, monkeypatch):
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    # As for a user without the right: the one that runs tests may have it in spite of the mode.
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(DesignProblem, match="may not be changed"):
        desk.save()
    assert desk.changed


def test_a_change_on_disk_is_noticed_and_not_written_over(file):
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    assert desk.disk() is DiskState.SAME
    theirs = file.read_text(encoding="utf-8").replace("coats = 2", "coats = 5")
    file.write_text(theirs, encoding="utf-8")
    assert desk.disk() is DiskState.CHANGED
    with pytest.raises(OverwriteRefused, match="changed by another program"):
        desk.save()
    assert file.read_text(encoding="utf-8") == theirs
    desk.reload()
    assert desk.design.finish.coats == 5
    assert desk.disk() is DiskState.SAME


def test_a_file_touched_but_not_changed_is_the_same(file):
    desk = Desk.open(str(file))
    os.utime(file, (1, 1))
    assert desk.disk() is DiskState.SAME


def test_a_change_on_disk_may_be_written_over_knowingly(file):
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    file.write_text(file.read_text(encoding="utf-8") + "\n# theirs\n", encoding="utf-8")
    desk.keep_mine()
    assert desk.changed
    desk.save()
    assert tomllib.loads(file.read_text(encoding="utf-8"))["layers"][0]["gap"] == 30


def test_a_file_that_has_gone_is_written_again(file):
    desk = Desk.open(str(file))
    file.unlink()
    assert desk.disk() is DiskState.GONE
    desk.save()
    assert file.read_text(encoding="utf-8") == samples.text("half-scale")


def test_two_desks_on_one_file_do_not_overwrite_each_other(file):
    one, other = Desk.open(str(file)), Desk.open(str(file))
    one.change("relief.gap", 30)
    other.change("relief.gap", 20)
    one.save()
    with pytest.raises(OverwriteRefused):
        other.save()
    assert tomllib.loads(file.read_text(encoding="utf-8"))["layers"][0]["gap"] == 30


def test_a_change_of_equal_size_and_time_is_not_written_over(file):
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    status = file.stat()
    theirs = file.read_text(encoding="utf-8").replace("coats = 2", "coats = 5")
    file.write_text(theirs, encoding="utf-8")
    os.utime(file, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert file.stat().st_size == status.st_size
    with pytest.raises(OverwriteRefused, match="changed by another program"):
        desk.save()
    assert file.read_text(encoding="utf-8") == theirs
    desk.save(over=True)
    assert tomllib.loads(file.read_text(encoding="utf-8"))["layers"][0]["gap"] == 30


def test_a_change_right_after_reading_is_not_written_over(file, monkeypatch):
    read = storage.read
    theirs = file.read_text(encoding="utf-8").replace("coats = 2", "coats = 5")

    def read_and_changed(path: Path, *kind: Any) -> str:
        text = read(path, *kind)
        file.write_text(theirs, encoding="utf-8")
        return text

    with monkeypatch.context() as quick:
        quick.setattr(storage, "read", read_and_changed)
        desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    assert desk.disk() is DiskState.CHANGED
    with pytest.raises(OverwriteRefused, match="changed by another program"):
        desk.save()
    assert file.read_text(encoding="utf-8") == theirs


def test_a_name_that_is_taken_meanwhile_is_asked_for(tmp_path, monkeypatch):
    path, fsync = tmp_path / "wrap.toml", os.fsync

    def another_is_quicker(number: int) -> None:
        fsync(number)
        path.write_text("theirs", encoding="utf-8")

    monkeypatch.setattr(os, "fsync", another_is_quicker)
    with pytest.raises(OverwriteRefused, match="write over it"):
        Desk.open("sample:half-scale").save_as(path)
    assert path.read_text(encoding="utf-8") == "theirs"


@pytest.mark.parametrize("name", ["../out.toml", "/etc/passwd", "sub/../../out.toml"])
def test_a_page_with_a_folder_reaches_nothing_outside_it(tmp_path, name):
    folder = tmp_path / "shared"
    folder.mkdir()
    (tmp_path / "out.toml").write_text(samples.text("half-scale"), encoding="utf-8")
    desk = Desk.open("sample:half-scale", within=folder)
    with pytest.raises(DesignProblem, match="may reach"):
        desk.open_file(Path(name))
    with pytest.raises(DesignProblem, match="may reach"):
        desk.save_as(Path(name), over=True)


def test_a_link_does_not_lead_out_of_the_folder(tmp_path):
    folder = tmp_path / "shared"
    folder.mkdir()
    outside = tmp_path / "out.toml"
    outside.write_text(samples.text("half-scale"), encoding="utf-8")
    (folder / "link.toml").symlink_to(outside)
    desk = Desk.open("sample:half-scale", within=folder)
    with pytest.raises(DesignProblem, match="may reach"):
        desk.open_file(Path("link.toml"))
    with pytest.raises(DesignProblem, match="may reach"):
        desk.save_as(Path("link.toml"), over=True)


def test_a_file_that_is_no_design_leaves_the_document(file, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text("turnlight = 1\n", encoding="utf-8")
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    with pytest.raises(DesignProblem):
        desk.open_file(bad)
    assert desk.design.relief.gap == 30
    assert desk.can_undo


# ---- unsaved work


def test_unsaved_work_is_written_down_and_offered(file, state):
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.change("relief.gap", 30)
    assert find_lost_work(state) == []  # its program still runs
    desk.close()
    (lost,) = find_lost_work(state)
    assert tomllib.loads(lost.snapshot.text)["layers"][0]["gap"] == 30
    fresh = Desk.open("sample:graded-trim", slot=open_slot(state))
    fresh.recover(lost)
    assert fresh.path == file.absolute()
    assert fresh.design.relief.gap == 30
    assert fresh.changed
    assert fresh.disk() is DiskState.SAME
    fresh.save()
    assert tomllib.loads(file.read_text(encoding="utf-8"))["layers"][0]["gap"] == 30
    fresh.close()
    assert find_lost_work(state) == []


def test_recovered_work_does_not_overwrite_a_file_changed_since(file, state):
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.change("relief.gap", 30)
    desk.close()
    file.write_text(file.read_text(encoding="utf-8") + "\n# theirs\n", encoding="utf-8")
    (lost,) = find_lost_work(state)
    fresh = Desk.open("sample:half-scale")
    fresh.recover(lost)
    assert fresh.disk() is DiskState.CHANGED
    with pytest.raises(OverwriteRefused):
        fresh.save()


def test_nothing_is_offered_after_a_save_an_undo_or_a_discard(file, state):
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.change("relief.gap", 30)
    desk.undo()
    desk.close()
    assert find_lost_work(state) == []
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.change("relief.gap", 30)
    desk.save()
    desk.close()
    assert find_lost_work(state) == []
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.change("relief.gap", 31)
    desk.close(discard=True)
    assert find_lost_work(state) == []
    assert list((state / "recovery").iterdir()) == []


def test_two_programs_do_not_take_each_others_work(file, state):
    first = Desk.open(str(file), slot=open_slot(state))
    second = Desk.open(str(file), slot=open_slot(state))
    first.change("relief.gap", 30)
    second.change("relief.gap", 31)
    assert find_lost_work(state) == []
    first.close()
    (lost,) = find_lost_work(state)
    # A third program starting now is not offered what this one holds.
    assert find_lost_work(state) == []
    lost.discard()
    second.close()
    (other,) = find_lost_work(state)
    assert tomllib.loads(other.snapshot.text)["layers"][0]["gap"] == 31
    other.discard()


def test_work_is_kept_through_a_kill(file, state):
    """The system's own kill: no clean-up of ours can run."""
    program = (
        "import sys, time; from pathlib import Path\n"
        "from render.editor.desk import Desk\n"
        "from render.editor.recovery import open_slot\n"
        f"desk = Desk.open({str(file)!r}, slot=open_slot(Path({str(state)!r})))\n"
        "desk.change('relief.gap', 30); desk.change('finish.coats', 4)\n"
        "print('ready', flush=True); time.sleep(60)\n"
    )
    root = Path(__file__).resolve().parents[3]
    process = subprocess.Popen(
        [sys.executable, "-c", program], cwd=root, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    with process, process.stdout:
        assert process.stdout.readline() == "ready\n"
        assert find_lost_work(state) == []
        process.send_signal(signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
        process.wait()
    (lost,) = find_lost_work(state)
    document = tomllib.loads(lost.snapshot.text)
    assert (document["layers"][0]["gap"], document["finish"]["coats"]) == (30, 4)
    assert file.read_text(encoding="utf-8") == samples.text("half-scale")
    lost.discard()


@pytest.mark.parametrize(
    "content", ["", "{}", "[1]", '{"text": 1}', "\0", "x" * 5_000_000, "[" * 100_000]
)
def test_a_spoilt_recovery_file_is_left_alone(state, content):
    folder = state / "recovery"
    folder.mkdir()
    spoilt = folder / "0123.json"
    spoilt.write_text(content, encoding="utf-8")
    assert find_lost_work(state) == []
    assert spoilt.exists()


def test_work_elsewhere_begins_before_a_change_is_written_down(file, state, monkeypatch):
    desk = Desk.open(str(file), slot=open_slot(state))
    told: list[tuple[str, object]] = []
    desk.on_change(lambda: told.append(("ahead", desk.design.relief.gap)), ahead=True)
    desk.on_change(lambda: told.append(("after", desk.design.relief.gap)))
    write = desk._slot.write
    monkeypatch.setattr(desk._slot, "write", lambda one: (told.append(("written", "")), write(one)))
    desk.change("relief.gap", 21)
    desk.undo()
    before = desk.design.relief.gap
    assert told[:3] == [("ahead", 21), ("written", ""), ("after", 21)]
    assert told[3] == ("ahead", before)
    assert told[-1] == ("after", before)


def test_the_largest_design_is_written_down_and_offered(state):
    # Nothing makes JSON longer than quotes and ends of lines, two bytes for each.
    head = samples.text("half-scale")
    line = "# " + 200 * '"' + "\n"
    text = head + line * ((storage_limit() - len(head.encode())) // len(line))
    desk = Desk(text, None, name="large", slot=open_slot(state))
    desk.change("title", "A")
    assert len(desk.text.encode()) > 0.999 * storage_limit()
    assert desk.autosave_problem == ""
    desk.close()
    (lost,) = find_lost_work(state)
    assert lost.snapshot.text == desk.text
    lost.discard()


def test_a_large_design_in_any_script_is_written_down_and_offered(state):
    head = samples.text("half-scale")
    line = "# " + 60 * "é漢🎣" + "\n"
    text = head + line * ((storage_limit() - len(head.encode())) // len(line.encode()) - 1)
    slot = open_slot(state)
    slot.write(Snapshot(text, text, "/漢/é.toml", "é"))
    slot.close()
    (lost,) = find_lost_work(state)
    assert (lost.snapshot.text, lost.snapshot.saved, lost.snapshot.path) == (
        text,
        text,
        "/漢/é.toml",
    )
    lost.discard()


def storage_limit():
    return toml_text.LARGEST_FILE


def test_a_text_that_could_not_be_opened_again_is_not_written_down(state):
    slot = open_slot(state)
    with pytest.raises(DesignProblem, match="more than 1 MB, which could not be opened again"):
        slot.write(Snapshot("#" * (storage_limit() + 1), "", "", "large"))
    slot.close()
    assert find_lost_work(state) == []


@pytest.mark.parametrize(
    "when", ["NaN", "Infinity", "-Infinity", "1e300", "-1", "1" + "0" * 400, "4e10"]
)
def test_no_time_in_a_recovery_file_stops_the_start(state, when):
    file = spoilt(state, when=when)
    (lost,) = find_lost_work(state)
    # When the file was written is the next best.
    assert lost.snapshot.when == pytest.approx(file.stat().st_mtime)
    assert files._lost_state(lost)["when"] == pytest.approx(file.stat().st_mtime)
    lost.discard()


@pytest.mark.parametrize("path", ["here/a.toml", "/a\\u0000b.toml", "/\\ud800", "/" + "a" * 5000])
def test_work_is_offered_although_its_path_can_be_none(state, path):
    spoilt(state, path=f'"{path}"')
    (lost,) = find_lost_work(state)
    assert lost.snapshot.path == ""
    desk = Desk.open("sample:graded-trim")
    assert desk.can_reach(lost.snapshot.path)
    desk.recover(lost)
    assert desk.design.title == samples.load("half-scale").title


@pytest.mark.parametrize("key", ["text", "saved"])
def test_recovery_files_whose_text_is_none_are_left_alone(state, key):
    text = json.dumps(samples.text("half-scale") + "# \udcfc\n")
    file = spoilt(state, **{key: text})
    assert find_lost_work(state) == []
    assert file.exists()


def test_unsaved_work_of_a_folder_whose_name_is_no_text_is_kept(state, tmp_path):
    """Bytes of a name that are not UTF-8 stand as single surrogates in Python (PEP 383)."""
    path = str(tmp_path / "M\udcfcller" / "a.toml")
    slot = open_slot(state)
    slot.write(Snapshot(samples.text("half-scale"), "", path, ""))
    slot.close()
    (lost,) = find_lost_work(state)
    assert lost.snapshot.path == path
    lost.discard()


def test_names_in_a_recovery_file_are_shown_in_one_line(state):
    spoilt(state, path='"/folder/a\\u001b[31m\\n.toml"', name='"b"')
    (lost,) = find_lost_work(state)
    told = files._lost_state(lost)
    assert told["called"].isprintable()
    assert told["path"].isprintable()
    lost.discard()


def test_a_link_in_the_recovery_folder_is_left_alone(state, tmp_path):
    other = spoilt(state)
    secret = tmp_path / "secret.json"
    other.rename(secret)
    other.symlink_to(secret)
    assert find_lost_work(state) == []
    assert secret.exists()


def spoilt(state, **given):
    """Write a recovery file by hand, its values as they stand in JSON."""
    text = json.dumps(samples.text("half-scale"))
    values = {"text": text, "saved": text, "path": '""', "name": '"half-scale"', "when": "1.7e9"}
    (state / "recovery").mkdir(exist_ok=True)
    file = state / "recovery" / "0123.json"
    pairs = ", ".join(f'"{key}": {value}' for key, value in {**values, **given}.items())
    file.write_text(f"{{{pairs}}}", encoding="utf-8")
    return file


def test_a_slot_where_nothing_can_be_written_says_so_and_does_not_wait(file, state, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(recovery.FileLock, "acquire", full)
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.change("relief.gap", 30)
    assert "cannot be written in; free some room" in desk.autosave_problem
    monkeypatch.undo()
    desk.change("relief.gap", 31)  # there is room again
    assert desk.autosave_problem == ""
    desk.close()
    (lost,) = find_lost_work(state)
    lost.discard()


@pytest.mark.parametrize("path", ["~nobody-of-that-name/a.toml", "a\0b.toml"])
def test_what_is_no_name_of_a_file_is_refused(file, path):
    desk = Desk.open(str(file))
    for do in (desk.open_file, desk.save_as):
        with pytest.raises(DesignProblem, match="is no name of a file; give another"):
            do(Path(path))


def test_work_that_cannot_be_written_down_is_told_and_goes_on(file, state):
    desk = Desk.open(str(file), slot=open_slot(state))
    shutil.rmtree(state / "recovery")
    desk.change("relief.gap", 30)
    assert desk.design.relief.gap == 30
    assert "cannot be written down" in desk.autosave_problem


# ---- comparing


def test_what_is_pinned_stays_while_the_design_changes(file):
    desk = Desk.open(str(file))
    pin = desk.pin()
    desk.change("relief.gap", 30)
    assert (pin.subject.design.relief.gap, pin.whole.relief.gap) == (21.2, 21.2)
    assert desk.design.relief.gap == 30


def test_what_changed_since_the_pin_can_be_kept_as_a_variant(file):
    desk = Desk.open(str(file))
    pin = desk.pin()
    desk.change("relief.gap", 30)
    desk.keep_variant("thirty", pin)
    assert desk.design.relief.gap == 21.2
    kept = tomllib.loads(desk.text)["variants"][-1]
    assert kept == {"name": "thirty", "changes": {"relief.gap": 30}}
    desk.make_variant_the_design("thirty")
    assert desk.design.relief.gap == 30
    former = {"name": "before thirty", "changes": {"relief.gap": 21.2}}
    assert tomllib.loads(desk.text)["variants"][-1] == former
    desk.make_variant_the_design("before thirty")
    assert desk.design.relief.gap == 21.2
    desk.undo()
    desk.undo()
    assert tomllib.loads(desk.text)["variants"][-1] == kept


def test_the_other_variants_look_as_they_did_when_one_is_made_the_design(file):
    desk = Desk.open(str(file))
    before = dict(variants(desk.design))
    desk.make_variant_the_design("wide gap")
    after = dict(variants(desk.design))
    assert list(after)[1:] == ["narrow gap", "before wide gap", "warm trim", "dry"]
    for name in ("narrow gap", "warm trim", "dry"):
        assert design_hash(after[name]) == design_hash(before[name])
    assert design_hash(after["as designed"]) == design_hash(before["wide gap"])
    assert design_hash(after["before wide gap"]) == design_hash(before["as designed"])


def test_a_variant_is_opened_changed_and_kept_in_its_place(file):
    desk = Desk.open(str(file))
    pin, left_out = desk.edit_variant("wide gap")
    assert left_out == []
    assert (pin.subject.design.relief.gap, desk.design.relief.gap) == (21.2, 36)
    desk.change("relief.gap", 33)
    desk.keep_variant("wide gap", pin)
    assert desk.design.relief.gap == 21.2
    listed = tomllib.loads(desk.text)["variants"]
    assert [one["name"] for one in listed] == ["narrow gap", "wide gap", "warm trim", "dry"]
    assert listed[1]["changes"] == {"relief.gap": 33}
    # Only the variant that is open is replaced.
    desk.change("relief.gap", 31)
    with pytest.raises(DesignProblem, match="used twice"):
        desk.keep_variant("wide gap", replace(pin, variant=""))


def test_what_was_pinned_from_another_document_is_kept_in_none(file):
    desk = Desk.open(str(file))
    pin = desk.pin()
    desk.open_sample("full-mesh")
    for keep in (desk.keep_variant, desk.keep_pinned):
        with pytest.raises(DesignProblem, match="there is no A yet"):
            keep("as it was", pin)


def test_a_variant_set_aside_is_opened_with_what_fits(file):
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('"relief.gap" = 36', '"relief.gap" = 99\n"finish.coats" = 1'))
    desk = Desk.open(str(file))
    with pytest.raises(DesignProblem, match="does not fit the design"):
        desk.make_variant_the_design("wide gap")
    pin, left_out = desk.edit_variant("wide gap")
    assert left_out == ["relief.gap"]
    assert (desk.design.relief.gap, desk.design.finish.coats) == (21.2, 1)
    desk.change("relief.gap", 34)
    desk.keep_variant("wide gap", pin)
    assert not desk.design.variants_set_aside


def test_the_pinned_design_is_kept_as_a_variant_of_the_other(file):
    desk = Desk.open(str(file))
    pin = desk.pin()
    desk.change("finish.coats", 1)
    desk.rename_variant("dry", "without finish")
    desk.keep_pinned("as sent", pin)
    assert desk.design.finish.coats == 1
    made = dict(variants(desk.design))
    assert design_hash(made["as sent"]) == design_hash(pin.subject.design)
    assert made["without finish"].finish.coats == 0


def test_a_variant_never_opened_blocks_no_edit(file):
    """Caliper readings of a thinner blank, on which "wide gap" would leave no strip."""
    desk = Desk.open(str(file))
    stations = document_of(desk.design)["blank"]["stations"]
    thin = [{**one, "diameter": one["diameter"] * 0.6} for one in stations]
    desk.change("blank.stations", thin)
    assert "wide gap" in desk.design.variants_set_aside
    desk.save()
    again = Desk.open(str(file))
    assert again.design == desk.design
    names = [one.name for one in again.design.variants]
    assert names == ["narrow gap", "wide gap", "warm trim", "dry"]
    again.change("blank.stations", stations)
    assert not again.design.variants_set_aside


def test_a_variant_whose_thread_is_missing_blocks_no_edit(file):
    text = file.read_text(encoding="utf-8").replace('"relief.gap" = 36', '"cover.thread" = "No"')
    file.write_text(text, encoding="utf-8")
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    assert desk.design.relief.gap == 30


# ---- the shelf

THREAD = Thread(
    "Mill Pond Green A",
    ThreadKind.METALLIC,
    "A",
    "#2f7a55",
    diameter_mm=0.18,
    tex=30,
    spool_m=100,
    price=5,
)


def test_a_thread_put_on_the_shelf_can_be_wound(file):
    desk = Desk.open(str(file))
    with pytest.raises(DesignProblem):
        desk.change("cover.thread", THREAD.name)
    desk.put_thread(THREAD)
    assert desk.design.shelf == "my-shelf.toml"
    assert Shelf.load(file.with_name("my-shelf.toml"))[THREAD.name] == THREAD
    desk.change("cover.thread", THREAD.name)
    desk.save()
    assert storage.load(file).cover.thread == THREAD.name


def test_the_own_shelf_wins_and_its_comments_stay(file):
    own = file.with_name("my-shelf.toml")
    desk = Desk.open(str(file))
    desk.put_thread(THREAD)
    own.write_text("# mine\n" + own.read_text(encoding="utf-8"), encoding="utf-8")
    heron = desk.shelf.thread("Heron Silver A")
    desk.put_thread(
        Thread(
            heron.name,
            heron.kind,
            heron.size,
            "#abcdef",
            diameter_mm=0.2,
            tex=33,
            spool_m=50,
            price=9,
        )
    )
    assert desk.shelf.thread("heron silver a").colour == "#abcdef"
    assert own.read_text(encoding="utf-8").startswith("# mine\n")
    desk.drop_thread("Heron Silver A")
    assert desk.shelf.thread("Heron Silver A") == heron
    assert own.read_text(encoding="utf-8").startswith("# mine\n")


def test_a_thread_in_use_stays_on_the_shelf(file):
    desk = Desk.open(str(file))
    desk.put_thread(THREAD)
    desk.change("cover.thread", THREAD.name)
    with pytest.raises(ShelfProblem, match="only thread"):
        desk.drop_thread(THREAD.name)
    desk.put_thread(
        Thread("Spare", THREAD.kind, "A", "#123", diameter_mm=0.2, tex=30, spool_m=9, price=0)
    )
    with pytest.raises(DesignProblem, match=r"in use; change cover\.thread first"):
        desk.drop_thread(THREAD.name)
    assert THREAD.name in Shelf.load(file.with_name("my-shelf.toml"))


def test_a_thread_that_no_shelf_can_hold_is_refused(file):
    desk = Desk.open(str(file))
    with pytest.raises(ShelfProblem, match="diameter"):
        desk.put_thread(
            Thread("Rope", THREAD.kind, "A", "#123456", diameter_mm=9, tex=30, spool_m=9, price=0)
        )
    assert not file.with_name("my-shelf.toml").exists()
    assert not desk.changed


def test_the_shelf_goes_along_to_another_folder(file, tmp_path):
    desk = Desk.open(str(file))
    desk.put_thread(THREAD)
    desk.change("cover.thread", THREAD.name)
    (tmp_path / "elsewhere").mkdir()
    desk.save_as(tmp_path / "elsewhere" / "wrap.toml")
    assert storage.load(tmp_path / "elsewhere" / "wrap.toml").cover.thread == THREAD.name


def test_a_sample_has_no_place_for_a_shelf():
    desk = Desk.open("sample:half-scale")
    with pytest.raises(DesignProblem, match="save the design first"):
        desk.put_thread(THREAD)


OTHER = Thread(
    "Spare Oak B", THREAD.kind, "B", "#6b4a2b", diameter_mm=0.2, tex=33, spool_m=50, price=9
)


@pytest.fixture
def own(file: Path) -> Path:
    """Lay a builder's own shelf beside the design, with what a person writes into one."""
    path = file.with_name("my-shelf.toml")
    path.write_bytes(
        b"# Mine, in the drawer by the window.\r\nversion = 1\r\n\r\n"
        b"[[threads]]  # the old spool\r\nname = 'Mill Pond Green A'\r\nkind = 'metallic'\r\n"
        b"size = 'A'\r\ncolour = '#0f7a55' # in daylight\r\ndiameter = 0.18\r\ntex = 30\r\n"
        b"spool = 100\r\nprice = 5\r\nleft = 40\r\n\r\n"
        b"# a gift\r\n[[threads]]\r\nname = 'Spare Oak B'\r\nkind = 'metallic'\r\nsize = 'B'\r\n"
        b"colour = '#6b4a2b'\r\ndiameter = 0.2\r\ntex = 33\r\nspool = 50\r\nprice = 9\r\n"
    )
    text = file.read_text(encoding="utf-8").replace(
        "\ntitle", '\nshelf = "my-shelf.toml"\ntitle', 1
    )
    file.write_text(text, encoding="utf-8")
    assert storage.load(file).shelf == "my-shelf.toml"
    return path


def drawn(desk: Desk, name: str) -> str:
    """Give the colour that pictures are drawn with."""
    return desk.subject.plan().shelf.thread(name).colour


def test_the_first_thread_on_the_shelf_is_taken_back_with_its_file(file):
    own = file.with_name("my-shelf.toml")
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    desk.put_thread(THREAD)
    assert desk.undo_description == "Mill Pond Green A added to your shelf"
    written = own.read_bytes()
    assert desk.undo() == ""
    assert not own.exists()
    assert (desk.design.shelf, desk.own_threads) == (None, ())
    assert desk.redo_description == "Mill Pond Green A added to your shelf"
    desk.redo()
    assert own.read_bytes() == written
    desk.change("cover.thread", THREAD.name)
    assert drawn(desk, THREAD.name) == THREAD.colour
    for _ in range(3):
        desk.undo()
    assert not own.exists()
    assert not desk.changed


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (lambda desk: desk.put_thread(replace(OTHER, name="New One")), "New One added to your"),
        (lambda desk: desk.put_thread(replace(OTHER, colour="#123456")), "colour #123456"),
        (lambda desk: desk.put_thread(replace(OTHER, spool_m=70, price=4)), "spool 70 m, price 4"),
        (lambda desk: desk.drop_thread("spare oak b"), "Spare Oak B taken off your shelf"),
    ],
)
def test_an_edit_of_the_shelf_is_a_step(file, own, edit, told):
    desk = Desk.open(str(file))
    desk.change("cover.thread", OTHER.name)
    desk.change("cover.thread", THREAD.name)
    before, colour = own.read_bytes(), desk.shelf.thread(OTHER.name).colour
    edit(desk)
    after, threads = own.read_bytes(), desk.shelf.threads
    assert after != before
    assert told in desk.undo_description
    desk.undo()
    # To the last byte: comments, quotes and ends of lines.
    assert own.read_bytes() == before
    assert drawn(desk, OTHER.name) == colour
    desk.undo()
    assert desk.design.cover.thread == OTHER.name
    desk.redo()
    desk.redo()
    assert own.read_bytes() == after
    assert desk.shelf.threads == threads
    assert not desk.can_redo


def test_an_edit_that_changes_nothing_is_no_step(file, own):
    desk = Desk.open(str(file))
    desk.put_thread(OTHER)
    assert not desk.can_undo


def test_a_shelf_changed_meanwhile_stays_and_history_goes_on(file, own):
    desk = Desk.open(str(file))
    desk.change("relief.gap", 30)
    desk.put_thread(replace(OTHER, colour="#123456"))
    theirs = own.read_text(encoding="utf-8").replace("price = 9", "price = 11")
    own.write_text(theirs, encoding="utf-8")
    assert '"my-shelf.toml" was changed by another program' in desk.undo()
    assert own.read_text(encoding="utf-8") == theirs
    assert desk.shelf.thread(OTHER.name).price == 11
    assert desk.undo() == ""
    assert not desk.changed
    desk.redo()
    assert "stays as it is" in desk.redo()
    assert own.read_text(encoding="utf-8") == theirs
    own.unlink()
    # A file that has gone is written again, as the design's own is.
    assert desk.undo() == ""
    assert "#6b4a2b" in own.read_text(encoding="utf-8")


def test_a_thread_that_a_saved_design_needs_stays_on_the_shelf(file, own):
    desk = Desk.open(str(file))
    desk.put_thread(THREAD)
    desk.put_thread(replace(OTHER, name="New One"))
    other = file.with_name("other.toml")
    text = file.read_text(encoding="utf-8").replace("Gorse Gold A", "New One")
    other.write_text(text, encoding="utf-8")
    storage.load(other)
    with pytest.raises(DesignProblem, match=r'in use in "other\.toml"; change it there'):
        desk.drop_thread("New One")
    assert '"other.toml", as it is saved, needs it' in desk.undo()
    storage.load(other)
    desk.redo()
    # This document's own file counts as it is saved, too: it must open whatever becomes of these.
    other.unlink()
    desk.change("cover.thread", "New One")
    desk.save()
    desk.undo()
    with pytest.raises(DesignProblem, match="save the design first"):
        desk.drop_thread("New One")
    assert '"mine.toml", as it is saved, needs it' in desk.undo()
    storage.load(file)


def test_a_shelf_that_the_saved_design_names_is_not_taken_away(file):
    desk = Desk.open(str(file))
    desk.put_thread(THREAD)
    desk.save()
    assert '"mine.toml", as it is saved, needs it' in desk.undo()
    storage.load(file)
    desk.save()
    desk.redo()
    assert desk.undo() == ""
    assert not file.with_name("my-shelf.toml").exists()


def test_a_thread_that_the_design_cannot_be_wound_with_is_refused(file):
    file.write_text(samples.text("figured-grain"), encoding="utf-8")
    desk = Desk.open(str(file))
    otter = desk.shelf.thread("Otter Brown A")
    desk.put_thread(replace(otter, price=9))
    own = file.with_name("my-shelf.toml")
    before = (own.read_bytes(), desk.undo_description, desk.shelf)
    with pytest.raises(DesignProblem, match=r"cannot be wound with that: stripes\.pitch"):
        desk.put_thread(replace(otter, diameter_mm=3))
    assert (own.read_bytes(), desk.undo_description, desk.shelf) == before


def test_a_step_on_the_shelf_follows_the_design_to_another_folder(file, own, tmp_path):
    desk = Desk.open(str(file))
    desk.put_thread(replace(OTHER, colour="#123456"))
    (tmp_path / "elsewhere").mkdir()
    desk.save_as(tmp_path / "elsewhere" / "wrap.toml")
    there = own.read_bytes()
    assert desk.undo() == ""
    assert own.read_bytes() == there
    assert b"#6b4a2b" in (tmp_path / "elsewhere" / "my-shelf.toml").read_bytes()


def test_a_shelf_that_cannot_be_written_changes_nothing(file, own, monkeypatch):
    desk = Desk.open(str(file))
    desk.put_thread(replace(OTHER, colour="#123456"))

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    held = own.read_bytes()
    with monkeypatch.context() as broken:
        broken.setattr(os, "replace", full)
        assert "no room left on the disk" in desk.undo()
        assert drawn(desk, OTHER.name) == "#123456"
        with pytest.raises(ShelfProblem, match="no room left on the disk"):
            desk.put_thread(replace(OTHER, name="New One"))
    assert own.read_bytes() == held
    assert not desk.can_undo


def test_of_two_programs_on_one_shelf_none_loses_a_thread(file, own, monkeypatch):
    one, other = Desk.open(str(file)), Desk.open(str(file))
    text_of = own_shelf.text_of

    def read_and_changed(path: Path) -> str | None:
        text = text_of(path)
        monkeypatch.undo()
        other.put_thread(replace(OTHER, name="Theirs"))
        return text

    monkeypatch.setattr(own_shelf, "text_of", read_and_changed)
    with pytest.raises(ShelfProblem, match="changed by another program meanwhile"):
        one.put_thread(replace(OTHER, name="Mine"))
    assert "Theirs" in Shelf.load(own)
    one.put_thread(replace(OTHER, name="Mine"))
    assert {"Theirs", "Mine"} <= set(Shelf.load(own))


class Killed(BaseException):
    """What no program can catch, such as the power going."""


@pytest.mark.parametrize("written", [False, True])
@pytest.mark.parametrize("step", ["undo", "redo"])
def test_work_is_kept_through_a_kill_in_a_step_on_the_shelf(
    file, state, monkeypatch, step, written
):
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.change("relief.gap", 30)
    desk.put_thread(THREAD)
    if step == "redo":
        desk.undo()
    write = own_shelf.write

    def killed(path: Path, before: str | None, after: str | None) -> None:
        if written:
            write(path, before, after)
        raise Killed

    with monkeypatch.context() as power:
        power.setattr(own_shelf, "write", killed)
        with pytest.raises(Killed):
            getattr(desk, step)()
    assert desk._slot is not None
    desk._slot.close()
    (lost,) = find_lost_work(state)
    fresh = Desk.open(str(file), slot=open_slot(state))
    fresh.recover(lost)
    assert fresh.design.relief.gap == 30
    fresh.put_thread(THREAD)
    fresh.change("cover.thread", THREAD.name)
    fresh.save()
    assert storage.load(file).cover.thread == THREAD.name


# ---- the shelf of a new design


@pytest.mark.parametrize("begin", ["open_sample", "open_text"])
def test_a_new_design_begins_with_the_shelf_that_was_open(file, own, tmp_path, begin):
    desk = Desk.open(str(file))
    threads = {thread.name for thread in desk.own_threads}
    assert threads
    before = own.read_bytes()
    if begin == "open_sample":
        desk.open_sample("graded-trim")
        assert not desk.changed
    else:
        desk.open_text(samples.text("graded-trim"), "graded-trim")
    assert desk.shelf_of_new == desk.shelf
    assert {thread.name for thread in desk.own_threads} == threads
    # The text is the sample's but for one line, so that its comments stay.
    assert lines_that_differ(samples.text("graded-trim"), desk.text) == ['shelf = "my-shelf.toml"']
    desk.change("cover.thread", OTHER.name)
    desk.undo()
    desk.redo()
    # A copy goes along: the shelf of the other designs is left alone.
    folder = tmp_path / "new"
    folder.mkdir()
    desk.save_as(folder / "new.toml")
    assert (folder / "my-shelf.toml").read_bytes() == before == own.read_bytes()
    saved = storage.load(folder / "new.toml")
    assert (saved.shelf, saved.cover.thread) == ("my-shelf.toml", OTHER.name)
    desk.put_thread(THREAD)
    assert own.read_bytes() == before


def test_a_new_design_after_a_new_design_keeps_the_shelf(file, own):
    desk = Desk.open(str(file))
    desk.open_sample("graded-trim")
    desk.open_sample("full-mesh")
    assert OTHER.name in desk.shelf
    desk.save_as(file.with_name("other.toml"))  # beside the shelf, which is its shelf
    assert desk.shelf_path == own
    desk.open_sample("half-scale")
    own.unlink()
    desk.open_sample("full-mesh")
    assert (desk.design.shelf, desk.own_threads) == (None, ())


def test_a_new_design_on_an_own_shelf_is_recovered_with_it(file, own, state):
    desk = Desk.open(str(file), slot=open_slot(state))
    desk.open_sample("graded-trim")
    desk.change("cover.thread", OTHER.name)
    desk.close()
    (lost,) = find_lost_work(state)
    fresh = Desk.open("sample:half-scale")
    fresh.check_recover(lost)
    fresh.recover(lost)
    assert fresh.design.cover.thread == OTHER.name
    assert OTHER.name in fresh.shelf


def test_a_recovered_design_takes_no_shelf_from_a_place_out_of_reach(own, state, tmp_path):
    slot, text = open_slot(state), samples.text("half-scale")
    named = text.replace("\ntitle", '\nshelf = "my-shelf.toml"\ntitle', 1)
    slot.write(Snapshot(named, text, "", "half-scale", shelf_folder=str(own.parent)))
    slot.close()
    within = tmp_path / "within"
    within.mkdir()
    (lost,) = find_lost_work(state)
    fresh = Desk.open("sample:half-scale", within=within)
    fresh.recover(lost)
    assert fresh.own_threads == ()
