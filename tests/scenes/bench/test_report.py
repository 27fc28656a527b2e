"""The whole bench of every sample: complete, ordered, honest about itself."""

import math
import re
import string
from pathlib import Path

import pytest

from scenes.figures.figures import BenchReport, Kind, SectionKey, Table
from scenes.kinds.builder import LayerBuilder, LayerResult
from scenes.kinds.entries import default_entries
from tests.varied_samples import VARIED

REFERENCES = Path(__file__).parents[2] / "REFERENCES.bib"


def sentences(bench: BenchReport):
    for section in bench.sections:
        yield from (figure.how for figure in section.figures)
        yield from section.notes
        for table in section.tables:
            yield from (column.how for column in table.columns if column.how)
    yield from bench.warnings
    for step in bench.steps:
        yield step.work
        if step.check:
            yield step.check


@pytest.mark.parametrize("name", VARIED)
def test_every_figure_is_finite_and_says_how_it_was_got(worked, name) -> None:
    bench = worked(name, {"finish.coats": 2})
    figures = [one for section in bench.sections for one in section.figures]
    assert len({one.key for one in figures}) == len(figures)
    for one in figures:
        assert math.isfinite(one.value)
        assert one.how.words
        assert one.plus_minus is None or one.plus_minus >= 0
        # What is estimated says how far it may be off.
        if one.kind not in (Kind.COUNT, Kind.ANGLE, Kind.TIME):
            assert (one.plus_minus is None) == (one.bounds is not None), one.key
            assert one.bounds is None or 0 < one.bounds[0] <= one.value <= one.bounds[1]
    for section in bench.sections:
        for table in section.tables:
            assert table.rows
            for cell in (cell for row in table.rows for cell in row):
                assert not isinstance(cell, float) or math.isfinite(cell)
    for sentence in sentences(bench):
        named = {field for _, field, _, _ in string.Formatter().parse(sentence.words) if field}
        assert named == set(sentence.amounts)


@pytest.mark.parametrize("name", VARIED)
def test_sections_and_steps_stand_in_bench_order(worked, name) -> None:
    bench = worked(name, {"finish.coats": 2})
    keys = [section.key for section in bench.sections]
    assert keys == [key for key in SectionKey if key in keys]
    titles = [step.title for step in bench.steps]
    assert titles[0] == "Mark the blank"
    assert titles[-2:] == ["First coat of finish", "Further coats"]
    reliefs = [one for one in ("Lay the strip", "Lay the cords") if one in titles]
    for relief in reliefs:
        assert titles.index(relief) < titles.index("Wind the cover")
    assert any(step.caution for step in bench.steps)


@pytest.mark.parametrize("name", ["half-scale", "cord-lattice"])
def test_a_builder_is_given_no_authors(worked, name) -> None:
    authors = " ".join(re.findall(r"author\s*=\s*[{\"](.+)[}\"]", REFERENCES.read_text("utf-8")))
    names = {*re.findall(r"[A-Z][a-z]{3,}", authors), "Clairaut", "Liouville"}
    assert len(names) > 20
    bench = worked(name, {"finish.coats": 2})
    told = " ".join(sentence.words for sentence in sentences(bench))
    assert not {word for word in re.findall(r"\w+", told) if word in names}


@pytest.mark.parametrize(
    ("name", "what", "cover"), [("half-scale", "strip", 4), ("cord-lattice", "cords", 4)]
)
def test_the_relief_is_cut_square_before_it_is_covered(worked, name, what, cover) -> None:
    bench = worked(name)
    step = bench.steps[cover - 1]
    assert (step.title, bench.steps[cover].title) == ("Square the ends", "Wind the cover")
    assert what in str(step.work.amounts["what"])
    assert step.caution.startswith("Bare blade")
    prepare = bench.steps[0]
    within = [prepare.work.amounts[key].value for key in ("start", "end")]
    assert [step.work.amounts[key].value for key in ("start", "end")] == within


def test_the_wraps_own_ends_are_marked_too(worked) -> None:
    bench = worked("half-scale")
    prepare, (note,) = bench.steps[0].work, bench.section(SectionKey.MARKS).notes
    for told in (prepare, note):
        assert [told.amounts[key].value for key in ("first", "last")] == [318, 454]
    assert "Transfer this table to the blank" in note.words
    assert "the table of marks" in prepare.words


@pytest.mark.parametrize("name", ["half-scale", "cord-lattice"])
def test_a_trim_says_how_its_ends_are_held_and_tied_in(worked, name) -> None:
    (step,) = [step for step in worked(name).steps if step.title == "Lay the trim"]
    assert re.search(r"Tape the tails down|Hold each start", step.work.words)
    assert re.search(r"tie the ends in|draw the end in", step.work.words)
    assert "cut away from the hand" in step.caution


def test_a_layer_of_a_new_kind_brings_what_it_says(wrapped) -> None:
    class Plain(LayerBuilder):
        progress_label = "ribbon"

        def lay(self, surface, palette, step):
            return LayerResult(surface)

    wrap = wrapped("half-scale")
    layer = wrap.design.layers[0]
    uses = wrap.thread_uses[2]()
    brought = default_entries(Plain(layer, wrap.plan, "ribbon"), uses, wrap)
    assert [step.title for step in brought.steps] == ["Lay the ribbon"]
    assert sum(need.length for need in brought.threads) == pytest.approx(
        sum(use.length for use in uses)
    )


EXTREMES = {
    "less than a turn": ("half-scale", {"placement.to": 346}),
    "wide cells": ("half-scale", {"relief.strip_width": 25, "relief.cell": 20}),
    "many strips": ("half-scale", {"relief.starts": 6, "relief.gap": 1, "relief.angle": 30}),
    "steep": ("half-scale", {"relief.angle": 12, "relief.gap": 200}),
    "flat": ("full-mesh", {"relief.angle": 80}),
    "left hand": ("half-scale", {"relief.hand": "left", "placement.guide_line": -200}),
    "thin coats": ("cord-lattice", {"finish.coat_thickness": 0.01, "finish.coats": 1}),
    "lone cord": ("cord-lattice", {"relief.count": 1}),
}


@pytest.mark.parametrize("case", EXTREMES)
def test_extremes_have_a_bench_too(worked, case) -> None:
    name, changes = EXTREMES[case]
    bench = worked(name, {"finish.coats": 1, **changes})
    assert bench.figure("added_mass").value > 0
    assert isinstance(bench.steps, tuple)


def test_thin_coats_never_level_cords_and_say_so(worked) -> None:
    bench = worked("cord-lattice", {"finish.coat_thickness": 0.01, "finish.coats": 1})
    assert bench.figure("coats_until_smooth") is None
    notes = bench.section(SectionKey.FINISH).notes
    assert any(note.words.startswith("Ridges would still be felt") for note in notes)


def test_a_ragged_table_is_refused() -> None:
    with pytest.raises(ValueError, match="cells"):
        Table("t", "t", (), ((1.0,),))


def test_the_builders_own_numbers_carry_no_mark(worked) -> None:
    own = worked("half-scale", {"bench.strip_tail": 30, "finish.coats": 0})
    default = worked("half-scale")
    assert own.figure("strip_length").value == default.figure("strip_length").value
    assert own.figure("strip_length").marks == ()
    assert default.figure("strip_length").marks != ()
