"""Pieces of thread of crossed patterns, against turns counted by hand and the printed order."""

from itertools import groupby

import numpy as np
import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.report import bench_report
from scenes.building.build import Plan, build
from scenes.design.document import Design, design_from, with_changes
from scenes.figures.figures import BenchReport
from scenes.files import samples
from scenes.kinds.crossed.builder import CrossedBuilder
from scenes.kinds.crossed.model import CrossedPattern
from scenes.kinds.crossed.pieces import Piece, pieces_of
from scenes.quantities import counted
from tests.scenes.kinds.crossed.test_crossed import document

SHELF = Shelf.shipped()
GOLD, BLACK = "Gorse Gold A", "Sloe Black A"


def pieces(courses: list[dict[str, object]], **fields: object) -> tuple[Piece, ...]:
    plan = Plan(design_from(document(courses=courses, **fields)), SHELF)
    return pieces_of(next(one for one in plan.builders if isinstance(one, CrossedBuilder)))


def course(hand: str, thread: str = GOLD, **fields: object) -> dict[str, object]:
    return {"hand": hand, "thread": thread, **fields}


# On a cylinder of 20 mm, crosses 30 mm apart and two round, a pass of 120 mm is two whole turns:
# every bundle ends at the angle at which it begins, 0 or half a turn from the guide line.
@pytest.mark.parametrize(
    ("courses", "turns"),
    [
        ([course("right", axis=1)], 0),
        ([course("right", axis=1), course("left", axis=1)], 1),
        ([course("right", axis=1), course("left", axis=2)], 1.5),
        ([course("right")], 1.5),
        # Up, half a turn on, down; half a turn on, up; half a turn on, down.
        ([course("right"), course("left")], 4.5),
    ],
)
def test_turns_at_the_ends_by_hand(courses: list[dict[str, object]], turns: float) -> None:
    (piece,) = pieces(courses)
    assert piece.passes == sum(1 if "axis" in one else 2 for one in courses)
    assert piece.end_turns == pytest.approx(turns, abs=1e-6)
    around = 2 * np.pi * (10 + SHELF.thread(GOLD).diameter_mm / 2)
    assert piece.end_length == pytest.approx(turns * around, rel=1e-6, abs=1e-4)


def test_the_whole_turns_are_the_builders() -> None:
    (piece,) = pieces([course("right", axis=1), course("left", axis=1)], end_turns=3)
    assert piece.end_turns == pytest.approx(3, abs=1e-6)


def test_the_other_hand_goes_on_the_way_that_the_blank_turns() -> None:
    # A pass of 75 mm is five quarters of a turn; from mid wrap a right-hand thread has turned 225
    # degrees at the tip end and a left-hand one as far the other way: 225 to 135, onwards 270.
    made = document(courses=[course("right", axis=1), course("left", axis=1)])
    made["placement"] = {"from": 300, "to": 375}
    plan = Plan(design_from(made), SHELF)
    (piece,) = pieces_of(next(one for one in plan.builders if isinstance(one, CrossedBuilder)))
    assert piece.end_turns == pytest.approx(1 + 270 / 360, abs=1e-6)


def test_a_thread_is_cut_where_another_follows() -> None:
    courses = [course("right"), course("left"), course("right", BLACK), course("left")]
    assert [(one.thread, one.passes) for one in pieces(courses)] == [
        (GOLD, 4),
        (BLACK, 2),
        (GOLD, 2),
    ]
    cut = pieces(courses, thread_ends="cut after each pass")
    assert [one.thread for one in cut] == 4 * [GOLD] + 2 * [BLACK] + 2 * [GOLD]
    assert all(one.passes == 1 and one.end_turns == one.end_length == 0 for one in cut)


def reported(design: Design) -> BenchReport:
    return bench_report(build(Plan(design, SHELF), Detail.DRAFT))


def printed_passes(bench: BenchReport, round_the_blank: int) -> list[str]:
    """The thread of every pass, row by row of the printed order with its rounds repeated."""
    order = bench.table("lay_order")
    assert order is not None
    found: list[str] = []
    number, times, block = None, 1, list[str]()
    for row in (*order.rows, (-1, 1, "", "", "", 0, "")):
        if row[0] is not None and row[0] != number:
            found += times * block
            number, times, block = row[0], int(row[1]), []  # type: ignore[arg-type]
        block += int(row[5]) * round_the_blank * [str(row[6])]  # type: ignore[arg-type]
    return found


@pytest.mark.parametrize("ends", ["carried back uncut", "cut after each pass"])
def test_order_pieces_and_load_agree(ends: str) -> None:
    design = with_changes(
        samples.load("open-diamonds").without_variants(), {"crossed.thread_ends": ends}
    )
    bench = reported(design)
    laid = printed_passes(bench, 2)
    assert len(laid) == 128
    cut_up = laid if ends == "cut after each pass" else [name for name, _ in groupby(laid)]
    count = bench.figure("pieces")
    assert count is not None
    assert count.value == len(cut_up)
    (work,) = [step.work for step in bench.steps if step.title == "Lay the crossed threads"]
    assert work.amounts["pieces"] == counted(len(cut_up), "piece")
    assert ("uncut" in work.words) == (ends == "carried back uncut")
    threads = bench.table("threads")
    assert threads is not None
    layer = next(one for one in design.layers if isinstance(one, CrossedPattern))
    diameter = 2 * Plan(design, SHELF).middle_radius
    for row in threads.rows:
        told = dict(zip((column.key for column in threads.columns), row, strict=True))
        if told["use"] != "crossed":
            continue
        passes, number = laid.count(str(told["thread"])), cut_up.count(str(told["thread"]))
        assert (told["threads"], told["pieces"]) == (passes, number)
        bare = float(told["load"]) / 1.05 - float(told["on_blank"]) - 300 * number  # type: ignore[arg-type]
        # Between two passes of a carried thread from one to two turns round blank and underwrap.
        held = (passes - number) * layer.end_turns * np.pi * diameter
        assert held <= bare + 1e-6
        assert bare <= 2.1 * held + 1e-6
