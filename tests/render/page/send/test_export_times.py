"""How long an export takes here: by those that were made, and by nothing else."""

from pathlib import Path

import pytest

from materials.shelf import Shelf
from render.page.send.export_times import ExportTimes, time_key
from render.page.workers.export_worker import ExportJob, ExportKind
from render.request.subject import Subject
from scenes.files import samples

SUBJECT = Subject(samples.load("half-scale").without_variants(), Shelf.shipped())


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path))
    return tmp_path


def job(kind: ExportKind = ExportKind.STILL, ending: str = ".png", designs: int = 1) -> ExportJob:
    return ExportJob(1, kind, (SUBJECT,) * designs, Path(f"a{ending}"), size=(1280, 720))


def test_what_was_never_made_is_not_known() -> None:
    times = ExportTimes()
    times.record(time_key(job()), 12.0)
    assert times.expected(time_key(job(ExportKind.PHOTOGRAPH))) is None
    assert times.expected(time_key(job(ExportKind.SPIN_PAGE, ".html"))) is None


def test_two_designs_take_other_than_one() -> None:
    one, two = (job(ExportKind.SPIN_PAGE, ".html", count) for count in (1, 2))
    times = ExportTimes()
    times.record(time_key(one), 20.0)
    assert times.expected(time_key(two)) is None


def test_the_middle_of_the_latest_is_expected_in_the_next_run_too() -> None:
    times = ExportTimes()
    for seconds in (500.0, 400.0, 10.0, 11.0, 12.0, 13.0, 300.0):
        times.record(time_key(job()), seconds)
    assert ExportTimes().expected(time_key(job())) == 12.0


@pytest.mark.parametrize("text", ["", "{", "[1, 2]", '{"still": "soon"}', '{"still": [-1]}'])
def test_a_damaged_file_counts_as_none(state: Path, text: str) -> None:
    ExportTimes().record("still", 1.0)
    (file,) = (state / "cache").glob("*.json")
    file.write_text(text, encoding="utf-8")
    times = ExportTimes()
    assert times.expected("still") is None
    times.record("still", 2.0)
    assert ExportTimes().expected("still") == 2.0


def test_the_file_does_not_grow_without_end(state: Path) -> None:
    times = ExportTimes()
    for number in range(230):
        times.record(f"still {number}", 1.0)
    again = ExportTimes()
    assert again.expected("still 229") == 1.0
    assert again.expected("still 0") is None


def test_without_a_place_for_it_times_are_known_for_this_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    monkeypatch.setenv("TURNLIGHT_STATE", str(blocked))
    times = ExportTimes()
    times.record("still", 3.0)
    assert times.expected("still") == 3.0
