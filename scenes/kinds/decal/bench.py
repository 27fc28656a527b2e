"""Bench entries of a decal: its size, its place, how it is laid."""

import math
from collections.abc import Iterator

from scenes.figures.figures import (
    Amount,
    Figure,
    Kind,
    Section,
    SectionKey,
    Sentence,
    Step,
    sentence,
)
from scenes.figures.trust import CALIPER_MM, MARK_MM, PRINT_SHARE, TAPE_MM
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.decal.builder import DecalBuilder
from scenes.kinds.entries import Entries
from scenes.kinds.flat.runs import VISIBLE_ANGLE, RunDirection

__all__ = ["MOST_THIN", "bench_warnings", "entries"]

MOST_THIN = 0.1
"""Share of the ink that may lie in strokes thinner than a thread, such as serifs and corners."""


def entries(builder: DecalBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what a decal brings to the bench: its size, its place and how it is laid.

    Parameters
    ----------
    builder : DecalBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    return Entries(
        sections=(Section(SectionKey.PATTERN, tuple(_figures(builder))),),
        steps=tuple(_steps(builder)),
    )


def _figures(builder: DecalBuilder) -> Iterator[Figure]:
    key, called = builder.path.replace(".", "_"), builder.path
    wide, high = builder.size
    lettered = builder.outline is not None
    given = builder.layer.height is not None
    how = sentence("as the design asks") if given else sentence("the largest that is seen at once")
    if lettered:
        yield Figure(
            f"{key}_capitals",
            f"{called}: height of the capitals",
            builder.height,
            Kind.LENGTH,
            how,
            PRINT_SHARE * builder.height,
            main=True,
        )
    yield Figure(
        f"{key}_width",
        f"{called}: length along its run",
        wide,
        Kind.LENGTH,
        sentence("its outlines, at that height") if lettered else how,
        PRINT_SHARE * wide,
        main=True,
    )
    yield Figure(
        f"{key}_height", f"{called}: height, all of it", high, Kind.LENGTH, how, PRINT_SHARE * high
    )
    at, along = _place(builder)
    yield Figure(
        f"{key}_at",
        f"{called}: its middle, from the butt",
        at,
        Kind.LENGTH,
        sentence("where it is on that side of the blank"),
        MARK_MM,
        main=True,
    )
    yield Figure(
        f"{key}_round",
        f"{called}: its middle, from the guide line",
        along,
        Kind.LENGTH,
        sentence("round the blank, clockwise looking from butt to tip"),
        TAPE_MM + math.pi * CALIPER_MM,
    )
    start, end = builder.room.flat.reach(wide, high)
    room = builder.room.across(start, end)
    if builder.layer.runs is RunDirection.BAND:
        yield Figure(
            f"{key}_margin",
            f"{called}: clear on each side",
            (room - high) / 2,
            Kind.LENGTH,
            sentence("{room} of flat between the trims", room=Amount(room, Kind.LENGTH)),
            CALIPER_MM,
        )
    yield Figure(
        f"{key}_turned",
        f"{called}: how far it goes round",
        builder.room.angle_round(wide, high),
        Kind.ANGLE,
        sentence("{seen} is seen at once", seen=Amount(VISIBLE_ANGLE, Kind.ANGLE)),
    )


def _place(builder: DecalBuilder) -> tuple[float, float]:
    """Place of its middle: mm from the butt, and mm round the blank from the guide line."""
    theta, z = builder.room.flat.on_blank(0.0, 0.0)
    radius = float(builder.plan.blank.radius(z)) + builder.room.lift
    return float(z), float(theta) % (2 * math.pi) * radius


def _steps(builder: DecalBuilder) -> Iterator[Step]:
    wide, high = builder.size
    at, round_ = _place(builder)
    yield Step(
        "Lay the decal",
        sentence(
            "Burnish, brush one thin coat and let it cure. Print the decal at true size, {wide} by "
            "{high}, and lay it with its middle {at} from the butt and {round} round from the "
            "guide line, {way}. The next coats go over it.",
            wide=Amount(wide, Kind.LENGTH),
            high=Amount(high, Kind.LENGTH),
            at=Amount(at, Kind.LENGTH),
            round=Amount(round_, Kind.LENGTH),
            way="along the band" if builder.layer.runs is RunDirection.BAND else "along the blank",
        ),
        sentence("No air under the film; its edges flat before the next coat."),
        "Try film, ink and finish together on a scrap first: solvent in a finish may lift ink.",
    )


def bench_warnings(builder: DecalBuilder) -> Iterator[Sentence]:
    """Warn of a print that cannot be read or seen at once, or has no room.

    Parameters
    ----------
    builder : DecalBuilder
    """
    wide, high = builder.size
    thread = builder.thread
    if builder.thin_share > MOST_THIN:
        yield sentence(
            "{path}.height: {share} of it is in strokes thinner than the thread beneath, {thread}; "
            "make it larger or its strokes bolder.",
            path=builder.path,
            share=Amount(builder.thin_share, Kind.SHARE),
            thread=Amount(thread, Kind.FINE_LENGTH),
        )
    turned = builder.room.angle_round(wide, high)
    if turned > VISIBLE_ANGLE * (1 + 1e-6):
        yield sentence(
            "{path}.height: it goes {turned} round the blank, out of sight, since {seen} is seen "
            "at once; give {height} or less to see all of it.",
            path=builder.path,
            turned=Amount(turned, Kind.ANGLE),
            seen=Amount(VISIBLE_ANGLE, Kind.ANGLE),
            height=Amount(builder.largest_height, Kind.LENGTH),
        )
    start, end = builder.room.flat.reach(wide, high)
    room = builder.room.across(start, end)
    if builder.layer.runs is RunDirection.BAND and high > room - 2 * builder.layer.margin + 1e-9:
        yield sentence(
            "{path}.height: it is {high} high and the flat between the trims is {room} wide, "
            "which leaves less than the margin of {margin}; give {height} or less.",
            path=builder.path,
            high=Amount(high, Kind.LENGTH),
            room=Amount(room, Kind.LENGTH),
            margin=Amount(builder.layer.margin, Kind.LENGTH),
            height=Amount(builder.largest_height, Kind.LENGTH),
        )
