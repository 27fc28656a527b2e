"""Balance and swing of the rod, and what its wraps change in them.

Known are what the builder weighed or measured: weight and balance point, or length, wall and
density of the blank. How mass lies along a blank that was only weighed is assumed, and what is
assumed is marked (`Mark.ASSUMED`) and has bounds where there are any.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from geometry.rod_mass import (
    MassIntegrals,
    hollow_frusta,
    power_law,
    power_law_bounds,
    uniform,
)
from scenes.building.build import Plan
from scenes.figures.figures import Amount, Figure, Kind, Mark, Sentence, sentence
from scenes.figures.trust import CALIPER_MM
from scenes.kinds.entries import Mass
from scenes.parts.blank import BlankSpec

__all__ = ["BlankMass", "blank_mass", "swing_figures", "wound_mass"]

_BALANCE_MM = 5.0
"""Error of the balance point of a blank on a finger, mm (from memory)."""

_SLICES = 401
"""Stations along a blank that is weighed by its wall: its radius is a smooth curve."""

_NEAR_BALANCE_MM = 1.0
"""Distance of the pivot from the balance point below which no period is given, mm."""


@dataclass(frozen=True, slots=True)
class BlankMass:
    """What is known of the mass of a bare blank.

    Parameters
    ----------
    integrals : MassIntegrals
        Without inertia if `extremes` is empty.
    extremes : tuple of MassIntegrals
        Between which its inertia lies, as `integrals` where it is known no better; empty where
        nothing is known of it.
    mass_off, balance_off : float
        Uncertainty of its mass, g, and of its balance point, mm.
    marks : tuple of Mark
        Of its inertia.
    how : Sentence
        How its mass lies along the rod.
    """

    integrals: MassIntegrals
    extremes: tuple[MassIntegrals, ...]
    mass_off: float
    balance_off: float
    marks: tuple[Mark, ...]
    how: Sentence


def blank_mass(blank: BlankSpec) -> BlankMass | None:
    """Work out the mass of a bare blank from what a design knows; None if that is too little.

    Parameters
    ----------
    blank : BlankSpec

    Raises
    ------
    DesignProblem
        If no blank can have these diameters.
    """
    tube = _tube(blank) if blank.has_shape else None
    if blank.mass is None or blank.balance is None:
        if tube is None or blank.wall is None or blank.density is None:
            return None
        off = tube.mass * min(CALIPER_MM / blank.wall, 1.0)
        how = sentence(
            "a tube of {wall} wall at {density}, as thick all the way; beyond the stations its "
            "taper goes on straight",
            wall=Amount(blank.wall, Kind.CALIPER),
            density=f"{blank.density:g} g/cm3",
        )
        return BlankMass(tube, (tube,), off, 0.0, (Mark.ASSUMED,), how)
    mass, balance = blank.mass, blank.balance
    if tube is not None:
        made = tube.as_weighed(mass, balance)
        how = sentence("weighed; its mass lies as in a tube with a wall as thick all the way")
        return BlankMass(made, (made,), 0.0, _BALANCE_MM, (Mark.ASSUMED,), how)
    if blank.length is None:
        how = sentence("weighed")
        return BlankMass(
            MassIntegrals(mass, mass * balance), (), 0.0, _BALANCE_MM, (Mark.MEMORY,), how
        )
    how = sentence(
        "weighed; its mass falls towards the tip at {length} as a power of the distance from it, "
        "the one that balances at {balance}; bounds hold for any blank that gets no heavier "
        "towards its tip",
        length=Amount(blank.length, Kind.LENGTH),
        balance=Amount(balance, Kind.LENGTH),
    )
    return BlankMass(
        power_law(mass, balance, blank.length),
        power_law_bounds(mass, balance, blank.length),
        0.0,
        _BALANCE_MM,
        (Mark.ASSUMED,),
        how,
    )


def wound_mass(plan: Plan, masses: Sequence[Mass]) -> MassIntegrals:
    """The mass of a wrap along the rod, spread over its length.

    Parameters
    ----------
    plan : Plan
    masses : sequence of Mass
        What the wrap weighs, part by part.
    """
    start, end = plan.wound_span
    half = (end - start) / 2
    return MassIntegrals.total(
        uniform(mass.grams, mass.at - half, mass.at + half) for mass in masses
    )


def _tube(blank: BlankSpec) -> MassIntegrals:
    """The blank as a tube from butt to tip; where it is thinner than two walls it is solid."""
    assert blank.length is not None
    assert blank.wall is not None
    assert blank.density is not None
    z = np.linspace(0.0, blank.length, _SLICES)
    outer = blank.measured().radius(z)
    return hollow_frusta(z, outer, np.maximum(outer - blank.wall, 0.0), blank.density)


def swing_figures(
    blank: BlankSpec, wraps: Sequence[MassIntegrals], off: float, words: str = "the wrap"
) -> Iterator[Figure]:
    """List balance point and swing of the rod, and what its wraps change in them.

    Grips and guides count where the design says what they weigh.

    Parameters
    ----------
    blank : BlankSpec
    wraps : sequence of MassIntegrals
        What is added to the blank: one wrap, or all that are on a rod (`wound_mass`).
    off : float
        Uncertainty of its mass, g.
    words : str
        What that is.
    """
    bare = blank_mass(blank)
    if bare is None:
        return
    fitted = MassIntegrals.total(
        uniform(part.mass, *part.span) for part in blank.fitted if part.mass is not None
    )
    rod = _Rod(bare, fitted, MassIntegrals.total(wraps), off, words)
    if blank.mass is None:
        yield Figure(
            "blank_mass",
            "weight of the bare blank",
            bare.integrals.mass,
            Kind.MASS,
            bare.how,
            bare.mass_off,
            bare.marks,
            main=True,
        )
    yield from _balance(rod)
    if blank.reel_seat is not None:
        yield from _moment(rod, blank.reel_seat)
    if bare.extremes:
        pivot = 0.0 if blank.reel_seat is None else blank.reel_seat
        where = "butt" if blank.reel_seat is None else "reel seat"
        yield from _inertia(rod, pivot, where)


@dataclass(frozen=True, slots=True)
class _Rod:
    """The rod without its wrap, and the wrap.

    Parameters
    ----------
    bare : BlankMass
    fitted : MassIntegrals
        Grips and guides of known weight.
    wrap : MassIntegrals
        One wrap, or all of a rod.
    off : float
        Uncertainty of the wrap's mass, g.
    words : str
        What the wrap is called.
    """

    bare: BlankMass
    fitted: MassIntegrals
    wrap: MassIntegrals
    off: float
    words: str

    @property
    def before(self) -> MassIntegrals:
        """The rod without the wrap."""
        return self.bare.integrals + self.fitted

    @property
    def after(self) -> MassIntegrals:
        """The rod with the wrap."""
        return self.before + self.wrap

    @property
    def extremes(self) -> tuple[tuple[MassIntegrals, MassIntegrals], ...]:
        """The rod without and with its wrap, for each extreme of the blank's inertia."""
        pairs = [extreme + self.fitted for extreme in self.bare.extremes]
        return tuple((before, before + self.wrap) for before in pairs)

    @property
    def marks(self) -> tuple[Mark, ...]:
        """Marks of a balance point: of a finger's error where it was balanced on one."""
        return (Mark.MEMORY,) if self.bare.balance_off else self.bare.marks


def _balance(rod: _Rod) -> Iterator[Figure]:
    before, after = rod.before, rod.after
    counted = " with grips and guides that the design weighs" if rod.fitted.mass else ""
    yield Figure(
        "balance",
        f"balance point with {rod.words}, from butt",
        after.balance,
        Kind.LENGTH,
        sentence(
            f"lever rule: blank of {{mass}} at {{at}}{counted}, wraps, bindings at their middles",
            mass=Amount(before.mass, Kind.MASS),
            at=Amount(before.balance, Kind.LENGTH),
        ),
        rod.bare.balance_off or None,
        rod.marks,
        main=True,
    )
    arm = rod.wrap.balance - before.balance
    yield Figure(
        "balance_change",
        "balance point moves by",
        after.balance - before.balance,
        Kind.LENGTH,
        sentence("towards the tip if more than 0"),
        abs(arm) * rod.off * before.mass / after.mass**2,
        main=True,
    )


def _moment(rod: _Rod, seat: float) -> Iterator[Figure]:
    off = rod.off * abs(rod.wrap.balance - seat)
    yield Figure(
        "swing",
        f"moment about the reel seat, with {rod.words}",
        rod.after.moment_about(seat),
        Kind.MOMENT,
        sentence(
            "weight by distance from the reel seat at {seat}, in grams at a metre",
            seat=Amount(seat, Kind.LENGTH),
        ),
        rod.bare.balance_off * rod.before.mass + off or None,
        rod.marks,
    )
    yield Figure(
        "swing_change",
        "moment about the reel seat changes by",
        rod.wrap.moment_about(seat),
        Kind.MOMENT,
        sentence("what is added; less than 0 where it lies behind the seat"),
        off,
        main=True,
    )


def _inertia(rod: _Rod, pivot: float, where: str) -> Iterator[Figure]:
    before, after, marks = rod.before, rod.after, rod.bare.marks
    yield Figure(
        "inertia",
        f"inertia about the {where}, with {rod.words}",
        after.inertia_about(pivot),
        Kind.INERTIA,
        rod.bare.how,
        marks=marks,
        bounds=_bounds([one.inertia_about(pivot) for _, one in rod.extremes]),
    )
    added = rod.wrap.inertia_about(pivot)
    yield Figure(
        "inertia_change",
        "inertia grows by",
        added / before.inertia_about(pivot),
        Kind.SHARE,
        sentence("what is added, of the inertia without it"),
        marks=marks,
        bounds=_bounds([added / one.inertia_about(pivot) for one, _ in rod.extremes]),
    )
    if min(abs(before.balance - pivot), abs(after.balance - pivot)) < _NEAR_BALANCE_MM:
        return
    yield Figure(
        "period",
        f"swing about the {where}, with {rod.words}",
        after.period_about(pivot),
        Kind.PERIOD,
        sentence("period of small swings as a pendulum, 2 pi sqrt(inertia / moment of weight)"),
        marks=marks,
        bounds=_bounds([one.period_about(pivot) for _, one in rod.extremes]),
    )

    def slower(pair: tuple[MassIntegrals, MassIntegrals]) -> float:
        return pair[1].period_about(pivot) / pair[0].period_about(pivot) - 1

    yield Figure(
        "period_change",
        "swing changes by",
        slower((before, after)),
        Kind.SHARE,
        sentence("of its period; slower if more than 0"),
        marks=marks,
        main=True,
        bounds=_bounds([slower(pair) for pair in rod.extremes]),
    )


def _bounds(values: Sequence[float]) -> tuple[float, float] | None:
    """Least and greatest of some values; None where there is one value only."""
    return (min(values), max(values)) if len(values) > 1 else None
