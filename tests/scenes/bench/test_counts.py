"""No sentence of the bench has a plural of one: "1 threads", "1 coats"."""

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

import pytest

from materials.shelf import Shelf
from scenes.bench.report import bench_report
from scenes.building.build import Plan, build_for_bench
from scenes.design.document import with_changes
from scenes.design.layers import kind_of
from scenes.figures.figures import Sentence
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples

NOUNS = (
    "parts|threads|coats|pieces|cells|strips|drops|turns|diamonds|cords|rows|columns|picks|steps|"
    "courses|spools|crosses|repeats|rings"
)
ONE = re.compile(rf"(?<![\d.,:/])\b1(?:\.0+)? (?:[a-z]+ )?(?:{NOUNS})\b")
MIX = {"bench.mix_ratio": 1, "finish.coats": 1}

ONES = {
    "badge-panel": {"woven.edge": [{"thread": "Deepwater Navy A", "count": 1}]},
    "cord-lattice": {"relief.count": 1},
    "half-scale": {"relief.strip_width": 3.0, "relief.starts": 1},
    "marbled-panel": {"marbled.drops": 1},
    "open-diamonds": {"crossed.pattern.threads": [{"thread": "Gorse Gold A", "count": 1}]},
    "slow-beat": {"stripes.sequence": [{"thread": "Otter Brown A", "count": 1}]},
}


def texts(part: object, written: FigureFormatter) -> Iterator[str]:
    """Every sentence and text in a report."""
    if isinstance(part, Sentence):
        yield written.sentence(part)
    elif isinstance(part, str):
        yield part
    elif is_dataclass(part):
        for one in fields(part):
            yield from texts(getattr(part, one.name), written)
    elif isinstance(part, tuple):
        for entry in part:
            yield from texts(entry, written)


@pytest.mark.parametrize("name", ONES)
def test_one_is_singular(name: str) -> None:
    design = with_changes(samples.load(name).without_variants(), {**MIX, **ONES[name]})
    plan, written = Plan(design, Shelf.shipped()), FigureFormatter(design.units)
    said = list(texts(bench_report(build_for_bench(plan)), written))
    for builder in plan.builders:
        numbers = kind_of(builder.layer).numbers
        said += [written.sentence(sentence) for _, sentence in numbers.lines(builder)]
        said += [text for note in numbers.field_notes(builder) for text in texts(note, written)]
    assert not [text for text in said if ONE.search(text)]
