"""Rings in a design: what they refuse, where they lie, what the bench is told; rings of guides."""

import copy
from typing import Any

import numpy as np
import pytest

from geometry.bodies.guide import GuideFoot as FootLayer
from geometry.grid import Detail
from geometry.layers.trim import Edge as Side
from geometry.surface import Surface
from materials.shelf import Shelf
from scenes.bench.pattern import pattern_of
from scenes.bench.report import bench_report
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import Design, design_from, with_changes
from scenes.design.variants import variants
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.kinds.rings.builder import RingsBuilder
from scenes.kinds.rings.model import Rings
from scenes.problems import DesignProblem
from scenes.quantities import Units
from scenes.stage.feet import foot_amounts, foot_plans, wound_feet

Document = dict[str, Any]
SHELF = Shelf.shipped()
SAMPLES = ("ringed-grip-wrap", "ringed-guide")
BAND = [{"thread": "Sloe Black A", "count": 3}, {"thread": "Gorse Gold A", "count": 2}]


def document(*rings: Document, cover: bool = True, **guide: object) -> Document:
    layers: list[Document] = []
    if cover:
        layers.append({"kind": "cover", "thread": "Hawthorn Red A", "margin": 0, "unevenness": 0})
    layers += [{"kind": "rings", "threads": BAND, **one} for one in rings]
    fitted = [{"kind": "guide", "at": 380, "length": 30, "thread": "Hawthorn Red A", **guide}]
    return {
        "turnlight": 1,
        "units": "mm",
        "title": "Test",
        "blank": {
            "colour": "#15181c",
            "stations": [{"at": 250, "diameter": 12}, {"at": 600, "diameter": 12}],
            "fitted": fitted if guide else [],
        },
        "placement": {"from": 300, "to": 330},
        "layers": layers,
        "finish": {"coats": 0},
    }


def drafted(design: Design, detail: Detail = Detail.DRAFT) -> Wrap:
    return build(Plan(design, SHELF), detail)


def builder(design: Design) -> RingsBuilder:
    plan = Plan(design, SHELF)
    layer = next(one for one in design.layers if isinstance(one, Rings))
    return next(one for one in plan.builders if one.layer is layer)


@pytest.mark.parametrize(
    ("fields", "path", "words"),
    [
        ({"threads": []}, "rings.threads", "0 entries are fewer than 1"),
        ({"ends": "left"}, "rings.ends", "left"),
        ({"inset": 15}, "rings.inset", "15 mm from the end is beyond the 15 mm that there are"),
        ({"inset": -1}, "rings.inset", "-1 mm is not between 0 and 500 mm"),
        ({"inlaid": "yes"}, "rings.inlaid", "yes"),
        ({"threads": [{"thread": "A", "count": 0}]}, "rings.threads.0.count", "0 is not between"),
    ],
)
def test_it_is_refused_in_one_sentence(fields: Document, path: str, words: str) -> None:
    with pytest.raises(DesignProblem) as caught:
        design_from(document(fields))
    assert caught.value.field == path
    assert words in str(caught.value)


def test_inlaid_rings_need_the_cover_right_before_them() -> None:
    with pytest.raises(DesignProblem, match="no cover whose rows these rings"):
        design_from(document({}, cover=False))
    between = document({})
    crossed = {
        "kind": "crossed pattern",
        "spacing": 30,
        "courses": [{"hand": "right", "thread": "Gorse Gold A"}],
    }
    between["layers"].insert(1, crossed)
    with pytest.raises(DesignProblem, match="crossed pattern"):
        design_from(between)
    between["layers"][2]["inlaid"] = False
    drafted(design_from(between))
    drafted(design_from(document({"inlaid": False}, cover=False)))


def test_what_has_no_room_is_told() -> None:
    wide = document({"threads": [{"thread": "Heron Silver D", "count": 60}]})
    plan = Plan(design_from(wide), SHELF)
    for made in (plan.prepare, lambda: build(plan, Detail.DRAFT)):
        with pytest.raises(DesignProblem, match=r"15\.6 mm wide do not fit into the 15 mm"):
            made()
    two = document({"name": "one"}, {"name": "two", "inset": 0.5})
    with pytest.raises(DesignProblem, match="inlaid there already, one"):
        build(Plan(design_from(two), SHELF), Detail.DRAFT)
    beside = document({"name": "one"}, {"name": "two", "inset": 2})
    build(Plan(design_from(beside), SHELF), Detail.DRAFT)


def test_bands_by_hand() -> None:
    work = builder(design_from(document({"inset": 2})))
    # 3 x 0.169 + 2 x 0.17 = 0.847 on the shelf.
    assert work.width == pytest.approx(0.847)
    assert work.bands[Side.LOWER] == pytest.approx((302, 302.847))
    assert work.bands[Side.UPPER] == pytest.approx((327.153, 328))
    assert work.span == pytest.approx((302, 328))
    upper = builder(design_from(document({"ends": "upper"})))
    assert set(upper.bands) == {Side.UPPER}


@pytest.mark.parametrize("inlaid", [True, False])
def test_both_ends_begin_with_the_same_thread(inlaid: bool) -> None:
    wrap = drafted(design_from(document({"inset": 2, "inlaid": inlaid})), Detail.FINE)
    names = [look.name for look in wrap.palette]
    column = wrap.surface.material[:, wrap.surface.theta.size // 4]
    found = [names[one] for one in column[np.flatnonzero(np.diff(column)) + 1]]
    assert found == [
        *("Hawthorn Red A", "Sloe Black A", "Gorse Gold A"),
        *("Hawthorn Red A", "Gorse Gold A", "Sloe Black A", "Hawthorn Red A", "blank"),
    ]
    # Over the cover they stand a thread higher, inlaid they are level with it, within a micron.
    ring = wrap.surface.radius[wrap.surface.material == names.index("Gorse Gold A")]
    top = 6 + 0.169 + (0.001 if inlaid else 0.17)
    assert ring.max() == pytest.approx(top, abs=0.002)


def test_rings_over_plain_thread_show_what_lies_under_the_cover() -> None:
    # Inlaid rows lie on what the cover lies on: under translucent ones its blank is seen.
    band = [{"thread": "Meltwater White A", "count": 4}]
    wrap = drafted(design_from(document({"threads": band, "inset": 2})))
    white = [look.name for look in wrap.palette].index("Meltwater White A")
    assert set(np.unique(wrap.beneath.material[wrap.surface.material == white])) == {0}


def test_the_cover_gives_up_as_many_rows() -> None:
    bare = bench_report(drafted(design_from(document())))
    ringed = bench_report(drafted(design_from(document({"inset": 2}))))
    # 30 mm / 0.169 = 178 rows; two bands of 0.847 mm take the place of 5 rows each, by hand.
    turns = [bench.figure("cover_turns") for bench in (bare, ringed)]
    assert [one.value for one in turns if one is not None] == [178, 168]
    table = ringed.table("threads")
    assert table is not None
    by_thread = dict(zip(table.column("thread"), table.rows, strict=True))
    lengths = {name: row[7] for name, row in by_thread.items()}
    # Six turns of black: 6 sqrt((2 pi (6 + 0.0845))² + 0.169²) = 229.4 mm.
    assert lengths["Sloe Black A"] == pytest.approx(6 * 2 * np.pi * 6.0845, rel=1e-3)
    assert lengths["Hawthorn Red A"] == pytest.approx(168 * 2 * np.pi * 6.0845, rel=1e-3)
    rings = ringed.table("rings_rings")
    assert rings is not None
    assert rings.column("thread") == (
        *("Sloe Black A", "Gorse Gold A"),
        *("Gorse Gold A", "Sloe Black A"),
    )
    np.testing.assert_allclose(rings.column("width"), [0.507, 0.34, 0.34, 0.507])  # type: ignore[arg-type]
    assert any(step.title == "Wind the rings" for step in ringed.steps)


def test_the_template_draws_both_sides_of_each_band() -> None:
    pattern = pattern_of(Plan(design_from(document({"inset": 2})), SHELF))
    assert pattern.undrawn == ()
    at = sorted({round(float(line.points[0, 1]), 3) for line in pattern.lines})
    assert at == [300, 302, 302.847, 327.153, 328, 330]


# ---- Guides


def test_the_ramp_of_a_foot_by_hand() -> None:
    design = design_from(document(underwrap="Sloe Black A", rings=BAND, inset=1))
    plan = Plan(design, SHELF)
    (one,) = foot_plans(plan)
    (body,) = wound_feet(plan, Detail.NORMAL)
    start, end = one.wraps[0]
    surface = body.surface
    sizes = one.sizes
    # Along its crown the taut section touches the foot: the blank, the underwrap, the foot's own
    # height there and one thread. That height is high (1 - 0.95 s), s = 3 x² - 2 x³ from the full
    # part of the foot (x = 0, a quarter of its half) to the tip (x = 1): by hand.
    away = np.array([4.9, 6.0, 8.0, 10.0])
    x = (away / 15 - 0.25) / 0.75
    height = sizes.height * (1 - 0.95 * (3 * x**2 - 2 * x**3))
    crown = np.interp(380 - away, surface.z, surface.radius[:, 0])
    np.testing.assert_allclose(crown, 6 + 0.169 + height + 0.169, atol=0.004)
    # Beyond the tip it lies on the underwrap, and far below the foot it does all the way.
    under = surface.theta.size // 2
    part = surface.between(start + 0.3, end - 0.3)
    np.testing.assert_allclose(surface.radius[part, under], 6.338, atol=0.003)
    # Beside the foot thread spans to a tangent: r / cos(phi) from where it touches the blank.
    station = int(np.argmin(np.abs(surface.z - 375.6)))
    bed = 6 + 0.169
    lifted = surface.radius[station] - 0.169 > bed + 1e-4
    assert 0 < lifted.mean() < 0.5


def test_the_tangent_beside_a_narrow_foot() -> None:
    # A foot narrow as a wire of height h: taut thread leaves its crest along the tangent to the
    # blank, touching it arccos(r / (r + h)) away, r / cos(that angle - phi) high in between.
    from geometry.grid import Grid
    from geometry.layers.cover import Cover

    design = design_from(document())
    blank = design.blank.measured()
    bare = Surface.bare(blank, Grid.even(300.0, 340.0, 161, 3600))
    laid = FootLayer(320.0, 30.0, 0.02, 0.5, 1).apply(bare)
    wound = Cover(305.0, 335.0, 1e-9, 0.17, 2).apply(laid)
    at = int(np.argmin(np.abs(bare.z - 320.0)))
    touch = np.arccos(6 / 6.5)
    phi = bare.theta[1:400]
    wanted = np.where(phi < touch, 6 / np.cos(np.minimum(touch - phi, touch)), 6.0)
    np.testing.assert_allclose(wound.radius[at, 1:400], wanted, atol=0.02)
    np.testing.assert_allclose(wound.radius[at, 100:400], wanted[99:], atol=0.004)


def test_rings_of_a_guide_lie_at_both_outer_ends() -> None:
    design = design_from(document(rings=BAND, inset=1))
    plan = Plan(design, SHELF)
    (one,) = foot_plans(plan)
    (body,) = wound_feet(plan, Detail.FINE)
    names = [look.name for look in body.palette]
    black = body.surface.z[(body.surface.material == names.index("Sloe Black A")).any(axis=1)]
    start, end = one.wraps[0][0], one.wraps[1][1]
    # From 1 mm from the end, three threads of 0.169; a row climbs by half of itself either way.
    lower, upper = black[black < 380], black[black > 380]
    assert lower.min() == pytest.approx(start + 1 - 0.085, abs=0.05)
    assert lower.max() == pytest.approx(start + 1 + 0.507 + 0.085, abs=0.05)
    assert upper.max() == pytest.approx(end - 1 + 0.085, abs=0.05)


def test_thread_of_guides_is_counted_but_not_weighed_with_the_wrap() -> None:
    plain = bench_report(drafted(design_from(document())))
    design = design_from(document(underwrap="Sloe Black A", rings=BAND, inset=1))
    bench = bench_report(drafted(design))
    masses = [one.figure("added_mass") for one in (plain, bench)]
    assert masses[0] is not None
    assert masses[1] is not None
    assert masses[0].value == pytest.approx(masses[1].value)
    table = bench.table("threads")
    assert table is not None
    uses = [row for row in table.rows if row[0] == "guides"]
    assert [row[1] for row in uses] == [
        *("Sloe Black A", "Hawthorn Red A", "Sloe Black A", "Gorse Gold A")
    ]
    (one,) = foot_amounts(Plan(design, SHELF))
    threads = one.threads
    # Two ends: two turns of each thread of the rings, about 2 x 2 pi x 6.2 mm.
    assert all(use.length == pytest.approx(2 * 2 * np.pi * 6.2, rel=0.06) for use in threads[2:])
    assert any(step.title == "Bind the guides" for step in bench.steps)


def test_a_band_at_one_place_says_where_and_is_alike_to_no_other() -> None:
    wrap = drafted(samples.load("ringed-guide").without_variants())
    steps = {step.title: step for step in bench_report(wrap).steps}
    written = FigureFormatter(Units.IN)
    band = steps["Wind middle band"]
    # From 0.44 in beyond the wrap's start at 14.6 in; 17 threads of 0.169 mm are 0.113 in.
    assert "from 15.04 in to 15.153 in from the butt" in written.sentence(band.work)
    assert "end" not in written.sentence(band.work).split(":")[0]
    assert "alike" not in written.sentence(band.check)
    assert "both ends alike" in written.sentence(steps["Wind end bands"].check)


def test_rings_wound_along_with_a_cover_are_named_at_its_step() -> None:
    wrap = drafted(samples.load("ringed-guide").without_variants())
    under, over = (
        FigureFormatter(Units.IN).sentence(step.work)
        for step in bench_report(wrap).steps
        if step.title == "Wind the cover"
    )
    assert "end bands at 14.63 to 14.683 in and 15.517 to 15.57 in" in over
    assert "middle band at 15.04 to 15.153 in; read the next 2 steps first" in over
    assert "band" not in under


def test_rings_that_do_not_fit_on_a_foot_are_told() -> None:
    wide = [{"thread": "Heron Silver D", "count": 60}]
    design = design_from(document(rings=wide))
    with pytest.raises(DesignProblem, match="do not fit on one end of the foot"):
        build(Plan(design, SHELF), Detail.DRAFT)


@pytest.mark.parametrize("name", SAMPLES)
def test_every_sample_and_variant_can_be_laid(name: str) -> None:
    for _, design in variants(samples.load(name)):
        wrap = drafted(design)
        assert (wrap.surface.radius >= wrap.beneath.radius - 1e-9).all()
        wound_feet(wrap.plan, Detail.DRAFT)
        bench_report(wrap)


def test_a_change_by_path() -> None:
    design = samples.load("ringed-grip-wrap").without_variants()
    changed = with_changes(design, {"bands.inset": 5, "bands.threads.0.count": 9})
    assert copy.deepcopy(changed) == changed
    (band,) = [one for one in changed.layers if one.name == "bands"]
    assert isinstance(band, Rings)
    assert band.threads[0].count == 9
