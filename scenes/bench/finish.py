"""Finish: volumes to mix for each coat, film thickness, and ridges that a finger still feels."""

from collections.abc import Iterator

from geometry.touch import touch_threshold
from materials.finish import FINISH
from scenes.bench.coats import MOST_COATS, PouredCoats
from scenes.bench.mixing import Batch, batches_of
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
from scenes.kinds.entries import default_marks, finish_density_words, finish_marks
from scenes.parts.bench import BenchSpec
from scenes.quantities import counted

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
        tuple(table(plan, poured) for table in (_mixes_table, _weighing_table, _coats_table))
        if poured.volumes
        else (),
        tuple(_notes(plan, poured)),
    )


def _figures(plan: Plan, poured: PouredCoats) -> Iterator[Figure]:
    spec, bench = plan.design.finish, plan.design.bench
    yield Figure(
        "coats", "coats", spec.coats, Kind.COUNT, sentence("as the design asks"), main=True
    )
    if poured.volumes:
        for batch in batches_of(poured, bench):
            yield from _mix_figures(batch, bench, poured)
        yield from _soaking_figures(bench, poured)
        film = sum(poured.films)
        yield Figure(
            "film_total",
            "finish in all, mean thickness",
            film,
            Kind.FINE_LENGTH,
            sentence("each coat's volume but what soaks in, by the surface that it lies on"),
            FILM_SHARE * film,
        )
        left = poured.ridges[len(poured.volumes)]
        yield Figure(
            "ridge_left",
            "ridges left after the last coat",
            left,
            Kind.FINE_LENGTH,
            sentence(
                "trough to crest, {apart} from ridge to ridge, levelled by surface "
                "tension for {open}; most of the wrap is below it",
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
            "measured on fingertips, for ridges {apart} apart; good to a factor of two",
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


def _mix_figures(batch: Batch, bench: BenchSpec, poured: PouredCoats) -> Iterator[Figure]:
    """What to measure for the coats of a batch; set, not estimated, so without uncertainty."""
    marks = _mixing_marks(bench, poured)
    tail = "" if batch.first == 1 else f"_{batch.first}"
    yield Figure(
        f"mix{tail}",
        f"mix for {batch.words}",
        batch.mixed,
        Kind.MEASURED_VOLUME,
        _mixed_how(bench, poured),
        0.0,
        marks,
        main=True,
    )
    parts = _parts_how(bench)
    for key, volume in (("resin", batch.resin), ("hardener", batch.hardener)):
        yield Figure(
            f"{key}{tail}",
            f"{key} for {batch.words}",
            volume,
            Kind.MEASURED_VOLUME,
            parts,
            0.0,
            marks,
            main=True,
        )


def _parts_how(bench: BenchSpec) -> Sentence:
    return sentence("{ratio} of resin to 1 of hardener, by volume", ratio=f"{bench.mix_ratio:g}")


def _mixed_how(bench: BenchSpec, poured: PouredCoats) -> Sentence:
    return sentence(
        "on the wrap{guides}, its give or take, and {loss} in cup and brush; {least} at least; "
        "both parts on {division}",
        guides=" and the guides" if any(poured.on_guides) else "",
        loss=Amount(bench.cup_loss * _ML, Kind.VOLUME),
        least=Amount(bench.least_mix * _ML, Kind.VOLUME),
        division=Amount(bench.syringe_division * _ML, Kind.MEASURED_VOLUME),
    )


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
        default_marks(bench, "soak"),
    )


def _coats_table(plan: Plan, poured: PouredCoats) -> Table:
    bench = plan.design.bench
    soaking = _soaking(poured)
    on_wrap = default_marks(bench, *soaking)
    guided = any(poured.on_guides)
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
            marks=on_wrap,
        ),
        *(
            (
                Column(
                    "on_guides",
                    "on the guides",
                    Kind.VOLUME,
                    sentence("the same on the bindings of all guides"),
                    marks=on_wrap,
                ),
            )
            if guided
            else ()
        ),
        Column(
            "off",
            "give or take",
            Kind.VOLUME,
            sentence("a brushed film, and in the first coat what soaks in"),
            marks=on_wrap,
        ),
        Column(
            "film",
            "mean film",
            Kind.FINE_LENGTH,
            sentence("volume but what soaks in, by the surface that it lies on"),
            share=FILM_SHARE,
        ),
        Column(
            "ridge",
            "ridges left",
            Kind.FINE_LENGTH,
            sentence("what surface tension leaves of them"),
            share=0.5,
            marks=(Mark.MEMORY,),
        ),
        Column(
            "mass",
            "weight",
            Kind.MASS,
            sentence("on the wrap, at {density}", density=finish_density_words(bench)),
            marks=default_marks(bench, "resin_density", "hardener_density", "mix_ratio", *soaking),
        ),
    )
    rows = tuple(
        (
            number,
            volume,
            *((poured.on_guides[number - 1],) if guided else ()),
            poured.off_of(number - 1),
            film,
            poured.ridges[number],
            bench.finish_mass(volume),
        )
        for number, (volume, film) in enumerate(
            zip(poured.volumes, poured.films, strict=True), start=1
        )
    )
    return Table("coats", "coat by coat", columns, rows)


def _mixes_table(plan: Plan, poured: PouredCoats) -> Table:
    bench = plan.design.bench
    marks = _mixing_marks(bench, poured)
    parts = _parts_how(bench)
    columns = (
        Column("coats", "for"),
        Column("mix", "mix", Kind.MEASURED_VOLUME, _mixed_how(bench, poured), marks=marks),
        Column("resin", "resin", Kind.MEASURED_VOLUME, parts, marks=marks),
        Column("hardener", "hardener", Kind.MEASURED_VOLUME, parts, marks=marks),
    )
    rows = tuple(
        (batch.words, batch.mixed, batch.resin, batch.hardener)
        for batch in batches_of(poured, bench)
    )
    return Table("mixes", "mixes, by syringe", columns, rows)


def _weighing_table(plan: Plan, poured: PouredCoats) -> Table:
    """Table of the mixes by weight: what is needed, not what a syringe makes of it."""
    bench = plan.design.bench
    batches = batches_of(poured, bench)
    how = sentence(
        "what a mix needs before it is rounded to a syringe, at {resin} g/cm3 of resin and "
        "{hardener} g/cm3 of hardener; the scale should read to {step}",
        resin=f"{bench.resin_density:g}",
        hardener=f"{bench.hardener_density:g}",
        step=Amount(min(batch.scale_step for batch in batches), Kind.MEASURED_MASS),
    )
    marks = finish_marks(bench) or _mixing_marks(bench, poured)
    columns = (
        Column("coats", "for"),
        Column("mixed_mass", "mix", Kind.MEASURED_MASS, how, marks=marks),
        Column("resin_mass", "resin", Kind.MEASURED_MASS, how, marks=marks),
        Column("hardener_mass", "hardener", Kind.MEASURED_MASS, how, marks=marks),
    )
    rows = tuple(
        (batch.words, batch.mixed_mass, batch.resin_mass, batch.hardener_mass) for batch in batches
    )
    return Table("weighing", "mixes, by weight on a scale", columns, rows)


def _mixing_marks(bench: BenchSpec, poured: PouredCoats) -> tuple[Mark, ...]:
    """Mark of a mix that rests on a default."""
    return default_marks(
        bench, "cup_loss", "least_mix", "mix_ratio", "syringe_division", *_soaking(poured)
    )


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
            coats=counted(coats, "coat"),
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
