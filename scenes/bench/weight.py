"""Mass of the wrap against a flat one, and its effect on the balance of the rod."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometry.layers.cover import steiner_length
from scenes.bench.swing import swing_figures, wound_mass
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

__all__ = ["finish_mass", "masses_of", "thread_masses", "weight_section"]

_FLAT_COATS = 2
"""Coats that a flat wrap takes (common practice, no source)."""

FINISH_PART = "finish"
"""Name of the finish among the parts."""


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
    figures += swing_figures(plan.design.blank, [wound_mass(plan, masses)], off)
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
