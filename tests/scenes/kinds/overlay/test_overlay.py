"""Overlays in a design: what they refuse, what stays of them, the beat, what the bench is told."""

import csv
import io
import math
from typing import Any

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d, uniform_filter

from geometry.grid import Detail
from geometry.surface import Surface
from materials.blank_looks import blank_appearance
from materials.shelf import Shelf
from render.paper.bench_files import csv_text
from scenes.bench.pattern import pattern_of
from scenes.bench.report import bench_report
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.variants import variants
from scenes.figures.figures import Amount, SectionKey
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.files.storage import parse
from scenes.files.toml_writing import document_text
from scenes.kinds.builder import Palette
from scenes.kinds.overlay.beats import beats_of
from scenes.kinds.overlay.builder import OverlayBuilder
from scenes.problems import DesignProblem
from scenes.quantities import Units

Document = dict[str, Any]
SHELF = Shelf.shipped()
SAMPLES = ("slow-beat", "figured-grain")
KEPT = {"thread": "Gorse Gold A"}
PULLED = {"thread": "Chalk Down A", "removed": True}
STRIPES = {
    "kind": "overlay",
    "name": "stripes",
    "margin": 0,
    "sequence": [{"thread": "Sloe Black A"}, {"thread": "Heron Silver A"}],
}


def document(*, under: bool = True, **fields: object) -> Document:
    layer: Document = {
        "kind": "overlay",
        "name": "gold",
        "margin": -2,
        "unevenness": 0,
        "sequence": [KEPT, PULLED],
        **fields,
    }
    return {
        "turnlight": 1,
        "units": "mm",
        "title": "Test",
        "blank": {
            "colour": "#15181c",
            "stations": [{"at": 250, "diameter": 12}, {"at": 600, "diameter": 12}],
        },
        "placement": {"from": 300, "to": 330},
        "layers": [STRIPES, layer] if under else [layer],
        "finish": {"coats": 0},
    }


def drafted(design: Design, detail: Detail = Detail.DRAFT) -> Wrap:
    return build(Plan(design, SHELF), detail)


@pytest.mark.parametrize(
    ("fields", "path", "words"),
    [
        ({"sequence": []}, "gold.sequence", "0 entries are fewer than 1"),
        ({"sequence": [PULLED]}, "gold.sequence", "every thread of it is pulled out again"),
        (
            {"sequence": [{"thread": "Gorse Gold A", "count": 20}] * 2},
            "gold.sequence",
            "40 threads in one repeat are more than 24",
        ),
        ({"sequence": [{"thread": 3}]}, "gold.sequence.0.thread", "3 is not a text"),
        ({"pitch": 0}, "gold.pitch", "0 mm is not between 0.05 and 60 mm"),
        ({"margin": -15}, "gold.margin", "leaves nothing of a wrap of 30 mm"),
        ({"unevenness": 2}, "gold.unevenness", "2 is not between 0 and 1"),
    ],
)
def test_it_is_refused_in_one_sentence(fields: Document, path: str, words: str) -> None:
    with pytest.raises(DesignProblem) as caught:
        design_from(document(**fields))
    assert caught.value.field == path
    assert words in str(caught.value)


@pytest.mark.parametrize("pitch", [0.3, 1.4])
def test_a_pitch_that_cannot_be_wound_is_told(pitch: float) -> None:
    # Two threads of 0.17 and 0.169 are 0.339 side by side: 0.9 to 4 times that, by hand, inwards.
    plan = Plan(design_from(document(pitch=pitch)), SHELF)
    for made in (plan.prepare, lambda: build(plan, Detail.DRAFT)):
        with pytest.raises(DesignProblem, match=r"give a pitch of 0.31 mm to 1.35 mm"):
            made()


def test_the_pitch_is_that_of_the_threads_or_as_given() -> None:
    for given, pitch in ((None, 0.339), (0.36, 0.36)):
        design = design_from(document(**({} if given is None else {"pitch": given})))
        (found,) = beats_of(Plan(design, SHELF))
        assert found.over.pitch == pytest.approx(pitch)
        assert found.under.path == "stripes"
        assert not found.plain


def test_what_is_pulled_out_is_nowhere_on_the_wrap() -> None:
    wrap = drafted(design_from(document()))
    names = {look.name for look in wrap.palette}
    assert "Chalk Down A" not in names
    assert {use.thread.name for use in wrap.threads()} == {
        *("Sloe Black A", "Heron Silver A", "Gorse Gold A")
    }
    gold = [look.name for look in wrap.palette].index("Gorse Gold A")
    inside = wrap.surface.between(302.0, 328.0)
    share = (wrap.surface.material[inside] == gold).mean()
    # 0.17 of every 0.339.
    assert share == pytest.approx(0.17 / 0.339, abs=0.03)


def test_the_bench_is_told() -> None:
    wrap = drafted(design_from(document(pitch=0.36)))
    bench = bench_report(wrap)
    figures = {one.key: one.value for one in bench.section(SectionKey.PATTERN).figures}  # type: ignore[union-attr]
    assert figures["gold_pitch"] == pytest.approx(0.36)
    # 26 mm / 0.36 = 72.22 turns; 0.339 x 0.36 / 0.021 = 5.811 mm, by hand.
    assert figures["gold_turns"] == pytest.approx(26 / 0.36)
    assert figures["gold_beat"] == pytest.approx(0.339 * 0.36 / 0.021, rel=1e-9)
    # At 0.3636: 0.339 x 0.3636 / 0.0246 = 5.0106.
    assert figures["gold_beat_wider"] == pytest.approx(5.010585, rel=1e-5)
    table = bench.table("threads")
    assert table is not None
    rows = {(row[0], row[1]): row for row in table.rows}
    kept, pulled_out = rows["gold", "Gorse Gold A"], rows["gold", "Chalk Down A"]
    # One turn lies 0.17 / 2 over the crests beneath, 6.1695 mm out, and up to 0.023 lower.
    assert kept[7] == pytest.approx(26 / 0.36 * 2 * np.pi * 6.255, rel=0.004)
    assert pulled_out[7] is None
    assert pulled_out[9] is None
    # It is loaded all the same: as long, and two tails, and waste.
    assert pulled_out[8] == pytest.approx(kept[8], rel=0.01)
    spools = bench.table("spools")
    assert spools is not None
    assert "Chalk Down A" in spools.column("thread")


def test_the_thread_is_pulled_out_before_the_finish() -> None:
    design = with_changes(design_from(document()), {"finish.coats": 2})
    titles = [step.title for step in bench_report(drafted(design)).steps]
    out = titles.index("Pull the thread out")
    assert titles.index("Wind gold") == out - 1
    assert any("finish" in title.lower() for title in titles[out + 1 :])
    step = bench_report(drafted(design)).steps[out]
    assert "before anything else is laid or brushed on" in step.work.words
    assert step.caution is not None
    stays = design_from(document(sequence=[KEPT, {"thread": "Chalk Down A"}]))
    assert "Pull the thread out" not in [one.title for one in bench_report(drafted(stays)).steps]


def test_what_is_pulled_out_weighs_nothing() -> None:
    bench = bench_report(drafted(design_from(document())))
    whole = bench_report(
        drafted(design_from(document(sequence=[KEPT, {"thread": "Chalk Down A"}])))
    )
    masses = [one.figure("added_mass") for one in (bench, whole)]
    assert masses[0] is not None
    assert masses[1] is not None
    # 76.7 turns of 2 pi 6.25 mm of 23 tex, by hand: 0.069 g.
    assert masses[1].value - masses[0].value == pytest.approx(0.0693, rel=0.02)


def test_no_beat_is_told_too() -> None:
    bench = bench_report(drafted(design_from(document(pitch=0.339))))
    notes = bench.section(SectionKey.PATTERN).notes  # type: ignore[union-attr]
    (note,) = [one for one in notes if "no beat" in one.words]
    wider = note.amounts["wider"]
    assert isinstance(wider, Amount)
    # One per cent on: 0.339 x 0.34239 / 0.00339 = 34.2.
    assert wider.value == pytest.approx(34.239, rel=1e-4)


def test_over_rows_of_one_colour_the_beat_is_faint() -> None:
    plain = document()
    plain["layers"][0] = {"kind": "cover", "thread": "Sloe Black A", "margin": 0}
    plan = Plan(design_from(plain), SHELF)
    (found,) = beats_of(plan)
    assert found.plain
    assert found.beat.lines == 2


def test_the_grid_is_finer_along_the_blank_where_stripes_lie_on_stripes() -> None:
    plain = Plan(design_from(document(sequence=[KEPT])), SHELF).grid(Detail.NORMAL)
    striped = Plan(design_from(document()), SHELF).grid(Detail.NORMAL)
    assert striped.z.size > 1.9 * plain.z.size
    # Five stations to a thread of 0.169 at least.
    assert (striped.z[1] - striped.z[0]) * 5 <= 0.169


def test_the_template_draws_its_ends() -> None:
    pattern = pattern_of(Plan(design_from(document()), SHELF))
    assert pattern.undrawn == ()
    assert {float(line.points[0, 1]) for line in pattern.lines} == {300, 302, 328, 330}


def test_it_is_written_and_read_again() -> None:
    design = samples.load("slow-beat")
    again = document_of(design)
    assert document_of(parse(document_text(again))) == again
    assert again["layers"][1]["sequence"][1]["removed"] is True


@pytest.mark.parametrize("name", SAMPLES)
def test_every_sample_and_variant_can_be_laid(name: str) -> None:
    for _, design in variants(samples.load(name)):
        wrap = drafted(design)
        assert (wrap.surface.radius >= wrap.beneath.radius - 1e-9).all()
        assert list(beats_of(wrap.plan))


def test_how_far_a_beat_may_be_off() -> None:
    # 5 % of a pitch from the shelf, 0.1 mm in 40 repeats of one that was measured; by hand:
    # 0.32205 x 0.3625 / 0.04045 = 2.886 and 0.35595 x 0.3575 / 0.00155 = 82.10 mm.
    loose = document(pitch=0.36)
    bench = bench_report(drafted(design_from(loose)))
    beat = bench.figure("gold_beat")
    assert beat is not None
    assert beat.plus_minus is None
    assert beat.bounds == pytest.approx((2.886, 82.10), rel=1e-3)
    written = FigureFormatter(Units.MM)
    assert written.figure(beat) == "5.8 mm (2.9 to 82.1 mm)"
    rows = csv.DictReader(io.StringIO(csv_text(bench, Units.MM)))
    (row,) = [row for row in rows if row["key"] == "gold_beat"]
    assert (float(row["least"]), float(row["most"])) == pytest.approx(beat.bounds, rel=1e-6)
    loose["layers"][0] = dict(STRIPES, pitch=0.339)
    beat = bench_report(drafted(design_from(loose))).figure("gold_beat")
    assert beat is not None
    # 0.3365 x 0.3625 / 0.026 and 0.3415 x 0.3575 / 0.016.
    assert beat.bounds == pytest.approx((4.6916, 7.6304), rel=1e-3)


def test_a_beat_that_may_be_none_says_so() -> None:
    beat = bench_report(drafted(design_from(document(pitch=0.345)))).figure("gold_beat")
    assert beat is not None
    assert beat.bounds is not None
    assert math.isinf(beat.bounds[1])
    assert FigureFormatter(Units.MM).figure(beat).endswith(" mm or more, or none)")


def test_over_bumps_the_bands_lie_where_the_rows_fall_together() -> None:
    """A figured grain: bands are the contour lines of the rows' phase difference.

    Moiré fringes of two gratings are the loci of equal phase difference ([Oster1964],
    from memory), and the light through both, averaged
    over a line, is the part that the gaps of one leave of the stripes of the other. A thread on a
    slope stands square to it, so that its crest lies off its place by its radius times the slope's
    sine (a parallel curve); the slope is measured here on what each lies on.
    """
    design = with_changes(
        samples.load("figured-grain").without_variants(),
        {
            "placement.to": 340,
            "finish.coats": 0,
            "relief.cord_diameter": 1.4,
            "relief.flatten": 0.6,
            "cover.unevenness": 0,
            "stripes.unevenness": 0,
            "grain.unevenness": 0,
            "grain.pitch": 0.355,
        },
    )
    plan = Plan(design, SHELF)
    palette = Palette()
    surface = Surface.bare(
        plan.blank, plan.grid(Detail.NORMAL), palette.index(blank_appearance("#17120f"))
    )
    slopes = []
    for builder in plan.builders:
        if isinstance(builder, OverlayBuilder):
            taut = gaussian_filter1d(surface.radius, 0.17 / surface.step, axis=0)
            rise = np.gradient(taut, surface.step, axis=0)
            slopes.append(rise / np.hypot(1, rise))
        surface = builder.lay(surface, palette, lambda _: None).surface
    under, over = plan.builders[2:]
    assert np.abs(slopes[0]).max() > 0.25
    z, width = surface.z[:, None], 0.169
    phase = [
        (z - builder.span[0] + width / 2 * slope) / builder.pitch
        for builder, slope in zip((under, over), slopes, strict=True)
    ]
    # Gold is the second thread beneath, the gap the second above; both begin after a half.
    gap, gold = 1 - width / over.pitch, width / under.pitch

    def seen(shift: float) -> np.ndarray:
        apart = phase[0] - phase[1] + shift
        away = np.abs(apart - np.rint(apart))
        return np.clip((gap + gold) / 2 - away, max(0, gap + gold - 1), min(gap, gold))

    laid = surface.material == palette.index(plan.look_of(SHELF.thread("Sandbar Gold A")))
    window = (round(over.pitch / surface.step), surface.theta.size // 48)
    inside = (surface.z > 318) & (surface.z < 338)
    light, before, wanted, after = (
        uniform_filter(values.astype(float), window, mode=("nearest", "wrap"))[inside]
        for values in (laid, seen(-0.05), seen(0), seen(0.05))
    )
    assert np.ptp(wanted) > 0.4
    assert light.mean() == pytest.approx(wanted.mean(), abs=0.005)
    # Both sides of what is seen in a gap fall between stations: an even spread of one each.
    station = surface.step / over.pitch
    errors = [float(np.sqrt(((light - one) ** 2).mean())) for one in (before, wanted, after)]
    assert errors[1] < 1.2 * station * np.sqrt(2 / 12)
    # The contours that fit best lie within a hundredth of a beat of the predicted ones.
    low, here, high = (error**2 for error in errors)
    assert abs(0.05 * (low - high) / (2 * (low - 2 * here + high))) < 0.01
