"""First designs: fitted to the blank, and with nothing of a sample but what is seen."""

import itertools
import math

import pytest

from geometry import winding
from materials.shelf import Shelf, ShelfProblem
from scenes.design.document import Design, document_of
from scenes.design.threads import thread_names
from scenes.files import samples, storage
from scenes.problems import DesignProblem
from scenes.quantities import Units
from scenes.starting.answers import field_at_fault, open_problems, read_answers
from scenes.starting.first_design import FirstAnswers, first_design, first_text, remarks
from scenes.starting.wrap_kinds import WRAP_KINDS, wrap_kind

SHELF = Shelf.shipped()

BLANKS = {
    "butt": (Units.MM, ((150, 31.0), (600, 27.0)), 200, 420),
    "middle": (Units.MM, ((300, 15.25), (360, 14.95), (440, 14.6)), 310, 420),
    "slim": (Units.MM, ((400, 8.2), (700, 6.9)), 480, 560),
    "tip": (Units.MM, ((1200, 4.1), (1500, 2.9)), 1300, 1340),
    "inches": (Units.IN, ((9, 0.61), (20, 0.55)), 11, 15),
    "short": (Units.MM, ((300, 15), (340, 14.9)), 305, 330),
    "measured at the ends": (Units.MM, ((300, 15), (420, 14.4)), 300, 420),
}


def answers_for(blank: str, wrap: str, **more: object) -> FirstAnswers:
    units, readings, start, end = BLANKS[blank]
    given = {"title": "My rod", "threads": (), **more}
    return FirstAnswers(
        units=units,
        readings=readings,
        start=start,
        end=end,
        wrap=wrap,
        **given,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("wrap", [kind.name for kind in WRAP_KINDS])
@pytest.mark.parametrize("blank", BLANKS)
def test_every_kind_fits_every_blank_without_a_warning(blank: str, wrap: str) -> None:
    design = first_design(answers_for(blank, wrap), SHELF)
    assert design.warnings == ()
    units, readings, start, end = BLANKS[blank]
    assert design.units is units
    assert [
        (one.at / units.in_mm, one.diameter / units.in_mm) for one in design.blank.stations
    ] == [pytest.approx(pair) for pair in readings]
    assert start * units.in_mm - 1e-6 <= design.placement.start
    assert design.placement.end <= end * units.in_mm + 1e-6


@pytest.mark.parametrize("kind", WRAP_KINDS, ids=lambda kind: kind.name)
def test_nothing_of_the_sample_comes_along_but_what_is_seen(kind) -> None:  # type: ignore[no-untyped-def]
    sample = samples.load(kind.sample)
    text = first_text(answers_for("middle", kind.name, customer="Wren Alder", rod="7"), SHELF)
    design = storage.parse(text, shelf=SHELF)
    assert (design.title, design.notes, design.variants) == ("My rod", "", ())
    assert (design.order.customer, design.order.rod) == ("Wren Alder", "7")
    assert design.blank.fitted == ()
    assert sample.title not in text
    assert "Ossery" not in text
    assert [layer.kind for layer in design.layers] == [layer.kind for layer in sample.layers]
    # Whatever thread is put in, its highlights are held; no exposure is meant for the sample's own.
    held = {"exposure": 0.0, "hold_highlights": True}
    assert design.light == sample.light.model_copy(update=held)
    assert design.camera == sample.camera
    assert design.finish.coats == sample.finish.coats
    assert design.finish.coat_thickness == pytest.approx(sample.finish.coat_thickness, abs=0.003)
    named = [name for path, name in thread_names(design) if not path.startswith("blank")]
    assert set(named) == set(kind.threads)


def test_on_its_own_blank_a_kind_looks_as_its_sample() -> None:
    """The same share of the blank is covered, by the share of strip and gap in one turn."""
    sample = samples.load("half-scale")
    stations = [(one.at, one.diameter) for one in sample.blank.stations]
    place = sample.placement
    design = first_design(
        FirstAnswers("x", Units.MM, stations, place.start, place.end, "scales beside a band"), SHELF
    )
    shares = [covered(one) for one in (sample, design)]
    assert shares[1] == pytest.approx(shares[0], abs=0.5 * 2.822 / strip_and_gap(sample))
    assert [document_of(one)["layers"][2]["threads"] for one in (sample, design)] == [
        document_of(sample)["layers"][2]["threads"]
    ] * 2


def covered(design: Design) -> float:
    strip = design.layers[0]
    radius = float(design.blank.measured().radius(design.placement.middle))
    return strip.width_on(radius) / strip_and_gap(design)  # type: ignore[attr-defined]


def strip_and_gap(design: Design) -> float:
    """From a strip's edge to the next one's, across the run: one turn's unrolled height."""
    radius = float(design.blank.measured().radius(design.placement.middle))
    return 2 * math.pi * radius * math.cos(design.layers[0].angle)  # type: ignore[attr-defined]


@pytest.mark.parametrize("blank", BLANKS)
def test_strips_are_cut_along_a_yarn(blank: str) -> None:
    for wrap in ("scales beside a band", "two narrow bands", "scales all round"):
        strip = first_design(answers_for(blank, wrap), SHELF).layers[0]
        design = first_design(answers_for(blank, wrap), SHELF)
        radius = float(design.blank.measured().radius(design.placement.middle))
        cells = strip.width_on(radius) / strip.cell  # type: ignore[attr-defined]
        assert cells == pytest.approx(round(cells), abs=0.03)
        gap = winding.gap_from_width(radius, strip.angle, strip.width_on(radius), strip.starts)  # type: ignore[attr-defined]
        assert float(gap) >= -1e-6


def test_threads_of_the_builders_choice_take_the_place_of_the_kinds_own() -> None:
    own = wrap_kind("scales beside a band").threads
    chosen = ("Kingfisher Blue A", "", "Gorse Gold A")
    design = first_design(answers_for("middle", "scales beside a band", threads=chosen), SHELF)
    named = dict.fromkeys(name for _, name in thread_names(design))
    assert list(named) == [chosen[0], own[1], chosen[2], *own[3:]]


def test_a_thread_that_is_on_no_shelf_is_refused() -> None:
    with pytest.raises(ShelfProblem, match="Nowhere"):
        first_design(answers_for("middle", "ringed ends", threads=("Nowhere A",)), SHELF)
    with pytest.raises(DesignProblem, match="are more than"):
        first_design(answers_for("middle", "ringed ends", threads=("Sloe Black A",) * 40), SHELF)


def test_readings_at_the_ends_of_the_wrap_alone_are_enough_and_it_is_said() -> None:
    answers = answers_for("measured at the ends", "scales beside a band")
    design = first_design(answers, SHELF)
    first, last = answers.readings[0][0], answers.readings[-1][0]
    spans = [layer.extent(design.placement) for layer in design.layers]
    assert first <= min(start for start, _ in spans)
    assert max(end for _, end in spans) <= last
    assert len(remarks(answers, design)) == 1
    assert "Measure the blank beyond both ends" in remarks(answers, design)[0]
    roomy = answers_for("middle", "scales beside a band")
    assert remarks(roomy, first_design(roomy, SHELF)) == []


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"start": 250}, "from", "before the first station"),
        ({"end": 900}, "to", "beyond the last station"),
        ({"end": 311}, "to", "makes the wrap 1 mm long"),
        ({"readings": ((300, 15.0), (440, 90.0))}, "readings", "diameter"),
        ({"wrap": "opn diamonds"}, "wrap", "did you mean open diamonds"),
    ],
)
def test_what_cannot_be_laid_names_its_question(given, field: str, said: str) -> None:  # type: ignore[no-untyped-def]
    units, readings, start, end = BLANKS["middle"]
    all_given = {"readings": readings, "start": start, "end": end, "wrap": "ringed ends"} | given
    with pytest.raises(DesignProblem, match=said) as caught:
        first_design(FirstAnswers("x", units, **all_given), SHELF)
    assert field_at_fault(caught.value.field) == field


def test_answers_may_be_unfinished() -> None:
    whole = {
        "title": "Heath rod",
        "units": "mm",
        "readings": "290 15,35\n420 14,6",
        "from": "300",
        "to": "410,5",
        "wrap": "Open  Diamonds",
    }
    assert open_problems(whole) == {}
    read = read_answers(whole)
    assert (read.end, read.wrap, read.customer) == (410.5, "open diamonds", "")
    for count in range(len(whole)):
        for kept in itertools.combinations(whole, count):
            given = {name: whole[name] for name in kept}
            problems = open_problems(given)
            assert problems
            assert set(problems) == set(whole) - set(kept)
    assert open_problems({**whole, "from": "3oo"}).keys() == {"from"}
    assert open_problems({**whole, "threads": 7, "title": "\x07"}).keys() == {"title"}
    with pytest.raises(DesignProblem, match="title is missing"):
        read_answers({})


GRIPS = {"below": 312.0, "above": 430.0}


@pytest.mark.parametrize("wrap", [kind.name for kind in WRAP_KINDS])
def test_between_grips_cover_and_finish_have_just_the_room(wrap: str) -> None:
    """The finish runs out 3 mm beyond the last thread (common practice, no source)."""
    units, readings, *_ = BLANKS["middle"]
    answers = FirstAnswers("x", units, readings, None, None, wrap, **GRIPS)
    design = first_design(answers, SHELF)
    assert design.warnings == ()
    assert remarks(answers, design) == []
    assert [grip.span for grip in design.blank.fitted] == [(192.0, 312.0), (430.0, 550.0)]
    assert all(grip.diameter > 15.25 for grip in design.blank.fitted)  # type: ignore[union-attr]
    laid = [layer.extent(design.placement) for layer in design.layers]
    assert min(start for start, _ in laid) == pytest.approx(312 + 3, abs=0.1)
    assert max(end for _, end in laid) == pytest.approx(430 - 3, abs=0.1)


def test_ends_given_at_the_grips_are_set_in_and_it_says_so() -> None:
    units, readings, *_ = BLANKS["middle"]
    answers = FirstAnswers("x", units, readings, 312.0, 430.0, "scales all round", **GRIPS)
    design = first_design(answers, SHELF)
    assert design.warnings == ()
    (remark,) = remarks(answers, design)
    assert "keep clear of the grips" in remark
    assert "from 324 mm to 418 mm" in remark


def test_a_grip_stands_for_the_end_of_the_wrap_beside_it() -> None:
    whole = {
        "title": "Heath rod",
        "units": "in",
        "readings": "9 0.61\n20 0.55",
        "below": "10",
        "to": "15",
        "wrap": "open diamonds",
    }
    assert open_problems(whole) == {}
    assert read_answers(whole).below == 10
    assert open_problems({**whole, "below": ""}).keys() == {"from"}
    assert open_problems({**whole, "below": "", "to": ""}).keys() == {"from", "to"}
    crossed = open_problems({**whole, "above": "9,5"})
    assert crossed.keys() == {"above"}
    assert crossed["above"].startswith("9.5 in is not beyond 10 in")
    (grip,) = first_design(read_answers(whole), SHELF).blank.fitted
    assert grip.span == pytest.approx((10 * 25.4 - 120, 10 * 25.4))
