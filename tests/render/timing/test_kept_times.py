"""How long a file takes here: by those that were made, else estimated from what is known."""

from dataclasses import replace
from pathlib import Path

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from render.paper.bench_sheet import sheets
from render.request.subject import Subject
from render.timing import kept_times
from render.timing.kept_times import Basis, BuildWatch, KeptTimes, TimeForecast
from render.timing.work import BUILD, Work, modelled_seconds
from scenes.files.storage import parse
from tests.scenes.design.test_rod import BASE, FURTHER

STILL = Work("still", ".png", size=(1280, 720), points=1.8)
PHOTO = replace(STILL, kind="photograph", paths=64)
FILM = Work("turntable", ".gif", size=(640, 360), frames=40, limited=True, points=1.8)


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path))
    return tmp_path


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [100.0]
    monkeypatch.setattr(kept_times, "monotonic", lambda: now[0])
    monkeypatch.setattr(kept_times, "_built_once", False)
    return now


def test_an_estimate_follows_the_speed_of_this_machine(clock: list[float]) -> None:
    times = KeptTimes()
    assert times.forecast(FILM) == TimeForecast(modelled_seconds(FILM), Basis.MODEL)
    # A machine that builds three times as slowly: a build too small to tell is not counted.
    for points, seconds in ((0.01, 50.0), (2.0, 6 * BUILD), (2.0, 60.0)):
        watch = BuildWatch(points)
        clock[0] += seconds
        watch.built()
    forecast = times.forecast(FILM)
    assert forecast.basis is Basis.BUILDING
    assert forecast.seconds == pytest.approx(3 * modelled_seconds(FILM), rel=0.01)
    assert forecast.low < forecast.seconds < forecast.high
    # Of another engine, building tells nothing.
    assert times.forecast(PHOTO).basis is Basis.MODEL
    # A file that was made tells more than a build, and about itself everything.
    with times.measuring(STILL):
        clock[0] += 2 * modelled_seconds(STILL)
    forecast = times.forecast(FILM)
    assert forecast.basis is Basis.OTHER_FILES
    assert forecast.seconds == pytest.approx(2 * modelled_seconds(FILM), rel=0.01)
    assert times.forecast(STILL) == TimeForecast(
        pytest.approx(2 * modelled_seconds(STILL), rel=0.01), Basis.MEASURED
    )
    assert times.forecast(PHOTO).basis is Basis.MODEL


def test_what_fails_is_no_measure(clock: list[float]) -> None:
    times = KeptTimes()
    with pytest.raises(ZeroDivisionError), times.measuring(STILL):
        raise ZeroDivisionError
    assert times.forecast(STILL).basis is Basis.MODEL


@pytest.mark.parametrize(
    ("seconds", "basis", "words"),
    [
        (12.0, Basis.MEASURED, "Takes about 12 seconds here."),
        (18.0, Basis.OTHER_FILES, "Takes about 10 to 33 seconds here, estimated: "),
        (100.0, Basis.MODEL, "Takes about 34 seconds to 5 minutes here, estimated: "),
        (120.0, Basis.MODEL, "Takes about 40 seconds to 6 minutes here, estimated: "),
        (155.0, Basis.OTHER_FILES, "Takes about 1.5 to 5 minutes here, estimated: "),
        (0.2, Basis.MODEL, "Takes about 1 second here, estimated: "),
    ],
)
def test_the_forecast_is_said_in_words(seconds: float, basis: Basis, words: str) -> None:
    assert TimeForecast(seconds, basis).sentence.startswith(words)


@pytest.mark.parametrize(
    "more",
    [
        {"size": (1920, 1080)},
        {"frames": 12},
        {"designs": 2},
        {"points": 7.3},
        {"paths": 64},
        {"ending": ".html"},
    ],
)
def test_more_work_takes_longer(more: dict[str, object]) -> None:
    assert modelled_seconds(replace(STILL, **more)) > modelled_seconds(STILL)


def test_two_designs_take_other_than_one() -> None:
    times = KeptTimes()
    times.record(STILL, 20.0)
    assert times.forecast(replace(STILL, designs=2)).basis is Basis.OTHER_FILES


def test_the_middle_of_the_latest_is_expected_in_the_next_run_too() -> None:
    times = KeptTimes()
    for seconds in (500.0, 400.0, 10.0, 11.0, 12.0, 13.0, 300.0):
        times.record(STILL, seconds)
    assert KeptTimes().forecast(STILL).seconds == 12.0


@pytest.mark.parametrize("text", ["", "{", "[1, 2]", '{"still": "soon"}', '{"still": [-1]}'])
def test_a_damaged_file_counts_as_none(state: Path, text: str) -> None:
    KeptTimes().record(STILL, 1.0)
    (file,) = (state / "cache").glob("*.json")
    file.write_text(text, encoding="utf-8")
    times = KeptTimes()
    assert times.forecast(STILL).basis is Basis.MODEL
    times.record(STILL, 2.0)
    assert KeptTimes().forecast(STILL).seconds == 2.0


def test_two_programs_keep_what_both_have_measured() -> None:
    one, two = KeptTimes(), KeptTimes()
    one.record(STILL, 1.0)
    two.record(FILM, 2.0)
    found = KeptTimes()
    assert [found.forecast(work).seconds for work in (STILL, FILM)] == [1.0, 2.0]


def test_the_file_does_not_grow_without_end() -> None:
    times = KeptTimes()
    for number in range(230):
        times.record(replace(STILL, kind=f"still {number}"), 1.0)
    again = KeptTimes()
    assert again.forecast(replace(STILL, kind="still 229")).basis is Basis.MEASURED
    assert again.forecast(replace(STILL, kind="still 0")).basis is not Basis.MEASURED


def test_without_a_place_for_it_times_are_known_for_this_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    monkeypatch.setenv("TURNLIGHT_STATE", str(blocked))
    times = KeptTimes()
    times.record(STILL, 3.0)
    assert times.forecast(STILL).seconds == 3.0


def test_a_rod_takes_longer_than_its_first_wrap() -> None:
    rod, first = (Subject(parse(text), Shelf.shipped()) for text in (BASE + FURTHER, BASE))
    alone = first.points_of_rod(Detail.DRAFT)
    assert alone == first.points(Detail.DRAFT)
    assert rod.points_of_rod(Detail.DRAFT) > 1.3 * alone
    assert [sheets(rod), sheets(rod, whole=False), sheets(first)] == [3, 1, 1]
    sheet = Work("bench sheet", ".pdf", paper="A4", points=1.8)
    assert modelled_seconds(replace(sheet, sheets=3)) > 2 * modelled_seconds(sheet)
    assert replace(sheet, sheets=3).key != sheet.key
