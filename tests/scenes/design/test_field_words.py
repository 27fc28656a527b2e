"""Fields are named in words wherever a builder reads sentences and not his file."""

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.progress import Progress
from render.page.cards.figures import figures_of, warnings_of
from render.paper.fonts import clean
from render.request.subject import Subject
from scenes.bench.report import bench_report
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.design.field_words import in_words, in_words_with_paths, label_of
from scenes.figures.figures import Sentence
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples

DOTTED = re.compile(r"[a-z]\w*\.(?:\d+|[a-z]\w+)|[a-z]+_[a-z]+")
"""What a path looks like, told without the code that is tested."""

SHELF = Shelf.shipped()


@pytest.mark.parametrize(
    ("sentence", "words"),
    [
        (
            "relief.strip_width: 3 mm is less than a cell; widen it (relief.strip_width).",
            "Strip width of the relief: 3 mm is less than a cell; widen it.",
        ),
        (
            "blank.stations.60.diameter: 19.6 mm at 600 mm is off.",
            "Diameter of station 61 of the blank: 19.6 mm at 600 mm is off.",
        ),
        ("blank.fitted.0: the grip is here.", "Fitting 1 of the blank: the grip is here."),
        ("Give bench.rate and bench.hand_time.", "Give the rate and the hand time."),
        (
            "the strip (0.5 mm) starts at placement.from",
            "the strip (0.5 mm) starts at the start of the wrap",
        ),
        ("stop.offset: no.", "Offset of the stop: no."),
        ("my.picture.png: cannot be read.", "my.picture.png: cannot be read."),
        (
            "/tmp/a/relief.gap/x.toml is 1.5 mm, e.g. so.",
            "/tmp/a/relief.gap/x.toml is 1.5 mm, e.g. so.",
        ),
        ("3.5 mm at 20.25", "3.5 mm at 20.25"),
    ],
)
def test_paths_become_words_and_file_names_stay(sentence: str, words: str) -> None:
    assert in_words(sentence) == words
    assert in_words(words) == words


@pytest.mark.parametrize(
    ("sentence", "words"),
    [
        (
            "relief.strip_width: 3 mm is less than a cell; give more.",
            "Strip width of the relief: 3 mm is less than a cell; give more (relief.strip_width).",
        ),
        (
            '"my rod.toml": relief.hand: "up" is not one of left and right; did you mean left?',
            '"my rod.toml": Hand of the relief: "up" is not one of left and right; did you mean '
            "left (relief.hand)?",
        ),
        (
            "placement.to: 3 mm is not beyond placement.from, 9 mm.",
            "End of the wrap: 3 mm is not beyond the start of the wrap (placement.from), 9 mm "
            "(placement.to).",
        ),
        ("relief.gap is missing; give it.", "Gap of the relief is missing; give it (relief.gap)."),
        ("Give bench.rate.", "Give the rate (bench.rate)."),
        ("set the mix (bench.least_mix) to 1", "set the mix (bench.least_mix) to 1"),
        ("it has no gap or strip_width", "it has no gap or strip width"),
        ("give one such as relief.gap=14,20 or relief.gap = 3", ""),
        ('"relief.gap" is no sweep; see my.picture.png and relief.gapp', ""),
        ("coat_thickness = 0,14 has a comma in its number", ""),
    ],
)
def test_on_the_command_line_words_come_first_and_paths_stay(sentence: str, words: str) -> None:
    assert in_words_with_paths(sentence) == (words or sentence)


def test_labels_are_words_of_the_trade() -> None:
    assert label_of("strip_width") == "strip width"
    assert label_of("around") == "round the blank"


def sentences(thing: object, written: FigureFormatter) -> Iterator[str]:
    """All texts in a bench report."""
    if isinstance(thing, Sentence):
        yield written.sentence(thing)
    elif isinstance(thing, tuple | list):
        for one in thing:
            yield from sentences(one, written)
    elif is_dataclass(thing):
        for field in fields(thing):
            if field.name not in ("key", "design"):
                yield from sentences(getattr(thing, field.name), written)
    elif isinstance(thing, str):
        yield thing


@pytest.mark.parametrize("name", ["half-scale", "badge-panel", "full-mesh", "open-diamonds"])
def test_no_line_of_paper_or_page_has_a_path(name: str) -> None:
    design = samples.load(name)
    # With what makes warnings.
    odd = with_changes(design, {"blank.stations.0.diameter": design.blank.stations[-1].diameter})
    assert odd.warnings
    subject = Subject(odd, SHELF)
    written = FigureFormatter(design.units)
    report = bench_report(subject.build(Detail.DRAFT, Progress.none()))
    found = [clean(text) for text in sentences(report, written)]
    assert len(found) > 50
    cards = [one["text"] for one in figures_of(Plan(odd, SHELF), design.units)]
    cards += [one["text"] for one in warnings_of(odd, [])]
    for text in (*found, *cards):
        assert not DOTTED.search(text), text
