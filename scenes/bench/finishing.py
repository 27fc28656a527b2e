"""Finishing at the bench: its steps, and warnings of what a finish will not do."""

from collections.abc import Iterator

from materials.finish import FINISH
from scenes.bench.coats import PouredCoats, division_share, least_exact_mix, mix_of, weighed
from scenes.building.build import Plan
from scenes.figures.figures import Amount, Kind, Sentence, Step, sentence

__all__ = ["finish_steps", "finish_warnings"]

_EPOXY = "Epoxy harms skin and lungs: gloves, moving air, and no flame near solvent."

_TURNING = "at 6 to 12 turns a minute"
"""Faster throws finish to the ridges, slower lets it sag (common practice, no source)."""

_RATIO_SHARE = 0.03
"""Relative error of the mixing ratio from which a small mix is warned of (from memory)."""

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


def _mix(volume: float, plan: Plan) -> dict[str, Amount | str]:
    mixed, resin, hardener = mix_of(volume, plan.design.bench)
    return {
        "mix": Amount(mixed, Kind.VOLUME),
        "resin": Amount(resin, Kind.VOLUME),
        "hardener": Amount(hardener, Kind.VOLUME),
    }


def _first_coat(plan: Plan, poured: PouredCoats) -> Step:
    spec, layer = plan.design.finish, plan.finish_layer()
    last = len(poured.volumes) == 1
    amounts = _mix(poured.volumes[0], plan) | {
        "start": Amount(layer.start, Kind.LENGTH),
        "end": Amount(layer.end, Kind.LENGTH),
        "beyond": Amount(layer.end - plan.wound_span[1], Kind.LENGTH),
        "within": "" if spec.work_time is None else f" within {spec.work_time:g} min of mixing",
        "cure": _curing(plan) if last else "",
    }
    return Step(
        "First coat of finish",
        Sentence(
            "Mix {mix} slowly, scraping sides and bottom: {resin} resin and {hardener} hardener "
            "by volume. Brush it on thin{within}, from {start} to {end} from the butt, that is "
            "{beyond} onto the blank beyond the last thread at both ends, and work it in until "
            f"the thread is wet through. Turn the rod {_TURNING} until it has set.{{cure}}",
            amounts,
        ),
        sentence(
            "Before it, look along the wrap under raking light: it is the last time that a row "
            "can be moved. Ten minutes after: no bubbles (warm them gently or prick them, and "
            "brush out), both ends straight, no drip."
        ),
        _EPOXY,
    )


def _further_coats(plan: Plan, poured: PouredCoats) -> Step:
    spec = plan.design.finish
    more = len(poured.volumes) - 1
    amounts = _mix(max(poured.volumes[1:]), plan) | {
        "more": "1 more coat" if more == 1 else f"{more} more coats",
        "wait": (
            "once it is hard to the nail, usually 12 to 24 h (common practice, no source)"
            if spec.recoat_time is None
            else f"{spec.recoat_time:g} h between coats"
        ),
        "cure": _curing(plan),
    }
    return Step(
        "Further coats",
        Sentence(
            "{more}, {wait}: for each mix {mix}, {resin} resin and {hardener} hardener by "
            f"volume. Brush it over the coat before, up to the same ends. Turn the rod {_TURNING} "
            "until it has set.{cure}",
            amounts,
        ),
        sentence("After each coat: no bare ridge, no bubble, no drip, no dust."),
        _EPOXY,
    )


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
            mass=Amount(FINISH.mass_g(sum(poured.volumes)), Kind.MASS),
            most=Amount(_THICKEST_FILM, Kind.CALIPER),
            fitting=_coats(fitting),
            each=Amount(each, Kind.CALIPER),
        )


def _bubble_warnings(poured: PouredCoats) -> Iterator[Sentence]:
    """Warn of air that rises through the first coat."""
    if poured.air > _BUBBLING * (poured.volumes[0] - poured.soaked):
        yield sentence(
            "{air} of air lies under the cover, and where finish soaks in it rises as bubbles. "
            "A thin first coat helps, a warm room and warm finish, slow turning, and a wait "
            "before the next coat until no more bubbles come (common practice, no source).",
            air=Amount(poured.air, Kind.VOLUME),
        )


def _mixing_warnings(plan: Plan, poured: PouredCoats) -> Iterator[Sentence]:
    """Warn of a mix too small for the syringe, with its weights and the least that would do."""
    bench = plan.design.bench
    mix = min((mix_of(volume, bench) for volume in poured.volumes), key=lambda found: found[0])
    off = division_share(mix[0], bench)
    if off <= _RATIO_SHARE:
        return
    resin, hardener = weighed(mix, bench)
    yield sentence(
        "a mix of {mix} is small: half a division of the syringe is {off} of its smaller part. "
        "Weigh it instead, {resin} of resin to {hardener} of hardener{taken}, or mix {least} or "
        "more.",
        mix=Amount(mix[0], Kind.VOLUME),
        off=Amount(off, Kind.SHARE),
        resin=Amount(resin, Kind.MASS),
        hardener=Amount(hardener, Kind.MASS),
        taken=(
            ", by densities that Turnlight assumes"
            if bench.invented("resin_density") or bench.invented("hardener_density")
            else ""
        ),
        least=Amount(least_exact_mix(_RATIO_SHARE, bench), Kind.VOLUME),
    )


def _coats(count: int) -> str:
    return "1 coat" if count == 1 else f"{count} coats"
