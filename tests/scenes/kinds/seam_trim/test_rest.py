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
from scenes.kinds.decal.builder import DecalBuilder
from scenes.kinds.seam_trim.builder import TrimBuilder
from scenes.kinds.seam_trim.lines import lines
from scenes.quantities import Units

SHELF = Shelf.shipped()
BLACK = "Sloe Black A"


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
    plan = Plan(design, SHELF)
    wrap = build(plan, Detail.DRAFT)
    trim = next(builder for builder in plan.builders if isinstance(builder, TrimBuilder))
    slides = trim.slides
    assert min(slide.distance for slide in slides) > 0.3
    half = trim.ordered_threads[0].diameter_mm / 2
    index = wrap.palette.index(plan.look_of(trim.ordered_threads[0]))
    for laid, rests in zip(trim.lines, trim.lines_at_rest, strict=True):
        for line, here in ((rests, True), (laid, False)):
            z = line.run(wrap.surface, half).z
            turn, column = np.nonzero((z > plan.start + 1) & (z < plan.end - 1))
            at = np.rint((z[turn, column] - wrap.surface.z[0]) / wrap.surface.step).astype(int)
            share = (wrap.surface.material[at, column] == index).mean()
            assert share > 0.95 if here else share < 0.05


SLID = {"trim.friction": 0.25, "finish.coats": 0}


def trims(plan: Plan) -> list[TrimBuilder]:
    return [builder for builder in plan.builders if isinstance(builder, TrimBuilder)]


@pytest.mark.parametrize("name", ["half-scale", "two-start-band"])
def test_the_template_draws_it_where_the_wrap_shows_it(worked, wrapped, name):
    """Both lines of each edge run along the sides of its tubes, read off the laid surface."""
    wrap = wrapped(name, SLID)
    plan, surface = wrap.plan, wrap.surface
    (trim,) = trims(plan)
    assert min(slide.distance for slide in trim.slides) > 0.3
    owned = np.isin(
        surface.material,
        [wrap.palette.index(plan.look_of(thread)) for thread in trim.ordered_threads],
    )
    wide = sum(thread.diameter_mm for thread in trim.ordered_threads)
    drawn = [line.points for line in lines(trim)]
    assert drawn
    share: dict[float, list[float]] = {-0.5: [], 0.5: []}
    for points in drawn:
        theta, z = points.T
        inside = (z > plan.start + 2) & (z < plan.end - 2)
        column = np.rint(theta[inside] / (2 * np.pi) * surface.theta.size).astype(int)
        for side, shares in share.items():
            at = np.rint((z[inside] + side * wide - surface.z[0]) / surface.step).astype(int)
            shares.append(owned[at, column % surface.theta.size].mean())
    # Of the two sides of each line one is thread and one is not.
    for one, other in zip(*share.values(), strict=True):
        assert max(one, other) > 0.9
        assert min(one, other) < 0.1


def test_lettering_beside_it_has_what_its_slide_leaves():
    """The band between the trims is narrower by what both of them slide."""

    def band(changes: dict[str, object]) -> tuple[float, float]:
        plan = Plan(with_changes(samples.load("lettered-band").without_variants(), changes), SHELF)
        (trim,) = trims(plan)
        decal = next(builder for builder in plan.builders if isinstance(builder, DecalBuilder))
        slid = sum(slide.distance for slide in trim.slides)
        return slid, decal.room.across(340, 360)

    held, wide = band({})
    slid, narrow = band({"trim.friction": 0.25})
    assert held == 0
    assert slid > 1
    assert wide - narrow == pytest.approx(slid, rel=0.02)


def test_a_trim_beside_one_that_slides_is_told_where_there_is_room(worked):
    slid = {"finish.coats": 0, "stop.friction": 0.25, "shades.friction": 0.25}

    def riding(changes: dict[str, object]) -> list[str]:
        written = FigureFormatter(Units.MM)
        said = [written.sentence(one) for one in worked("graded-trim", slid | changes).warnings]
        return [one for one in said if "from the relief's edge, but shades lies there" in one]

    (said,) = riding({})
    offset = float(re.search(r"give stop an offset of ([\d.]+) mm or more", said)[1])
    assert offset > 2.3
    assert not riding({"stop.offset": offset})


def test_a_closer_offset_is_offered_only_where_the_trim_would_stay(worked, cylinder):
    """Laid closer than it rests, a trim slides out again: no more threads fit there."""
    asked = {**cylinder, **SLID, "relief.gap": 10, "trim.threads": [{"thread": BLACK, "count": 15}]}

    def said(offset: float) -> list[str]:
        written = FigureFormatter(Units.MM)
        found = [
            written.sentence(one)
            for one in worked("half-scale", asked | {"trim.offset": offset}).warnings
        ]
        return [one for one in found if "ride on one another" in one]

    assert not said(0.0)
    (far,) = said(2.0)
    least = float(re.search(r"with an offset of ([\d.]+) mm or less all 15 would fit", far)[1])
    assert not said(least)
    assert said(least + 0.03)
