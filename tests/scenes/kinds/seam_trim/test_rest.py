"""Trims that slide off the ramp beside a strip: where they lie, what is said, and what helps."""

import re

import numpy as np
import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.building.build import Plan, build
from scenes.design.document import with_changes
from scenes.figures.figures import BenchReport
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.kinds.seam_trim.builder import TrimBuilder
from scenes.quantities import Units


def sliding(bench: BenchReport, units: Units) -> list[str]:
    said = [FigureFormatter(units).sentence(warning) for warning in bench.warnings]
    return [words for words in said if "shows the strip's edge" in words]


@pytest.mark.parametrize(
    ("name", "units"), [("half-scale", Units.MM), ("two-start-band", Units.IN)]
)
def test_a_trim_on_the_ramp_slides_and_each_advice_is_accepted(worked, name, units):
    snug = {"finish.coats": 0, "trim.friction": 0.25}
    (said,) = sliding(worked(name, snug), units)
    assert "on a slope of 2" in said
    assert "(friction holds 14 degrees, from memory)" in said
    offset = float(re.search(r"an offset of ([\d.]+)", said)[1])
    friction = float(re.search(r"a friction of ([\d.]*\d)", said)[1])
    for advice in ({"trim.offset": offset}, {"trim.friction": friction}):
        assert not sliding(worked(name, snug | advice), units), advice


def test_where_the_offset_would_leave_no_room_it_is_not_offered(worked):
    narrow = {"finish.coats": 0, "trim.friction": 0.25, "relief.gap": 4}
    (said,) = sliding(worked("half-scale", narrow), Units.MM)
    assert "an offset of" not in said
    friction = float(re.search(r"a friction of ([\d.]*\d)", said)[1])
    assert not sliding(worked("half-scale", narrow | {"trim.friction": friction}), Units.MM)


def test_it_is_laid_and_measured_where_it_comes_to_rest():
    """Its first thread lies along the lines that it is said to rest on, and so does its length."""
    design = with_changes(
        samples.load("half-scale").without_variants(), {"trim.friction": 0.25, "finish.coats": 0}
    )
    plan = Plan(design, Shelf.shipped())
    wrap = build(plan, Detail.DRAFT)
    trim = next(builder for builder in plan.builders if isinstance(builder, TrimBuilder))
    slides = trim.result(wrap).slides
    assert min(slide.distance for slide in slides) > 0.3
    half = trim.ordered_threads[0].diameter_mm / 2
    index = wrap.palette.index(plan.look_of(trim.ordered_threads[0]))
    for laid, rests in zip(trim.lines, trim.lines_at_rest(wrap), strict=True):
        for line, here in ((rests, True), (laid, False)):
            z = line.run(wrap.surface, half).z
            turn, column = np.nonzero((z > plan.start + 1) & (z < plan.end - 1))
            at = np.rint((z[turn, column] - wrap.surface.z[0]) / wrap.surface.step).astype(int)
            share = (wrap.surface.material[at, column] == index).mean()
            assert share > 0.95 if here else share < 0.05
