"""The pattern below the lacquer of a blank: where it lies, and what it leaves alone."""

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from geometry.grid import Detail, Grid
from geometry.surface import Surface
from materials.blank_looks import BlankFinish, is_lacquered
from materials.shelf import Shelf
from scenes.building.build import Plan, build
from scenes.design.document import design_from, document_of
from scenes.files import samples
from scenes.kinds.builder import Palette
from scenes.parts.blank import Grip
from scenes.stage.blank_pattern import LACQUER_MM, dressed, measured_around
from scenes.stage.feet import foot_plans
from scenes.stage.fittings import fittings
from scenes.stage.lacquered_blank import lacquered_bodies, lacquered_grids
from scenes.stage.stage import wraps_of

SHELF = Shelf.shipped()
LACQUERED = [finish for finish in BlankFinish if is_lacquered(finish)]


def plan_of(finish: BlankFinish, name: str = "open-diamonds", **changes: object) -> Plan:
    document = document_of(samples.load(name).without_variants()) | changes
    document["blank"]["finish"] = finish.value
    return Plan(design_from(document), SHELF)


def bare(plan: Plan, start: float, end: float, step: float, angles: int) -> Surface:
    stations = round((end - start) / step) + 1
    return Surface.bare(plan.blank, Grid.even(start, end, stations, angles))


def lengthwise(surface: Surface) -> NDArray[np.bool_]:
    return np.abs(surface.lay) > np.pi / 4


def test_cloth_is_two_by_two_twill() -> None:
    plan = plan_of(BlankFinish.CARBON_TWILL)
    around = measured_around(plan)
    tows = 4 * round(around / 8)
    width = around / tows
    # The middle of each crossing.
    surface = bare(plan, 100 * width, 108 * width, width / 2, 2 * tows)
    cloth = dressed(surface, plan, Palette(), 0, 0.2, wet=True)
    over = lengthwise(cloth)[1:17:2, 1::2]
    # Weave notation: each tow over two and under two, a step further in the next ([Irawan2012]).
    assert (over != np.roll(over, 2, axis=0)).all()
    assert (over == np.roll(over, (1, -1), axis=(0, 1))).all()
    assert over.mean() == 0.5
    # It closes round the blank without a seam.
    assert (over == np.roll(over, 4, axis=1)).all()


def test_a_float_is_highest_in_its_middle() -> None:
    plan = plan_of(BlankFinish.CARBON_TWILL)
    surface = bare(plan, 300, 320, 0.1, 320)
    cloth = dressed(surface, plan, Palette(), 0, 0.2, wet=True)
    depth = surface.radius - cloth.radius
    assert depth.min() >= 0
    assert depth.max() < 2 * LACQUER_MM
    # Slopes of a cloth a fifth of a millimetre thick: a few degrees, below the 30 of [Irawan2012].
    slope = np.degrees(np.arctan(np.abs(np.diff(depth, axis=0)) / 0.1))
    along = lengthwise(cloth)
    inside = along[1:] & along[:-1]
    assert 2 < np.quantile(slope[inside], 0.9) < 15


def test_tapes_cross_at_right_angles_and_leave_gaps() -> None:
    plan = plan_of(BlankFinish.CARBON_TAPE)
    tape = dressed(bare(plan, 300, 400, 0.2, 320), plan, Palette(), 0, 0.2, wet=True)
    lays = np.unique(np.round(np.degrees(tape.lay)))
    assert lays.tolist() == [-45, 45, 90]
    upper, lower, gap = (np.isclose(tape.lay, lay).mean() for lay in np.radians([45, -45, 90]))
    assert upper > lower > gap > 0
    # A tape of 45 degrees climbs by the way round in one turn: one column goes as far as one turn.
    shifted = np.roll(np.isclose(tape.lay, np.pi / 4), 160, axis=1)
    steps = round(measured_around(plan) / 2 / 0.2)
    same = shifted[steps:] == np.isclose(tape.lay, np.pi / 4)[:-steps]
    assert same.mean() > 0.95


def test_flakes_lean_every_way() -> None:
    plan = plan_of(BlankFinish.METALLIC)
    paint = dressed(bare(plan, 300, 340, 0.1, 640), plan, Palette(), 0, 0.2, wet=True)
    histogram, _ = np.histogram(paint.lay, 8, (-np.pi / 2, np.pi / 2))
    assert histogram.min() > 0.6 * histogram.mean()
    assert sorted(np.unique(paint.material)) == [0, 1, 2]


@pytest.mark.parametrize("finish", LACQUERED)
def test_threads_stay_as_they_are(finish: BlankFinish) -> None:
    wrap = build(plan_of(finish), Detail.DRAFT)
    own, *_ = wraps_of(wrap)
    thread = wrap.surface.material != 0
    for name in ("radius", "material", "lay", "row", "along", "tube"):
        before, after = getattr(wrap.surface, name), getattr(own.surface, name)
        np.testing.assert_array_equal(after[thread], before[thread])
    assert (own.surface.material[~thread] >= len(wrap.palette)).all()
    assert own.outside is wrap.outside
    # Renderers know a body by its arrays.
    assert wraps_of(wrap)[0].surface is own.surface
    assert wraps_of(wrap)[-1].surface is wraps_of(wrap)[-1].surface


def test_a_plain_blank_gets_no_pattern() -> None:
    wrap = build(plan_of(BlankFinish.MATT), Detail.DRAFT)
    own, *others = wraps_of(wrap)
    assert own.surface is wrap.surface
    assert others == []
    assert lacquered_bodies(wrap.plan) == lacquered_grids(wrap.plan) == ()


@pytest.mark.parametrize("name", ["open-diamonds", "ringed-guide", "ringed-grip-wrap"])
def test_bare_lengths_lie_between_wraps_and_into_grips(name: str) -> None:
    plan = plan_of(BlankFinish.LACQUERED, name)
    bodies = lacquered_bodies(plan)
    assert not [body for body in fittings(plan) if body.name == "blank"]
    spans = [(float(body.surface.z[0]), float(body.surface.z[-1])) for body in bodies]
    assert [(g.z[0], g.z[-1], g.points) for g in lacquered_grids(plan)] == [
        (*span, body.surface.radius.size) for span, body in zip(spans, bodies, strict=True)
    ]
    wrapped = [*plan.grid_spans, *(foot.grid for foot in foot_plans(plan))]
    grips = [f.span for f in plan.design.blank.fitted if isinstance(f, Grip)]
    for (_, end), (start, _) in itertools.pairwise(sorted([*spans, *wrapped])):
        hidden = any(a < end and start < b for a, b in grips)
        assert hidden or start == pytest.approx(end, abs=1e-3)
        assert start > end - 1e-6
    for body in bodies:
        assert body.outside is not None
        film = body.outside.radius - body.surface.radius
        assert film.min() == pytest.approx(LACQUER_MM)
        np.testing.assert_allclose(
            body.outside.radius[:, 0], plan.blank.radius(body.outside.z), atol=1e-9
        )


def test_an_edit_of_a_layer_keeps_them() -> None:
    before = lacquered_bodies(plan_of(BlankFinish.PEARL))
    after = lacquered_bodies(plan_of(BlankFinish.PEARL, title="Other"))
    assert after is before
    assert lacquered_bodies(plan_of(BlankFinish.METALLIC)) is not before
