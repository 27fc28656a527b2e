"""Mass of the wrap against a flat one, and its effect on the balance of the rod."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from geometry.layers.cover import steiner_length
from scenes.building.build import Plan
from scenes.figures.figures import (
    Amount,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Table,
    sentence,
)
from scenes.figures.trust import FILM_SHARE, SHELF_WIDTH_SHARE
from scenes.kinds.entries import (
    Mass,
    ThreadNeed,
    default_marks,
    finish_density_words,
    finish_marks,
)

__all__ = ["balance_of", "finish_mass", "masses_of", "moment_of", "thread_masses", "weight_section"]

_FLAT_COATS = 2
"""Coats that a flat wrap takes (common practice, no source)."""

_BALANCE_MM = 5.0
"""Error of the balance point of a blank on a finger, mm (from memory)."""

FINISH_PART = "finish"
"""Name of the finish among the parts."""


def balance_of(masses: Sequence[float], at: Sequence[float]) -> float:
    """Centre of some masses (lever rule), in the unit of `at`.

    Parameters
    ----------
    masses : sequence of float
        Masses, all in one unit.
    at : sequence of float
        Distances of their centres from one point.
    """
    return sum(m * z for m, z in zip(masses, at, strict=True)) / sum(masses)


def moment_of(masses: Sequence[float], at: Sequence[float], pivot: float) -> float:
    """Moment of some masses about a pivot, mass times distance; positive towards the tip.

    Parameters
    ----------
    masses : sequence of float
        Masses, all in one unit.
    at : sequence of float
        Distances of their centres from the butt.
    pivot : float
        Distance of the pivot from the butt.
    """
    return sum(m * (z - pivot) for m, z in zip(masses, at, strict=True))


def thread_masses(plan: Plan, needs: Sequence[ThreadNeed]) -> tuple[Mass, ...]:
    """Weigh thread that stays on the blank, one mass for each use.

    Parameters
    ----------
    plan : Plan
    needs : sequence of ThreadNeed
    """
    sums: dict[str, list[ThreadNeed]] = {}
    for need in needs:
        if not need.pulled_out:
            sums.setdefault(need.use, []).append(need)
    return tuple(
        Mass(
            use,
            sum(need.mass_g for need in same),
            sum(need.share * need.mass_g for need in same),
            plan.middle,
            sentence(
                "{length} of thread by its tex",
                length=Amount(sum(need.length for need in same), Kind.THREAD_LENGTH),
            ),
        )
        for use, same in sums.items()
    )


def finish_mass(plan: Plan, volume: float, off: float = 0.0, *, soaked: float = 0.0) -> Mass:
    """Weigh finish.

    Parameters
    ----------
    plan : Plan
    volume : float
        mm³.
    off : float
        Uncertainty of it, mm³.
    soaked : float
        What of it soaks in, mm³.
    """
    bench = plan.design.bench
    marks = finish_marks(bench) or (default_marks(bench, "soak") if soaked else ())
    return Mass(
        FINISH_PART,
        bench.finish_mass(volume),
        bench.finish_mass(off),
        plan.middle,
        sentence(
            "{volume} at {density}",
            volume=Amount(volume, Kind.VOLUME),
            density=finish_density_words(bench),
        ),
        marks,
    )


def masses_of(
    plan: Plan, needs: Sequence[ThreadNeed], own: Sequence[Mass], finish: Mass
) -> tuple[Mass, ...]:
    """List everything that the wrap adds to the blank.

    Parameters
    ----------
    plan : Plan
    needs : sequence of ThreadNeed
        Thread of the wrap.
    own : sequence of Mass
        What layers weigh besides thread.
    finish : Mass
        From `finish_mass`; left out if it weighs nothing.
    """
    return (*own, *thread_masses(plan, needs), *((finish,) if finish.grams else ()))


def weight_section(plan: Plan, masses: Sequence[Mass], on_guides: Sequence[Mass] = ()) -> Section:
    """List the weight of the wrap, in all and by part, and how it moves the balance.

    Parameters
    ----------
    plan : Plan
    masses : sequence of Mass
        From `masses_of`.
    on_guides : sequence of Mass
        Thread and finish of the guides' bindings.
    """
    marks = _marks_of(masses)
    total = sum(mass.grams for mass in masses)
    off = math.hypot(*(mass.plus_minus for mass in masses))
    figures = [
        Figure(
            "added_mass",
            "weight of the wrap",
            total,
            Kind.MASS,
            sentence("all parts below, errors taken as independent"),
            off,
            marks,
            main=True,
        ),
    ]
    flat = flat_wrap(plan)
    if flat is not None:
        bare = flat.grams
        coats = min(_FLAT_COATS, plan.design.finish.coats)
        figures += [
            Figure(
                "flat_mass",
                "the same length wrapped flat",
                bare,
                Kind.MASS,
                sentence(
                    "the same cover thread on the bare blank, {coats} of finish",
                    coats={0: "no coat", 1: "1 coat"}.get(coats, f"{coats} coats"),
                ),
                flat.plus_minus,
                (Mark.PRACTICE, *(finish_marks(plan.design.bench) if coats else ())),
                main=True,
            ),
            Figure(
                "extra_mass",
                "more than flat",
                total - bare,
                Kind.MASS,
                sentence("difference of the two: the same hand lays thread and film alike in both"),
                _difference_off(masses, flat),
                (Mark.PRACTICE, *marks),
                main=True,
            ),
        ]
    if on_guides:
        figures.append(_bindings(on_guides))
    figures += _swing(plan, masses, total, off)
    columns = (
        Column("part", "part"),
        Column("mass", "weight", Kind.MASS, marks=marks),
        Column("plus_minus", "give or take", Kind.MASS),
    )
    rows = tuple((mass.name, mass.grams, mass.plus_minus) for mass in masses)
    notes = tuple(
        sentence("{part}: " + mass.how.words, part=mass.name, **mass.how.amounts) for mass in masses
    )
    return Section(
        SectionKey.WEIGHT,
        tuple(figures),
        (Table("weights", "part by part", columns, rows),),
        notes,
    )


def _marks_of(masses: Sequence[Mass]) -> tuple[Mark, ...]:
    return tuple(dict.fromkeys(mark for mass in masses for mark in mass.marks))


def _bindings(on_guides: Sequence[Mass]) -> Figure:
    """Weight of what binds the guides, which is no part of the wrap's."""
    grams = sum(mass.grams for mass in on_guides)
    finish = sum(mass.grams for mass in on_guides if mass.name == FINISH_PART)
    return Figure(
        "guides_mass",
        "besides, thread and finish on the guides",
        grams,
        Kind.MASS,
        sentence(
            "{thread} of thread and {finish} of finish; no part of the weight of the wrap, nor of "
            "the balance",
            thread=Amount(grams - finish, Kind.MASS),
            finish=Amount(finish, Kind.MASS),
        ),
        math.hypot(*(mass.plus_minus for mass in on_guides)),
        _marks_of(on_guides),
        main=True,
    )


@dataclass(frozen=True, slots=True)
class FlatWrap:
    """The first cover wound on the bare blank, and finished.

    Parameters
    ----------
    use : str
        Path of the cover.
    thread, film : float
        g.
    """

    use: str
    thread: float
    film: float

    @property
    def grams(self) -> float:
        """Total mass, g."""
        return self.thread + self.film

    @property
    def plus_minus(self) -> float:
        """Uncertainty of the total mass, g."""
        return math.hypot(SHELF_WIDTH_SHARE * self.thread, FILM_SHARE * self.film)


def flat_wrap(plan: Plan) -> FlatWrap | None:
    """Weigh the first cover wound flat, with two coats at most; None if there is no cover.

    Parameters
    ----------
    plan : Plan
    """
    builder = plan.cover
    if builder is None:
        return None
    cover = builder.cover()
    at = cover.start + (np.arange(cover.level_rows()) + 0.5) * cover.laid_width
    around = 2 * np.pi * plan.blank.radius(at)
    thread = builder.thread.mass_g(float(steiner_length(around, cover.diameter).sum()) / 1000)
    finish = plan.finish_layer()
    coats = min(_FLAT_COATS, len(plan.coats))
    area = plan.blank.lateral_area(finish.start, finish.end)
    volume = coats * plan.design.finish.coat_thickness * area
    return FlatWrap(builder.path, thread, plan.design.bench.finish_mass(volume))


def _difference_off(masses: Sequence[Mass], flat: FlatWrap) -> float:
    """Uncertainty of the difference, g; errors of what both contain cancel."""
    same = {flat.use: flat.thread, FINISH_PART: flat.film}
    return math.hypot(
        *(
            mass.plus_minus * abs(1 - same.get(mass.name, 0.0) / (mass.grams or 1.0))
            for mass in masses
        )
    )


def _swing(plan: Plan, masses: Sequence[Mass], total: float, off: float) -> Iterator[Figure]:
    blank = plan.design.blank
    if blank.mass is None or blank.balance is None:
        return
    all_masses = [blank.mass, *(mass.grams for mass in masses)]
    all_at = [blank.balance, *(mass.at for mass in masses)]
    balance = balance_of(all_masses, all_at)
    change = balance - blank.balance
    arm = plan.middle - blank.balance
    yield Figure(
        "balance",
        "balance point with the wrap, from butt",
        balance,
        Kind.LENGTH,
        sentence(
            "lever rule: blank of {mass} at {at}, wrap at its middle",
            mass=Amount(blank.mass, Kind.MASS),
            at=Amount(blank.balance, Kind.LENGTH),
        ),
        _BALANCE_MM,
        (Mark.MEMORY,),
    )
    yield Figure(
        "balance_change",
        "balance point moves by",
        change,
        Kind.LENGTH,
        sentence("towards the tip if more than 0"),
        abs(arm) * off * blank.mass / (blank.mass + total) ** 2,
        main=True,
    )
    if blank.reel_seat is None:
        return
    seat = blank.reel_seat
    before = moment_of([blank.mass], [blank.balance], seat)
    added = moment_of(all_masses, all_at, seat) - before
    yield Figure(
        "swing",
        "swing with the wrap",
        before + added,
        Kind.MOMENT,
        sentence(
            "moment about the reel seat at {seat}: weight by distance, in grams at a metre",
            seat=Amount(seat, Kind.LENGTH),
        ),
        _BALANCE_MM * blank.mass + off * abs(plan.middle - seat),
        (Mark.MEMORY,),
    )
    yield Figure(
        "swing_change",
        "swing changes by",
        added,
        Kind.MOMENT,
        sentence("what the wrap adds; less than 0 where it lies behind the seat"),
        off * abs(plan.middle - seat),
        main=True,
    )
