"""From wishes to a design on the command line: what it answers, writes and refuses."""

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from materials.shelf import Shelf
from render.cli import fit_report
from render.cli import main as cli
from render.common.progress import Progress
from scenes.building.build import Plan
from scenes.files import samples, storage
from scenes.kinds.builder import BandBuilder
from scenes.kinds.mesh_strip.figures import strip_numbers

SAMPLE = "sample:half-scale"

Captured = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def files() -> list[str]:
    return sorted(path.name for path in Path().iterdir())


FORECAST = re.compile(r"^Takes about .* here(, estimated: none .* yet)?\.\n")
"""How long it will take, which is said where it takes more than moments here."""


def ran(capsys: Captured, *arguments: str) -> tuple[int, str, str]:
    """Exit code, what was printed, and what was said beside it but the forecast."""
    code = cli.main(["fit", *arguments])
    out, err = capsys.readouterr()
    return code, out, FORECAST.sub("", err)


def test_what_may_be_wished(capsys: Captured) -> None:
    code, out, err = ran(capsys, SAMPLE)
    assert (code, err) == (0, "")
    for name in ("turns", "covered_share", "strip_width", "weight", "cover_thread"):
        assert re.search(rf"^{name} ", out, re.MULTILINE)
    assert "diamonds" not in out


def test_half_coverage_is_written_with_comments(capsys: Captured) -> None:
    arguments = ("--wish", "relief.strip_width=20", "--wish", "covered_share=0.5", "-o", "new.toml")
    code, out, err = ran(capsys, SAMPLE, *arguments)
    assert (code, err) == (0, "")
    assert "Angle of the relief: 45 degrees → 41.11 degrees (relief.angle)" in out
    width = "gap 21.2 mm → 20 mm (as you set it) (relief.strip_width)"
    assert f"Strip width of the relief: {width}" in out
    assert "new.toml: design 1; read again, covered share 50 %" in out
    text = Path("new.toml").read_text(encoding="utf-8")
    lines = samples.text("half-scale").splitlines()
    kept = [line for line in lines if "#" in line and not line.startswith(("gap", "angle"))]
    assert all(line in text for line in kept)
    relief = tomllib.loads(text)["layers"][0]
    assert (relief["strip_width"], relief["angle"]) == (20, 41.11)
    assert "gap" not in relief
    assert len(storage.load("new.toml").variants) == len(samples.load("half-scale").variants)


def test_an_edit_of_another_program_meanwhile_is_not_written_over(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = Path("mine.toml")
    storage.create(samples.text("graded-trim"), mine)
    theirs = samples.text("graded-trim") + "# theirs\n"
    original = fit_report.solution_at

    def solution_at_meanwhile(*given: Any) -> Any:
        mine.write_text(theirs, encoding="utf-8")
        return original(*given)

    monkeypatch.setattr(fit_report, "solution_at", solution_at_meanwhile)
    wish = ("--wish", "turns=3", "--free", "relief.angle")
    code, _, err = ran(capsys, "mine.toml", *wish, "-o", "mine.toml")
    assert code == 2
    assert "was changed by another program meanwhile; read it anew and try again" in err
    assert mine.read_text(encoding="utf-8") == theirs


def test_in_place_by_its_own_name_only(capsys: Captured) -> None:
    for name in ("mine.toml", "other.toml"):
        storage.create(samples.text("graded-trim"), name)
    before = Path("other.toml").read_bytes()
    wish = ("--wish", "turns=3", "--free", "relief.angle")
    code, _, err = ran(capsys, "mine.toml", *wish, "-o", "other.toml")
    assert code == 2
    assert "is there already" in err
    assert Path("other.toml").read_bytes() == before
    code, out, _ = ran(capsys, "mine.toml", *wish, "-o", "mine.toml")
    assert code == 0
    assert "read again, turns 3" in out
    relief = storage.load("mine.toml").relief
    assert relief is not None
    assert math.degrees(relief.angle) == pytest.approx(51.5, abs=0.05)
    assert "# the gap narrows a little" in Path("mine.toml").read_text(encoding="utf-8")


def test_in_inches(capsys: Captured) -> None:
    arguments = ("--wish", "relief.strip_width=6mm", "--wish", "gap=0.4", "--choose", "2")
    code, out, _ = ran(capsys, "sample:two-start-band", *arguments, "-o", "band.toml")
    assert code == 0
    relief = storage.load("band.toml").relief
    assert relief is not None
    assert relief.strip_width == pytest.approx(6)
    assert relief.starts == 3
    assert "0.4" in out


def test_variants_that_no_longer_fit_are_set_aside(capsys: Captured) -> None:
    # At 60 degrees the next strip comes after 31 mm: a gap of 36 mm leaves no strip.
    arguments = ("--wish", "relief.angle=60", "--wish", "relief.gap=12", "-o", "new.toml")
    code, _, err = ran(capsys, SAMPLE, *arguments)
    assert code == 0
    assert 'The variant "wide gap" does not fit this design and is set aside in new.toml' in err
    new = storage.load("new.toml")
    assert new.variants == samples.load("half-scale").variants
    assert list(new.variants_set_aside) == ["wide gap"]


def test_the_nearest_has_its_own_exit_code(capsys: Captured) -> None:
    arguments = ("--wish", "relief.strip_width=25", "--wish", "covered_share=0.2")
    code, out, err = ran(capsys, SAMPLE, *arguments, "-o", "near.toml")
    assert code == 3
    assert out.startswith("Nearest possible:")
    assert err.splitlines()[-1] == (
        "covered share 20 % cannot be had here; the nearest is 47.81 %, for the angle "
        "of the relief (relief.angle) is usually no less than 10 degrees."
    )
    assert files() == ["near.toml"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--wish", "turns=five"), "not a number"),
        (("--wish", "turns=nan"), "not a number"),
        (("--wish", "weight<4"), "--at-most weight=4"),
        (("--wish", "turns=5", "--wish", "turns=6"), "contradict"),
        (("--wish", "relief.gap=25kg"), "wrong unit"),
        (("--wish",), "--wish has nothing behind it: what it should come to"),
        (("--wish", "turns=5", "-o", "x.png"), "no design file"),
        (("--wish", "turns=5", "-o", "nowhere/x.toml"), "is not there"),
        (("--wish", "turns=5", "--picture", "x.gif"), "give .png"),
        (("--wish", "turns=5", "--alternatives", "0"), "between 1 and 12"),
        (("--wish", "turns=5", "--choose", "6"), "choose: 6 is not between 1 and 5"),
        (("--wish", "cells=9", "--free", "relief.gap", "--choose", "4"), "there is 1 design"),
        (("--free", "relief.gap"), "no wish"),
        (("--wish", "cover.thread=Nylonn"), 'no thread "Nylonn"'),
    ],
)
def test_refused(capsys: Captured, arguments: tuple[str, ...], words: str) -> None:
    code, out, err = ran(capsys, SAMPLE, *arguments)
    assert (code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1
    assert err.endswith((".\n", "?\n"))
    assert files() == []


@pytest.mark.render
@pytest.mark.usefixtures("quick_reading")
def test_a_picture_of_the_alternatives(capsys: Captured, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("render.output.compare.WIDTH", 640)
    arguments = ("--wish", "meet", "--alternatives", "2", "--detail", "draft")
    code, out, _ = ran(capsys, "sample:cord-lattice", *arguments, "--picture", "two.png")
    assert code == 0
    assert "two.png: from top to bottom: 0   as designed; 1   angle 35.08°:  diamonds 13" in out
    with Image.open("two.png") as picture:
        assert picture.width == 640
        assert picture.height > 300


def test_nothing_to_see_makes_no_picture(capsys: Captured) -> None:
    code, _, err = ran(capsys, "sample:graded-trim", "--wish", "cells=8", "--picture", "same.png")
    assert code == 0
    assert "since all designs look the same" in err
    assert files() == []


def test_a_file_that_would_not_read_as_told_is_not_written(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    original = storage.text_of
    monkeypatch.setattr(
        storage, "text_of", lambda *given: original(*given).replace("angle = 51.5", "angle = 41.5")
    )
    wish = ("--wish", "turns=3", "--free", "relief.angle")
    code, out, err = ran(capsys, "sample:graded-trim", *wish, "-o", "new.toml")
    assert (code, out) == (2, "")
    assert "but its file would read as" in err
    assert "nothing is written" in err
    assert err.count("\n") == 1
    assert files() == []


def test_the_gap_of_a_written_file_is_the_one_told(capsys: Captured) -> None:
    # Every gap by the winding of the file: within what a ruler shows of the one in the table.
    wish = ("--wish", "strip_width=80", "--free", "relief.angle")
    code, _, err = ran(capsys, SAMPLE, *wish, "-o", "near.toml")
    assert code == 3
    assert "strip width 80 mm cannot be had here; the nearest is" in err
    strip = Plan(storage.load("near.toml").without_variants(), Shelf.shipped()).relief
    assert isinstance(strip, BandBuilder)
    numbers = strip_numbers(strip)
    assert numbers.gaps == pytest.approx((numbers.gap, numbers.gap), abs=0.5)


def test_what_check_warns_of_in_an_offer_is_said_with_it(capsys: Captured) -> None:
    wish = ("--wish", "gap=0", "--free", "relief.gap", "-o", "closed.toml")
    code, out, _ = ran(capsys, SAMPLE, *wish)
    assert code == 0
    told = re.findall(r"^  design 1: (.*)$", out.partition("New warnings:\n")[2], re.MULTILINE)
    assert any("no thread fits here" in warning for warning in told)
    assert cli.main(["check", SAMPLE]) == 0
    before = capsys.readouterr().out
    assert cli.main(["check", "closed.toml"]) == 0
    after = capsys.readouterr().out
    for warning in told:
        assert warning in after
        assert warning not in before


# Each refusal, and the arguments with which its advice is followed.
ADVICE = [
    ("half-scale", ("--wish", "weight<9"), r"--at-most weight=9", ("--at-most", "weight=9")),
    ("half-scale", ("--wish", "turns >= 1"), r"--at-least turns=1", ("--at-least", "turns=1")),
    ("cord-lattice", ("--wish", "turnz=5"), r"did you mean turns\?", ("--wish", "turns=5")),
    # Followed where the alternatives are drawn.
    ("cord-lattice", ("--wish", "meet=4"), r"write --wish meet", ()),
    ("cord-lattice", ("--wish", "turns=5mm"), r"without a unit", ("--wish", "turns=5")),
    (
        "cord-lattice",
        ("--wish", "turns=15", "--free", "relief.angle"),
        r"add --unusual to be offered it",
        ("--wish", "turns=15", "--free", "relief.angle", "--unusual"),
    ),
    (
        "open-diamonds",
        ("--wish", "crossed.marks=closer as the blank thins"),
        r"wish for whole diamonds instead",
        ("--wish", "diamonds=whole"),
    ),
    ("badge-panel", ("--wish", "meet"), r"wish for .*wrap_length", ("--wish", "wrap_length=40")),
    ("cord-lattice", ("--free", "relief.angle"), r"--wish turns=5", ("--wish", "turns=5")),
]


@pytest.mark.parametrize(("sample", "refused", "advice", "followed"), ADVICE)
def test_advice_is_accepted(
    capsys: Captured, sample: str, refused: tuple[str, ...], advice: str, followed: tuple[str, ...]
) -> None:
    file = f"sample:{sample}"
    if "crossed.marks" in refused[1]:
        marks = 'marks = "closer as the blank thins"\naround = 2 '
        document = samples.text(sample).replace("around = 2 ", marks)
        storage.create(document, "tapered.toml")
        file, refused = "tapered.toml", ("--wish", "meet")
    code, _, err = ran(capsys, file, *refused)
    assert code in (2, 3)
    assert re.search(advice, err)
    if followed:
        code, _, err = ran(capsys, file, *followed)
        assert code == 0, err


def test_a_search_has_one_bar_to_its_end(
    capsys: Captured, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    moves: list[float] = []
    words: list[str] = []
    describe = Progress.describe

    def described(progress: Progress, said: str) -> None:
        words.append(said)
        describe(progress, said)

    monkeypatch.setattr(Progress, "advance", lambda _, share: moves.append(share))
    monkeypatch.setattr(Progress, "describe", described)
    asked = ["fit", SAMPLE, "--wish", "cells_along=3", "--free", "relief.angle"]
    assert cli.main(asked) == 3
    _, err = capsys.readouterr()
    assert min(moves) >= 0
    assert sum(moves) == pytest.approx(1)
    assert words[0] == "the present design, 0 designs tried"
    assert any(said.startswith("the nearest design (step 4 of at most 7), ") for said in words)
    # How long it will take is said before, and the next time it is known.
    assert FORECAST.match(err)
    assert "estimated" in err
    assert cli.main(asked) == 3
    assert "estimated" not in capsys.readouterr().err
