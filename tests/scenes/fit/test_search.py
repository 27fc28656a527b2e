"""From wishes to designs: closed forms by hand, brute force, and designs given back."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from geometry.grid import Detail
from geometry.winding import gaps_along
from materials.shelf import Shelf
from scenes.bench.report import bench_report
from scenes.building.build import Plan, build
from scenes.design.document import design_from, document_of, with_changes
from scenes.design.layers import kind_of
from scenes.files import samples
from scenes.fit import search
from scenes.fit.measures import MEASURES, Measured
from scenes.fit.search import fit
from scenes.fit.wishes import read_request
from scenes.problems import DesignProblem

SHELF = Shelf.shipped()


def fitted(design, *wish, at_most=(), at_least=(), **how):
    measured = Measured(design.without_variants(), SHELF)
    return fit(design, SHELF, read_request(measured, wish, at_most, at_least), **how)


def value(design, name):
    """A measure read off a design that is made anew from its document."""
    again = design_from(document_of(design))
    return MEASURES[name].of(Measured(again.without_variants(), SHELF))


def read(design, *names):
    """Measures read off a design as it is; of one, its value."""
    measured = Measured(design, SHELF)
    found = tuple(MEASURES[name].of(measured) for name in names)
    return found if len(found) > 1 else found[0]


def cylinder(diameter=20.0, **relief):
    """A design on a blank without taper, where closed forms hold from end to end."""
    document = document_of(samples.load("half-scale").without_variants())
    document["blank"]["stations"] = [{"at": at, "diameter": diameter} for at in (0, 800)]
    document["blank"].pop("fitted", None)
    document["layers"] = [
        {**document["layers"][0], **relief},
        *[layer for layer in document["layers"] if layer["kind"] == "cover"],
    ]
    return design_from(document)


# ---- Closed forms by hand


def test_half_coverage_of_one_start():
    # w = pi r / sqrt(2) covers half at 45 degrees (common practice, no source).
    width = math.pi * 10 / math.sqrt(2)
    design = cylinder(angle=60)
    found = fitted(design, f"relief.strip_width={width}", "covered_share=0.5")
    best = found.solutions[0]
    assert found.met
    assert set(best.changes) == {"relief.angle"}
    assert best.changes["relief.angle"] == pytest.approx(45, abs=0.01)
    assert value(best.design, "covered_share") == pytest.approx(0.5, rel=1e-4)


@pytest.mark.parametrize("laid", ["constant gap", "fixed angle"])
def test_turns_of_a_helix_on_a_cylinder(laid):
    # By hand: turns = L tan(alpha) / (2 pi r).
    design = cylinder(laid=laid, gap=8.0)
    turns = 3.0
    expected = math.degrees(math.atan(turns * 2 * math.pi * 10 / design.placement.length))
    best = fitted(design, f"turns={turns}", free=["relief.angle"]).solutions[0]
    assert best.changes["relief.angle"] == pytest.approx(expected, abs=0.02)


def test_turns_on_a_taper_by_quadrature():
    # By hand: d(theta)/dz = tan(alpha) sqrt(1 + r'^2) / r, integrated by SciPy's adaptive rule.
    design = samples.load("graded-trim")
    best = fitted(design, "turns=3", free=["relief.angle"]).solutions[0]
    blank = design.blank.measured()
    slope = math.tan(math.radians(best.changes["relief.angle"]))
    turned, _ = quad(
        lambda z: slope * math.hypot(1, float(blank.slope(z))) / float(blank.radius(z)),
        design.placement.start,
        design.placement.end,
        points=[450],
    )
    assert turned / (2 * math.pi) == pytest.approx(3, abs=5e-4)


def test_five_whole_turns_between_the_grips():
    found = fitted(samples.load("half-scale"), "turns=5", keep=["placement.to"])
    for one in found.solutions:
        assert value(one.design, "turns") == pytest.approx(5, abs=5e-4)
        assert one.design.placement == samples.load("half-scale").placement


# ---- Diamonds and cells that meet


def test_cords_cross_on_the_guide_line_at_both_ends():
    # Both hands' cords cross where they meet: by the winding itself, at the start and at the end a
    # right-hand and a left-hand cord stand at theta = 0.
    found = fitted(samples.load("cord-lattice"), "meet")
    assert len(found.solutions) >= 3
    for one in found.solutions:
        plan = Plan(one.design, SHELF)
        for winding in plan.relief.windings:
            step = 2 * math.pi / winding.starts
            for at in (plan.start, plan.end):
                from_cord = float(winding.phase_at(at)) / step
                assert from_cord == pytest.approx(round(from_cord), abs=1e-3)


def test_every_turn_of_a_mesh_crosses_the_guide_line_at_a_yarn():
    # On a cylinder, by the winding itself: from crossing to crossing whole cells along the run.
    best = fitted(cylinder(gap=20.0), "meet").solutions[0]
    plan = Plan(best.design, SHELF)
    crossings = plan.relief.winding.crossings(np.array([0.0]))[0]
    inside = crossings[(crossings >= plan.start) & (crossings <= plan.end)]
    cells = np.diff(plan.relief.winding.length_at(inside)) / best.design.relief.cell
    assert cells.size
    assert cells == pytest.approx(np.rint(cells), abs=2e-2)
    assert plan.relief.width / best.design.relief.cell == pytest.approx(
        round(plan.relief.width / best.design.relief.cell), abs=1e-3
    )


def test_a_full_mesh_closes_like_a_rolled_sheet():
    # A square lattice rolled up closes where the round is a lattice vector: C² = a² (M² + N²), as
    # for the chiral vector of a nanotube ([Saito1998], eq. 3.1, with a
    # square for a hexagonal lattice). What is left of C is the gap.
    best = fitted(samples.load("full-mesh"), "meet").solutions[0]
    relief = best.design.relief
    across = value(best.design, "cells")
    ahead = value(best.design, "cells_ahead")
    around = math.pi * 2 * Plan(best.design, SHELF).middle_radius
    gap = value(best.design, "gap") * math.sin(relief.angle)
    closing = math.hypot(ahead * relief.cell, across * relief.cell + gap)
    assert closing == pytest.approx(around, rel=1e-5)
    assert gap <= relief.yarn_width


# ---- Brute force


def test_the_least_change_that_brute_force_finds():
    # Every angle by tenths of a degree, with the strip's gap kept as the file gives it.
    design = samples.load("half-scale")
    best = fitted(design, "turns=2.2", free=["relief.angle"]).solutions[0]
    base = design.without_variants()
    near = [
        angle
        for angle in np.arange(40, 60, 0.1)
        if abs(read(with_changes(base, {"relief.angle": float(angle)}), "turns") - 2.2) < 0.01
    ]
    assert min(near) - 0.1 <= best.changes["relief.angle"] <= max(near) + 0.1
    assert near


def test_every_solution_of_whole_cells_and_turns_is_on_a_grid():
    # All pairs (cells, turns) that a fine grid of angles and gaps passes through.
    design = cylinder(gap=20.0)
    found = fitted(design, "cells=whole", "turns=whole", keep=["placement.to", "relief.starts"])
    assert found.met
    grid = {
        tuple(map(round, read(made, "cells", "turns")))
        for angle, gap in itertools.product(np.arange(20, 70, 2.0), np.arange(5, 45, 2.0))
        if (made := _made(design, angle, gap)) is not None
    }
    for one in found.solutions:
        pair = round(value(one.design, "cells")), round(value(one.design, "turns"))
        assert pair in grid


def _made(design, angle, gap):
    try:
        return with_changes(design, {"relief.angle": float(angle), "relief.gap": float(gap)})
    except DesignProblem:
        return None


# ---- Designs given back

STRIPS = st.fixed_dictionaries(
    {
        "angle": st.floats(15, 75),
        "covered_share": st.floats(0.2, 0.95),
        "starts": st.integers(1, 3),
    }
)


@settings(max_examples=12, suppress_health_check=[HealthCheck.filter_too_much])
@given(
    strip=STRIPS,
    pair=st.sampled_from(
        [
            ("strip_width", "covered_share"),
            ("gap", "strip_width"),
            ("pitch", "gap"),
            ("gap", "covered_share"),
        ]
    ),
)
def test_the_numbers_of_a_design_give_it_back(strip, pair):
    base = samples.load("half-scale").without_variants()
    changes = {f"relief.{name}": one for name, one in strip.items()}
    try:
        goal = with_changes(base, changes)
        begun = with_changes(base, {"relief.starts": strip["starts"]})
    except DesignProblem:
        assume(False)
    # A strip that does not hold its gap is warned of, and none such is offered.
    relief = Plan(goal, SHELF).relief
    assume(not list(kind_of(relief.layer).numbers.warnings(relief)))
    wishes = [f"{name}={value(goal, name):.12g}" for name in pair]
    found = fitted(begun, *wishes, keep=["relief.starts"])
    assert found.met
    for name in pair:
        assert value(found.solutions[0].design, name) == pytest.approx(value(goal, name), rel=2e-4)


@settings(max_examples=6)
@given(angle=st.floats(12, 70), count=st.integers(3, 9))
def test_a_lattice_is_given_back(angle, count):
    base = samples.load("cord-lattice").without_variants()
    goal = with_changes(base, {"relief.angle": angle, "relief.count": count})
    begun = with_changes(base, {"relief.count": count})
    wish = f"diamonds={value(goal, 'diamonds'):.12g}"
    found = fitted(begun, wish, free=["relief.angle"])
    assert found.met
    assert value(found.solutions[0].design, "diamonds") == pytest.approx(
        value(goal, "diamonds"), abs=5e-4
    )


# ---- Weight and thread


def weighed(design):
    """Weight in the bench report, with every coat poured one by one."""
    return bench_report(build(Plan(design, SHELF), Detail.DRAFT)).figure("added_mass").value


def test_under_a_weight():
    design = samples.load("two-start-band")
    before = value(design, "weight")
    found = fitted(design, at_most=[f"weight={0.85 * before:.6g}"])
    assert found.met
    for one in found.solutions:
        assert weighed(one.design) <= 0.85 * before * (1 + 1e-6)


@pytest.mark.parametrize("name", ["full-mesh", "lettered-band", "scale-and-cross", "shoal-panel"])
def test_weight_and_thread_are_what_the_bench_says_of_the_strip_that_is_cut(name):
    design = samples.load(name).without_variants()
    bench = bench_report(build(Plan(design, SHELF), Detail.DRAFT))
    threads = bench.table("threads")
    columns = [column.key for column in threads.columns]
    rows = [dict(zip(columns, row, strict=True)) for row in threads.rows]
    cover = Plan(design, SHELF).cover
    on_cover = sum(row["on_blank"] for row in rows if cover and row["use"] == cover.path)
    weight, thread = read(design, "weight", "cover_thread")
    assert weight == pytest.approx(bench.figure("added_mass").value, rel=1e-9)
    assert thread == pytest.approx(on_cover, rel=1e-9)


def test_a_weight_is_met_where_the_strips_whole_cells_make_it_jump():
    design = samples.load("lettered-band").without_variants()
    # Between two jumps: 5.26 g to 5.18 g near a gap of 28 mm, 5.16 g to 5.08 g near 31 mm.
    found = fitted(design, "weight=5.16", free=["relief.gap"])
    assert found.met
    assert weighed(found.solutions[0].design) == pytest.approx(5.16, rel=2e-3)


def test_a_weight_within_a_jump_is_missed_by_as_little_as_can_be():
    document = document_of(samples.load("lettered-band").without_variants())
    found = fitted(design_from(document), "weight=5.1", free=["relief.gap"])
    assert not found.met
    missed = abs(weighed(found.solutions[0].design) - 5.1)
    # All gaps around the jump, one by one; the strip stays the design's first layer.
    relief, *others = document["layers"]
    for gap in np.linspace(30.5, 31.5, 11):
        one = design_from({**document, "layers": [{**relief, "gap": float(gap)}, *others]})
        assert missed <= abs(weighed(one) - 5.1) + 1e-3


def test_turns_and_weight_together():
    found = fitted(
        samples.load("half-scale"),
        "turns=2.2",
        at_most=["weight=4.5"],
        free=["relief.angle", "finish.coat_thickness"],
    )
    best = found.solutions[0]
    assert set(best.changes) == {"relief.angle", "finish.coat_thickness"}
    assert value(best.design, "turns") == pytest.approx(2.2, abs=5e-4)
    assert value(best.design, "weight") <= 4.5


# ---- Which fields change


def test_as_wished_already():
    found = fitted(samples.load("graded-trim"), "cells=8")
    assert found.met
    assert [one.changes for one in found.solutions] == [{}]


def test_free_and_kept():
    design = samples.load("half-scale")
    for one in fitted(design, "covered_share=0.5", free=["relief.gap"]).solutions:
        assert set(one.changes) == {"relief.gap"}
    for one in fitted(design, "covered_share=0.5", keep=["relief.gap"]).solutions:
        assert "relief.gap" not in one.changes
    both = fitted(design, "turns=3", free=["relief.angle", "relief.hand"])
    assert [set(one.changes) for one in both.solutions] == [
        {"relief.angle"},
        {"relief.angle", "relief.hand"},
    ]


def test_a_strips_other_field_is_freed():
    # By hand: at 45 degrees 9 cells of 2.822 mm are 25.398 mm; the next strip comes after
    # pi 16.9 / tan 45 = 53.093 mm, which leaves 53.093 - 25.398 / sin 45 = 17.175 mm.
    design = samples.load("half-scale")
    found = fitted(design, "cells=9", free=["relief.strip_width", "relief.covered_share"])
    kinds = [set(one.changes) for one in found.solutions]
    assert {"relief.strip_width"} in kinds
    for one in found.solutions:
        assert value(one.design, "gap") == pytest.approx(17.175, abs=5e-3)
    impossible = fitted(design, "cells=90", free=["relief.strip_width", "relief.gap"])
    assert not impossible.met


def test_alternatives_are_distinct_and_in_order():
    found = fitted(samples.load("cord-lattice"), "meet", most=5)
    costs = [one.cost for one in found.solutions]
    assert costs == sorted(costs)
    assert len({tuple(sorted(one.changes.items())) for one in found.solutions}) == len(costs)
    assert any("relief.count" in one.changes for one in found.solutions)


def _film(measured):
    """A weight that needs no wrap: the finish alone, as a film on the blank."""
    finish = measured.design.finish
    return finish.coats * finish.coat_thickness * measured.design.placement.length / 30


def test_other_fields_are_offered_before_the_number_of_coats(monkeypatch):
    monkeypatch.setattr(Measured, "mass", property(_film))
    design = samples.load("half-scale")
    before = _film(Measured(design, SHELF))
    found = fitted(design, at_most=[f"weight={0.7 * before:.6g}"])
    changed = [set(one.changes) for one in found.solutions]
    assert {"finish.coats"} in changed
    assert {"finish.coat_thickness"} in changed
    coats = ["finish.coats" in paths for paths in changed]
    assert coats == sorted(coats)
    # It is the least of fields and steps: by these alone it would come first.
    assert min(found.solutions, key=lambda one: one.cost).changes.keys() == {"finish.coats"}


def test_a_nearest_design_that_meets_the_wishes_is_a_solution(monkeypatch):
    # The search for solutions may pass over it: a weight jumps where a wrap is cut.
    monkeypatch.setattr(Measured, "mass", property(_film))
    monkeypatch.setattr(search._Search, "solutions", lambda _: [])
    found = fitted(samples.load("half-scale"), at_most=["weight=0.9"], free=["placement.to"])
    assert value(found.solutions[0].design, "weight") <= 0.9
    assert found.met, found.reason


def test_a_field_at_its_default_counts_as_less_of_a_change(monkeypatch):
    monkeypatch.setattr(Measured, "mass", property(_film))
    document = document_of(samples.load("half-scale").without_variants())
    costs = []
    for finish in ({"coats": 2}, {"coats": 2, "coat_thickness": 0.12}):
        design = design_from({**document, "finish": finish})
        found = fitted(design, "weight=1.3", free=["finish.coat_thickness"])
        costs.append(found.solutions[0].cost)
    at_default, given = costs
    assert 0 < at_default < given


def test_no_new_warning_is_brought_about():
    # The upper grip begins at 468 mm; the cover runs 8 mm beyond the relief.
    found = fitted(samples.load("half-scale"), "turns=2.6", free=["placement.to"])
    assert not found.met
    assert found.solutions[0].design.placement.end <= 468 - 8 + 1e-6
    assert "reaches into the wrap" in found.reason


# ---- Whole numbers, over all of their range


@pytest.mark.parametrize("count", [1, 2, 5, 12, 20, 40])
def test_a_whole_number_far_from_the_present_one(count):
    # By the document itself: the same number passes its checks when it is set.
    design = samples.load("cord-lattice").without_variants()
    assert with_changes(design, {"relief.count": count}).relief.count == count
    found = fitted(design, f"diamonds_round={count}")
    assert found.met
    assert found.solutions[0].changes == {"relief.count": count}


def test_whole_numbers_far_from_the_present_one_in_a_measure():
    # 13.45 diamonds now; the nearest whole number that keeps the bound is 30.
    found = fitted(samples.load("cord-lattice"), "diamonds=whole", at_least=["diamonds=29.5"])
    assert found.met
    assert value(found.solutions[0].design, "diamonds") == pytest.approx(30, abs=5e-4)


def test_two_whole_numbers_change_at_once():
    free = ["crossed.repeats", "crossed.around"]
    found = fitted(samples.load("open-diamonds"), "diamonds=9", "diamonds_round=4", free=free)
    assert found.met
    assert found.solutions[0].changes == {"crossed.repeats": 9, "crossed.around": 4}


def test_the_nearest_number_that_keeps_a_weight():
    # Every number of coats weighed one by one.
    design = with_changes(samples.load("two-start-band").without_variants(), {"finish.coats": 6})
    weights = {
        coats: read(with_changes(design, {"finish.coats": coats}), "weight")
        for coats in range(1, 7)
    }
    bound = (weights[3] + weights[4]) / 2
    found = fitted(design, at_most=[f"weight={bound:.6g}"], free=["finish.coats"])
    assert found.met
    assert found.solutions[0].changes == {"finish.coats": 3}


# ---- Values that builders do not use


def test_an_unusual_value_is_offered_only_when_asked():
    design = samples.load("half-scale")
    free = ["finish.coat_thickness", "relief.yarn_height"]
    found = fitted(design, at_most=["weight=2.8"], free=free)
    assert not found.met
    assert "is usually no less than 0.05 mm" in found.reason
    assert found.unusual
    assert found.reason.endswith(" would do it, which is unusual.")
    asked = fitted(design, at_most=["weight=2.8"], free=free, unusual=True)
    assert asked.met
    assert asked.solutions[0].design.finish.coat_thickness < 0.05


def test_what_is_offered_for_a_weight_is_usual():
    # As the fields are marked: common practice, no source.
    usual = {"finish.coat_thickness": (0.05, 0.4), "relief.yarn_height": (0.1, 1)}
    found = fitted(samples.load("half-scale"), at_most=["weight=3"])
    for one in found.solutions:
        for path, (least, most) in usual.items():
            assert least <= one.changes.get(path, least) <= most


def test_a_present_value_may_be_unusual():
    design = with_changes(samples.load("half-scale"), {"finish.coat_thickness": 0.03})
    found = fitted(design, "turns=2.2", free=["relief.angle", "finish.coat_thickness"])
    assert found.met
    assert found.solutions[0].design.finish.coat_thickness == pytest.approx(0.03)


# ---- A gap that is held


def test_the_nearest_strip_keeps_its_gap_up_the_taper():
    # Read off the winding, turn by turn: a ruler finds the gap within what it can show.
    found = fitted(samples.load("half-scale"), "strip_width=80")
    for one in found.solutions:
        strip = Plan(one.design, SHELF).relief
        at, gaps = gaps_along(strip.winding, strip.width)
        place = one.design.placement
        inside = gaps[(at >= place.start) & (at <= place.end)]
        assert inside == pytest.approx(value(one.design, "gap"), abs=0.5)


# ---- Crossed threads that meet


def test_open_diamonds_end_alike_at_both_ends():
    # By the marks of the laid pattern: a cross of the guide line at both ends of the wrap.
    design = with_changes(samples.load("open-diamonds"), {"crossed.spacing": 33})
    found = fitted(design, "meet", free=["crossed.spacing"])
    assert found.met
    ends = []
    for one in found.solutions:
        plan = Plan(one.design, SHELF)
        crossed = next(builder for builder in plan.builders if builder.path == "crossed")
        (_, marks), *_ = crossed.axes()
        spacing = one.design.placement.length / round(value(one.design, "diamonds"))
        ends += [(marks[0] - plan.start) / spacing, (plan.end - marks[-1]) / spacing]
        assert ends[-2] == pytest.approx(ends[-1], abs=1e-3)
    assert any(end == pytest.approx(0, abs=1e-3) for end in ends)


@pytest.mark.parametrize(
    ("wish", "measure", "held"),
    [("diamond_length=25", "diamond_length", 25.0), ("angle=50", "angle", math.radians(50))],
)
def test_crossed_threads_by_length_and_angle(wish, measure, held):
    found = fitted(samples.load("open-diamonds"), wish)
    assert found.met
    assert value(found.solutions[0].design, measure) == pytest.approx(held, rel=1e-4)


# ---- Impossible wishes

# Every two free fields are searched together before a wish is called impossible: few are quick, and
# quickest on cords, which need no gap to be held.
CORDS = ["relief.angle", "relief.count"]
STRIP = ["relief.angle", "relief.gap"]


def test_a_share_below_what_the_strip_covers():
    # By hand: at the least angle, 5 degrees, 25 mm cover 25 / (pi 16.9 cos 5) = 0.4727, and at the
    # least usual one, 10 degrees, 0.4781. On a cylinder any gap can be held.
    even = [{"at": 110, "diameter": 16.9}, {"at": 700, "diameter": 16.9}]
    design = with_changes(samples.load("half-scale"), {"blank.stations": even})
    for unusual, angle, words in (
        (True, 5, "47.27 %, for relief.angle can be no less than 5 degrees."),
        (False, 10, "47.81 %, for relief.angle is usually no less than 10 degrees."),
    ):
        wishes = "relief.strip_width=25", "covered_share=0.2"
        found = fitted(design, *wishes, unusual=unusual)
        best = found.solutions[0]
        assert not found.met
        assert value(best.design, "covered_share") == pytest.approx(
            25 / (math.pi * 16.9 * math.cos(math.radians(angle))), rel=1e-3
        )
        assert found.reason == f"covered share 20 % cannot be had here; the nearest is {words}"


@pytest.mark.parametrize(
    ("name", "wishes", "how", "words"),
    [
        ("cord-lattice", ["turns=5", "pitch=30"], {"free": CORDS}, "pull against each other"),
        ("cord-lattice", ["turns=50"], {"free": CORDS}, "is usually no more than 80 degrees"),
        ("half-scale", ["turns=50"], {"free": STRIP, "unusual": True}, "no more than 85 degrees"),
        (
            "half-scale",
            ["turns=5"],
            {"free": ["relief.hand"]},
            "nothing that would change it is free",
        ),
    ],
)
def test_why_not(name, wishes, how, words):
    found = fitted(samples.load(name), *wishes, **how)
    assert not found.met
    assert len(found.solutions) == 1
    assert words in found.reason
    assert found.reason.endswith(".")
    assert found.reason.isprintable()


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"free": ["blank.colour"]}, "not a field that a fit changes"),
        ({"free": ["relief.angel"]}, "did you mean angle?"),
        ({"free": ["relief.angle"], "keep": ["relief.angle"]}, "both free and kept"),
    ],
)
def test_refused(how, words):
    with pytest.raises(DesignProblem, match=words.replace("?", r"\?")):
        fitted(samples.load("half-scale"), "turns=3", **how)


def test_cells_that_no_angle_gives():
    # Longer than the blank is round: at 90 degrees cells_along would be its least, C / cell.
    found = fitted(samples.load("half-scale"), "cells_along=3", free=["relief.angle"])
    assert not found.met


class _TooManyTrialsError(Exception):
    """More designs were tried than the search needs."""


def test_no_whole_number_is_tried_where_its_fields_do_not_reach():
    # Every number of diamonds would be solved for beside every number around the blank, although a
    # diamond is never as narrow as is wished: 46 mm, and 54 mm where one goes around.
    steps = itertools.count(1)

    def step(_):
        if next(steps) > 6000:
            raise _TooManyTrialsError

    found = fitted(
        samples.load("filled-chevrons"),
        "diamond_width=46.4061mm",
        "diamonds=whole",
        free=["crossed.spacing", "crossed.around"],
        step=step,
    )
    assert not found.met
    assert "crossed.around can be no less than 1" in found.reason


def test_a_setting_that_can_never_be():
    with pytest.raises(DesignProblem, match=r"relief\.strip_width: -4 mm is not between"):
        fitted(samples.load("half-scale"), "relief.strip_width=-4")
    with pytest.raises(DesignProblem, match="given a value and free"):
        fitted(samples.load("half-scale"), "relief.angle=40", "turns=3", free=["relief.angle"])
