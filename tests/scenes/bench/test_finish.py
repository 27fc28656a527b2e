"""Finish and weight on the bench against closed forms and hand arithmetic."""

import math

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.finish import mix_of
from scenes.bench.report import bench_report
from scenes.bench.weight import balance_of, moment_of
from scenes.building.build import Plan, build
from scenes.design.document import design_from, document_of
from scenes.files import samples
from scenes.parts.bench import BenchSpec


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
    # By hand: a film of t = (0.3 + sqrt(0.3² + 0.04²)) / 2 over the cover of 136 mm and 3 mm of
    # blank at both ends, each with a round meniscus 2.5 mm long that takes pi/4 of its square:
    # pi ((R + t)² - R²) L.
    film = (0.3 + math.hypot(0.3, 0.04)) / 2
    radius, length = 10.17, 142 - 2 * 2.5 * (1 - math.pi / 4)
    by_hand = math.pi * ((radius + film) ** 2 - radius**2) * length
    volumes = plain.table("coats").column("volume")
    assert volumes[0] == pytest.approx(by_hand, rel=0.01)
    # The second goes round a thicker rod; over the first one's end, 0.3 high, it levels into the
    # meniscus, where it is cut: at most half of that over 2.5 mm at both ends, 47 mm³ or 1.7 %.
    assert volumes[1] > volumes[0]
    assert volumes[1] == pytest.approx(
        volumes[0] * (radius + 1.5 * film) / (radius + film / 2), rel=0.017
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
    assert not any(step.title == "Finish" for step in bench.steps)
    assert "finish" not in bench.table("weights").column("part")


def test_the_products_own_times(worked) -> None:
    bench = worked(
        "half-scale",
        {"finish.work_time": 10, "finish.recoat_time": 12, "finish.cure_time": 48},
    )
    assert value(bench, "work_time") == 600
    assert value(bench, "recoat_time") == 12 * 3600
    finish = next(step for step in bench.steps if step.title == "Finish")
    times = finish.work.amounts["times"]
    assert "within 10 min" in times
    assert "12 h between" in times
    assert "48 h to cure" in times
    assert any("work time" in one.words for one in bench.warnings)
