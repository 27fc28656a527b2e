"""Marbled coats in a design: what is refused, the amounts for the bench, and what is laid."""

from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from geometry.grid import Detail
from materials.appearance import pigment_appearance
from materials.colour import parse_hex, srgb_to_linear
from materials.shelf import Shelf
from render.page.cards.form import new_entry
from render.page.cards.summaries import summary_of
from scenes.bench.pattern import pattern_of
from scenes.bench.report import bench_report
from scenes.building.build import Plan, Wrap, build
from scenes.design.differences import differences
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.figures.figures import Amount, BenchReport, Figure, Kind, Table
from scenes.files import samples
from scenes.kinds.marbled_coat.builder import MarbledBuilder, MarbledResult
from scenes.problems import DesignProblem
from scenes.quantities import Units
from tests.kept import kept

SHELF = Shelf.shipped()
INK = [{"name": "Ink", "colour": "#10131a"}]
FIVE = [{"name": f"Number {n}", "colour": f"#00000{n}"} for n in range(5)]
COAT = {"kind": "marbled coat", "base": "#102030", "pigments": FIVE[:2]}


def changed(**changes: Any) -> Design:
    design = samples.load("marbled-panel").without_variants()
    given = {f"marbled.{path.replace('__', '.')}": value for path, value in changes.items()}
    return with_changes(design, given) if given else design


def builder_of(design: Design) -> MarbledBuilder:
    plan = Plan(design, SHELF)
    return next(one for one in plan.builders if isinstance(one, MarbledBuilder))


def drafted(design: Design, detail: Detail = Detail.DRAFT) -> Wrap:
    return build(Plan(design, SHELF), detail)


@kept
def plain() -> tuple[Wrap, BenchReport]:
    """The sample, and what the bench is told of it."""
    wrap = drafted(changed())
    return wrap, bench_report(wrap)


def figure(key: str) -> Figure:
    found = plain()[1].figure(key)
    assert found is not None
    return found


def found_table(report: BenchReport, key: str) -> Table:
    found = report.table(key)
    assert found is not None
    return found


def table(key: str) -> Table:
    return found_table(plain()[1], key)


@pytest.mark.parametrize(
    ("changes", "path", "words"),
    [
        ({"pigments": INK}, "pigments", "1 entry is fewer than 2"),
        ({"pigments": FIVE}, "pigments", "5 entries are more than 4"),
        (
            {"pigments": [*INK, {"name": "Soot", "colour": "#10131A"}]},
            "pigments.1.colour",
            '"#10131A" is the colour of another pigment too; give each its own',
        ),
        (
            {"pigments": [*INK, {"name": "ink", "colour": "#ffffff"}]},
            "pigments.1.name",
            '"ink" is the name of another pigment too; give each its own',
        ),
        ({"pigments": [*INK, {"name": "Red", "colour": "red"}]}, "pigments.1.colour", "# and six"),
        ({"base": "blue"}, "base", '"blue" is not a colour; give the colour brushed on first'),
        ({"drop_diameter": float("nan")}, "drop_diameter", "not a number; give the diam"),
        ({"drop_diameter": -3}, "drop_diameter", "-3 mm is not between 0.5 and 20 mm; give the"),
        ({"drops": 0}, "drops", "0 is not between 1 and 160; give the number of drops"),
        ({"drops": 10**30}, "drops", "is not between 1 and 160; give the number of drops"),
        ({"thickness": 4}, "thickness", "4 mm is not between 0.03 and 0.8 mm; give the thickness"),
        ({"unevenness": 1}, "unevenness", "1 is not between 0 and 0.9; give how much drops"),
        ({"strokes__0__spacing": 0}, "strokes.0.spacing", "0 mm is not between 0.5 and 400 mm"),
        (
            {"strokes__1__spacing": 0.8},
            "strokes.1.spacing",
            "0.8 mm makes 105 tines, more than 60; give 1.4 mm or more",
        ),
        (
            {"strokes__0__softness": 15},
            "strokes.0.softness",
            "15 mm is more than the 9 mm from tine to tine, so that all would be dragged alike; "
            "give 9 mm or less",
        ),
        ({"strokes__0__direction": "up"}, "strokes.0.direction", '"up"'),
        ({"strokes": [{"direction": "round the blank"}] * 7}, "strokes", "7 entries are more"),
        ({"to": 319}, "to", "319 mm leaves no coat from 318 mm to 319 mm; give 320 mm or more"),
        ({"from": 420, "to": 480}, "from", "420 mm is not on the wrap; give a place from 318 mm"),
        ({"to": 500}, "to", "500 mm is not on the wrap; give a place from 320 mm to 402 mm"),
        ({"from": 0}, "from", "0 mm is not on the wrap; give a place from 318 mm to 400 mm"),
        ({"from": 401}, "from", "401 mm leaves no coat from 401 mm to 402 mm; give 400 mm or less"),
        (
            {"strokes__0__alternate": "no"},
            "strokes.0.alternate",
            '"no" is not true or false; write one of them, without quotes',
        ),
        ({"seed": -1}, "seed", "-1 is not between 0 and 999999"),
    ],
)
def test_what_is_not_right_is_said_in_one_sentence(
    changes: dict[str, Any], path: str, words: str
) -> None:
    with pytest.raises(DesignProblem) as caught:
        changed(**changes)
    message = str(caught.value)
    assert message.startswith(f"marbled.{path}: ")
    assert words in message
    assert message.endswith(".")
    assert "\n" not in message


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"base": "#EFE6D2"}, "marbled.pigments.0.colour: "),
        (
            {"strokes__0__angle": 30, "strokes__0__hand": "left"},
            "marbled.strokes.0.angle: a stroke along the blank has no angle or hand; leave it out",
        ),
        ({"drops": 160, "drop_diameter": 20}, "marbled.drops: 160 drops would cover the coat 11.5"),
    ],
)
def test_what_is_unlikely_to_be_meant_is_a_warning(changes: dict[str, Any], words: str) -> None:
    (warning,) = changed(**changes).warnings
    assert warning.startswith(words)
    assert warning.endswith(".")


@pytest.mark.parametrize(
    ("cover", "index", "right"),
    [
        # On the cover, which reaches 6 mm beyond the wrap, it ends with the cover.
        ({"kind": "cover", "thread": "Sloe Black A", "margin": 6}, 1, (312, 408)),
        # Under it, 6 mm more may show.
        ({"kind": "cover", "thread": "Sloe Black A", "margin": 6}, 0, (306, 414)),
    ],
)
def test_ends_lie_on_the_wrap_with_its_cover(
    cover: dict[str, Any], index: int, right: tuple[float, float]
) -> None:
    document = document_of(changed())
    # It is 2 mm long at least, and the end that is left out is that of the wrap, 318 to 402 mm.
    between = {"from": (right[0], 400), "to": (320, right[1])}
    for field, place, step in (("from", right[0], -0.1), ("to", right[1], 0.1)):
        for at in (place, place + step):
            layers = [cover]
            layers.insert(index, {**COAT, field: at})
            if at == place:
                design_from({**document, "layers": layers})
                continue
            with pytest.raises(DesignProblem) as caught:
                design_from({**document, "layers": layers})
            assert str(caught.value) == (
                f"marbled.{field}: {at:g} mm is not on the wrap; give a place from "
                f"{between[field][0]} mm to {between[field][1]} mm."
            )


def test_beyond_the_thread_under_it_it_warns() -> None:
    document = document_of(changed())
    entry = {"thread": "Sloe Black A"}
    shorter = {"kind": "overlay", "margin": -20, "sequence": [entry]}
    document["layers"] = [shorter, COAT]
    assert any(
        one.startswith("marbled.from: the coat from 318 mm to 402 mm reaches beyond the thread")
        and "from 338 mm to 382 mm" in one
        for one in design_from(document).warnings
    )
    document["layers"] = [shorter, {**COAT, "from": 340, "to": 380}]
    assert not any("beyond the thread" in one for one in design_from(document).warnings)


def test_over_a_relief_it_warns() -> None:
    document = document_of(samples.load("half-scale").without_variants())
    document["layers"] = [*document["layers"], COAT]
    assert any(
        one.startswith("marbled: it lies over a relief") for one in design_from(document).warnings
    )


def test_decal_does_not_lie_on_it_alone() -> None:
    """A decal is measured by the thread beneath, and there is none."""
    document = document_of(changed())
    document["layers"] = [COAT, {"kind": "decal", "text": "A", "runs": "along the blank"}]
    with pytest.raises(DesignProblem, match="decal: there is no thread under it"):
        design_from(document)


def test_millilitres_are_area_by_thickness() -> None:
    """The skin by quadrature of 2 pi r sqrt(1 + r'²), half a coat above the blank."""
    builder = builder_of(changed())
    blank, thick = builder.plan.blank, builder.layer.thickness

    def ring(z: float) -> float:
        slope = float(blank.radius(z + 1e-4) - blank.radius(z - 1e-4)) / 2e-4
        return 2 * np.pi * (float(blank.radius(z)) + thick / 2) * float(np.hypot(1, slope))

    skin, _ = quad(ring, *builder.span)
    clear = figure("marbled_clear")
    assert clear.kind is Kind.VOLUME
    assert clear.value == pytest.approx(skin * thick, rel=1e-4)
    assert clear.plus_minus == pytest.approx(0.25 * clear.value)
    # 70 drops of 7 mm on average: 14 rounds of all five sizes.
    pigmented = figure("marbled_pigmented")
    assert pigmented.value == pytest.approx(70 * np.pi / 4 * 7**2 * thick)
    assert pigmented.plus_minus == pytest.approx(0.25 * pigmented.value)
    assert figure("marbled_drops_to_ml").value == pytest.approx(1000 / (np.pi / 4 * 7**2 * thick))


def test_pigments_are_listed_with_amount_and_share() -> None:
    wrap, _ = plain()
    rows = table("marbled_pigments")
    assert rows.column("pigment") == ("base", "1  Shell", "2  Lagoon", "3  Ember")
    assert rows.column("drops") == (None, 24.0, 23.0, 23.0)
    builder = wrap.plan.builders[0]
    mean = np.pi / 4 * 7**2 * builder.layer.thickness
    # Drop number i is of pigment i mod 3 and of size i mod 5.
    sizes = np.array([1 + (0.0, 0.25, -0.25, 0.5, -0.5)[i % 5] for i in range(70)])
    for number, volume in enumerate(rows.column("volume")[1:]):
        assert volume == pytest.approx(mean * sizes[number::3].sum())
    seen = [float(one or 0) for one in rows.column("seen")]
    assert sum(seen) == pytest.approx(1.0)
    # Counted here on the palette: all places together have the light of what they hold.
    colours = [builder.layer.base, *(one.colour for one in builder.layer.pigments)]
    light = np.array([srgb_to_linear(parse_hex(one)) for one in colours])
    part = wrap.surface.material[wrap.surface.between(*builder.span)]
    shown = np.array([look.base_colour for look in wrap.palette])[part].mean(axis=(0, 1))
    assert shown == pytest.approx(np.array(seen) @ light, abs=2e-3)


def test_weight_is_that_of_coat_and_finish() -> None:
    """The coat at 1.08 g/cm3."""
    coats = sum(float(one or 0) for one in table("coats").column("mass"))
    coat = figure("marbled_clear").value / 1000 * 1.08
    assert figure("added_mass").value == pytest.approx(coats + coat, rel=1e-6)


def test_steps_stand_in_the_order_of_work() -> None:
    steps = plain()[1].steps
    titles = [step.title for step in steps]
    first = titles.index("Brush the base colour")
    assert titles[first : first + 6] == [
        "Brush the base colour",
        "Drop the pigments",
        "Comb the coat, stroke 1",
        "Comb the coat, stroke 2",
        "Let the marbled coat cure",
        "First coat of finish",
    ]
    for step in steps[first : first + 2]:
        assert "safety sheet comes first" in (step.caution or "")


def test_thread_is_filled_before_the_base_is_brushed_on() -> None:
    """A coat of the finish over the stretch: the lateral surface of a cone by its thickness."""
    design = samples.load("marbled-band").without_variants()
    report = bench_report(drafted(design))
    titles = [step.title for step in report.steps]
    filled = titles.index("Fill and level the thread")
    assert titles.index("Wind the cover") < filled
    assert titles[filled + 1] == "Brush the base colour"
    amount = report.steps[filled].work.amounts["fill"]
    assert isinstance(amount, Amount)
    low, high = (14.5 - 0.7 * (at - 330) / 130 for at in (333, 383))
    skin = np.pi * (low + high) / 2 * np.hypot(50, (low - high) / 2)
    assert amount.value == pytest.approx(skin * design.finish.coat_thickness, rel=1e-3)
    # It weighs too, at 1.08 g/cm3.
    coats = sum(float(one or 0) for one in found_table(report, "coats").column("mass"))
    clear = report.figure("marbled_clear")
    thread = sum(float(one or 0) for one in found_table(report, "threads").column("mass"))
    added = report.figure("added_mass")
    assert clear is not None
    assert added is not None
    laid = (amount.value + clear.value) / 1000 * 1.08
    assert added.value == pytest.approx(coats + thread + laid, rel=1e-6)
    assert "Fill and level the thread" not in [step.title for step in plain()[1].steps]


def test_seed_gives_the_same_drops_again_and_another_seed_others() -> None:
    first, again, other = (drafted(changed(seed=seed)).surface.material for seed in (4, 4, 5))
    assert np.array_equal(first, again)
    assert (first != other).mean() > 0.2


def test_coat_is_the_same_at_every_detail() -> None:
    """To what lines thinner than a step of the draft are worth."""
    shares = []
    for detail in (Detail.DRAFT, Detail.NORMAL):
        found = drafted(changed(), detail).kind_results[0]
        assert isinstance(found, MarbledResult)
        shares.append(np.array(found.areas) / sum(found.areas))
    assert shares[0] == pytest.approx(shares[1], abs=0.015)


@pytest.mark.parametrize("way", ["along the blank", "in a spiral"])
def test_laid_picture_closes(way: str) -> None:
    """Between the last angle and the first no more changes than between any two others."""
    wrap = drafted(changed(strokes=[{"direction": way, "spacing": 11, "reach": 20}]))
    colour = np.array([look.base_colour for look in wrap.palette])[wrap.surface.material]
    steps = np.abs(colour - np.roll(colour, 1, axis=1)).sum(axis=(0, 2))
    assert 0 < steps[0] < 1.2 * steps[1:].max()


def test_left_hand_spiral_is_the_right_hand_one_in_a_mirror() -> None:
    right, left = (
        builder_of(
            changed(strokes=[{"direction": "in a spiral", "angle": 35, "hand": hand}])
        ).coat.steps[-1]
        for hand in ("right", "left")
    )
    rng = np.random.default_rng(1)
    around, along = rng.uniform(0, 50, 200), rng.uniform(0, 80, 200)
    circumference = builder_of(changed()).unrolled.circumference
    u, v = right.forward(around, along, circumference)
    x, y = left.forward(-around, along, circumference)
    assert -x == pytest.approx(u, abs=1e-9)
    assert y == pytest.approx(v, abs=1e-9)
    assert np.ptp(u - around) > 1


@pytest.mark.parametrize("way", ["along the blank", "in a spiral"])
@pytest.mark.parametrize("alternate", [False, True])
def test_tines_are_set_evenly_all_the_way_round(way: str, alternate: bool) -> None:
    """Round the blank the drag has no period but that of the tines, so the comb closes."""
    builder = builder_of(
        changed(strokes=[{"direction": way, "spacing": 8, "softness": 1, "alternate": alternate}])
    )
    stroke = builder.layer.strokes[0]
    circumference, tines = builder.unrolled.circumference, builder.tines(stroke)
    x = np.linspace(0, circumference, 2520, endpoint=False)
    drag = sum(
        (
            comb.drag(x, np.full_like(x, 30.0), circumference)
            for comb in builder.comb_strokes(stroke)
        ),
        np.zeros_like(x),
    )
    strength = np.abs(np.fft.rfft(drag))
    period = tines // 2 if alternate else tines
    assert 1 + np.argmax(strength[1:200]) == period
    others = np.delete(strength[:600], np.arange(0, 600, period))
    assert others.max() < 1e-6 * strength[period]
    assert builder.spacing(stroke) == pytest.approx(8, rel=0.35)


def test_whole_places_have_the_colour_of_their_pigment() -> None:
    wrap, _ = plain()
    looks = [wrap.palette[index] for index in np.unique(wrap.surface.material).tolist()]
    for colour in ("#123243", "#efe6d2", "#2c8c93", "#c9552b"):
        red, green, blue = srgb_to_linear(parse_hex(colour)).tolist()
        assert pigment_appearance((((red, green, blue), 1.0),), True) in looks
    assert all(look.wet and look.printed for look in looks if look.name == "pigment")
    dry = drafted(with_changes(changed(), {"finish.coats": 0}))
    assert not any(look.wet for look in dry.palette)


def test_template_shows_ends_combs_and_where_drops_fall() -> None:
    pattern = pattern_of(Plan(changed(), SHELF))
    shown = [line.pen.shows for line in pattern.lines]
    assert shown.count("ends of the marbled coat") == 2
    # 52 mm round in tines 9 mm apart, every second going back: 6; and 84 mm every 5 mm: 17.
    first = "comb stroke 1, along the blank: every second tine the other way"
    second = "comb stroke 2, round the blank: clockwise seen from the butt"
    assert (shown.count(first), shown.count(second)) == (6, 17)
    dashes = {line.pen.full.dash for line in pattern.lines if line.pen.shows in (first, second)}
    assert len(dashes) == 2
    assert len(pattern.marks) == 70
    assert {mark.name for mark in pattern.marks} == {"1", "2", "3"}
    (legend,) = {mark.shows.replace("\u00a0", " ") for mark in pattern.marks}
    assert legend == "a drop, with the number of its pigment: 1 Shell, 2 Lagoon, 3 Ember"
    assert all(318 <= mark.at <= 402 and abs(mark.theta) <= np.pi for mark in pattern.marks)


def test_drop_falls_where_its_mark_is() -> None:
    """One drop, not combed: the middle of its places on the laid grid."""
    design = changed(drops=1, strokes=[], seed=3)
    (mark,) = pattern_of(Plan(design, SHELF)).marks
    wrap = drafted(design)
    light = np.array([look.base_colour[0] for look in wrap.palette])[wrap.surface.material]
    station, column = np.nonzero(light > 0.5)
    assert wrap.surface.z[station].mean() == pytest.approx(mark.at, abs=0.1)
    turn = np.exp(1j * (wrap.surface.theta[column] - mark.theta)).mean()
    assert np.angle(turn) == pytest.approx(0, abs=0.02)


def test_wrap_without_thread_is_sampled_as_finely_as_with_size_a() -> None:
    wrap, _ = plain()
    assert wrap.plan.smallest_thread() == 0.17
    assert wrap.threads() == ()


def test_further_pigment_is_one_that_is_not_there_yet() -> None:
    design = changed()
    entry = new_entry(design, "marbled.pigments")
    rows = [one.model_dump(mode="json") for one in builder_of(design).layer.pigments]
    assert changed(pigments=[*rows, entry]).warnings == ()
    # A stroke is like the last.
    assert new_entry(design, "marbled.strokes")["direction"] == "round the blank"


def test_head_of_its_card_names_the_pigments() -> None:
    assert summary_of(changed().layers[0], Units.MM) == "Shell, Lagoon, Ember"


def test_labels_name_pigments_and_ways() -> None:
    pigments = [*INK, {"name": "Bone", "colour": "#e6dcc4"}]
    after = changed(pigments=pigments, strokes=[], drops=12, base="#101010")
    assert differences(changed(), after) == [
        "on #101010",
        "marbled with Ink #10131a + Bone #e6dcc4",
        "12 drops",
        "marbled not combed",
    ]
