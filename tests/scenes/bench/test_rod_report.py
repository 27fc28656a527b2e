"""Sums of a rod: the reports of its wraps, added up by hand."""

import math
from typing import Any

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.mixing import mix_of
from scenes.bench.report import WrapAmounts, bench_report, report_of, wrap_amounts
from scenes.bench.rod_report import rod_report
from scenes.building.build import Plan, build
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.rod import other_wraps
from scenes.figures.figures import Amount, BenchReport, SectionKey
from scenes.files import samples

SHELF = Shelf.shipped()


def made(**blank: Any) -> Design:
    """A wrap of 328 to 376 mm with three coats, one of 420 to 440 with one, and a guide."""
    document = document_of(samples.load("ringed-grip-wrap").without_variants())
    document["blank"] |= blank
    guide = {"kind": "guide", "at": 480, "length": 30, "thread": "Hawthorn Red A", "mass": 3}
    document["blank"]["fitted"].append(guide)
    document["wraps"] = [
        {
            "name": "fore wrap",
            "placement": {"from": 420, "to": 440},
            "layers": [{"kind": "cover", "thread": "Hawthorn Red A", "margin": 0}],
            "finish": {"coats": 1},
        }
    ]
    return design_from(document)


def amounts_of(design: Design) -> list[WrapAmounts]:
    rods = (design, *other_wraps(design))
    return [wrap_amounts(build(Plan(rod, SHELF), Detail.DRAFT, poured=False)) for rod in rods]


@pytest.fixture(scope="module")
def amounts() -> list[WrapAmounts]:
    return amounts_of(made(mass=120, balance=700, length=1900))


def column(bench: BenchReport, table: str, key: str) -> list[Any]:
    found = bench.table(table)
    assert found is not None
    return list(found.column(key))


def test_threads_are_summed_by_spool(amounts: list[WrapAmounts]) -> None:
    rod = rod_report(amounts)
    alone = [report_of(one) for one in amounts]
    loads: dict[str, float] = {}
    for one in alone:
        for name, load in zip(
            column(one, "spools", "thread"), column(one, "spools", "load"), strict=True
        ):
            loads[name] = loads.get(name, 0.0) + load
    spools = dict(zip(column(rod, "spools", "thread"), column(rod, "spools", "load"), strict=True))
    assert spools == pytest.approx(loads)
    # The red is on both wraps and on the guide.
    assert len([one for one in alone if "Hawthorn Red A" in column(one, "spools", "thread")]) == 2
    assert "fore wrap: cover" in column(rod, "threads", "use")


def test_a_coat_is_mixed_for_all_wraps_that_get_it(amounts: list[WrapAmounts]) -> None:
    rod, bench = rod_report(amounts), amounts[0].plan.design.bench
    first, fore = (one.poured for one in amounts)
    taken = [
        first.volumes[0] + first.on_guides[0] + fore.volumes[0],
        *(first.volumes[n] + first.on_guides[n] for n in (1, 2)),
    ]
    assert column(rod, "rod_coats", "volume") == pytest.approx(taken)
    assert column(rod, "rod_coats", "mix") == pytest.approx([mix_of(t, bench)[0] for t in taken])
    assert column(rod, "rod_coats", "coat") == [
        "coat 1",
        "coat 2, on first wrap",
        "coat 3, on first wrap",
    ]
    finish = rod.figure("rod_finish")
    assert finish is not None
    assert finish.value == pytest.approx(sum(taken))


def test_a_session_lasts_as_long_as_the_shortest_work_time() -> None:
    design = made()
    times = {"finish.work_time": 25.0, "finish.recoat_time": 12.0}
    other = {"wraps.0.finish.work_time": 20.0, "wraps.0.finish.recoat_time": 24.0}
    rod = rod_report(amounts_of(with_changes(design, times | other)))
    # Both wraps get the first coat, the first wrap alone the others.
    assert column(rod, "rod_coats", "work_time") == [20 * 60, 25 * 60, 25 * 60]
    assert column(rod, "rod_coats", "wait") == [None, 12, 12]
    plain = rod_report(amounts_of(design)).table("rod_coats")
    assert plain is not None
    assert {"work_time", "wait"}.isdisjoint(one.key for one in plain.columns)


def test_guides_are_marked_from_the_tip() -> None:
    document = document_of(made(mass=120, balance=700, length=1900))
    near = {"kind": "guide", "at": 560, "length": 20, "thread": "Hawthorn Red A"}
    document["blank"]["fitted"].append(near)
    design = design_from(document)
    rod = rod_report(amounts_of(design))
    # 1900 - 560 and 1900 - 480, the guide nearer the tip first.
    assert column(rod, "guide_places", "from_tip") == [1340, 1420]
    assert column(rod, "guide_places", "from_butt") == [560, 480]
    assert column(rod, "guide_places", "apart") == [None, 80]
    section = rod_report(amounts_of(made())).section(SectionKey.GUIDES)
    assert section is not None
    assert "from_tip" not in [one.key for one in section.tables[0].columns]
    assert "(blank.length)" in section.notes[0].words


def test_what_is_slid_on_comes_before_what_is_wound_above_it(amounts: list[WrapAmounts]) -> None:
    rod = rod_report(amounts)
    titles = [step.title for step in rod.steps]
    assert titles == [
        "Mark the rod",
        "Mount the grip",
        'Wind "first wrap"',
        'Wind "fore wrap"',
        "Bind the guides",
        "Coat 1",
        "Coat 2",
        "Coat 3",
    ]
    # The grip ends where the first wrap begins (sample), so both wraps wait for it.
    check = rod.steps[1].check
    assert check is not None
    assert check.amounts["after"] == ': "first wrap" and "fore wrap" come after it'
    table = rod.table("rod_coats")
    assert table is not None
    for step, mixed in zip(rod.steps[5:], table.column("mix"), strict=True):
        mix = step.work.amounts["mix"]
        assert isinstance(mix, Amount)
        assert mix.value == mixed
    names = [step.work.amounts["names"] for step in rod.steps[5:]]
    assert names[0] == '"first wrap", "fore wrap" and the bindings of the guides'
    assert names[1] == '"first wrap" and the bindings of the guides'


def test_guides_are_bound_once(amounts: list[WrapAmounts]) -> None:
    first, fore = amounts
    assert first.on_guides
    assert not fore.on_guides
    assert any(step.title == "Bind the guides" for step in report_of(first).steps)
    assert not any(step.title == "Bind the guides" for step in report_of(fore).steps)


def test_weight_and_balance_by_the_lever_rule(amounts: list[WrapAmounts]) -> None:
    rod = rod_report(amounts)
    grams = [sum(mass.grams for mass in one.masses) for one in amounts]
    bound = sum(mass.grams for mass in amounts[0].on_guides)
    weight, balance, change = (rod.figure(key) for key in ("rod_mass", "balance", "balance_change"))
    assert weight is not None
    assert balance is not None
    assert change is not None
    total = 120 + 3 + sum(grams) + bound
    assert weight.value == pytest.approx(total)
    moment = 120 * 700 + 3 * 480 + grams[0] * 352 + grams[1] * 430 + bound * 480
    assert balance.value == pytest.approx(moment / total)
    assert change.value == pytest.approx(moment / total - (120 * 700 + 3 * 480) / 123)
    assert column(rod, "rod_weights", "part") == [
        "blank",
        "first wrap",
        "fore wrap",
        "thread and finish on the guides",
        "guide",
    ]
    assert sum(column(rod, "rod_weights", "mass")) == pytest.approx(total)
    # What all wraps change is about the sum of what each does by itself.
    alone = [report_of(one).figure("period_change") for one in amounts]
    together = rod.figure("period_change")
    assert together is not None
    assert all(one is not None for one in alone)
    assert together.value == pytest.approx(sum(one.value for one in alone if one), rel=0.5)
    assert math.copysign(1, together.value) == -1


def test_every_guide_weighs_by_its_own_binding_at_its_own_place() -> None:
    # Lever rule by hand: each guide bound alone gives what it weighs.
    document = document_of(made(mass=120, balance=700, length=1900))
    fitted = document["blank"]["fitted"]
    near = fitted.pop()
    far = near | {"at": 900, "length": 6}
    moment = grams = 0.0
    for guide in (near, far):
        document["blank"]["fitted"] = [*fitted, guide]
        alone = sum(mass.grams for mass in amounts_of(design_from(document))[0].on_guides)
        grams += alone
        moment += alone * guide["at"]
    document["blank"]["fitted"] = [*fitted, near, far]
    both = amounts_of(design_from(document))
    assert both[0].guides_mass.mass == pytest.approx(grams, rel=1e-6)
    assert both[0].guides_mass.balance == pytest.approx(moment / grams, rel=1e-6)
    # The short foot far out moves it far less than as much thread as on the other would.
    assert moment / grams < 480 + 0.5 * (900 - 480)


def test_a_blank_that_was_not_weighed_leaves_what_is_wound() -> None:
    rod = rod_report(amounts_of(made()))
    assert rod.figure("wound_mass") is not None
    assert rod.figure("rod_mass") is None
    assert rod.figure("balance") is None


def test_the_report_of_a_wrap_names_it(amounts: list[WrapAmounts]) -> None:
    titles = [report_of(one).title for one in amounts]
    assert titles == ["Heronry rings: first wrap", "Heronry rings: fore wrap"]
    assert rod_report(amounts).title == "Heronry rings: the rod"
    plain = samples.load("ringed-grip-wrap")
    one = bench_report(build(Plan(plain, SHELF), Detail.DRAFT, poured=False))
    assert one.title == plain.title


def test_a_dry_rod_has_no_finish_to_mix() -> None:
    dry = with_changes(made(), {"finish.coats": 0, "wraps.0.finish.coats": 0})
    assert rod_report(amounts_of(dry)).table("rod_coats") is None


def test_a_rod_takes_longer_than_each_of_its_wraps(amounts: list[WrapAmounts]) -> None:
    def hand(report: BenchReport) -> float:
        figure = report.figure("hand_time")
        assert figure is not None
        return float(figure.value)

    alone = [hand(report_of(one)) for one in amounts]
    # What is coated together is coated once.
    assert max(alone) < hand(rod_report(amounts)) < sum(alone)
