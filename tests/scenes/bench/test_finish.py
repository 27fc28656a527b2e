"""Finish and weight on the bench against closed forms and hand arithmetic."""

import math
import re
from decimal import Decimal

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from geometry.grid import Detail
from geometry.surface import Surface
from materials.shelf import Shelf
from scenes.bench.mixing import mix_of
from scenes.bench.report import bench_report
from scenes.building.build import Plan, build
from scenes.design.document import design_from, document_of
from scenes.figures.figures import Mark
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.kinds.builder import Palette
from scenes.parts.bench import BenchSpec
from scenes.quantities import Units


def value(bench, key):
    return bench.figure(key).value


@pytest.fixture(scope="module")
def plain():
    """A cover on a bare 20 mm cylinder, with two coats of 0.3 mm."""
    document = document_of(samples.load("half-scale").without_variants())
    document["layers"] = [
        {**one, "unevenness": 0} for one in document["layers"] if one["kind"] == "cover"
    ]
    document["blank"] = {
        "colour": "#14171b",
        "stations": [{"at": 80, "diameter": 20}, {"at": 650, "diameter": 20}],
        "mass": 100,
        "balance": 800,
        "reel_seat": 250,
    }
    document["finish"] = {"coats": 2, "coat_thickness": 0.3}
    return bench_report(build(Plan(design_from(document), Shelf.shipped()), Detail.DRAFT))


def test_the_first_coat_on_a_plain_cylinder(plain) -> None:
    # By hand: a film of t = 0.3 over the cover of 136 mm and 3 mm of blank at both ends, each with
    # a meniscus 2.5 mm long that takes two thirds of its square, as a parabola does:
    # pi ((R + t)² - R²) L.
    film = 0.3
    radius, length = 10.17, 142 - 2 * 2.5 * (1 - 2 / 3)
    by_hand = math.pi * ((radius + film) ** 2 - radius**2) * length
    volumes = plain.table("coats").column("volume")
    assert volumes[0] == pytest.approx(by_hand, rel=0.01)
    # The second goes round a thicker rod; at the meniscus of both ends, 7 % of the length, that is
    # thicker by less than the film.
    assert volumes[1] > volumes[0]
    assert volumes[1] == pytest.approx(
        volumes[0] * (radius + 1.5 * film) / (radius + film / 2), rel=0.003
    )
    # Half resin of 1.16 g/cm3, half hardener of 1.
    masses = plain.table("coats").column("mass")
    assert masses[0] == pytest.approx(volumes[0] * 1.08e-3)


def test_a_flat_wrap_is_as_heavy_as_a_flat_wrap(plain) -> None:
    # Nothing lies under this cover: both ways of weighing must agree, but for the film that the
    # closed form lays square to its ends.
    assert value(plain, "added_mass") == pytest.approx(value(plain, "flat_mass"), rel=0.06)
    thread = plain.table("threads").column("mass")[0]
    # 800 turns of 2 pi 10 + pi 0.17, 28 tex: by Steiner and [ISO1144].
    turn = math.hypot(2 * math.pi * 10 + math.pi * 0.17, 0.17)
    assert thread == pytest.approx(800 * turn * 28e-6, rel=1e-4)


def test_balance_and_swing_by_hand(plain) -> None:
    # A lever: 100 g at 800 mm and m at 386 mm hang at (80000 + 386 m) / (100 + m); about the seat
    # at 250 the wrap adds m · 136 g mm to 100 · 550.
    grams = value(plain, "added_mass")
    assert value(plain, "balance") == pytest.approx((80_000 + 386 * grams) / (100 + grams))
    assert value(plain, "balance_change") == pytest.approx(-414 * grams / (100 + grams))
    assert value(plain, "swing") == pytest.approx(55_000 + 136 * grams)
    assert value(plain, "swing_change") == pytest.approx(136 * grams)


def test_mixing_by_hand() -> None:
    # 1.31 ml on the wrap and 1 ml lost are 2.31 ml: 1.155 each, in tenths 1.2 and 1.2.
    assert mix_of(1310, BenchSpec()) == pytest.approx((2400, 1200, 1200))
    # Two to one: 2.31 / 3 = 0.77, in tenths 0.8 of hardener and 1.6 of resin.
    assert mix_of(1310, BenchSpec(mix_ratio=2.0)) == pytest.approx((2400, 1600, 800))
    assert mix_of(1310, BenchSpec(mix_ratio=0.5)) == pytest.approx((2400, 800, 1600))
    # Never less than can be measured.
    assert mix_of(100, BenchSpec()) == pytest.approx((2000, 1000, 1000))
    assert mix_of(0, BenchSpec(least_mix=0.0, cup_loss=0.0)) == pytest.approx((0, 0, 0))


def test_ridges_fall_coat_by_coat_until_no_finger_feels_them(worked) -> None:
    bench = worked("half-scale", {"finish.coats": 5})
    ridges = bench.table("coats").column("ridge")
    assert list(ridges) == sorted(ridges, reverse=True)
    needed = value(bench, "coats_until_smooth")
    threshold = value(bench, "touch_threshold")
    assert ridges[int(needed) - 1] <= threshold < ridges[int(needed) - 2]


def test_thicker_coats_are_fewer(worked) -> None:
    thin, thick = (
        value(
            worked("half-scale", {"finish.coat_thickness": t, "finish.coats": 1}),
            "coats_until_smooth",
        )
        for t in (0.14, 0.3)
    )
    assert thick < thin


def test_a_dry_wrap(worked) -> None:
    bench = worked("half-scale")
    assert bench.table("coats") is None
    assert bench.figure("mix") is None
    assert value(bench, "coats") == 0
    assert not any("coat" in step.title.lower() for step in bench.steps)
    assert "finish" not in bench.table("weights").column("part")


def test_the_products_own_times(worked) -> None:
    bench = worked(
        "half-scale",
        {"finish.work_time": 10, "finish.recoat_time": 12, "finish.cure_time": 48},
    )
    assert value(bench, "work_time") == 600
    assert value(bench, "recoat_time") == 12 * 3600
    first, more = (
        FigureFormatter(Units.MM).sentence(step.work)
        for step in bench.steps
        if "coat" in step.title
    )
    assert "within 10 min of mixing" in first
    assert "1 more coat, 12 h after the first" in more
    assert "48 h to cure" in more
    assert "cure" not in first
    assert any("work time" in one.words for one in bench.warnings)


# ---- Air under the cover, and what soaks in


def hulls_less_sections(wrap) -> float:
    """Air by SciPy's Qhull: hull of every section less the section itself, times the step, mm³."""
    before = Surface.bare(wrap.plan.blank, wrap.plan.grid(Detail.DRAFT), 0)
    relief = wrap.plan.relief.lay(before, Palette(), lambda _: None).surface
    cover = wrap.plan.cover.cover()
    air = 0.0
    theta = before.theta
    for radius in relief.radius[relief.between(cover.start, cover.end)]:
        points = np.column_stack((radius * np.cos(theta), radius * np.sin(theta)))
        x, y = points.T
        own = np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2
        air += (ConvexHull(points).volume - own) * before.step
    return air


@pytest.mark.parametrize("name", ["half-scale", "cord-lattice"])
def test_the_air_under_a_cover_is_what_its_hull_spans(wrapped, worked, name) -> None:
    changes = {"finish.coats": 1}
    air = value(worked(name, changes), "air")
    assert air == pytest.approx(hulls_less_sections(wrapped(name, changes)), rel=0.02)


def test_what_soaks_in_is_a_share_of_the_air_and_goes_into_every_amount(worked) -> None:
    dry, wet = (worked("half-scale", {"finish.coats": 2, "bench.soak": s}) for s in (0, 0.5))
    air = value(wet, "air")
    assert value(wet, "soaked") == pytest.approx(0.5 * air)
    first, second = (bench.table("coats").column("volume") for bench in (dry, wet))
    assert second[0] - first[0] == pytest.approx(0.5 * air)
    assert second[1] == first[1]
    grams = 0.5 * air * 1.08e-3
    assert value(wet, "added_mass") - value(dry, "added_mass") == pytest.approx(grams)
    # The film on the outside is the same.
    assert value(wet, "film_total") == value(dry, "film_total")
    films = [bench.figure("added_mass").plus_minus for bench in (dry, wet)]
    assert films[1] > films[0]


def test_the_share_is_marked_as_a_default_until_it_is_given(worked) -> None:
    default, own = (
        worked("half-scale", {"finish.coats": 1, **given}).figure("soaked")
        for given in ({}, {"bench.soak": 0.3})
    )
    assert default.value == own.value
    assert Mark.DEFAULT in default.marks
    assert default.plus_minus == default.value
    assert not own.marks
    assert own.plus_minus < default.plus_minus


def test_bubbles_are_warned_of_where_the_cover_spans_and_only_there(worked, plain) -> None:
    def said(bench):
        return [one for one in warnings_of(bench) if "bubbles" in one]

    (words,) = said(worked("cord-lattice", {"finish.coats": 1}))
    for help_ in ("thin first coat", "warm", "slow turning", "wait"):
        assert help_ in words
    assert not said(plain)


# ---- Too much finish, and too little to measure


def warnings_of(bench) -> list[str]:
    return [FigureFormatter(Units.MM).sentence(one) for one in bench.warnings]


def test_twelve_coats_of_three_millimetres_are_warned_of_until_the_advice_is_followed(worked):
    def said(coats, thick):
        changes = {"finish.coats": coats, "finish.coat_thickness": thick}
        return [one for one in warnings_of(worked("full-mesh", changes)) if "from memory" in one]

    thick, many = said(12, 3)
    most = float(re.search(r"give coats of ([\d.]+) mm or less", thick)[1])
    count, each = re.search(r"give (\d+) coats of ([\d.]+) mm", many).groups()
    assert re.search(r"36 mm of finish on the wrap, \d+ g in all|36 mm of finish", many)
    assert not said(1, most)
    assert not said(int(count), float(each))
    assert said(int(count) + 1, float(each))


def test_a_small_mix_is_offered_by_weight_and_a_larger_one_needs_no_scale(worked):
    def said(**given):
        changes = {"finish.coats": 1, "bench.soak": 0}
        changes |= {f"bench.{name}": number for name, number in given.items()}
        bench = worked("full-mesh", changes)
        found = [one for one in warnings_of(bench) if "syringe" in one]
        return (found[0] if found else ""), bench

    words, bench = said(resin_density=1.2)
    # It names what `check` lists under the same name.
    name, mixed = re.match(r"the (mix for the coat), ([\d.]+) ml, is small", words).groups()
    shown = bench.figure("mix")
    assert (shown.name, FigureFormatter(Units.MM).figure(shown)) == (name, f"{mixed} ml")
    off = float(re.search(r"by syringe up to ([\d.]+) % off", words)[1])
    # One to one, in tenths of a millilitre: half a tenth of half the mix.
    assert off == pytest.approx(100 * 0.05 / (float(mixed) / 2), abs=0.06)
    # By weight it is what the coat needs, not what the syringe makes of it: on wrap and guide, a
    # quarter more for its uncertainty, and 1 ml that is lost.
    coats = bench.table("coats")
    coat = sum(coats.column(one)[0] for one in ("volume", "on_guides"))
    needed = max(coat * 1.25e-3 + 1, 2)
    assert needed < float(mixed)
    masses = re.search(r"([\d.]+) g of resin to ([\d.]+) g", words).groups()
    assert tuple(map(float, masses)) == pytest.approx((1.2 * needed / 2, needed / 2), abs=0.006)
    assert "a scale that reads to 0.01 g" in words
    least = float(re.search(r"\(bench.least_mix\) to ([\d.]+) ml", words)[1])
    assert not said(least_mix=least)[0]
    assert said(least_mix=least - 0.2)[0]
    assert not said(syringe_division=0.01)[0]
    # Who knows both densities weighs it.
    assert not said(resin_density=1.2, hardener_density=1)[0]


# ---- Densities, parts and batches


NAMED = "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth".split()


def coats_named(words: str, count: int) -> tuple[int, int]:
    """First and last of the coats that some words name."""
    named = [NAMED.index(word) + 1 for word in words.split() if word in NAMED] or [1, count]
    return named[0], named[-1]


def mix_of_each_coat(bench) -> list[float]:
    """The mix of every coat, from the table that lists it once for coats that take the same."""
    found = bench.table("mixes")
    count = len(bench.table("coats").rows)
    mixes = []
    for words, mix in zip(found.column("coats"), found.column("mix"), strict=True):
        first, last = coats_named(words, count)
        mixes += [mix] * (last - first + 1)
    assert len(mixes) == count
    return mixes


def test_finish_weighs_what_both_parts_weigh_by_the_ratio(worked) -> None:
    def column(bench):
        return next(one for one in bench.table("coats").columns if one.key == "mass")

    given = {"resin_density": 1.3, "hardener_density": 1.0, "mix_ratio": 2, "soak": 0.3}
    changes = {"finish.coats": 2}
    own = worked("half-scale", changes | {f"bench.{name}": one for name, one in given.items()})
    # Two parts of 1.3 and one of 1 are 3.6 in three: 1.2 g/cm3.
    volumes = own.table("coats").column("volume")
    assert own.table("coats").column("mass") == pytest.approx([one * 1.2e-3 for one in volumes])
    parts = own.table("weights")
    grams = dict(zip(parts.column("part"), parts.column("mass"), strict=True))
    assert grams["finish"] == pytest.approx(sum(volumes) * 1.2e-3)
    assert Mark.DEFAULT not in column(own).marks
    assert Mark.DEFAULT not in own.figure("added_mass").marks
    # Another field of the bench does not make a default one's own.
    some = worked("half-scale", changes | {"bench.soak": 0.3, "bench.cup_loss": 1.0})
    assert Mark.DEFAULT in column(some).marks
    assert Mark.DEFAULT in some.figure("added_mass").marks
    # What is mixed by default weighs as much as what is laid on.
    mix = worked("full-mesh", {"finish.coats": 1, "bench.least_mix": 20})
    (mass,), (volume,) = (mix.table("coats").column(one) for one in ("mass", "volume"))
    (weighed,) = mix.table("weighing").column("mixed_mass")
    assert weighed / 20 == pytest.approx(mass / volume * 1e3, rel=1e-3)


@pytest.mark.parametrize("ratio", [1, 1.5, 1.75, 2, 2.5, 3, 0.4, 4 / 3])
@pytest.mark.parametrize("division", [0.05, 0.1, 0.2])
def test_both_parts_lie_on_a_mark_of_the_syringe(ratio: float, division: float) -> None:
    bench = BenchSpec(mix_ratio=ratio, syringe_division=division)
    for coat in (1310.0, 2345.0):
        mixed, resin, hardener = mix_of(coat, bench)
        for part in (resin, hardener):
            marks = part / 1000 / division
            assert marks == pytest.approx(round(marks), abs=1e-6)
        assert resin / hardener == pytest.approx(ratio, rel=2e-3)
        assert mixed >= coat + 1000 - 1e-6
        # No smaller mix would do: one mark less of the smaller part is too little or off its mark.
        smaller = min(resin, hardener) / 1000 / division
        times = max(ratio, 1 / ratio)
        less = round(smaller) - 1
        assert less * (1 + times) * division < coat / 1000 + 1 or less * times != round(
            less * times
        )


@pytest.mark.parametrize("units", [Units.MM, Units.IN])
@pytest.mark.parametrize("division", [0.1, 0.025, 0.001])
def test_parts_add_up_as_printed(worked, units, division) -> None:
    changes = {"finish.coats": 2, "bench.syringe_division": division, "bench.mix_ratio": 2}
    bench, written = worked("half-scale", changes), FigureFormatter(units)
    for table, keys in (
        ("mixes", ("mix", "resin", "hardener")),
        ("weighing", ("mixed_mass", "resin_mass", "hardener_mass")),
    ):
        found = bench.table(table)
        columns = {one.key: one for one in found.columns}
        for row in range(len(found.rows)):
            mixed, *parts = (
                Decimal(written.cell(columns[key], found.column(key)[row])) for key in keys
            )
            assert sum(parts) == mixed
    shown = [
        Decimal(written.figure(bench.figure(key)).split()[0])
        for key in ("mix", "resin", "hardener")
    ]
    assert shown[0] == shown[1] + shown[2]


def test_the_second_coat_does_not_carry_the_doubt_of_what_soaks_into_the_first(worked) -> None:
    bench = worked("half-scale", {"finish.coats": 2})
    coats = bench.table("coats")
    volumes, offs = (coats.column(one) for one in ("volume", "off"))
    mixes = mix_of_each_coat(bench)
    soaked = bench.figure("soaked").value
    # A quarter of a brushed film, and all of what soaks in by a default.
    assert offs[0] == pytest.approx(math.hypot((volumes[0] - soaked) / 4, soaked))
    assert offs[1] == pytest.approx(volumes[1] / 4)
    # What is mixed is enough for it, and what is lost.
    for volume, off, mix in zip(volumes, offs, mixes, strict=True):
        assert volume + off + 1000 <= mix < volume + off + 1000 + 200


def test_a_film_is_as_thick_as_brushed_on_the_surface_that_it_lies_on(plain) -> None:
    # Two coats of 0.3 on a cylinder, but for the meniscus at both ends.
    share = 1 - 2 * 2.5 * (1 - 2 / 3) / 142
    assert value(plain, "film_total") == pytest.approx(0.6 * share, rel=0.003)


def test_each_of_many_coats_gets_its_own_mix_in_the_steps(worked) -> None:
    bench = worked("half-scale", {"finish.coats": 12, "bench.least_mix": 0})
    (words,) = (
        FigureFormatter(Units.MM).sentence(step.work)
        for step in bench.steps
        if step.title == "Further coats"
    )
    assert words.startswith("11 more coats, each once the one before is hard to the nail")
    mixes = mix_of_each_coat(bench)[1:]
    assert len(set(mixes)) > 1
    listed = {}
    for mix, named in re.findall(r"([\d.]+) ml for the ([a-z ]+) coat:", words):
        first, last = coats_named(named, 12)
        listed |= dict.fromkeys(range(first, last + 1), float(mix))
    assert listed == {number: mix / 1000 for number, mix in enumerate(mixes, start=2)}


# ---- Guides, and wraps without thread


def test_finish_on_the_bindings_of_guides_is_mixed_and_weighed(worked) -> None:
    changes = {"finish.coats": 2, "finish.coat_thickness": 0.01, "bench.soak": 0}
    bench = worked("ringed-guide", changes)
    # By hand, in mm: from the underwrap's ends on, a film of 0.01 in over a rod of 0.541 in with
    # two layers of thread, 0.3 mm; 2.5 mm of it is a meniscus at both ends.
    film, bare = 0.254, 13.70
    length = 1.75 * 25.4 + 2 * (4 + 1.2 + 1.5) - 2 * 2.5 * (1 - 2 / 3)
    by_hand = math.pi * (bare + 0.6 + film) * film * length
    coats = bench.table("coats")
    first, second = coats.column("on_guides")
    assert first == pytest.approx(by_hand, rel=0.03)
    assert second == pytest.approx(first, rel=0.1)
    columns = (coats.column(one) for one in ("volume", "on_guides", "off"))
    for wrap, guides, off, mix in zip(*columns, mix_of_each_coat(bench), strict=True):
        assert off == pytest.approx((wrap + guides) / 4)
        assert wrap + guides + off + 1000 <= mix
    threads = bench.table("threads")
    thread = sum(
        mass
        for use, mass in zip(threads.column("use"), threads.column("mass"), strict=True)
        if use == "guides"
    )
    assert value(bench, "guides_mass") == pytest.approx(thread + (first + second) * 1.08e-3)
    step = next(step for step in bench.steps if step.title == "First coat of finish")
    assert "guides' bindings" in FigureFormatter(Units.IN).sentence(step.work)


def test_a_wrap_without_a_guide_says_nothing_of_them(worked) -> None:
    bench = worked("half-scale", {"finish.coats": 2})
    assert bench.figure("guides_mass") is None
    assert "on_guides" not in [one.key for one in bench.table("coats").columns]


def test_a_wrap_without_thread_is_finished_without_thread(worked) -> None:
    bench = worked("marbled-panel", {"finish.coats": 2})
    steps = [step for step in bench.steps if "coat" in step.title and "finish" in step.title]
    words = [FigureFormatter(Units.MM).sentence(one) for s in steps for one in (s.work, s.check)]
    assert words
    for one in words:
        assert "thread" not in one
        assert "row" not in one
    assert "3 mm beyond both ends of what lies under it" in words[0]


@pytest.mark.parametrize(("grip_ends", "masked"), [(317, True), (304, False)])
def test_a_grip_within_reach_of_the_finish_is_masked(worked, grip_ends: int, masked: bool) -> None:
    """The cover begins at 318 mm, and the finish runs out 3 mm before it."""
    bench = worked("half-scale", {"finish.coats": 2, "blank.fitted.0.to": grip_ends})
    step = next(step for step in bench.steps if step.title == "First coat of finish")
    assert ("Mask the grip" in FigureFormatter(Units.MM).sentence(step.work)) is masked
