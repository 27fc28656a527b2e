"""Thread, spools and cost against hand arithmetic."""

import dataclasses
import math

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.report import bench_report
from scenes.bench.threads import Spool, load_of, needed_spools, spool_warnings
from scenes.building.build import Plan, build
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.kinds.builder import ThreadUse
from scenes.kinds.entries import ThreadNeed, by_thread
from scenes.parts.bench import BenchSpec

SILVER = Shelf.shipped().thread("Heron Silver A")
TEAL = Shelf.shipped().thread("Tarn Teal A")


def value(bench, key):
    return bench.figure(key).value


def test_load_by_hand() -> None:
    # 50 m on the blank, two pieces with tails of 150 mm at both ends, 5 % waste:
    # (50 + 4 · 0.15) · 1.05 = 53.13 m.
    need = ThreadNeed("cover", SILVER, 1, 50_000, 2)
    assert load_of(need, BenchSpec()) == pytest.approx(53_130)


def test_a_spool_that_is_too_short_is_told() -> None:
    short = dataclasses.replace(SILVER, left_m=45)
    warned = list(spool_warnings([Spool(short, 61_000)]))
    assert len(warned) == 1
    assert (warned[0].amounts["load"].value, warned[0].amounts["left"].value) == (61_000, 45_000)
    assert not list(spool_warnings([Spool(short, 44_000)]))
    # 61 m less 45 m is within one new spool of 90 m; 200 m needs two.
    assert Spool(short, 61_000).to_buy == 1
    assert Spool(short, 200_000).to_buy == 2
    assert Spool(short, 45_000).to_buy == 0


def test_layers_that_share_a_thread_share_its_spool() -> None:
    needs = [ThreadNeed("cover", SILVER, 1, 1000, 1), ThreadNeed("trim", SILVER, 1, 500, 0)]
    bench = BenchSpec(thread_tail=0.0, waste=0.0)
    found = needed_spools(needs, Shelf.shipped(), bench)
    assert [(one.thread.name, one.load) for one in found] == [("Heron Silver A", 1500)]
    # 1.5 m of a spool of 90 m at 4.60.
    assert found[0].cost == pytest.approx(1.5 / 90 * 4.60)


def test_threads_alike_are_summed_up() -> None:
    uses = tuple(ThreadUse("trim", thread, 10.0) for thread in (SILVER, TEAL, SILVER))
    silver, teal = by_thread(uses, pieces=2)
    assert (silver.threads, silver.length, silver.pieces) == (2, 20.0, 4)
    assert (teal.threads, teal.length, teal.pieces) == (1, 10.0, 2)


def test_turns_from_a_test_strip(worked, cylinder) -> None:
    # 20 turns in 3.1 mm are 0.155 mm a turn: 136 mm of cover take 877 of them.
    level = {**cylinder, "cover.rows": "spread", "finish.coats": 0}
    bench = worked("half-scale", {**level, "cover.wound": {"turns": 20, "over": 3.1}})
    assert value(bench, "cover_row_width") == pytest.approx(0.155)
    assert value(bench, "cover_turns") == round(136 / 0.155)
    plain = worked("half-scale", level)
    assert value(plain, "cover_turns") == 800
    metres = [bench.table("threads").column("on_blank")[0] for bench in (bench, plain)]
    assert metres[0] / metres[1] == pytest.approx(877 / 800, rel=1e-3)
    # A tenth of a millimetre between a caliper's jaws.
    assert bench.figure("cover_row_width").plus_minus == pytest.approx(0.155 * 0.1 / 3.1)


def test_rows_packed_along_slopes_take_more_turns_thread_and_time(worked) -> None:
    # Over a lattice's slopes the ground is some 5 % longer than the blank below it.
    spread, packed = (
        worked("cord-lattice", {"cover.rows": rows, "finish.coats": 0})
        for rows in ("spread", "packed")
    )
    turns = [value(bench, "cover_turns") for bench in (spread, packed)]
    assert 1.03 < turns[1] / turns[0] < 1.08
    metres = [bench.table("threads").column("on_blank")[0] for bench in (spread, packed)]
    assert metres[1] / metres[0] == pytest.approx(turns[1] / turns[0], rel=0.01)
    times = [value(bench, "lathe_time") for bench in (spread, packed)]
    assert times[1] / times[0] == pytest.approx(turns[1] / turns[0], rel=0.02)


def test_a_test_strip_unlike_the_shelf_is_told(worked) -> None:
    wound = {"turns": 20, "over": 6.0}
    bench = worked("half-scale", {"cover.wound": wound, "finish.coats": 0})
    assert any("far from" in one.words for one in bench.warnings)


def test_width_from_tex(worked) -> None:
    # [ISO1144]: tex is g per km. 28 tex of polyester (1.39 g/cm3, [MortonHearle], table 5.1),
    # packing 0.9: d = 2 sqrt(28e-6 / (pi 1.39e-3 0.9)) mm.
    by_hand = 2 * math.sqrt(28e-6 / (math.pi * 1.39e-3 * 0.9))
    assert value(worked("half-scale"), "cover_width_from_tex") == pytest.approx(by_hand)


def test_trims_of_a_strip_are_cut_at_every_run(worked) -> None:
    # One strip, two edges, ten threads: twenty pieces. A lattice's rings are wound on: three brown
    # beside two gold beside three brown are two bands of brown and one of gold at both ends.
    strip = worked("half-scale").table("threads")
    assert sum(strip.column("pieces")[1:]) == 20
    rings = worked("cord-lattice").table("threads")
    assert dict(zip(rings.column("thread"), rings.column("pieces"), strict=True)) == {
        "Gorse Gold A": 1,
        "Otter Brown A": 4,
        "Sandbar Gold A": 2,
    }


def test_a_shade_names_the_thread_to_take(worked) -> None:
    table = worked("graded-trim").table("threads")
    shelf = Shelf.shipped()
    shades = [row for row in table.rows if "→" in str(row[1])]
    assert len(shades) == 9
    named = [str(row[-1]) for row in shades]
    assert all(name in shelf for name in named)
    # The ends are the shelf's own threads.
    assert (named[0], named[-1]) == ("Dusk Indigo A", "Tarn Teal A")


def test_cost_by_hand() -> None:
    # 800 turns at 100 a minute are 8 min; with 172 by hand 3 h at 30 an hour: 90, and materials.
    design = with_changes(
        samples.load("half-scale").without_variants(),
        {
            "finish.coats": 0,
            "cover.rows": "spread",
            "bench.lathe_speed": 100,
            "bench.hand_time": 172,
            "bench.rate": 30,
            "bench.other_materials": 7.5,
            "bench.currency": "crowns",
        },
    )
    bench = bench_report(build(Plan(design, Shelf.shipped()), Detail.DRAFT))
    thread = sum(bench.table("spools").column("cost"))
    assert value(bench, "lathe_time") == pytest.approx(480)
    assert value(bench, "thread_cost") == pytest.approx(thread)
    assert value(bench, "materials") == pytest.approx(thread + 7.5)
    assert value(bench, "quote") == pytest.approx(thread + 7.5 + 90)
    assert bench.currency == "crowns"
    assert bench.figure("lathe_time").marks == ()


def test_nothing_is_quoted_that_was_not_entered(worked) -> None:
    bench = worked("half-scale")
    assert bench.figure("quote") is None
    # A guess, said to be invented: 6 steps at 15 min and 20 pieces of trim at 2 min.
    guess = bench.figure("hand_time")
    assert guess.value == pytest.approx(60 * (6 * 15 + 20 * 2))
    assert guess.plus_minus == pytest.approx(guess.value / 2)
    assert [mark.value for mark in guess.marks] == ["invented default"]
    assert [mark.value for mark in bench.figure("lathe_time").marks] == ["invented default"]
