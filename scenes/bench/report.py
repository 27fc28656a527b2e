"""Bench report: every number and step to build one wrap by.

Amounts are in mm, rad, g and s; `scenes.figures.formatter` adds units. The thread of every layer is
weighed, priced and checked against the spools here; everything else comes from the `bench.py` of
its kind (`scenes.kinds.kind.Kind.entries`). Every `Figure` states its source and its uncertainty
(`scenes.figures.trust`); defaults that the builder has not replaced are marked `Mark.DEFAULT`. The
report is of the design as it can be cut, `as_cut(plan)`, in every figure.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from geometry.bodies.mesh import enclosed_volume
from geometry.rod_mass import MassIntegrals
from scenes.bench.coats import PouredCoats, pour_coats
from scenes.bench.cost import cost_section
from scenes.bench.finish import finish_section
from scenes.bench.finishing import finish_steps, finish_warnings
from scenes.bench.guides import guides_entries, no_guides
from scenes.bench.threads import needed_spools, spool_warnings, threads_section
from scenes.bench.weight import finish_mass, masses_of, weight_section
from scenes.building.build import Plan, Wrap, build
from scenes.design.layers import kind_of
from scenes.design.rod import binds_guides
from scenes.design.variants import design_hash
from scenes.figures.figures import (
    Amount,
    BenchReport,
    Kind,
    Section,
    SectionKey,
    Sentence,
    Step,
    sentence,
)
from scenes.kinds.builder import as_cut
from scenes.kinds.entries import Entries, Mass, ThreadNeed

__all__ = [
    "CAUTIONS",
    "WrapAmounts",
    "added_mass",
    "bench_report",
    "layer_warnings",
    "report_of",
    "thread_length",
    "wrap_amounts",
]

_SAME_MARK = 0.05
"""Distance of two marks that are written alike, mm."""

CAUTIONS = (
    "Blades are bare: cut away from the hand.",
    "Nothing loose near a turning blank; stop it before you reach in.",
    "Epoxy harms skin, eyes and lungs: gloves, moving air.",
    "No flame near solvent.",
    "The product's own safety sheet and your local rules come first.",
)
"""For the foot of every page."""


@dataclass(frozen=True, slots=True)
class WrapAmounts:
    """What one wrap takes, as measured for its report.

    Parameters
    ----------
    plan : Plan
        As it can be cut.
    entries : tuple of Entries
        Of every layer, in bench order.
    guides : Entries
        Of the guides that are bound with this wrap.
    poured : PouredCoats
    masses, on_guides : tuple of Mass
        What the wrap adds to the blank, and what the bindings of those guides add.
    guides_mass : MassIntegrals
        Those bindings along the rod.
    """

    plan: Plan
    entries: tuple[Entries, ...]
    guides: Entries
    poured: PouredCoats
    masses: tuple[Mass, ...]
    on_guides: tuple[Mass, ...]
    guides_mass: MassIntegrals

    @property
    def needs(self) -> tuple[ThreadNeed, ...]:
        """Thread of the wrap and of those guides."""
        return (*_threads(self.entries), *self.guides.threads)


def bench_report(wrap: Wrap, *, step: Callable[[str], None] = lambda _: None) -> BenchReport:
    """Compute every number to build a wrap by.

    Parameters
    ----------
    wrap : Wrap
        Built at any detail; draft will do. Where it is not of `as_cut(plan)`, it is built anew.
    step : callable
        Called with a word before each part, for a progress bar; may raise to cancel.
    """
    return report_of(wrap_amounts(wrap, step=step))


def wrap_amounts(wrap: Wrap, *, step: Callable[[str], None] = lambda _: None) -> WrapAmounts:
    """Measure what a wrap takes.

    Parameters
    ----------
    wrap : Wrap
        As for `bench_report`.
    step : callable
    """
    plan = as_cut(wrap.plan)
    if plan is not wrap.plan:
        wrap = build(plan, wrap.detail, step, poured=False)
    step("lengths")
    layer_entries = _layer_entries(wrap)
    bound = guides_entries(plan) if binds_guides(plan.design) else no_guides(plan)
    guides = bound.entries
    poured = pour_coats(wrap, sum(entries.air for entries in layer_entries), bound.coats, step)
    step("weight")
    finish = finish_mass(plan, sum(poured.volumes), poured.off, soaked=poured.soaked)
    on_guides = masses_of(
        plan,
        guides.threads,
        (),
        finish_mass(plan, sum(poured.on_guides), poured.guides_off, soaked=poured.soaked_on_guides),
    )
    masses = _masses(plan, layer_entries, finish)
    return WrapAmounts(plan, layer_entries, guides, poured, masses, on_guides, bound.mass)


def report_of(amounts: WrapAmounts) -> BenchReport:
    """Make the report of a wrap.

    Parameters
    ----------
    amounts : WrapAmounts
    """
    plan, poured, needs = amounts.plan, amounts.poured, amounts.needs
    design, bench = plan.design, plan.design.bench
    spools = needed_spools(needs, plan.shelf, bench)
    sections = [
        *(section for entries in amounts.entries for section in entries.sections),
        threads_section(needs, plan.shelf, bench),
        finish_section(plan, poured),
        weight_section(plan, amounts.masses, amounts.on_guides),
    ]
    warnings = [
        *layer_warnings(plan),
        *spool_warnings(spools),
        *finish_warnings(plan, poured),
    ]
    steps = [
        _prepare(plan, amounts.entries),
        *_steps(amounts.entries),
        *amounts.guides.steps,
        *finish_steps(plan, poured),
    ]
    sections.append(cost_section(needs, spools, bench, len(steps)))
    return BenchReport(
        f"{design.title}: {design.wrap_name}" if design.wraps else design.title,
        design_hash(plan.designed.design),
        tuple(_merged(sections)),
        tuple(warnings),
        tuple(steps),
        CAUTIONS,
        bench.currency,
    )


def layer_warnings(plan: Plan) -> Iterator[Sentence]:
    """Warn of what cannot be laid at the bench as the design asks, without laying it.

    Parameters
    ----------
    plan : Plan
        Of the design as it is cut (`scenes.kinds.builder.as_cut`).
    """
    for builder in plan.builders:
        yield from kind_of(builder.layer).bench_warnings(builder)


def added_mass(wrap: Wrap) -> float:
    """Mass of the wrap, g, as in `bench_report`, without measuring the coats one by one.

    Parameters
    ----------
    wrap : Wrap
        From `build_for_bench`.
    """
    layer_entries = _layer_entries(wrap)
    outside = wrap.surface if wrap.outside is None else wrap.outside
    volume = enclosed_volume(outside) - enclosed_volume(wrap.surface)
    if wrap.outside is not None:
        volume += wrap.design.bench.soak * sum(entries.air for entries in layer_entries)
    masses = _masses(wrap.plan, layer_entries, finish_mass(wrap.plan, volume))
    return sum(mass.grams for mass in masses)


def thread_length(wrap: Wrap, use: str) -> float:
    """Length of a layer's thread on the blank, mm, as in `bench_report`.

    Parameters
    ----------
    wrap : Wrap
        From `build_for_bench`.
    use : str
        Path of the layer.
    """
    needs = _threads(_layer_entries(wrap))
    return sum(need.length for need in needs if need.use == use and not need.pulled_out)


def _threads(layer_entries: Sequence[Entries]) -> tuple[ThreadNeed, ...]:
    """Thread of all layers."""
    return tuple(need for entries in layer_entries for need in entries.threads)


def _masses(plan: Plan, layer_entries: Sequence[Entries], finish: Mass) -> tuple[Mass, ...]:
    """List everything that the wrap adds to the blank."""
    own = [mass for entries in layer_entries for mass in entries.masses]
    return masses_of(plan, _threads(layer_entries), own, finish)


def _layer_entries(wrap: Wrap) -> tuple[Entries, ...]:
    """Entries of every layer, in bench order."""
    return tuple(
        kind_of(builder.layer).entries(builder, used(), wrap)
        for builder, used in zip(wrap.plan.builders, wrap.thread_uses, strict=True)
    )


def _steps(layer_entries: Sequence[Entries]) -> Iterator[Step]:
    for entries in layer_entries:
        yield from entries.steps


def _merged(sections: Sequence[Section]) -> Iterator[Section]:
    """Yield one section for each key, in the order of the keys."""
    for key in SectionKey:
        same = [
            section
            for section in sections
            if section.key is key and (section.figures or section.tables or section.notes)
        ]
        if same:
            yield Section(
                key,
                tuple(figure for section in same for figure in section.figures),
                tuple(table for section in same for table in section.tables),
                tuple(note for section in same for note in section.notes),
            )


def _prepare(plan: Plan, layer_entries: Sequence[Entries]) -> Step:
    start, end = plan.start, plan.end
    first, last = plan.wound_span
    own_ends: dict[str, Amount] = {}
    if max(abs(first - start), abs(last - end)) > _SAME_MARK:
        own_ends["first"] = Amount(first, Kind.LENGTH, bare=True)
        own_ends["last"] = Amount(last, Kind.LENGTH)
    marks = any(
        section.key is SectionKey.MARKS for entries in layer_entries for section in entries.sections
    )
    ends: dict[str, Amount | str] = {
        "start": Amount(start, Kind.LENGTH),
        "end": Amount(end, Kind.LENGTH),
        "lower": Amount(2 * float(plan.blank.radius(start)), Kind.CALIPER),
        "upper": Amount(2 * float(plan.blank.radius(end)), Kind.CALIPER),
    }
    check: Sentence = Sentence(
        "The caliper reads {lower} at {start} and {upper} at {end}; if not, correct the design "
        "and reprint.",
        ends,
    )
    return Step(
        "Mark the blank",
        sentence(
            "Clean the blank and draw the guide line. From the butt, mark {start} and {end}"
            + (", the wrap's own ends at {first} and {last}" if own_ends else "")
            + (", and the table of marks." if marks else "."),
            start=Amount(start, Kind.LENGTH, bare=True),
            end=ends["end"],
            **own_ends,
        ),
        check,
        "Solvent: moving air, gloves, and no flame.",
    )
