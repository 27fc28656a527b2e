"""Trims beside a strip: warned of where they are wider than the flat, with the number that fits."""

import math
import re

import pytest

from scenes.figures.figures import BenchReport
from scenes.figures.formatter import FigureFormatter
from scenes.quantities import Units

THREAD, DIAMETER = "Sloe Black A", 0.169
CELL = 2.822  # of half-scale, mm


def warnings_of(bench: BenchReport) -> list[str]:
    return [FigureFormatter(Units.MM).sentence(warning) for warning in bench.warnings]


def trim(count: int) -> list[dict[str, object]]:
    return [{"thread": THREAD, "count": min(60, count - n)} for n in range(0, count, 60)]


def riding(bench: BenchReport) -> list[str]:
    return [words for words in warnings_of(bench) if "ride on one another" in words]


@pytest.mark.parametrize("gap", [5, 12])
def test_the_number_that_fits_is_what_a_calculator_gives_and_is_then_accepted(
    worked, cylinder, gap
):
    asked = {**cylinder, "finish.coats": 0, "relief.gap": gap, "trim.threads": trim(80)}
    bench = worked("half-scale", asked)
    (said,) = riding(bench)
    step = next(step for step in bench.steps if step.title == "Lay the trim")
    assert "none riding" not in FigureFormatter(Units.MM).sentence(step.check)
    most = int(re.search(r"at most (\d+) threads fit at each edge", said)[1])
    wide = float(re.search(r"the flat .* is ([\d.]+) mm across", said)[1])
    # On a cylinder the gap is the same everywhere. The strip is cut in whole cells, which changes
    # it by less than half a cell.
    assert wide == pytest.approx(gap * math.sin(math.pi / 4), abs=CELL / 2)
    assert 2 * most * DIAMETER <= 1.02 * (wide + 0.05) <= 2 * (most + 1) * DIAMETER + 0.1
    assert not riding(worked("half-scale", asked | {"trim.threads": trim(most)}))
    assert riding(worked("half-scale", asked | {"trim.threads": trim(most + 1)}))


def test_without_a_gap_no_thread_fits(worked):
    asked = {"finish.coats": 0, "relief.gap": 0, "trim.threads": trim(3)}
    (said,) = riding(worked("half-scale", asked))
    assert "no thread fits" in said


def test_at_the_ends_of_a_lattice_the_cover_must_reach_as_far(worked):
    asked = {"finish.coats": 0, "trim.threads": trim(80)}
    (said,) = riding(worked("cord-lattice", asked))
    most = int(re.search(r"at most (\d+) threads fit", said)[1])
    assert not riding(worked("cord-lattice", asked | {"trim.threads": trim(most)}))


def test_the_width_is_that_of_both_edges_and_is_said_to_be(worked, cylinder):
    asked = {**cylinder, "finish.coats": 0, "relief.gap": 4, "trim.threads": trim(10)}
    (said,) = riding(worked("half-scale", asked))
    wide = float(
        re.search(r"10 threads at each edge take ([\d.]+) mm, both edges together", said)[1]
    )
    assert wide == pytest.approx(2 * 10 * DIAMETER, abs=0.05)
    assert "offset" not in said


@pytest.mark.parametrize("offset", [2.5, 4.2])
def test_a_smaller_offset_is_offered_where_more_would_fit(worked, cylinder, offset):
    asked = {**cylinder, "finish.coats": 0, "relief.gap": 10, "trim.threads": trim(10)}
    (said,) = riding(worked("half-scale", asked | {"trim.offset": offset}))
    wide = float(re.search(r"([\d.]+) mm, both edges together, with the offset", said)[1])
    assert wide == pytest.approx(2 * (offset + 10 * DIAMETER), abs=0.05)
    least = float(re.search(r"with an offset of ([\d.]+) mm or less all 10 would fit", said)[1])
    assert least < offset
    assert not riding(worked("half-scale", asked | {"trim.offset": least}))
    assert riding(worked("half-scale", asked | {"trim.offset": least + 0.02}))
