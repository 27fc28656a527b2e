"""The text of `check`: every figure with its unit, in the units of the file."""

import dataclasses
import re

import pytest

from materials.shelf import Shelf
from render.cli.report import report
from render.request.subject import Subject
from scenes.design.document import Design, with_changes
from scenes.design.variants import design_hash
from scenes.files import samples
from tests.varied_samples import VARIED


def report_text(design: Design) -> str:
    return report(Subject(design, Shelf.shipped()))


def line(text: str, name: str) -> str:
    return next(one for one in text.splitlines() if one.startswith(f"{name} "))


def test_half_scale_in_mm() -> None:
    design = samples.load("half-scale")
    text = report_text(design)
    assert text.splitlines()[:2] == [design.title, f"design {design_hash(design)}"]
    # By hand: the blank is 16.9 mm thick; p = pi 16.9 / tan 45 degrees = 53.09;
    # w = (p - 21.2) sin 45 degrees = 22.55; share = w / (p sin 45 degrees) = 60.1 %.
    assert line(text, "blank").endswith("16.9 mm thick at the middle of the wrap")
    assert line(text, "pitch").endswith(" 53.09 mm a turn")
    assert " 22.55 mm, 7.99 cells" in line(text, "strip width")
    assert line(text, "gap").endswith(" 21.2 mm along the blank")
    assert " 60.1 % " in line(text, "covered share")
    # 7 and 8 cells of 2.822 mm, and what each leaves of 53.09 mm.
    assert line(text, "whole cells").endswith(
        "7 cells are 19.75 mm wide and leave a gap of 25.16 mm"
    )
    assert "8 cells are 22.58 mm wide and leave a gap of 21.17 mm" in text
    # 136 mm of cover in rows of 0.17 mm.
    assert line(text, "cover").endswith("318 to 454 mm, 800 rows and more over slopes")


def test_a_file_in_inches_is_told_in_inches() -> None:
    text = report_text(samples.load("two-start-band"))
    assert "12 to 15.6 in, 3.6 in long" in line(text, "wrap")
    assert " 0.5 in along the blank" in line(text, "gap")
    assert " mm" not in text
    assert re.search(r"Kingfisher Blue A +\d+\.\d ft +\d\.\d\d g +load \d+\.\d ft", text)


@pytest.mark.parametrize("name", VARIED)
def test_every_figure_has_a_unit(name: str) -> None:
    design = samples.load(name)
    units = (
        r"mm|in|m|ft|g|ml|min|h|%|degrees?|cells?|turns?|rows|drops|round|each|a turn|"
        "in your money"
    )
    # A count stands alone beside the name of what is counted.
    counted = re.compile(r" +[a-z][a-z :,-]+?  +\d+( ± \d+)?")
    body = report_text(design).partition("\n\n")[2]
    for row in body.splitlines():
        if "turns" in row or counted.fullmatch(row):
            continue
        # A pigment's number stands before its name.
        row = re.sub(r"^ +\d  (?=[A-Z])", "", row)
        for figure in re.finditer(r"(?<![\w/])\d+(\.\d+)?(?![\w/.])", row):
            rest = row[figure.end() :]
            # "290 to 410 mm", "25.4 ± 0.3 mm": the unit of both stands once.
            rest = re.sub(r"^ (to|±) \d+(\.\d+)?", "", rest)
            assert re.match(rf" ({units})\b| %", rest), row


def test_each_pigment_has_its_amount() -> None:
    """By hand: 24 drops of 7 mm and 0.15 mm on average are 0.14 ml; of the others, 23 each."""
    rows = report_text(samples.load("marbled-panel")).splitlines()
    first = rows.index("  marbled, pigments in the order of the drops") + 1
    for row, words in zip(
        rows[first : first + 4],
        ("base ", "1  Shell ", "2  Lagoon ", "3  Ember "),
        strict=True,
    ):
        assert row.strip().startswith(words)
        assert row.endswith(" % of the coat")
    assert " 24 drops, 0.14 ml in all, " in rows[first + 1]
    assert " 23 drops, 0.1" in rows[first + 2]


def test_what_the_strip_does_by_itself() -> None:
    text = report_text(samples.load("half-scale"))
    assert line(text, "unsteered").endswith(
        "left to itself the strip would go from a gap of 23.53 mm to a gap of 18.99 mm"
    )
    assert "to an overlap of" in line(report_text(samples.load("full-mesh")), "unsteered")
    assert "unsteered " not in report_text(
        with_changes(samples.load("half-scale"), {"relief.laid": "unsteered"})
    )


def test_a_gap_that_cannot_be_held() -> None:
    # A blank that falls by 5 mm within 20 mm, as where a butt section ends.
    step = [(80, 17.5), (376, 17.5), (396, 12.5), (700, 11.5)]
    stations = [{"at": at, "diameter": diameter} for at, diameter in step]
    changes = {"blank.stations": stations, "blank.fitted": []}
    text = report_text(with_changes(samples.load("half-scale"), changes))
    assert (
        "  the constant gap of 21.2 mm cannot be held within 0.5 mm on this blank; it goes from "
    ) in text
    assert "cannot be held" not in report_text(samples.load("half-scale"))


def test_a_lattice() -> None:
    text = report_text(samples.load("cord-lattice"))
    assert "8 round the blank" in line(text, "diamonds")
    assert line(text, "crossings").endswith("1.8 mm high")


def test_warnings_are_told() -> None:
    design = samples.load("half-scale")
    stations = [{"at": 80, "diameter": 18.0}, {"at": 650, "diameter": 19.0}]
    text = report_text(with_changes(design, {"blank.stations": stations}))
    assert "warnings" in text
    assert "gets thicker towards the tip" in text
    assert "thicker than the other" not in report_text(design)


def test_a_grade_names_each_shade() -> None:
    text = report_text(samples.load("graded-trim"))
    assert sum("→" in one for one in text.splitlines()) == 9


def test_what_to_build_by() -> None:
    text = report_text(samples.load("half-scale"))
    # Eight cells of 2.822 mm are 22.576 mm, cut beside the ninth yarn; the gap asked for stays.
    assert line(text, "  strip width").endswith(" 22.6 ± 0.3 mm")
    assert line(text, "  yarn to cut beside").endswith(" 9")
    assert line(text, "  gap to hold by ruler, every turn").endswith(" 21.2 ± 0.5 mm")
    assert re.search(r"  weight of the wrap +\d\.\d ± \d\.\d g", text)
    for heading in ("cut plan", "marks", "finish", "weight", "time and cost"):
        assert f"\n\n{heading}\n  " in text


def test_a_spool_that_is_too_short_is_warned_of() -> None:
    shelf = Shelf.shipped()
    bronze = dataclasses.replace(shelf.thread("Bracken Bronze A"), left_m=45)
    short = shelf.with_own(Shelf([bronze]))
    text = report(Subject(samples.load("half-scale"), short))
    assert re.search(
        r"Bracken Bronze A: load 4\d\.\d m; the spool has 45 m, so have another spool ready", text
    )


def test_a_mark_that_cannot_be_put_on_pictures_is_warned_of() -> None:
    text = report_text(with_changes(samples.load("ringed-guide"), {"order.mark": "nowhere.png"}))
    assert 'Mark of the order: "nowhere.png" is not there' in text.partition("\nwarnings\n")[2]
