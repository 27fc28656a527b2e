"""The command line: what it answers, and what it refuses in one sentence."""

import dataclasses
import importlib
import inspect
import json
import os
import re
import shlex
import signal
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest
from cyclopts import App
from PIL import Image

from render.cli import main as cli
from render.common.problems import DrawingProblem
from render.live.live import LiveScene
from render.pathtraced.photo import PhotoScene
from scenes.files import samples
from scenes.legibility.legibility import BandReport
from tests.waiting import WITHIN, eventually

ROOT = Path(__file__).resolve().parents[3]
SAMPLE = "sample:half-scale"
VERBS = [
    "samples",
    "new",
    "check",
    "still",
    "open",
    "turntable",
    "compare",
    "export",
    "fit",
    "catalogue",
    "colour",
    "sequence",
    "sheet",
    "template",
    "decal",
    "chart",
    "change",
    "add",
    "remove",
    "move",
    "duplicate",
    "shelf",
    "variant",
    "agree",
    "fields",
    "schema",
]

Captured = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take pictures of nothing but grain, as hard to compress as can be."""

    def grain(scene: LiveScene | PhotoScene, turn: float | None = None) -> object:
        rng = np.random.default_rng(round(100 * (turn or 0)))
        return rng.integers(60, 90, (scene.size[1], scene.size[0], 3), np.uint8)

    monkeypatch.setattr(LiveScene, "picture", grain)
    monkeypatch.setattr(PhotoScene, "picture", grain)
    monkeypatch.setattr(PhotoScene, "estimate", lambda _: 60.0)


def files(folder: Path = Path()) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def answer(capsys: Captured, *arguments: str) -> str:
    code = cli.main(arguments)
    out, err = capsys.readouterr()
    assert (code, without_forecast(err)) == (0, "")
    return out


def without_forecast(err: str) -> str:
    """What was said besides how long it will take, which depends on the machine."""
    return re.sub(r"^Takes about .* here.*\.\n", "", err)


def refusal(capsys: Captured, *arguments: str) -> str:
    """Run what must be refused: exit code 2 and one printable line on standard error."""
    before = files()
    code = cli.main(arguments)
    out, err = capsys.readouterr()
    # How long it takes is said before work begins, on a slow machine also of what is refused then.
    err = re.sub(r"\ATakes about [^\n]*\n", "", err)
    assert code == 2
    assert out == ""
    assert err.endswith((".\n", "?\n"))
    assert err.count("\n") == 1
    assert err.rstrip("\n").isprintable()
    assert files() == before
    return err


# ---- What it answers


def test_samples(capsys: Captured) -> None:
    out = answer(capsys, "samples")
    for name in samples.names():
        assert name in out
        assert samples.load(name).title in out


def test_new_and_check(capsys: Captured) -> None:
    answer(capsys, "new", "mine.toml", "--from", "two-start-band")
    assert Path("mine.toml").read_text(encoding="utf-8") == samples.text("two-start-band")
    assert answer(capsys, "check", "mine.toml") == answer(capsys, "check", "sample:two-start-band")


def test_new_for_a_blank_that_was_measured(capsys: Captured) -> None:
    Path("r.csv").write_text("at (mm);diameter\n300;15,25\n420;14,6\n", encoding="utf-8")
    given = {"--readings": "r.csv", "--ends": "310,410", "--wrap": "scales beside a band"}

    def words_for(**changed: str) -> list[str]:
        options = given | {f"--{name}": value for name, value in changed.items()}
        return [word for option in options.items() for word in option]

    told = answer(
        capsys, "new", "heath.toml", *words_for(thread="Kingfisher Blue A", customer="Wren Alder")
    )
    assert told.startswith('"heath.toml" is there, fitted to your readings: turnlight check ')
    made = tomllib.loads(Path("heath.toml").read_text(encoding="utf-8"))
    assert (made["title"], made["order"]) == ("heath", {"customer": "Wren Alder"})
    assert "notes" not in made
    assert "variants" not in made
    assert made["layers"][1]["thread"] == "Kingfisher Blue A"
    for wrong, words in (
        ({"wrap": "opn diamonds"}, "did you mean open diamonds?"),
        ({"ends": "310"}, '--ends: "310" is not two lengths'),
        ({"grips": "310"}, '--grips: "310" is not two lengths'),
        ({"ends": "31,410"}, "before the first station"),
        ({"readings": "none.csv"}, '"none.csv" is not there'),
        ({"thread": "Nowhere A"}, "Nowhere A"),
    ):
        assert words in refusal(capsys, "new", "other.toml", *words_for(**wrong))
    assert not Path("other.toml").exists()
    del given["--ends"]
    refused = refusal(capsys, "new", "other.toml", *words_for(grips="310,"))
    assert '--grips "310,": the place where the wrap ends is missing' in refused
    for grips, words in (
        ("410,310", "310 mm is not beyond 410 mm, where the grip before the wrap ends"),
        ("x,410", '"x" is not a number'),
        ("310,9000", "9000 mm is not between 0 and 6000 mm"),
    ):
        refused = refusal(capsys, "new", "other.toml", *words_for(grips=grips))
        assert refused.startswith(f'--grips "{grips}": {words}')
    refused = refusal(capsys, "new", "other.toml", *words_for(ends="310,90000"))
    assert refused.startswith('--ends "310,90000": 90000 mm is not between')
    answer(capsys, "new", "other.toml", *words_for(grips="310,410"))
    made = tomllib.loads(Path("other.toml").read_text(encoding="utf-8"))
    assert [(one["from"], one["to"]) for one in made["blank"]["fitted"]] == [(190, 310), (410, 530)]


def test_new_says_what_check_will_warn_of(capsys: Captured) -> None:
    readings = "100 19\n300 18\n400 21\n500 17\n700 16\n"
    Path("r.csv").write_text(readings, encoding="utf-8")
    options = ("--readings", "r.csv", "--grips", "190,420", "--wrap", "open diamonds")
    told = answer(capsys, "new", "mine.toml", *options)
    assert "warning: Diameter of station 3 of the blank: 21 mm at 400 mm is" in told
    (warning,) = (line for line in told.splitlines() if line.startswith("warning: "))
    assert warning.removeprefix("warning: ") in answer(capsys, "check", "mine.toml")


def test_new_names_the_line_of_a_reading(capsys: Captured) -> None:
    words = ("--ends", "220,290", "--wrap", "open diamonds", "--readings", "r.csv")
    # Lines are those of the file: a heading and an empty line count, and their order does not.
    for text, told in (
        ("at;dia\n300;12\n\n250;11.8\n200;900\n", "line 5: 900 mm is not between 0.5 and 60 mm"),
        (
            "at;dia\n200;12\n300;9\n200;9\n",
            "line 2: 200 mm is the same place as the reading before",
        ),
        ("200;12\n300;x\n", '"x" in line 2 is not a number'),
    ):
        Path("r.csv").write_text(text, encoding="utf-8")
        refused = refusal(capsys, "new", "other.toml", *words)
        assert refused.startswith('--readings "r.csv"')
        assert told in refused
        assert not Path("other.toml").exists()


def test_check_tells_weight_and_balance_that_follow_from_a_wall(capsys: Captured) -> None:
    text = samples.text("open-diamonds").replace(
        "stations = [", "length = 700\nwall = 1\ndensity = 1.5\nstations = [", 1
    )
    Path("rod.toml").write_text(text, encoding="utf-8")
    told = answer(capsys, "check", "rod.toml")
    assert re.search(r"weight of the bare blank +\d", told)
    assert re.search(r"balance point with the wrap, from butt +\d", told)
    assert "Wall of the blank" not in told
    Path("rod.toml").write_text(text.replace("wall = 1\n", "wall = 12\n"), encoding="utf-8")
    told = answer(capsys, "check", "rod.toml")
    assert (
        "Wall of the blank: 12 mm is more than from the outside of the blank to its middle" in told
    )
    assert "a solid rod all the way" in told


def test_all_wrong_values_of_a_file_are_told_at_once(capsys: Captured) -> None:
    text = samples.text("half-scale").replace("angle = 45", "angle = 400")
    text = text.replace("coats = 2", 'coats = "x"').replace("gap = 21.2", "gup = 21.2")
    Path("mine.toml").write_text(text, encoding="utf-8")
    assert cli.main(["check", "mine.toml"]) == 2
    told = capsys.readouterr().err.splitlines()
    assert all(line.startswith('"mine.toml": ') and line.endswith((".", "?")) for line in told)
    for line, words in zip(told, ("did you mean gap?", "400 degrees", '"x" is not'), strict=True):
        assert words in line


def test_new_never_overwrites(capsys: Captured) -> None:
    Path("mine.toml").write_text("mine", encoding="utf-8")
    assert "is there already" in refusal(capsys, "new", "mine.toml", "--from", "half-scale")
    assert Path("mine.toml").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("blank", ["", "\n \n"])
def test_new_fills_an_empty_file_as_check_advises(capsys: Captured, blank: str) -> None:
    Path("mine.toml").write_text(blank, encoding="utf-8")
    assert "start from a sample with turnlight new" in refusal(capsys, "check", "mine.toml")
    answer(capsys, "new", "mine.toml", "--from", "two-start-band")
    assert Path("mine.toml").read_text(encoding="utf-8") == samples.text("two-start-band")


def test_new_without_a_sample_says_how_they_are_listed(capsys: Captured) -> None:
    assert "(turnlight samples lists them)" in refusal(capsys, "new", "mine.toml")
    assert "`turnlight samples`" in " ".join(
        answer(capsys, "new", "--help").replace("│", "").split()
    )


@pytest.mark.parametrize("option", ["zoom", "exposure", "along", "rise", "walk", "coats"])
def test_an_option_is_refused_by_its_own_name(capsys: Captured, option: str) -> None:
    value = "-3" if option == "coats" else "nan"
    err = refusal(capsys, "still", SAMPLE, "-o", "a.png", f"--{option}", value)
    assert err.startswith(f"{option}: {value} is ")


def test_a_wrong_value_is_shown_as_it_is_written(capsys: Captured) -> None:
    text = samples.text("half-scale").replace('laid = "constant gap"', 'laid = "constant  gap"')
    Path("mine.toml").write_text(text, encoding="utf-8")
    assert '"constant  gap" is not one of' in refusal(capsys, "check", "mine.toml")


@pytest.mark.skipif(os.name == "nt", reason="the shell of Windows quotes otherwise")
@pytest.mark.parametrize("name", ["my wrap.toml", "it's; mine.toml", "./-x.toml", "$HOME.toml"])
def test_new_prints_a_command_that_can_be_pasted(capsys: Captured, name: str) -> None:
    told = answer(capsys, "new", name, "--from", "half-scale")
    command = told.partition(": ")[2].partition(" shows its numbers")[0]
    verb, *arguments = shlex.split(command)
    assert verb == "turnlight"
    assert answer(capsys, *arguments) == answer(capsys, "check", SAMPLE)


@pytest.mark.skipif(os.name == "nt", reason="no such names on Windows")
def test_new_prints_no_command_for_a_name_that_cannot_be_typed(capsys: Captured) -> None:
    told = answer(capsys, "new", "a\nb.toml", "--from", "half-scale")
    assert told == '"a\\nb.toml" is there, from the sample half-scale.\n'


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["new", "m.toml"], "--from is missing: a sample's name, such as half-scale (turnlight "),
        (["new", "m.toml", "--wrap", "x"], "--readings is missing: give --readings, --ends and "),
        (["new", "m.toml", "--from", "x", "--ends", "1,2"], "--ends does not go with --from; "),
        (["new", "m.toml", "--from", "x", "--grips", "1,2"], "--grips does not go with --from; "),
        (["new"], "FILE is missing: the file to make; "),
        (["still", SAMPLE, "-o"], "-o has nothing behind it: a PNG file; see "),
        (["chart", "import"], "PICTURE is missing: a PNG, JPEG or WebP file; "),
        (["still"], "FILE is missing; see "),
    ],
)
def test_what_is_missing_is_named_with_what_it_is(
    capsys: Captured, arguments: list[str], told: str
) -> None:
    assert refusal(capsys, *arguments).startswith(told)
    assert files() == []


def test_check_takes_variants_and_dry(capsys: Captured) -> None:
    as_designed = answer(capsys, "check", SAMPLE)
    wide = answer(capsys, "check", SAMPLE, "--variant", "wide gap")
    assert "gap            21.2 mm" in as_designed
    assert "gap            36 mm" in wide


def test_the_builders_own_shelf(capsys: Captured) -> None:
    Path("own.toml").write_text(
        '[[threads]]\nname = "Home Dyed Plum"\nkind = "nylon"\nsize = "A"\ncolour = "#603060"\n'
        "diameter = 0.17\ntex = 23\nspool = 50\nprice = 1\n",
        encoding="utf-8",
    )
    text = samples.text("half-scale").replace("Heron Silver A", "Home Dyed Plum")
    Path("mine.toml").write_text(text, encoding="utf-8")
    assert "Home Dyed Plum" in refusal(capsys, "check", "mine.toml")
    assert "Home Dyed Plum" in answer(capsys, "check", "mine.toml", "--shelf", "own.toml")


@pytest.mark.parametrize("command", ["", *VERBS])
def test_help(capsys: Captured, command: str) -> None:
    assert "Usage: turnlight" in answer(capsys, *filter(None, [command]), "--help")


def test_there_are_just_these_commands() -> None:
    verbs = {name for name in cli.app if not name.startswith("-")}
    assert verbs == set(VERBS)


@pytest.mark.parametrize(("place", "sentence"), cli.COMMANDS.items())
def test_a_command_is_listed_by_the_first_sentence_of_its_docstring(
    place: str, sentence: str
) -> None:
    module, _, name = place.partition(":")
    command = getattr(importlib.import_module(f"render.cli.{module}"), name)
    text = command.help if isinstance(command, App) else inspect.getdoc(command)
    assert text.splitlines()[0] == sentence


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("frobnicate", '"frobnicate" is not a command; see turnlight --help.\n'),
        ("tempalte", '"tempalte" is not a command; did you mean template?\n'),
        ("--dry", '"--dry" is not an option that goes before a command; see turnlight --help.\n'),
    ],
)
def test_what_is_no_command_is_said_to_be_none(capsys: Captured, word: str, told: str) -> None:
    assert refusal(capsys, word) == told


@pytest.mark.render
@pytest.mark.usefixtures("quick_reading")
def test_a_still(capsys: Captured) -> None:
    Path("a.png").write_bytes(b"old")
    out = answer(
        capsys, "still", SAMPLE, "-o", "a.png", "--size", "96x54", "--detail", "draft",
        "--view", "three-quarter", "--light", "low-sun", "--turn", "-30", "--light-turn", "20",
        "--dry", "--variant", "wide gap", "--backdrop", "ffffff", "--vision", "deutan",
    )  # fmt: skip
    assert out == "a.png: 96x54\n"
    with Image.open("a.png") as image:
        assert image.size == (96, 54)
        assert image.text["Description"] == "as seen with deutan vision"  # type: ignore[attr-defined]
        assert min(image.getpixel((48, 2))) > 160  # type: ignore[arg-type, type-var]
    assert files() == ["a.png"]


@pytest.mark.render
@pytest.mark.usefixtures("undrawn")
def test_a_long_command_says_beforehand_how_long_it_takes(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path / "state"))
    order: list[str] = []

    def picture(*_: object) -> np.ndarray:
        order.append(capsys.readouterr().err)
        return np.zeros((720, 1280, 3), np.uint8)

    monkeypatch.setattr(LiveScene, "picture", picture)
    command = ["turntable", SAMPLE, "-o", "a.gif", "--size", "1280x720", "--frames", "2"]
    assert cli.main([*command, "--detail", "draft"]) == 0
    assert re.fullmatch(r"Takes about \d+ to \d+ seconds here, estimated: .*\n", order[0])
    # The next time it is known.
    order.clear()
    assert cli.main([*command, "--detail", "draft"]) == 0
    assert re.fullmatch(r"(Takes about \d+ seconds? here\.\n)?", order[0])
    kept = json.loads((tmp_path / "state" / "cache" / "export-times.json").read_text())
    assert len(kept["turntable .gif 1280x720 2 draft 1"]) == 2


def test_a_still_says_what_is_lost(capsys: Captured, monkeypatch: pytest.MonkeyPatch) -> None:
    line = BandReport(
        "trim", "the line", "the cover", 1.8, 0.0, 0.4, 0.1, 0.2, True, "The line disappears."
    )
    seen = dataclasses.replace(line, sentence=None)
    monkeypatch.setattr("render.output.still.read_trims", lambda *_, **__: (seen, line))
    arguments = ["--size", "64x36", "--detail", "draft"]
    out = answer(capsys, "still", SAMPLE, "-o", "a.png", *arguments)
    assert out == "a.png: 64x36\nThe line disappears.\n"


@pytest.mark.render
@pytest.mark.usefixtures("undrawn", "quick_reading")
def test_a_photo(capsys: Captured) -> None:
    code = cli.main(
        ["still", SAMPLE, "-o", "a.png", "--size", "64x36", "--detail", "draft", "--photo",
         "--samples", "5", "--engine", "scalar"]
    )  # fmt: skip
    assert code == 0
    out, err = capsys.readouterr()
    cores = "1 core" if os.cpu_count() == 1 else f"{os.cpu_count()} cores"
    assert out == f"a.png: 64x36, photo: {cores}\n"
    assert err == f"About 60 seconds for a photo of 64x36 at 5 samples a pixel (photo: {cores}).\n"


@pytest.mark.render
@pytest.mark.usefixtures("coarse_mesh")
def test_a_turntable(capsys: Captured) -> None:
    out = answer(
        capsys, "turntable", SAMPLE, "--output", "a.webp", "--size", "64x36", "--frames", "3",
        "--seconds", "1.5", "--detail", "draft",
    )  # fmt: skip
    assert out.startswith("a.webp: 3 frames of 64x36, 1.5 s a turn, ")
    assert files() == ["a.webp"]


@pytest.mark.render
@pytest.mark.usefixtures("undrawn")
def test_a_turntable_made_to_fit(capsys: Captured) -> None:
    arguments = ["turntable", SAMPLE, "--size", "480x270", "--frames", "4", "--detail", "draft"]
    whole = answer(capsys, *arguments, "-o", "a.webp")
    assert re.match(r"a\.webp: 4 frames of 480x270, 6 s a turn, 0\.\d+ MB\n", whole)
    most = f"{0.6 * Path('a.webp').stat().st_size / 1e6:.3f}"
    out = answer(capsys, *arguments, "-o", "b.webp", "--max-mb", most)
    told = r"b\.webp: made (\d+)x\d+ with 4 frames to fit 0\.\d+ MB: 0\.\d+ MB, 6 s a turn\n"
    found = re.fullmatch(told, out)
    assert found is not None, out
    with Image.open("b.webp") as image:
        assert image.width == int(found[1]) < 480
    assert Path("b.webp").stat().st_size <= 1e6 * float(most)


@pytest.mark.render
@pytest.mark.usefixtures("undrawn", "quick_reading")
def test_a_comparison_made_to_fit(capsys: Captured) -> None:
    arguments = [
        "compare", SAMPLE, "--sweep", "relief.gap=14,26", "--size", "480x240", "--frames", "3",
        "--seconds", "1", "--detail", "draft", "--vision", "tritan",
    ]  # fmt: skip
    whole = answer(capsys, *arguments, "-o", "a.gif")
    assert re.match(r"a\.gif: 480x240, 0\.\d+ MB, from top to bottom: gap 14 mm; gap 26 mm", whole)
    assert "as seen with tritan vision" in whole
    most = f"{0.6 * Path('a.gif').stat().st_size / 1e6:.3f}"
    out = answer(capsys, *arguments, "-o", "b.gif", "--max-mb", most)
    found = re.match(r"b\.gif: made (\d+x\d+) with 3 frames to fit .* MB, from top to bottom", out)
    assert found is not None, out
    with Image.open("b.gif") as image:
        assert f"{image.width}x{image.height}" == found[1]
    assert Path("b.gif").stat().st_size <= 1e6 * float(most)


@pytest.mark.render
@pytest.mark.usefixtures("quick_reading")
def test_a_comparison(capsys: Captured) -> None:
    code = cli.main(
        ["compare", SAMPLE, "sample:graded-trim", "-o", "a.png", "--size", "160x160",
         "--detail", "draft"]
    )  # fmt: skip
    out, err = capsys.readouterr()
    assert code == 0
    assert "Ossery half-scale; Duskwater grade" in out
    # What was made alike is said.
    assert err == "" or "All are in the light of the first" in err
    with Image.open("a.png") as image:
        assert image.size == (160, 160)
    # A row for each line of each trim, with its design beside the first.
    rows = [line.split("  ")[0] for line in out.splitlines()[2:]]
    assert [row for row in rows if row][1:] == ["Ossery half-scale", "Duskwater grade"]
    assert "cover on the flat" in out


def test_an_export(capsys: Captured) -> None:
    out = answer(capsys, "export", "sample:two-start-band", "-o", "a.stl")
    assert "lengths in mm" in out
    assert files() == ["a.stl"]
    out = answer(capsys, "export", "sample:two-start-band", "-o", "b.glb", "--detail", "draft")
    assert "textures of 256 × 737, lengths in m, " in out


# ---- What it refuses


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["bogus"], "bogus"),
        (["still"], "FILE"),
        (["still", SAMPLE], "--output"),
        (["still", SAMPLE, "-o", "a.png", "--bogus", "3"], "--bogus"),
        (["still", SAMPLE, "-o", "a.png", "--sise", "96x54"], "--size"),
        (["still", SAMPLE, "other.toml", "-o", "a.png"], "other.toml"),
        (["still", SAMPLE, "-o", "a.png", "--size", "0x0"], "size: 0x0"),
        (["still", SAMPLE, "-o", "a.png", "--size", "100000x100"], "size: 100000x100"),
        (["still", SAMPLE, "-o", "a.png", "--size", "8000x8000"], "64 megapixels"),
        (["still", SAMPLE, "-o", "a.png", "--size", "-3x5"], "size: "),
        (["still", SAMPLE, "-o", "a.png", "--size", "large"], "such as 1280x720"),
        (["still", SAMPLE, "-o", "a.png", "--detail", "finest"], "did you mean fine?"),
        (["still", SAMPLE, "-o", "a.png", "--view", "sideways"], "three-quarter"),
        (["still", SAMPLE, "-o", "a.png", "--light", "soft boxen"], "did you mean soft boxes?"),
        (["still", SAMPLE, "-o", "a.png", "--turn", "nan"], "turn: nan"),
        (["still", SAMPLE, "-o", "a.png", "--turn", "left"], "not a number"),
        (["still", SAMPLE, "-o", "a.png", "--light-turn", "1e9"], "light-turn: 1e+09"),
        (["still", SAMPLE, "-o", "a.png", "--variant", "wide"], "did you mean wide gap?"),
        (["still", SAMPLE, "-o", "a.png", "--shelf", "none.toml"], "none.toml"),
        (["still", SAMPLE, "-o", "a.png", "--backdrop", "pink"], '"pink" is not a colour'),
        (["still", SAMPLE, "-o", "a.png", "--coats", "99"], "coats: 99 is not"),
        (["still", SAMPLE, "-o", "a.png", "--coats", "1.5"], "not a whole number"),
        (["still", SAMPLE, "-o", "a.png", "--coats", "1", "--dry"], "keep one"),
        (["still", SAMPLE, "-o", "a.png", "--vision", "deuteran"], "did you mean deutan?"),
        (["still", SAMPLE, "-o", "a.png", "--samples", "64"], "give --photo too"),
        (["still", SAMPLE, "-o", "a.png", "--photo", "--samples", "0"], "samples: 0"),
        (["compare", SAMPLE, "-o", "a.png", "--photo", "--samples", "9999"], "samples: 9999"),
        (["turntable", SAMPLE, "-o", "a.gif", "--samples", "x", "--photo"], "not a whole number"),
        (["turntable", SAMPLE, "-o", "a.gif", "--max-mb", "0"], "max-mb: 0"),
        (["turntable", SAMPLE, "-o", "a.gif", "--max-mb", "nan"], "max-mb: nan"),
        (["turntable", SAMPLE, "-o", "turn", "--max-mb", "2"], "only a moving picture"),
        (["compare", SAMPLE, "-o", "a.png", "--max-mb", "2"], "only a moving picture"),
        (["still", SAMPLE, "-o", "a.jpg"], "give .png"),
        (["still", SAMPLE, "-o", "a"], "give .png"),
        (["still", SAMPLE, "-o", "none/a.png"], "make it first"),
        (["still", "none.toml", "-o", "a.png"], "is not there"),
        (["still", "sample:none", "-o", "a.png"], "half-scale"),
        (["check", "."], "is a folder"),
        (["check", "sample:"], "half-scale"),
        (["turntable", SAMPLE, "-o", "a.gif", "--frames", "0"], "frames: 0"),
        (["turntable", SAMPLE, "-o", "a.gif", "--frames", "100000"], "frames: 100000"),
        (["turntable", SAMPLE, "-o", "a.gif", "--frames", "2.5"], "not a whole number"),
        (["turntable", SAMPLE, "-o", "a.gif", "--seconds", "nan"], "seconds: nan"),
        (["turntable", SAMPLE, "-o", "a.gif", "--seconds", "inf"], "seconds: inf"),
        (["turntable", SAMPLE, "-o", "a.gif", "--seconds", "-6"], "seconds: -6"),
        (["turntable", SAMPLE, "-o", "a.gif", "--seconds", "0.1"], "quicker than a GIF"),
        (["turntable", SAMPLE, "-o", "a.mp4", "--size", "65x37"], "66x38"),
        (["turntable", SAMPLE, "-o", "a.webp", "--size", "7000x5000"], "give 17 or fewer"),
        (["turntable", SAMPLE, "-o", "a.avi"], ".html or no ending for a folder"),
        (["turntable", SAMPLE, "-o", "none/a.gif"], "make it first"),
        (["compare", SAMPLE, "-o", "a.webp"], "give .png, .gif, .mp4 or .html"),
        (["compare", SAMPLE, "-o", "a.png", "--sweep", "relief.gap"], "relief.gap=14,20,26"),
        (["compare", SAMPLE, "-o", "a.png", "--sweep", "relief.gap=14,wide"], "not a number"),
        (["compare", SAMPLE, "-o", "a.png", "--sweep", "relief.gpa=1,2"], "did you mean gap?"),
        (["compare", SAMPLE, "-o", "a.png", "--sweep", "relief.gap=14,99"], "of the relief: 99 mm"),
        (["compare", SAMPLE, "-o", "a.png", "--sweep", "relief.gap=14"], "not two designs"),
        (["compare", SAMPLE, "-o", "a.png", "--sweep", 'light.kind="low sun"'], "one light"),
        (["compare", SAMPLE, "-o", "a.png", "--variants", "--sweep", "relief.gap=1,2"], "keep one"),
        (["compare", SAMPLE, SAMPLE, "-o", "a.png"], "not two designs"),
        (["compare", SAMPLE, SAMPLE, "-o", "a.png", "--variants"], "2 files are given"),
        (["compare", SAMPLE, "-o", "a.png", "--size", "640x100"], "no room for 5 designs"),
        (["compare", SAMPLE, "-o", "a.gif", "--frames", "0"], "frames: 0"),
        (["export", SAMPLE, "-o", "a.obj"], "give .glb, .stl or .ply"),
        (["export", SAMPLE, "-o", "a.stl", "--detail", "x"], "detail: "),
        (["new", "mine.toml", "--from", "none"], "half-scale"),
        (["new", "none/mine.toml", "--from", "half-scale"], "make it first"),
        (["new", "mine.toml"], "--from"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)  # fmt: skip
def test_refused(capsys: Captured, arguments: list[str], words: str) -> None:
    assert words in refusal(capsys, *arguments)


@pytest.mark.render
@pytest.mark.usefixtures("undrawn")
def test_what_cannot_be_made_to_fit(capsys: Captured) -> None:
    arguments = ["--size", "160x90", "--frames", "4", "--detail", "draft", "--max-mb", "0.01"]
    said = refusal(capsys, "turntable", SAMPLE, "-o", "a.gif", "--seconds", "1", *arguments)
    assert "the smallest, 160x90 with 4 frames, has 0." in said


@pytest.mark.parametrize("command", ["still", "turntable", "compare"])
def test_a_photo_without_the_extra(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    monkeypatch.setitem(sys.modules, "mitsuba", None)
    output = "a.png" if command != "turntable" else "a.gif"
    assert "pip install" in refusal(capsys, command, SAMPLE, "-o", output, "--photo")


def test_a_variant_of_a_design_without_any(capsys: Captured) -> None:
    text = samples.text("half-scale").partition("[[variants]]")[0]
    Path("mine.toml").write_text(text, encoding="utf-8")
    assert "has none" in refusal(capsys, "still", "mine.toml", "-o", "a.png", "--variant", "dry")
    assert "no variants" in refusal(capsys, "compare", "mine.toml", "-o", "a.png")


def test_page_is_not_opened_on_nothing(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    monkeypatch.setenv("TURNLIGHT_STATE", str(tmp_path_factory.mktemp("state")))
    assert "not there" in refusal(capsys, "open", "missing.toml")
    assert "70000" in refusal(capsys, "open", SAMPLE, "--port", "70000")


def test_too_much_detail_says_how_much(capsys: Captured) -> None:
    Path("mine.toml").write_text(
        samples.text("half-scale")
        .replace("at = 110,", "at = 1,")
        .replace("at = 700, diameter = 15.35", "at = 1200, diameter = 15")
        .replace("from = 326 ", "from = 100 ")
        .replace("to = 446", "to = 1080"),
        encoding="utf-8",
    )
    assert "GB" in refusal(capsys, "export", "mine.toml", "-o", "a.stl", "--detail", "fine")


def test_a_refusal_leaves_the_old_file(capsys: Captured) -> None:
    Path("a.gif").write_bytes(b"old")
    refusal(capsys, "turntable", SAMPLE, "-o", "a.gif", "--frames", "0")
    assert Path("a.gif").read_bytes() == b"old"


def test_a_fault_of_ours_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    def wrong(*_: object, **__: object) -> None:
        raise ValueError("a mistake in the program")

    monkeypatch.setattr("render.cli.check_command.report", wrong)
    with pytest.raises(ValueError, match="a mistake in the program"):
        cli.main(["check", SAMPLE])


@pytest.mark.parametrize(
    ("failure", "words"),
    [
        (DrawingProblem("The picture could not be drawn: no shader."), "no shader."),
        (OSError(28, "No space left on device", "a.png"), '"a.png": No space left on device.'),
        (MemoryError(), "There is not enough memory for this"),
    ],
    ids=["no picture", "full disk", "no memory"],
)
def test_what_this_machine_cannot_do(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch, failure: Exception, words: str
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise failure

    monkeypatch.setattr("render.cli.check_command.report", fail)
    assert cli.main(["check", SAMPLE]) == 1
    err = capsys.readouterr().err
    assert words in err
    assert err.count("\n") == 1


# ---- Ctrl-C


@pytest.mark.render
@pytest.mark.parametrize("output", ["a.gif", "a.mp4", "turn"])
def test_ctrl_c_in_a_turntable(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch, output: str
) -> None:
    taken = 0

    def picture(scene: LiveScene, turn: float | None = None) -> object:
        nonlocal taken
        taken += 1
        if taken == 3:
            raise KeyboardInterrupt
        return np.zeros((scene.size[1], scene.size[0], 3), np.uint8)

    monkeypatch.setattr(LiveScene, "picture", picture)
    arguments = ["--size", "64x36", "--frames", "8", "--detail", "draft"]
    assert cli.main(["turntable", SAMPLE, "-o", output, *arguments]) == 130
    out, err = capsys.readouterr()
    assert (out, without_forecast(err)) == ("", "Stopped; nothing was written.\n")
    assert files() == []


@pytest.mark.render
@pytest.mark.usefixtures("undrawn", "quick_reading")
@pytest.mark.parametrize("command", ["still", "turntable", "compare"])
def test_ctrl_c_in_a_photo(capsys: Captured, monkeypatch: pytest.MonkeyPatch, command: str) -> None:
    def picture(scene: PhotoScene, turn: float | None = None) -> object:
        scene.step(1, 16)
        raise KeyboardInterrupt

    monkeypatch.setattr(PhotoScene, "picture", picture)
    output = "a.png" if command != "turntable" else "a.gif"
    arguments = ["-o", output, "--photo", "--detail", "draft", "--size", "160x160"]
    sweep = ["--sweep", "relief.gap=14,26"] if command == "compare" else []
    assert cli.main([command, SAMPLE, *sweep, *arguments]) == 130
    out, err = capsys.readouterr()
    assert out == ""
    assert re.search(r"^About \d+ (second|minute)s? for ", err, re.MULTILINE)
    assert err.endswith("\nStopped; nothing was written.\n")
    assert files() == []


def start(*arguments: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-m", "render", *arguments],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # What runs in a shell's background ignores Ctrl-C, and its children would too.
        preexec_fn=None if sys.platform == "win32" else _heed_the_keyboard,
    )


def _heed_the_keyboard() -> None:
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.render
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no signal that only Ctrl-C sends")
def test_ctrl_c_from_the_keyboard() -> None:
    Path("a.mp4").write_bytes(b"old")
    program = start(
        "turntable", SAMPLE, "-o", "a.mp4", "--size", "64x36", "--frames", "700", "--seconds",
        "60", "--detail", "draft",
    )  # fmt: skip
    # The half-made film lies beside the old one and has something in it: now it is being drawn.
    eventually(lambda: len(files()) == 2 and all(Path(one).stat().st_size > 0 for one in files()))
    program.send_signal(signal.SIGINT)
    out, err = program.communicate(timeout=WITHIN)
    assert program.returncode == 130
    assert (out, without_forecast(err)) == ("", "Stopped; nothing was written.\n")
    assert files() == ["a.mp4"]
    assert Path("a.mp4").read_bytes() == b"old"


def test_a_refusal_as_a_program() -> None:
    program = start("check", "none.toml")
    out, err = program.communicate(timeout=WITHIN)
    assert (program.returncode, out) == (2, "")
    assert err.startswith('"none.toml" is not there')
    assert err.count("\n") == 1


def test_a_reader_that_has_seen_enough() -> None:
    program = start("samples")
    assert program.stdout is not None
    program.stdout.close()
    assert program.stderr is not None
    err = program.stderr.read()
    program.stderr.close()
    program.wait(timeout=WITHIN)
    assert err == ""
