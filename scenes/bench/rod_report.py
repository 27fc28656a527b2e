"""Report of a whole rod: guides, thread by spool, finish, weight, balance, cost, order of work.

Everything else belongs to one wrap and is in its own report.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from scenes.bench.cost import cost_section
from scenes.bench.finishing import finish_steps
from scenes.bench.mixing import mix_of
from scenes.bench.report import CAUTIONS, WrapAmounts
from scenes.bench.rod_order import (
    coated_in,
    guide_places,
    rod_steps,
    session_columns,
    session_times,
)
from scenes.bench.swing import blank_mass, swing_figures, wound_mass
from scenes.bench.threads import needed_spools, spool_warnings, threads_section
from scenes.design.variants import design_hash
from scenes.figures.figures import (
    BenchReport,
    Cell,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Table,
    sentence,
)
from scenes.kinds.entries import Mass, default_marks, finish_density_words, finish_marks
from scenes.problems import one_of

__all__ = ["rod_report"]


def rod_report(wraps: Sequence[WrapAmounts]) -> BenchReport:
    """Sum up what the wraps of a rod take.

    Parameters
    ----------
    wraps : sequence of WrapAmounts
        Of every wrap of one rod.
    """
    first = wraps[0].plan
    design, bench, shelf = first.designed.design, first.design.bench, first.shelf
    needs = [
        replace(need, use=f"{amounts.plan.design.wrap_name}: {need.use}")
        for amounts in wraps
        for need in amounts.needs
    ]
    spools = needed_spools(needs, shelf, bench)
    coating = max(len(list(finish_steps(one.plan, one.poured))) for one in wraps)
    steps = coating + sum(_steps(amounts) for amounts in wraps)
    sections = (
        guide_places(first),
        threads_section(needs, shelf, bench),
        _finish(wraps),
        _weight(wraps),
        cost_section(needs, spools, bench, steps),
    )
    return BenchReport(
        f"{design.title}: the rod",
        design_hash(design),
        tuple(one for one in sections if one.figures or one.tables or one.notes),
        tuple(spool_warnings(spools)),
        tuple(rod_steps(wraps)),
        CAUTIONS,
        bench.currency,
    )


def _steps(amounts: WrapAmounts) -> int:
    """Steps of work of one wrap and its guides, from its preparation to its first coat."""
    return 1 + sum(len(entries.steps) for entries in (*amounts.entries, amounts.guides))


def _finish(wraps: Sequence[WrapAmounts]) -> Section:
    """The finish of all wraps, coat by coat: wraps that get the same coat are coated together."""
    bench = wraps[0].plan.design.bench
    most = max(len(amounts.poured.volumes) for amounts in wraps)
    if not most:
        return Section(SectionKey.FINISH)
    marks = default_marks(bench, "soak")
    mixing = default_marks(bench, "mix_ratio", "cup_loss", "least_mix", "syringe_division")
    columns = (
        Column("coat", "coat"),
        Column(
            "volume",
            "takes",
            Kind.VOLUME,
            sentence("on the wraps and the guides, the first with what soaks in"),
            marks=marks,
        ),
        Column(
            "mix",
            "mix",
            Kind.MEASURED_VOLUME,
            sentence("if these wraps are coated in one session, with what stays in cup and brush"),
            marks=mixing,
        ),
        Column("resin", "resin", Kind.MEASURED_VOLUME, marks=mixing),
        Column("hardener", "hardener", Kind.MEASURED_VOLUME, marks=mixing),
        *session_columns(wraps),
    )
    timed = {column.key for column in columns}
    rows: list[tuple[Cell, ...]] = []
    total = 0.0
    for coat in range(most):
        coated = coated_in(wraps, coat)
        volume = sum(
            amounts.poured.volumes[coat] + amounts.poured.on_guides[coat] for amounts in coated
        )
        total += volume
        on = "" if len(coated) == len(wraps) else f", on {one_of(map(_name, coated), 'and')}"
        times = zip(("work_time", "wait"), session_times(wraps, coat), strict=True)
        known = tuple(time for key, time in times if key in timed)
        rows.append((f"coat {coat + 1}{on}", volume, *mix_of(volume, bench), *known))
    figure = Figure(
        "rod_finish",
        "finish on the rod",
        total,
        Kind.VOLUME,
        sentence("all coats on all wraps and guides, without what stays in cup and brush"),
        math.hypot(*(off for one in wraps for off in (one.poured.off, one.poured.guides_off))),
        marks,
        main=True,
    )
    table = Table("rod_coats", "coats of the rod", columns, tuple(rows), main=True)
    return Section(SectionKey.FINISH, (figure,), (table,))


def _name(amounts: WrapAmounts) -> str:
    return amounts.plan.design.wrap_name


def _weight(wraps: Sequence[WrapAmounts]) -> Section:
    """Weight of every part of the rod that is known, its balance and its swing."""
    blank = wraps[0].plan.design.blank
    bench = wraps[0].plan.design.bench
    marks = finish_marks(bench)
    parts: list[tuple[str, float, float]] = [
        (_name(amounts), *_sum(amounts.masses)) for amounts in wraps
    ]
    wound = [wound_mass(amounts.plan, amounts.masses) for amounts in wraps]
    bindings = [mass for amounts in wraps for mass in amounts.on_guides]
    if bindings:
        grams, off = _sum(bindings)
        parts.append(("thread and finish on the guides", grams, off))
        wound += [amounts.guides_mass for amounts in wraps]
    off = math.hypot(*(part[2] for part in parts))
    figures = [
        Figure(
            "wound_mass",
            "thread, finish and reliefs of the rod",
            sum(part[1] for part in parts),
            Kind.MASS,
            sentence("finish at {density}", density=finish_density_words(bench)),
            off,
            marks,
            main=True,
        )
    ]
    bare = blank_mass(blank)
    known = [(part.kind, part.mass) for part in blank.fitted if part.mass is not None]
    parts += [(kind, grams, 0.0) for kind, grams in known]
    if bare is not None:
        parts.insert(0, ("blank", bare.integrals.mass, bare.mass_off))
        left_out = len(blank.fitted) - len(known)
        figures.append(
            Figure(
                "rod_mass",
                "weight of the rod",
                sum(part[1] for part in parts),
                Kind.MASS,
                sentence(
                    "blank, all that is wound, and grips and guides that the design weighs"
                    + (f"; {left_out} of them it does not" if left_out else "")
                ),
                math.hypot(*(part[2] for part in parts)),
                (*marks, *((Mark.ASSUMED,) if blank.mass is None else ())),
                main=True,
            )
        )
    figures += swing_figures(blank, wound, off, "all wraps")
    columns = (
        Column("part", "part"),
        Column("mass", "weight", Kind.MASS, marks=marks),
        Column("plus_minus", "give or take", Kind.MASS),
    )
    return Section(
        SectionKey.WEIGHT,
        tuple(figures),
        (Table("rod_weights", "the rod, part by part", columns, tuple(parts)),),
    )


def _sum(masses: Sequence[Mass]) -> tuple[float, float]:
    """Mass and its uncertainty, g; errors are taken as independent."""
    return sum(mass.grams for mass in masses), math.hypot(*(mass.plus_minus for mass in masses))
