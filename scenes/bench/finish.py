"""Finish: volumes to mix for each coat, film thickness, and ridges that a finger still feels."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from geometry.bodies.mesh import enclosed_volume
from geometry.touch import ridge_height, touch_threshold
from materials.finish import FINISH
from scenes.building.build import Plan, Wrap
from scenes.figures.figures import (
    Amount,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Sentence,
    Step,
    Table,
    sentence,
)
from scenes.figures.trust import FILM_SHARE
from scenes.parts.bench import BenchSpec

__all__ = [
    "PouredCoats",
    "finish_section",
    "finish_steps",
    "finish_warnings",
    "mix_of",
    "pour_coats",
]

_MOST_COATS = 12
"""Most coats that are tried; nobody brushes on more."""

_PLAIN_WAVELENGTH = 1.0
"""Wavelength of ridges where there is no relief, mm (an assumption)."""

_ML = 1000.0

_DIVISION = 100.0
"""Division of a small syringe, mm³ (common practice, no source)."""

_MINUTE, _HOUR = 60.0, 3600.0


@dataclass(frozen=True, slots=True)
class PouredCoats:
    """The coats of a design, one after the other.

    Parameters
    ----------
    volumes : tuple of float
        Volume of each coat, mm³: the difference of closed meshes.
    films : tuple of float
        Mean thickness of each coat over the area that it wets, mm.
    ridges : tuple of float
        Height of the ridges before any coat, and after each, mm.
    wavelength : float
        Distance from ridge to ridge, mm.
    smooth_after : int or None
        Number of coats after which a finger feels no ridges; None if more than `_MOST_COATS`.
    """

    volumes: tuple[float, ...]
    films: tuple[float, ...]
    ridges: tuple[float, ...]
    wavelength: float
    smooth_after: int | None


def pour_coats(wrap: Wrap, step: Callable[[str], None]) -> PouredCoats:
    """Pour and measure the coats of a design, then further ones until no ridge is felt.

    Parameters
    ----------
    wrap : Wrap
        Built at any detail.
    step : callable
        Called with a word before each coat; may raise to cancel.
    """
    plan = wrap.plan
    finish = plan.finish_layer()
    wavelength = plan.smallest_cell() or _PLAIN_WAVELENGTH
    threshold = touch_threshold(wavelength)
    coat = plan.coat
    surface = wrap.surface
    ridges = [ridge_height(surface, plan.start, plan.end, wavelength)]
    filled = enclosed_volume(surface) if plan.coats else 0.0
    area = plan.blank.lateral_area(finish.start, finish.end)
    volumes: list[float] = []
    while len(volumes) < len(plan.coats) or (ridges[-1] > threshold and len(ridges) <= _MOST_COATS):
        step(f"coat {len(ridges)}")
        surface = finish.poured(surface, coat)
        ridges.append(ridge_height(surface, plan.start, plan.end, wavelength))
        if len(volumes) < len(plan.coats):
            outside = enclosed_volume(surface)
            volumes.append(outside - filled)
            filled = outside
    smooth = next((count for count, left in enumerate(ridges) if left <= threshold), None)
    films = tuple(volume / area for volume in volumes)
    kept = tuple(ridges[: max(len(plan.coats), smooth or 0) + 1])
    return PouredCoats(tuple(volumes), films, kept, wavelength, smooth)


def mix_of(volume: float, bench: BenchSpec) -> tuple[float, float, float]:
    """Volumes to mix for a coat: in all, of resin and of hardener, mm³.

    The smaller part is rounded up to a division of a syringe.

    Parameters
    ----------
    volume : float
        Volume of the coat on the wrap, mm³.
    bench : BenchSpec
    """
    wanted = max(volume + bench.cup_loss * _ML, bench.least_mix * _ML)
    smaller = wanted / (1 + bench.mix_ratio) * min(1.0, bench.mix_ratio)
    # A syringe is read to its divisions; the smaller part sets the other.
    smaller = math.ceil(smaller / _DIVISION - 1e-9) * _DIVISION
    ratio = bench.mix_ratio
    resin, hardener = (smaller * ratio, smaller) if ratio >= 1 else (smaller, smaller / ratio)
    return resin + hardener, resin, hardener


def finish_section(plan: Plan, poured: PouredCoats) -> Section:
    """List figures, table and notes of the finish.

    Parameters
    ----------
    plan : Plan
    poured : PouredCoats
    """
    return Section(
        SectionKey.FINISH,
        tuple(_figures(plan, poured)),
        (_coats_table(plan, poured),) if poured.volumes else (),
        tuple(_notes(plan, poured)),
    )


def _figures(plan: Plan, poured: PouredCoats) -> Iterator[Figure]:
    spec, bench = plan.design.finish, plan.design.bench
    yield Figure(
        "coats", "coats", spec.coats, Kind.COUNT, sentence("as the design asks"), main=True
    )
    if poured.volumes:
        mixed = [mix_of(volume, bench) for volume in poured.volumes]
        marks = tuple({Mark.DEFAULT for f in ("cup_loss", "least_mix") if bench.invented(f)})
        off = FILM_SHARE * max(poured.volumes)
        words = sentence(
            "largest coat {volume} on the wrap, and {loss} that stays in cup and brush; "
            "{least} at least",
            volume=Amount(max(poured.volumes), Kind.VOLUME),
            loss=Amount(bench.cup_loss * _ML, Kind.VOLUME),
            least=Amount(bench.least_mix * _ML, Kind.VOLUME),
        )
        most = max(mixed)
        yield Figure("mix", "mix for each coat", most[0], Kind.VOLUME, words, off, marks, main=True)
        yield Figure(
            "resin",
            "of it resin",
            most[1],
            Kind.VOLUME,
            sentence("{ratio} to 1, by volume", ratio=f"{bench.mix_ratio:g}"),
            off * most[1] / most[0],
            marks,
            main=True,
        )
        yield Figure(
            "hardener",
            "of it hardener",
            most[2],
            Kind.VOLUME,
            sentence("1 to {ratio} of resin, by volume", ratio=f"{bench.mix_ratio:g}"),
            off * most[2] / most[0],
            marks,
            main=True,
        )
        film = sum(poured.films)
        yield Figure(
            "film_total",
            "finish in all, mean thickness",
            film,
            Kind.FINE_LENGTH,
            sentence("all coats' volume by the area of the bare blank under them"),
            FILM_SHARE * film,
        )
        left = poured.ridges[len(poured.volumes)]
        yield Figure(
            "ridge_left",
            "ridges left after the last coat",
            left,
            Kind.FINE_LENGTH,
            sentence(
                "trough to crest, {apart} from ridge to ridge, levelled as Orchard 1962 "
                "for {open}; most of the wrap is below it",
                apart=Amount(poured.wavelength, Kind.LENGTH),
                open=Amount(FINISH.open_time_s, Kind.TIME),
            ),
            0.5 * left,
            (Mark.MEMORY,),
        )
    if poured.smooth_after is not None:
        yield Figure(
            "coats_until_smooth",
            "coats until a finger feels no ridges",
            poured.smooth_after,
            Kind.COUNT,
            sentence(
                "first coat after which they stand below the touch threshold, each coat {film}",
                film=Amount(plan.design.finish.coat_thickness, Kind.FINE_LENGTH),
            ),
            1,
            (Mark.MEMORY,),
            main=True,
        )
    threshold = touch_threshold(poured.wavelength)
    yield Figure(
        "touch_threshold",
        "least ridge that a finger feels",
        threshold,
        Kind.FINE_LENGTH,
        sentence(
            "Louw, Kappers and Koenderink 2000, for ridges {apart} apart; good to a factor of two",
            apart=Amount(poured.wavelength, Kind.LENGTH),
        ),
        threshold / 2,
        (Mark.MEMORY,),
    )
    yield Figure(
        "open_time",
        "open time assumed",
        FINISH.open_time_s,
        Kind.TIME,
        sentence("how long a coat flows before it sets; your product and your room may differ"),
        FINISH.open_time_s / 2,
        (Mark.MEMORY,),
    )
    sheet = sentence("from the product's own sheet, as entered")
    for field, name, unit in (
        ("work_time", "work time of a mix", _MINUTE),
        ("recoat_time", "time between coats", _HOUR),
        ("cure_time", "full cure", _HOUR),
    ):
        given = getattr(spec, field)
        if given is not None:
            yield Figure(field, name, given * unit, Kind.TIME, sheet)


def _coats_table(plan: Plan, poured: PouredCoats) -> Table:
    bench = plan.design.bench
    mixing = tuple(
        {Mark.DEFAULT for f in ("cup_loss", "least_mix", "mix_ratio") if bench.invented(f)}
    )
    mixed_how = sentence(
        "on the wrap, and {loss} in cup and brush; {least} at least",
        loss=Amount(bench.cup_loss * _ML, Kind.VOLUME),
        least=Amount(bench.least_mix * _ML, Kind.VOLUME),
    )
    columns = (
        Column("coat", "coat", Kind.COUNT),
        Column(
            "volume",
            "on the wrap",
            Kind.VOLUME,
            sentence("difference of the closed outsides before and after (trimesh)"),
            share=FILM_SHARE,
        ),
        Column("mix", "mix", Kind.VOLUME, mixed_how, share=FILM_SHARE, marks=mixing),
        Column(
            "resin",
            "resin",
            Kind.VOLUME,
            sentence("parts by volume"),
            share=FILM_SHARE,
            marks=mixing,
        ),
        Column(
            "hardener",
            "hardener",
            Kind.VOLUME,
            sentence("parts by volume"),
            share=FILM_SHARE,
            marks=mixing,
        ),
        Column(
            "film",
            "mean film",
            Kind.FINE_LENGTH,
            sentence("volume by the area of the bare blank"),
            share=FILM_SHARE,
        ),
        Column(
            "ridge",
            "ridges left",
            Kind.FINE_LENGTH,
            sentence("Orchard 1962"),
            share=0.5,
            marks=(Mark.MEMORY,),
        ),
        Column(
            "mass",
            "weight",
            Kind.MASS,
            sentence("at {density} g/cm3", density=f"{FINISH.density_g_cm3:g}"),
            share=FILM_SHARE,
        ),
    )
    rows = tuple(
        (
            number,
            volume,
            *mix_of(volume, bench),
            film,
            poured.ridges[number],
            FINISH.mass_g(volume),
        )
        for number, (volume, film) in enumerate(
            zip(poured.volumes, poured.films, strict=True), start=1
        )
    )
    return Table("coats", "coat by coat", columns, rows)


def _notes(plan: Plan, poured: PouredCoats) -> Iterator[Sentence]:
    if not poured.volumes:
        yield sentence("This wrap is dry: no finish to mix.")
    coats = plan.design.finish.coats
    if poured.smooth_after is None:
        yield sentence(
            "Ridges would still be felt after {most} coats of {film}; thicker coats or a "
            "lower relief level sooner.",
            most=str(_MOST_COATS),
            film=Amount(plan.design.finish.coat_thickness, Kind.FINE_LENGTH),
        )
    elif poured.smooth_after > coats > 0:
        yield sentence(
            "After {coats} a finger still feels ridges of {ridge}; about {needed} coats "
            "would level them.",
            coats="1 coat" if coats == 1 else f"{coats} coats",
            ridge=Amount(poured.ridges[coats], Kind.FINE_LENGTH),
            needed=str(poured.smooth_after),
        )
    yield sentence(
        "Levelling is worked out for a flat bed that neither sags nor cures meanwhile; the "
        "rod turns until the coat has set."
    )
    if plan.design.finish.work_time is None and poured.volumes:
        yield sentence(
            "Enter finish.work_time, recoat_time and cure_time from the product's own sheet "
            "to be reminded of them."
        )


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
    mixed, resin, hardener = max(mix_of(v, plan.design.bench) for v in poured.volumes)
    times = []
    if spec.work_time is not None:
        times.append(f"brush it on within {spec.work_time:g} min of mixing")
    if spec.recoat_time is not None:
        times.append(f"{spec.recoat_time:g} h between coats")
    if spec.cure_time is not None:
        times.append(f"leave it {spec.cure_time:g} h to cure")
    yield Step(
        "Finish",
        sentence(
            "{coats}: for each mix {mix}, {resin} resin and {hardener} hardener by volume. Keep "
            "the rod turning until it has set{times}.",
            coats="1 coat" if spec.coats == 1 else f"{spec.coats} coats",
            mix=Amount(mixed, Kind.VOLUME),
            resin=Amount(resin, Kind.VOLUME),
            hardener=Amount(hardener, Kind.VOLUME),
            times="".join(f"; {limit}" for limit in times),
        ),
        sentence(
            "Before the first coat look along the wrap under raking light: it is the last time "
            "that a row can be moved. After each coat: no bare ridge, no drip."
        ),
        "Epoxy harms skin and lungs: gloves, moving air, and no flame near solvent.",
    )


def finish_warnings(plan: Plan, poured: PouredCoats) -> Iterator[Sentence]:
    """Warn of what the finish will not do.

    Parameters
    ----------
    plan : Plan
    poured : PouredCoats
    """
    if not poured.volumes:
        return
    work = plan.design.finish.work_time
    if work is not None and work * _MINUTE < FINISH.open_time_s / 2:
        yield sentence(
            "the product's work time is {work}, much less than the {open} that levelling "
            "was worked out for; expect coarser ridges.",
            work=Amount(work * _MINUTE, Kind.TIME),
            open=Amount(FINISH.open_time_s, Kind.TIME),
        )
