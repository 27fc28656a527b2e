"""Order of work over a whole rod, and the places of its guides.

A grip is slid on from the tip, where the blank is thin, so it comes before all that is wound
between it and the tip. Then follow the wraps from butt to tip, the guides, and the coats, each
mixed once for all that gets it.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from scenes.bench.finishing import finish_steps
from scenes.bench.mixing import mix_of
from scenes.bench.report import WrapAmounts
from scenes.building.build import Plan
from scenes.figures.figures import (
    Amount,
    Cell,
    Column,
    Kind,
    Section,
    SectionKey,
    Sentence,
    Step,
    Table,
    sentence,
)
from scenes.figures.trust import CALIPER_MM
from scenes.kinds.entries import TURNING_SAFETY
from scenes.parts.guides import GuideFoot
from scenes.problems import one_of, shown

__all__ = ["coated_in", "guide_places", "rod_steps", "session_columns", "session_times"]

_MINUTE = 60.0

_EPOXY = "Epoxy harms: gloves, moving air, no flame; the product's own safety sheet comes first."


def coated_in(wraps: Sequence[WrapAmounts], coat: int) -> list[WrapAmounts]:
    """Wraps that get a coat: these are coated in one session.

    Parameters
    ----------
    wraps : sequence of WrapAmounts
        Of every wrap of one rod.
    coat : int
        From 0.
    """
    return [amounts for amounts in wraps if coat < len(amounts.poured.volumes)]


def session_columns(wraps: Sequence[WrapAmounts]) -> tuple[Column, ...]:
    """Columns of the times of a session, as far as a product's sheet gave them.

    Parameters
    ----------
    wraps : sequence of WrapAmounts
    """
    columns = []
    finishes = [amounts.plan.design.finish for amounts in wraps]
    if any(finish.work_time is not None for finish in finishes):
        how = sentence("work time of the product, from mixing: brushed on by then, everywhere")
        columns.append(Column("work_time", "use within", Kind.TIME, how))
    if any(finish.recoat_time is not None for finish in finishes):
        how = sentence("after the coat before")
        columns.append(Column("wait", "hours to wait before", Kind.NUMBER, how))
    return tuple(columns)


def session_times(wraps: Sequence[WrapAmounts], coat: int) -> tuple[float | None, float | None]:
    """Time to use a coat's mix in, s, and to wait before it, h; None where it is not known.

    Parameters
    ----------
    wraps : sequence of WrapAmounts
    coat : int
        From 0.
    """
    finishes = [amounts.plan.design.finish for amounts in coated_in(wraps, coat)]
    work = [finish.work_time for finish in finishes if finish.work_time is not None]
    wait = [finish.recoat_time for finish in finishes if finish.recoat_time is not None]
    return (
        min(work) * _MINUTE if work else None,
        max(wait) if wait and coat else None,
    )


def guide_places(plan: Plan) -> Section:
    """Places of the guides, counted and measured from the tip where the blank's length is known.

    Parameters
    ----------
    plan : Plan
        Of any wrap of the rod.
    """
    blank = plan.design.blank
    feet = [fitting for fitting in blank.fitted if isinstance(fitting, GuideFoot)]
    if not feet:
        return Section(SectionKey.GUIDES)
    feet.sort(key=lambda foot: foot.at, reverse=True)
    tip = blank.length
    columns = (
        Column("guide", "guide, from the tip"),
        *((Column("from_tip", "from the tip", Kind.PLACE, sentence("to the middle of its foot")),)
          if tip is not None else ()),
        Column("from_butt", "from the butt", Kind.PLACE, sentence("to the middle of its foot")),
        Column("apart", "from the one before", Kind.PLACE, sentence("nearer the tip")),
        Column("foot", "foot", Kind.LENGTH),
        Column(
            "blank", "blank there", Kind.CALIPER, sentence("as measured"), plus_minus=CALIPER_MM
        ),
    )  # fmt: skip
    before = [None, *(one.at - other.at for one, other in pairwise(feet))]
    rows: list[tuple[Cell, ...]] = []
    for number, (foot, apart) in enumerate(zip(feet, before, strict=True), start=1):
        places = (foot.at,) if tip is None else (tip - foot.at, foot.at)
        thick = 2 * float(plan.blank.radius(foot.at))
        rows.append((str(number), *places, apart, foot.length, thick))
    notes = () if tip is not None else (
        sentence(
            "The design does not say how long the blank is (blank.length), so there are no marks "
            "from the tip."
        ),
    )  # fmt: skip
    table = Table("guide_places", "places of the guides", columns, tuple(rows), main=True)
    return Section(SectionKey.GUIDES, (), (table,), notes)


def rod_steps(wraps: Sequence[WrapAmounts]) -> Iterator[Step]:
    """Give the steps of the work on a rod; what is done on a wrap, its own report says.

    Parameters
    ----------
    wraps : sequence of WrapAmounts
        Of every wrap of one rod.
    """
    wraps = sorted(wraps, key=lambda amounts: amounts.plan.wound_span)
    plan = wraps[0].plan
    yield _marking(wraps)
    mounted = [part for part in plan.design.blank.fitted if not isinstance(part, GuideFoot)]
    for part in sorted(mounted, key=lambda part: part.span):
        yield _mounting(part.kind, part.span, wraps)
    for amounts in wraps:
        start, end = amounts.plan.wound_span
        yield Step(
            f"Wind {shown(_name(amounts))}",
            sentence(
                "From {start} to {end}, by its own sheet as far as the first coat of finish.",
                start=Amount(start, Kind.LENGTH),
                end=Amount(end, Kind.LENGTH),
            ),
            None,
            TURNING_SAFETY,
        )
    for amounts in wraps:
        yield from amounts.guides.steps
    sealed = [
        step
        for amounts in wraps
        for step in finish_steps(amounts.plan, amounts.poured)
        if step.title == _SEALING
    ]
    yield from sealed[:1]
    for coat in range(max(len(amounts.poured.volumes) for amounts in wraps)):
        yield _coating(wraps, coat)


_SEALING = "Seal the thread"
"""Title of the step that is done once for the rod."""


def _name(amounts: WrapAmounts) -> str:
    return amounts.plan.design.wrap_name


def _marking(wraps: Sequence[WrapAmounts]) -> Step:
    """Mark all places while nothing is on the blank."""
    amounts: dict[str, Amount | str] = {}
    places = []
    for number, one in enumerate(wraps):
        start, end = one.plan.wound_span
        amounts[f"name{number}"] = shown(_name(one))
        amounts[f"from{number}"] = Amount(start, Kind.LENGTH, bare=True)
        amounts[f"to{number}"] = Amount(end, Kind.LENGTH)
        places.append(f"{{name{number}}} {{from{number}}} to {{to{number}}}")
    guides = any(isinstance(part, GuideFoot) for part in wraps[0].plan.design.blank.fitted)
    return Step(
        "Mark the rod",
        Sentence(
            "Clean the blank and draw the guide line over its whole length. From the butt, mark "
            f"the wraps: {'; '.join(places)}."
            + (" Mark the guides by the table of places." if guides else ""),
            amounts,
        ),
        sentence("Sight along the blank: all marks of guides lie on one line."),
        "Solvent: moving air, gloves, and no flame.",
    )


def _mounting(kind: str, span: tuple[float, float], wraps: Sequence[WrapAmounts]) -> Step:
    """Mount what is slid on from the tip."""
    start, end = span
    later = [shown(_name(one)) for one in wraps if one.plan.wound_span[1] > end]
    after = (
        f": {one_of(later, 'and')} come{'s' if len(later) == 1 else ''} after it" if later else ""
    )
    return Step(
        f"Mount the {kind}",
        sentence(
            "Slide it on from the tip, dry first, until it lies from {start} to {end}; then glue "
            "it on.",
            start=Amount(start, Kind.LENGTH, bare=True),
            end=Amount(end, Kind.LENGTH),
        ),
        sentence(
            "Nothing is wound yet between it and the tip, where it must pass (common practice, no "
            "source){after}.",
            after=after,
        ),
        _EPOXY,
    )


def _coating(wraps: Sequence[WrapAmounts], coat: int) -> Step:
    """One session of finish: one mix, on all that gets this coat."""
    coated = coated_in(wraps, coat)
    bench = wraps[0].plan.design.bench
    volume = sum(one.poured.volumes[coat] + one.poured.on_guides[coat] for one in coated)
    mixed, resin, hardener = mix_of(volume, bench)
    work, wait = session_times(wraps, coat)
    names = [shown(_name(one)) for one in coated]
    if any(one.poured.on_guides[coat] for one in coated):
        names.append("the bindings of the guides")
    amounts: dict[str, Amount | str] = {
        "mix": Amount(mixed, Kind.MEASURED_VOLUME),
        "resin": Amount(resin, Kind.MEASURED_VOLUME),
        "hardener": Amount(hardener, Kind.MEASURED_VOLUME),
        "names": one_of(names, "and"),
    }
    words = "Mix {mix}: {resin} resin, {hardener} hardener by volume. Brush it on {names}"
    if work is not None:
        words += ", all within {work} of mixing; mix twice, half each, where that is too short"
        amounts["work"] = Amount(work, Kind.TIME)
    if wait is not None:
        words = "Wait {wait} after the coat before. " + words
        amounts["wait"] = f"{wait:g} h"
    elif coat:
        words = "Wait until the coat before is hard to the nail. " + words
    return Step(
        f"Coat {coat + 1}",
        Sentence(f"{words}. Turn the rod until it is set.", amounts),
        sentence("No wrap is left out that gets this coat, and no drip hangs from a guide."),
        _EPOXY,
    )
