"""Crossed patterns in a design: what they refuse, what they become, what they come to."""

import copy
from typing import Any

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from geometry.errors import GeometryError
from geometry.grid import Detail
from geometry.layers.bundles import Side
from geometry.strip_frame import StripFrame
from geometry.winding import Hand
from materials.shelf import Shelf
from scenes.bench.pattern import pattern_of
from scenes.bench.report import bench_report
from scenes.building.build import Plan, Wrap, build
from scenes.building.spelling import spelled_out
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.variants import variants
from scenes.figures.figures import SectionKey
from scenes.files import samples
from scenes.files.storage import parse
from scenes.files.toml_writing import document_text
from scenes.kinds.crossed.bench import rounds
from scenes.kinds.crossed.builder import CrossedBuilder, CrossedResult
from scenes.kinds.crossed.model import Course, CrossedPattern
from scenes.problems import DesignProblem

Document = dict[str, Any]
SAMPLES = ("open-diamonds", "filled-chevrons", "scale-and-cross", "cross-over-scale")
SHELF = Shelf.shipped()


def document(**fields: object) -> Document:
    """A crossed pattern and nothing else, on a blank of 20 mm all the way."""
    layer: Document = {"kind": "crossed pattern", "spacing": 30, **fields}
    if "courses" not in layer:
        layer.setdefault(
            "pattern",
            {"kind": "diamond", "threads": [{"thread": "Gorse Gold A", "count": 3}]},
        )
    layer = {key: value for key, value in layer.items() if value is not None}
    return {
        "turnlight": 1,
        "units": "mm",
        "title": "Test",
        "blank": {
            "colour": "#15181c",
            "stations": [{"at": 250, "diameter": 20}, {"at": 600, "diameter": 20}],
        },
        "placement": {"from": 300, "to": 420},
        "layers": [layer],
    }


def builder(design: Design) -> CrossedBuilder:
    plan = Plan(design, SHELF)
    layer = next(one for one in design.layers if isinstance(one, CrossedPattern))
    return next(one for one in plan.builders if one.layer is layer)


def drafted(design: Design) -> Wrap:
    return build(Plan(design, SHELF), Detail.DRAFT)


# ---- What it takes and refuses


def test_a_design_may_be_a_crossed_pattern_alone() -> None:
    wrap = drafted(design_from(document()))
    assert wrap.design.cover is None
    assert wrap.surface.tube.any()
    assert wrap.outside is not None


@pytest.mark.parametrize(
    ("fields", "path", "words"),
    [
        ({"around": 0}, "crossed.around", "0 is not between 1 and 12"),
        ({"repeats": 3}, "crossed", "spacing and repeats are given together; keep one of them"),
        ({"spacing": None}, "crossed", "it has no spacing, repeats or angle"),
        ({"spacing": 121}, "crossed.spacing", "crosses 121 mm apart do not come round in a wrap"),
        ({"spacing": 3}, "crossed.spacing", "lead the threads at 84.5 degrees to the axis"),
        ({"spacing": 100, "around": 12}, "crossed.spacing", "lead the threads at 3 degrees"),
        ({"pattern": {"kind": "star"}}, "crossed.pattern.kind", "give diamond or chevron"),
        (
            {"pattern": {"kind": "diamond", "threads": []}},
            "crossed.pattern.threads",
            "0 entries are fewer than 1",
        ),
        (
            {"pattern": None, "courses": []},
            "crossed.courses",
            "0 entries are fewer than 1; give at least 1",
        ),
        (
            {"courses": [{"hand": "right", "thread": "Gorse Gold A"}], "pattern": {"kind": "x"}},
            "crossed.pattern.kind",
            "is not a kind known here",
        ),
        (
            {"courses": [{"hand": "right", "thread": "Gorse Gold A", "axis": 3}]},
            "crossed.courses.0.axis",
            "3 is more than the 2 there are round the blank",
        ),
        (
            {"courses": [{"hand": "rihgt", "thread": "Gorse Gold A"}]},
            "crossed.courses.0.hand",
            "did you mean right",
        ),
        (
            {"spacing": None, "marks": "along the flat band"},
            "crossed.marks",
            "there is no strip to lead the threads beside",
        ),
        (
            {"marks": "along the flat band"},
            "crossed.marks",
            "spacing cannot be given where the relief's band leads the threads",
        ),
    ],
)
def test_it_is_refused_in_one_sentence(fields: Document, path: str, words: str) -> None:
    with pytest.raises(DesignProblem) as caught:
        design_from(document(**fields))
    assert caught.value.field == path
    assert words in str(caught.value)


def test_neither_or_both_of_pattern_and_courses() -> None:
    bare = document()
    del bare["layers"][0]["pattern"]
    with pytest.raises(DesignProblem, match="it has no pattern or courses"):
        design_from(bare)
    both = document(courses=[{"hand": "right", "thread": "Gorse Gold A"}])
    both["layers"][0]["pattern"] = document()["layers"][0]["pattern"]
    with pytest.raises(DesignProblem, match="pattern and courses are given together"):
        design_from(both)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        # 30 mm apart and two round on 20 mm: room 30 sin(46.3 degrees) = 21.7 mm, by hand.
        ({"courses": [{"hand": "right", "thread": "Gorse Gold A", "count": 140}]}, "room for 21.6"),
        (
            {
                "around": 12,
                "spacing": 5,
                "courses": [{"hand": "right", "thread": "Gorse Gold A", "count": 20}] * 8,
            },
            "are more than 1600",
        ),
        (
            {
                "packed": True,
                "courses": [{"hand": hand, "thread": "Gorse Gold A"} for hand in Hand],
            },
            "which no pushing of threads makes good",
        ),
    ],
)
def test_what_cannot_be_laid_is_told(fields: Document, words: str) -> None:
    plan = Plan(design_from(document(**fields)), SHELF)
    with pytest.raises(DesignProblem, match=words):
        plan.prepare()
    with pytest.raises(DesignProblem, match=words):
        build(plan, Detail.DRAFT)


def test_two_patterns_have_names() -> None:
    two = document()
    two["layers"].append(dict(copy.deepcopy(two["layers"][0]), name="over", around=1))
    design = design_from(two)
    assert [design.path_of(layer) for layer in design.layers] == ["layers.0", "over"]
    assert with_changes(design, {"over.around": 3}).layers[1].around == 3  # type: ignore[union-attr]
    wrap = drafted(design)
    assert {use.use for use in wrap.threads()} == {"layers.0", "over"}


@st.composite
def any_patterns(draw: st.DrawFn) -> Document:
    """A crossed pattern with any numbers that its fields take, on a blank that tapers."""
    name = st.sampled_from(["Gorse Gold A", "Sloe Black D", "Meltwater White A"])
    fields: Document = {
        "spacing": None,
        "around": draw(st.none() | st.integers(1, 6)),
        "marks": draw(st.sampled_from(["evenly spaced", "closer as the blank thins"])),
        "packed": draw(st.booleans()),
        **draw(
            st.one_of(
                st.builds(lambda v: {"spacing": v}, st.floats(8, 40)),
                st.builds(lambda v: {"repeats": v}, st.integers(1, 5)),
                st.builds(lambda v: {"angle": v}, st.floats(20, 70)),
            )
        ),
    }
    if draw(st.booleans()):
        fields["pattern"] = {
            "kind": draw(st.sampled_from(["diamond", "chevron"])),
            "filled": draw(st.booleans()),
            "at_once": draw(st.integers(1, 20)),
            "threads": draw(
                st.lists(
                    st.fixed_dictionaries({"thread": name, "count": st.integers(1, 12)}),
                    min_size=1,
                    max_size=4,
                )
            ),
        }
    else:
        fields["courses"] = draw(
            st.lists(
                st.fixed_dictionaries(
                    {
                        "hand": st.sampled_from([*Hand]).map(str),
                        "side": st.sampled_from([*Side]).map(str),
                        "thread": name,
                        "count": st.integers(1, 30),
                    },
                    optional={"axis": st.integers(1, 2)},
                ),
                min_size=1,
                max_size=6,
            )
        )
    made = document(**fields)
    tip = draw(st.floats(12, 20))
    made["blank"]["stations"] = [{"at": 250, "diameter": 20}, {"at": 600, "diameter": tip}]
    made["placement"]["to"] = 300 + draw(st.floats(25, 60))
    made["finish"] = {"coats": 0}
    return made


@settings(max_examples=40, deadline=None, derandomize=True)
@given(any_patterns())
def test_whatever_is_asked_is_laid_or_refused_in_one_sentence(asked: Document) -> None:
    try:
        wrap = drafted(design_from(asked))
    except (DesignProblem, GeometryError) as problem:
        sentence = str(problem)
        assert sentence.startswith(("crossed", "detail"))
        assert "\n" not in sentence
        assert 15 < len(sentence) < 400
        return
    assert np.isfinite(wrap.surface.radius).all()
    assert (wrap.surface.radius >= wrap.beneath.radius - 1e-9).all()
    assert all(use.length > 0 for use in wrap.threads())
    assert bench_report(wrap).section(SectionKey.PATTERN) is not None


# ---- Sequences


def steps_of(pattern: Document, **fields: object) -> list[tuple[str, str, str, int]]:
    courses = builder(design_from(document(pattern=pattern, **fields))).courses
    return [(one.hand.value, one.side.value, one.thread, one.count) for one in courses]


def test_a_diamond_written_out_by_hand() -> None:
    threads = [{"thread": "Gorse Gold A", "count": 2}, {"thread": "Sloe Black A", "count": 3}]
    told = steps_of({"kind": "diamond", "threads": threads, "at_once": 2})
    gold, black = "Gorse Gold A", "Sloe Black A"
    assert told == [
        ("right", "centre", gold, 2),
        ("left", "centre", gold, 2),
        ("right", "tip", black, 2),
        ("right", "butt", black, 2),
        ("left", "tip", black, 2),
        ("left", "butt", black, 2),
        ("right", "tip", black, 1),
        ("right", "butt", black, 1),
        ("left", "tip", black, 1),
        ("left", "butt", black, 1),
    ]


def test_a_chevron_written_out_by_hand() -> None:
    threads = [{"thread": "Gorse Gold A", "count": 2}, {"thread": "Sloe Black A"}]
    told = steps_of({"kind": "chevron", "threads": threads, "towards": "butt"})
    assert told == [
        (hand, "butt", name, 1)
        for name in ("Gorse Gold A", "Gorse Gold A", "Sloe Black A")
        for hand in ("right", "left")
    ]


@pytest.mark.parametrize("kind", ["diamond", "chevron"])
def test_a_filled_pattern_covers_the_blank(kind: str) -> None:
    pattern = {"kind": kind, "filled": True, "threads": [{"thread": "Gorse Gold A", "count": 3}]}
    wrap = drafted(design_from(document(pattern=pattern)))
    within = wrap.surface.between(300, 420)
    assert wrap.surface.tube[within].mean() > 0.9999
    found = wrap.kind_results[0]
    assert isinstance(found, CrossedResult)
    assert found.layers == 2


@pytest.mark.parametrize("name", ["open-diamonds", "filled-chevrons", "scale-and-cross"])
def test_spelled_out_it_is_laid_the_same(name: str) -> None:
    design = samples.load(name).without_variants()
    spelled = with_changes(design, spelled_out(Plan(design, SHELF)))
    layer = next(one for one in spelled.layers if isinstance(one, CrossedPattern))
    assert layer.pattern is None
    assert parse(document_text(document_of(spelled))) == spelled
    one, other = drafted(design), drafted(spelled)
    for array in ("radius", "material", "row"):
        np.testing.assert_array_equal(getattr(one.surface, array), getattr(other.surface, array))


def test_a_change_of_one_takes_the_place_of_the_other() -> None:
    design = samples.load("open-diamonds").without_variants()
    course = {"hand": "left", "thread": "Gorse Gold A"}
    changed = with_changes(design, {"crossed.courses": [course]})
    assert changed.layers[1].pattern is None  # type: ignore[union-attr]
    back = with_changes(changed, {"crossed.pattern": document()["layers"][0]["pattern"]})
    assert back.layers[1].courses is None  # type: ignore[union-attr]
    closer = with_changes(design, {"crossed.angle": 50})
    assert closer.layers[1].repeats is None  # type: ignore[union-attr]


def test_rounds_by_hand() -> None:
    a, b, c = (Course(hand=Hand.RIGHT, side=side, thread="x") for side in Side)
    told = list(rounds((a, b, c, b, c, b, c, a, a)))
    assert told == [(1, (a,)), (3, (b, c)), (2, (a,))]


# ---- What it comes to


@pytest.mark.parametrize(
    ("given", "spacing"),
    # 20 mm, two round, 45 degrees: 2 pi 10 / 2 = 31.416 mm; 120 mm in 5 spacings: 24 mm. By hand.
    [({"spacing": 30}, 30), ({"repeats": 5}, 24), ({"angle": 45}, 31.415927)],
)
def test_spacing_by_hand(given: Document, spacing: float) -> None:
    design = design_from(document(**{"spacing": None, **given}))
    layer = design.layers[0]
    assert isinstance(layer, CrossedPattern)
    assert layer.spacing_on(design) == pytest.approx(spacing)
    axes = builder(design).axes()
    assert [round(np.degrees(angle)) for angle, _ in axes] == [0, 90, 180, 270]
    for number, (_, places) in enumerate(axes):
        np.testing.assert_allclose(np.diff(places), spacing, rtol=1e-5)
        offset = (places - 360) / spacing - number % 2 / 2
        np.testing.assert_allclose(offset, np.rint(offset), atol=1e-5)


def test_marks_that_taper_keep_the_angle() -> None:
    # At one angle the spacing is 2 pi r / (n tan(alpha)): it shrinks as the blank does.
    tapered = document(marks="closer as the blank thins")
    tapered["blank"]["stations"] = [{"at": 250, "diameter": 22}, {"at": 600, "diameter": 15}]
    work = builder(design_from(tapered))
    z = np.linspace(300, 420, 50)
    np.testing.assert_allclose(work.windings[0].angle_at(z), work.windings[0].angle_at(360))
    places = work.axes()[0][1]
    radius = work.plan.blank.radius((places[1:] + places[:-1]) / 2)
    np.testing.assert_allclose(np.diff(places) / radius, 30 / work.plan.middle_radius, rtol=1e-3)


def test_threads_follow_the_flat_band() -> None:
    # On the band between two turns of the strip lies the bundle of the strip's own hand.
    design = samples.load("scale-and-cross").without_variants()
    wrap = drafted(design)
    strip = wrap.plan.relief
    assert strip is not None
    across = StripFrame(strip.winding, wrap.surface.theta).coordinates(wrap.surface.z)[1]
    crossed = wrap.surface.tube & (wrap.surface.material == wrap.surface.material.max())
    names = [look.name for look in wrap.palette]
    red = wrap.surface.material == names.index("Rowan Red A")
    own = red & (wrap.surface.lay > 0)
    assert own.any()
    assert (np.abs(across[own]) > strip.width / 2 + 2).all()
    other = red & (wrap.surface.lay < 0)
    assert (np.abs(across[other]) < strip.width / 2).any()
    assert crossed.any()


def test_a_crossed_pattern_over_a_scale_lies_on_its_facets() -> None:
    wrap = drafted(samples.load("cross-over-scale").without_variants())
    bare = drafted(
        with_changes(
            samples.load("cross-over-scale").without_variants(),
            {"crossed.courses": [{"hand": "right", "thread": "Gorse Gold A"}]},
        )
    )
    assert (wrap.surface.radius >= wrap.beneath.radius - 1e-9).all()
    # The rings that bind its ends are round too, but lie round the blank.
    crossing = bare.surface.tube & (bare.surface.lay != 0)
    high = (bare.surface.radius - bare.beneath.radius)[crossing]
    thread = SHELF.thread("Gorse Gold A").diameter_mm
    # Bridging valleys it stands off them, and nowhere is it sunk into a facet.
    assert high.min() > 0.3 * thread
    assert 0.8 * thread < np.median(high) < 1.6 * thread


def test_what_shows_through_plain_nylon_is_the_thread_below() -> None:
    courses = [
        {"hand": "right", "thread": "Rowan Red A", "count": 5},
        {"hand": "left", "thread": "Meltwater White A", "count": 5},
    ]
    wrap = drafted(design_from(document(courses=courses)))
    names = [look.name for look in wrap.palette]
    white = wrap.surface.material == names.index("Meltwater White A")
    below = wrap.beneath.material[white]
    assert set(np.unique(below)) == {0, names.index("Rowan Red A")}


def test_metres_of_each_colour() -> None:
    # Threads of one hand on a cylinder: n count runs of sqrt(L² + (2 pi R L / p)²), R half a thread
    # outside the blank. L 120, p 60, r 10, d 0.17 (the shelf's): by hand 174.62 mm each.
    thread = SHELF.thread("Gorse Gold A")
    courses = [{"hand": "right", "thread": "Gorse Gold A", "count": 3}]
    wrap = drafted(design_from(document(courses=courses)))
    (use,) = wrap.threads()
    radius = 10 + thread.diameter_mm / 2
    exact = np.hypot(120, 2 * np.pi * radius * 2)
    assert use.length == pytest.approx(6 * exact, rel=0.004)


def test_the_bench_is_told() -> None:
    wrap = drafted(samples.load("open-diamonds").without_variants())
    bench = bench_report(wrap)
    section = bench.section(SectionKey.PATTERN)
    assert section is not None
    figures = {figure.key: figure.value for figure in section.figures}
    # Two each way on two axes: 2 (2 + 15) + 2 (15) a bundle... by the list: 2 in the middle and 15
    # on either side are 32 a bundle, and there are four bundles.
    assert figures["passes"] == 128
    assert figures["axes"] == 4
    assert figures["cross_spacing"] == pytest.approx(30)
    assert figures["crossing_layers"] == 2
    marks = section.table("cross_marks")
    assert marks is not None
    np.testing.assert_allclose(marks.column("odd"), [312, 342, 372, 402, 432], atol=1e-4)  # type: ignore[arg-type]
    order = section.table("lay_order")
    assert order is not None
    laid = 0
    times = 0
    for row in order.rows:
        times = int(row[1]) if row[1] is not None else times  # type: ignore[arg-type]
        laid += times * int(row[5])  # type: ignore[arg-type]
    assert 2 * laid == 128
    assert any("axes" in step.title for step in bench.steps)


def test_the_template_draws_the_bundles() -> None:
    pattern = pattern_of(Plan(samples.load("open-diamonds").without_variants(), SHELF))
    assert pattern.undrawn == ()
    # Both sides of two bundles each way, and the ends of the underwrap; a mark for every cross.
    assert len(pattern.lines) >= 8
    assert len(pattern.marks) == 2 * 5 + 2 * 4


@pytest.mark.parametrize("name", SAMPLES)
def test_every_sample_and_variant_can_be_laid(name: str) -> None:
    for _, design in variants(samples.load(name)):
        wrap = drafted(design)
        found = [one for one in wrap.kind_results if isinstance(one, CrossedResult)]
        assert [one.layers for one in found] == [2]
