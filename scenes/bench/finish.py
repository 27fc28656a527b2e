"""Finish: volumes to mix for each coat, film thickness, and ridges that a finger still feels."""

from collections.abc import Iterator

from geometry.touch import touch_threshold
from materials.finish import FINISH
from scenes.bench.coats import MOST_COATS, PouredCoats, mix_of, weighed
from scenes.building.build import Plan
from scenes.figures.figures import (
    Amount,
    Column,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Sentence,
    Table,
    sentence,
)
from scenes.figures.trust import FILM_SHARE
from scenes.parts.bench import BenchSpec

__all__ = ["finish_section"]

_ML = 1000.0

_MINUTE, _HOUR = 60.0, 3600.0


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
        (_coats_table(plan, poured), _weighing_table(plan, poured)) if poured.volumes else (),
        tuple(_notes(plan, poured)),
    )


def _figures(plan: Plan, poured: PouredCoats) -> Iterator[Figure]:
    spec, bench = plan.design.finish, plan.design.bench
    yield Figure(
        "coats", "coats", spec.coats, Kind.COUNT, sentence("as the design asks"), main=True
    )
    if poured.volumes:
        mixed = [mix_of(volume, bench) for volume in poured.volumes]
        marks = _default_marks(bench, "cup_loss", "least_mix", *_soaking(poured))
        off = poured.coat_share * max(poured.volumes)
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
        yield from _soaking_figures(bench, poured)
        film = sum(poured.films)
        yield Figure(
            "film_total",
            "finish in all, mean thickness",
            film,
            Kind.FINE_LENGTH,
            sentence("all coats' volume but what soaks in, by the area of the bare blank"),
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


def _default_marks(bench: BenchSpec, *fields: str) -> tuple[Mark, ...]:
    """Mark of a figure that rests on a default of some fields of the bench."""
    return (Mark.DEFAULT,) if any(bench.invented(field) for field in fields) else ()


def _soaking(poured: PouredCoats) -> tuple[str, ...]:
    """The field by which the first coat is larger, if there is air for it to fill."""
    return ("soak",) if poured.soaked else ()


def _soaking_figures(bench: BenchSpec, poured: PouredCoats) -> Iterator[Figure]:
    if not poured.air:
        return
    yield Figure(
        "air",
        "air under the cover",
        poured.air,
        Kind.VOLUME,
        sentence("between the thread that spans and what it spans, before any finish"),
        FILM_SHARE * poured.air,
    )
    yield Figure(
        "soaked",
        "finish that soaks in with the first coat",
        poured.soaked,
        Kind.VOLUME,
        sentence(
            "{share} of that air; weigh a test piece before and after its first coat to know it",
            share=Amount(bench.soak, Kind.SHARE),
        ),
        poured.soaked_off,
        _default_marks(bench, "soak"),
    )


def _coats_table(plan: Plan, poured: PouredCoats) -> Table:
    bench = plan.design.bench
    soaking = _soaking(poured)
    on_wrap = _default_marks(bench, *soaking)
    mixing = _default_marks(bench, "cup_loss", "least_mix", "mix_ratio", *soaking)
    share = poured.coat_share
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
            sentence(
                "difference of the closed outsides before and after; the first coat with what "
                "soaks in"
            ),
            share=share,
            marks=on_wrap,
        ),
        Column("mix", "mix", Kind.VOLUME, mixed_how, share=share, marks=mixing),
        Column(
            "resin",
            "resin",
            Kind.VOLUME,
            sentence("parts by volume"),
            share=share,
            marks=mixing,
        ),
        Column(
            "hardener",
            "hardener",
            Kind.VOLUME,
            sentence("parts by volume"),
            share=share,
            marks=mixing,
        ),
        Column(
            "film",
            "mean film",
            Kind.FINE_LENGTH,
            sentence("volume but what soaks in, by the area of the bare blank"),
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
            share=share,
            marks=on_wrap,
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


def _weighing_table(plan: Plan, poured: PouredCoats) -> Table:
    bench = plan.design.bench
    how = sentence(
        "the volumes above, at {resin} g/cm3 of resin and {hardener} g/cm3 of hardener",
        resin=f"{bench.resin_density:g}",
        hardener=f"{bench.hardener_density:g}",
    )
    marks = _default_marks(bench, "resin_density", "hardener_density")
    columns = (
        Column("coat", "coat", Kind.COUNT),
        Column("resin_mass", "resin", Kind.MASS, how, marks=marks),
        Column("hardener_mass", "hardener", Kind.MASS, how, marks=marks),
    )
    rows = tuple(
        (number, *weighed(mix_of(volume, bench), bench))
        for number, volume in enumerate(poured.volumes, start=1)
    )
    return Table("weighing", "the same mixes on a scale", columns, rows)


def _notes(plan: Plan, poured: PouredCoats) -> Iterator[Sentence]:
    if not poured.volumes:
        yield sentence("This wrap is dry: no finish to mix.")
    coats = plan.design.finish.coats
    if poured.smooth_after is None:
        yield sentence(
            "Ridges would still be felt after {most} coats of {film}; thicker coats or a "
            "lower relief level sooner.",
            most=str(MOST_COATS),
            film=Amount(plan.design.finish.coat_thickness, Kind.FINE_LENGTH),
        )
    elif poured.smooth_after > coats > 0:
        yield sentence(
            "After {coats} a finger still feels ridges of {ridge}; about {needed} coats "
            "would level them.",
            coats=_coats(coats),
            ridge=Amount(poured.ridges[coats], Kind.FINE_LENGTH),
            needed=str(poured.smooth_after),
        )
    yield sentence(
        "Levelling is worked out for a flat bed that neither sags nor cures meanwhile; the "
        "rod turns until the coat has set."
    )
    if plan.design.finish.work_time is None and poured.volumes:
        yield sentence(
            "Enter work time, time between coats and full cure from the product's own sheet to be "
            "reminded of them."
        )


def _coats(count: int) -> str:
    return "1 coat" if count == 1 else f"{count} coats"
