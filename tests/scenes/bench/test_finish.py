"""Finish and weight on the bench against closed forms and hand arithmetic."""

import math
import re

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from geometry.grid import Detail
from geometry.surface import Surface
from materials.shelf import Shelf
from scenes.bench.coats import mix_of
from scenes.bench.report import bench_report
from scenes.bench.weight import balance_of, moment_of
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
    # a round meniscus 2.5 mm long that takes pi/4 of its square: pi ((R + t)² - R²) L.
    film = 0.3
    radius, length = 10.17, 142 - 2 * 2.5 * (1 - math.pi / 4)
    by_hand = math.pi * ((radius + film) ** 2 - radius**2) * length
    volumes = plain.table("coats").column("volume")
    assert volumes[0] == pytest.approx(by_hand, rel=0.01)
    # The second goes round a thicker rod; at the meniscus of both ends, 7 % of the length, that is
    # thicker by less than the film.
    assert volumes[1] > volumes[0]
    assert volumes[1] == pytest.approx(
        volumes[0] * (radius + 1.5 * film) / (radius + film / 2), rel=0.003
    )
    # 1.15 g/cm3.
    masses = plain.table("coats").column("mass")
    assert masses[0] == pytest.approx(volumes[0] * 1.15e-3)


def test_a_flat_wrap_is_as_heavy_as_a_flat_wrap(plain) -> None:
    # Nothing lies under this cover: both ways of weighing must agree, but for the film that the
    # closed form lays square to its ends.
    assert value(plain, "added_mass") == pytest.approx(value(plain, "flat_mass"), rel=0.06)
    thread = plain.table("threads").column("mass")[0]
    # 800 turns of 2 pi 10 + pi 0.17, 28 tex: by Steiner and [ISO1144].
    turn = math.hypot(2 * math.pi * 10 + math.pi * 0.17, 0.17)
    assert thread == pytest.approx(800 * turn * 28e-6, rel=1e-4)


def test_balance_and_swing_by_hand(plain) -> None:
    # A lever: 100 g at 800 mm and m at 350 mm hang at (80000 + 350 m) / (100 + m); about the seat
    # at 250 the wrap adds m · 100 g mm to 100 · 550.
    grams = value(plain, "added_mass")
    assert value(plain, "balance") == pytest.approx((80_000 + 350 * grams) / (100 + grams))
    assert value(plain, "balance_change") == pytest.approx(-450 * grams / (100 + grams))
    assert value(plain, "swing") == pytest.approx(55_000 + 100 * grams)
    assert value(plain, "swing_change") == pytest.approx(100 * grams)


def test_a_lever_worked_by_hand() -> None:
    # 3 kg at 2 m and 1 kg at 6 m balance at 3 m; about 1 m their moment is 3 · 1 + 1 · 5.
    assert balance_of([3, 1], [2, 6]) == 3
    assert moment_of([3, 1], [2, 6], 1) == 8


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
    assert "12 h between coats" in more
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
    grams = 0.5 * air * 1.15e-3
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
    def said(**bench):
        changes = {"finish.coats": 1, **{f"bench.{name}": given for name, given in bench.items()}}
        found = [one for one in warnings_of(worked("full-mesh", changes)) if "syringe" in one]
        return found[0] if found else ""

    words = said(soak=0, resin_density=1.2, hardener_density=1)
    mixed = float(re.search(r"a mix of ([\d.]+) ml", words)[1])
    off = float(re.search(r"syringe is ([\d.]+) %", words)[1])
    resin, hardener = map(float, re.search(r"([\d.]+) g of resin to ([\d.]+) g", words).groups())
    # One to one, in tenths of a millilitre: half a tenth of half the mix.
    assert off == pytest.approx(100 * 0.05 / (mixed / 2), abs=0.06)
    assert (resin, hardener) == pytest.approx((1.2 * mixed / 2, mixed / 2), abs=0.006)
    least = float(re.search(r"mix ([\d.]+) ml or more", words)[1])
    assert not said(least_mix=least)
    assert said(least_mix=least - 0.2)
    assert not said(syringe_division=0.01)
