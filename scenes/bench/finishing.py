"""Finishing at the bench: its steps, and warnings of what a finish will not do."""

from collections.abc import Iterator
from dataclasses import replace

from materials.finish import FINISH
from scenes.bench.coats import PouredCoats
from scenes.bench.mixing import RATIO_SHARE, Batch, batches_of, least_exact_mix, ratio_error
from scenes.building.build import Plan
from scenes.figures.figures import Amount, Kind, Sentence, Step, sentence
from scenes.parts.bench import BenchSpec

__all__ = ["finish_steps", "finish_warnings"]

_EPOXY = "Epoxy harms: gloves, moving air, no flame."

_TURNING = "at 6 to 12 turns a minute"
"""Faster throws finish to the ridges, slower lets it sag (common practice, no source)."""

_BUBBLING = 0.1
"""Air under the cover, as a share of the first coat, from which bubbles are warned of (from
memory)."""

_THICKEST_COAT = 0.5
"""Thickest wet coat that stays where it is brushed while the rod turns, mm (from memory)."""

_THICKEST_FILM = 3.0
"""Thickest finish in all that a wrap is given, mm (from memory)."""

_MINUTE = 60.0


def finish_steps(plan: Plan, poured: PouredCoats) -> Iterator[Step]:
    """Give the steps of finishing, if there is finish.

    Parameters
    ----------
    plan : Plan
    poured : PouredCoats
    """
    spec = plan.design.finish
    if not poured.volumes:
        return
    if spec.colour_preserver:
        yield Step(
            "Seal the thread",
            sentence("Brush colour preserver over plain nylon until it takes no more; let it dry."),
            sentence("No dark or shiny patches left."),
            "Follow the product's own safety sheet; keep the air moving.",
        )
    yield _first_coat(plan, poured)
    if len(poured.volumes) > 1:
        yield _further_coats(plan, poured)


def _parts(batch: Batch, bench: BenchSpec, number: int = 0) -> tuple[str, dict[str, Amount | str]]:
    """Words and amounts of both parts of a mix, by weight too where the densities are known."""
    words = f"{{resin{number}}} resin, {{hardener{number}}} hardener by volume"
    amounts: dict[str, Amount | str] = {
        f"mix{number}": Amount(batch.mixed, Kind.MEASURED_VOLUME),
        f"resin{number}": Amount(batch.resin, Kind.MEASURED_VOLUME),
        f"hardener{number}": Amount(batch.hardener, Kind.MEASURED_VOLUME),
    }
    if _is_weighed(bench):
        words += f" (or {{resin_mass{number}}} and {{hardener_mass{number}}})"
        amounts |= {
            f"resin_mass{number}": Amount(batch.resin_mass, Kind.MEASURED_MASS),
            f"hardener_mass{number}": Amount(batch.hardener_mass, Kind.MEASURED_MASS),
        }
    return words, amounts


def _is_weighed(bench: BenchSpec) -> bool:
    """Whether the builder knows the densities of both parts, and so can weigh them."""
    return not (bench.invented("resin_density") or bench.invented("hardener_density"))


def _first_coat(plan: Plan, poured: PouredCoats) -> Step:
    spec, layer, bench = plan.design.finish, plan.finish_layer(), plan.design.bench
    last = len(poured.volumes) == 1
    parts, amounts = _parts(batches_of(poured, bench)[0], bench)
    amounts |= {
        "start": Amount(layer.start, Kind.LENGTH),
        "end": Amount(layer.end, Kind.LENGTH),
        "beyond": Amount(layer.end - plan.wound_span[1], Kind.LENGTH),
        "within": "" if spec.work_time is None else f" within {spec.work_time:g} min of mixing",
        "cure": _curing(plan) if last else "",
    }
    threaded = any(True for builder in plan.builders for _ in builder.threads())
    beyond, soaking, moved = (
        (
            "beyond the last thread at both ends; work it in until the thread is wet through",
            "",
            "a row can be moved",
        )
        if threaded
        else ("beyond both ends of what lies under it", " in an even film", "dust can be taken off")
    )
    guides = (
        " Coat the guides' bindings too, to just beyond their ends."
        if any(poured.on_guides)
        else ""
    )
    start, end = plan.wound_span
    masked = any(
        one.kind == "grip"
        and (layer.start < one.span[1] <= start or end <= one.span[0] < layer.end)
        for one in plan.design.blank.fitted
    )
    beyond += "." if not masked else ". Mask the grip with tape: the film would run onto it."
    return Step(
        "First coat of finish",
        Sentence(
            f"Mix {{mix0}} slowly, scraping the cup: {parts}. Brush it on thin{soaking}{{within}}, "
            f"from {{start}} to {{end}}, {{beyond}} {beyond}{guides} Turn {_TURNING} until set."
            "{cure}",
            amounts,
        ),
        sentence(
            f"Before: look along it under raking light, the last time that {moved}. Ten minutes "
            "after: no bubbles (warm or prick, brush out), ends straight, no drip."
        ),
        _EPOXY,
    )


def _further_coats(plan: Plan, poured: PouredCoats) -> Step:
    spec, bench = plan.design.finish, plan.design.bench
    more = len(poured.volumes) - 1
    batches = [batch for batch in batches_of(poured, bench) if batch.last > 1]
    amounts: dict[str, Amount | str] = {"more": _coats(more, "more "), "cure": _curing(plan)}
    before = "the first" if more == 1 else "the one before"
    hard = "is hard to the nail (usually 12 to 24 h; common practice, no source)"
    wait = (
        f"once {before} {hard}"
        if spec.recoat_time is None
        else f"{spec.recoat_time:g} h after {before}"
    )
    each = "" if more == 1 else "each "
    mixes = []
    for number, batch in enumerate(batches):
        parts, of_batch = _parts(batch, bench, number)
        amounts |= of_batch
        which = "" if len(batches) == 1 else f" for {_after_the_first(batch)}"
        mixes.append(f"{{mix{number}}}{which}: {parts}")
    return Step(
        "Further coats",
        Sentence(
            f"{{more}}, {each}{wait}. Mix {'; '.join(mixes)}. Brush and turn as before, up to the "
            "same ends.{cure}",
            amounts,
        ),
        sentence("After each: no bare ridge, bubble, drip, dust."),
    )


def _after_the_first(batch: Batch) -> str:
    """Name the coats of a batch that are not the first."""
    return replace(batch, first=max(batch.first, 2), all_coats=False).words


def _curing(plan: Plan) -> str:
    cure = plan.design.finish.cure_time
    return "" if cure is None else f" Leave it {cure:g} h to cure."


def finish_warnings(plan: Plan, poured: PouredCoats) -> Iterator[Sentence]:
    """Warn of what the finish will not do.

    Parameters
    ----------
    plan : Plan
    poured : PouredCoats
    """
    if not poured.volumes:
        return
    yield from _thickness_warnings(plan, poured)
    yield from _bubble_warnings(poured)
    yield from _mixing_warnings(plan, poured)
    work = plan.design.finish.work_time
    if work is not None and work * _MINUTE < FINISH.open_time_s / 2:
        yield sentence(
            "the product's work time is {work}, much less than the {open} that levelling "
            "was worked out for; expect coarser ridges.",
            work=Amount(work * _MINUTE, Kind.TIME),
            open=Amount(FINISH.open_time_s, Kind.TIME),
        )


def _thickness_warnings(plan: Plan, poured: PouredCoats) -> Iterator[Sentence]:
    """Warn of coats that would run, and of more finish than a wrap carries."""
    spec = plan.design.finish
    if spec.coat_thickness > _THICKEST_COAT:
        yield sentence(
            "a coat of {thick} is thicker than stays where it is brushed: it sags, drips and "
            "holds its bubbles; give coats of {most} or less (from memory).",
            thick=Amount(spec.coat_thickness, Kind.CALIPER),
            most=Amount(_THICKEST_COAT, Kind.CALIPER),
        )
    total = spec.coats * spec.coat_thickness
    if total > _THICKEST_FILM:
        each = min(spec.coat_thickness, _THICKEST_COAT)
        fitting = int(_THICKEST_FILM / each + 1e-9)
        yield sentence(
            "{coats} of {thick} put {total} of finish on the wrap, {mass} in all; a finished wrap "
            "carries {most} or less (from memory): give {fitting} of {each}.",
            coats=_coats(spec.coats),
            thick=Amount(spec.coat_thickness, Kind.CALIPER),
            total=Amount(total, Kind.CALIPER),
            mass=Amount(plan.design.bench.finish_mass(sum(poured.volumes)), Kind.MASS),
            most=Amount(_THICKEST_FILM, Kind.CALIPER),
            fitting=_coats(fitting),
            each=Amount(each, Kind.CALIPER),
        )


def _bubble_warnings(poured: PouredCoats) -> Iterator[Sentence]:
    """Warn of air that rises through the first coat."""
    if poured.air > _BUBBLING * (poured.volumes[0] - poured.soaked):
        yield sentence(
            "{air} of air under the cover rises as bubbles: a thin first coat helps, warm room and "
            "finish, slow turning, and a wait until no more come (common practice, no source).",
            air=Amount(poured.air, Kind.VOLUME),
        )


def _mixing_warnings(plan: Plan, poured: PouredCoats) -> Iterator[Sentence]:
    """Warn of a mix too small for the syringe, with its weights and the least that would do."""
    bench = plan.design.bench
    if _is_weighed(bench):
        return
    batch = min(batches_of(poured, bench), key=lambda found: found.mixed)
    off = ratio_error(batch, bench)
    if off <= RATIO_SHARE:
        return
    least = least_exact_mix(RATIO_SHARE, bench)
    yield sentence(
        "the mix for {which}, {mix}, is small: by syringe up to {off} off. Weigh it on a scale "
        "that reads to {step}, {resin} of resin to {hardener} of hardener (densities assumed), or "
        "set the least mix (bench.least_mix) to {least}.",
        which=batch.words,
        mix=Amount(batch.mixed, Kind.MEASURED_VOLUME),
        off=Amount(off, Kind.SHARE),
        step=Amount(batch.scale_step, Kind.MEASURED_MASS),
        resin=Amount(batch.resin_mass, Kind.MEASURED_MASS),
        hardener=Amount(batch.hardener_mass, Kind.MEASURED_MASS),
        least=Amount(least, Kind.MEASURED_VOLUME),
    )


def _coats(count: int, more: str = "") -> str:
    return f"1 {more}coat" if count == 1 else f"{count} {more}coats"
