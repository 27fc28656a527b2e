"""What a decal brings to the bench: its size, where it goes, how it is laid."""

import math
from collections.abc import Iterator

from scenes.figures.figures import Amount, Figure, Kind, Section, SectionKey, Sentence, Step, said
from scenes.figures.trust import CALIPER_MM, MARK_MM, PRINT_SHARE, TAPE_MM
from scenes.kinds.decal.laying import DecalBuilder
from scenes.kinds.entries import Entries
from scenes.kinds.flat.runs import SEEN, Runs
from scenes.kinds.laying import ThreadUse, WrapContext

__all__ = ["MOST_THIN", "entries"]

MOST_THIN = 0.1
"""Share of the ink that may lie in strokes thinner than a thread: serifs and corners do."""


def entries(laying: DecalBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """Say what a layer of this kind brings to the bench (`scenes.kinds.kind.Kind.entries`)."""
    return Entries(
        sections=(Section(SectionKey.PATTERN, tuple(_figures(laying))),),
        steps=tuple(_steps(laying)),
        warnings=tuple(_warnings(laying)),
    )


def _figures(laying: DecalBuilder) -> Iterator[Figure]:
    key, called = laying.path.replace(".", "_"), laying.path
    wide, high = laying.size
    lettered = laying.outline is not None
    given = laying.layer.height is not None
    how = said("as the design asks") if given else said("the largest that is seen at once")
    if lettered:
        yield Figure(
            f"{key}_capitals",
            f"{called}: height of the capitals",
            laying.height,
            Kind.LENGTH,
            how,
            PRINT_SHARE * laying.height,
            main=True,
        )
    yield Figure(
        f"{key}_width",
        f"{called}: length along its run",
        wide,
        Kind.LENGTH,
        said("its outlines, at that height") if lettered else how,
        PRINT_SHARE * wide,
        main=True,
    )
    yield Figure(
        f"{key}_height", f"{called}: height, all of it", high, Kind.LENGTH, how, PRINT_SHARE * high
    )
    at, along = _place(laying)
    yield Figure(
        f"{key}_at",
        f"{called}: its middle, from the butt",
        at,
        Kind.LENGTH,
        said("where it is on that side of the blank"),
        MARK_MM,
        main=True,
    )
    yield Figure(
        f"{key}_round",
        f"{called}: its middle, from the guide line",
        along,
        Kind.LENGTH,
        said("round the blank, clockwise looking from butt to tip"),
        TAPE_MM + math.pi * CALIPER_MM,
    )
    start, end = laying.room.flat.reach(wide, high)
    room = laying.room.across(start, end)
    if laying.layer.runs is Runs.BAND:
        yield Figure(
            f"{key}_margin",
            f"{called}: clear on each side",
            (room - high) / 2,
            Kind.LENGTH,
            said("{room} of flat between the trims", room=Amount(room, Kind.LENGTH)),
            CALIPER_MM,
        )
    yield Figure(
        f"{key}_turned",
        f"{called}: how far it goes round",
        laying.room.turned_through(wide, high),
        Kind.ANGLE,
        said("{seen} is seen at once", seen=Amount(SEEN, Kind.ANGLE)),
    )


def _place(laying: DecalBuilder) -> tuple[float, float]:
    """Its middle: mm from the butt, and mm round from the guide line."""
    theta, z = laying.room.flat.on_blank(0.0, 0.0)
    radius = float(laying.plan.blank.radius(z)) + laying.room.lift
    return float(z), float(theta) % (2 * math.pi) * radius


def _steps(laying: DecalBuilder) -> Iterator[Step]:
    wide, high = laying.size
    at, round_ = _place(laying)
    yield Step(
        "Lay the decal",
        said(
            "Burnish, brush one thin coat and let it cure. Print the decal at true size, {wide} by "
            "{high}, and lay it with its middle {at} from the butt and {round} round from the "
            "guide line, {way}. The next coats go over it.",
            wide=Amount(wide, Kind.LENGTH),
            high=Amount(high, Kind.LENGTH),
            at=Amount(at, Kind.LENGTH),
            round=Amount(round_, Kind.LENGTH),
            way="along the band" if laying.layer.runs is Runs.BAND else "along the blank",
        ),
        said("No air under the film; its edges flat before the next coat."),
        "Try film, ink and finish together on a scrap first: solvent in a finish may lift ink.",
    )


def _warnings(laying: DecalBuilder) -> Iterator[Sentence]:
    wide, high = laying.size
    thread = laying.thread
    if laying.thin_share > MOST_THIN:
        yield said(
            "{path}.height: {share} of it is in strokes thinner than the thread beneath, {thread}; "
            "make it larger or its strokes bolder.",
            path=laying.path,
            share=Amount(laying.thin_share, Kind.SHARE),
            thread=Amount(thread, Kind.FINE_LENGTH),
        )
    turned = laying.room.turned_through(wide, high)
    if turned > SEEN * (1 + 1e-6):
        yield said(
            "{path}.height: it goes {turned} round the blank, out of sight, since {seen} is seen "
            "at once; give {height} or less to see all of it.",
            path=laying.path,
            turned=Amount(turned, Kind.ANGLE),
            seen=Amount(SEEN, Kind.ANGLE),
            height=Amount(laying.fitting, Kind.LENGTH),
        )
    start, end = laying.room.flat.reach(wide, high)
    room = laying.room.across(start, end)
    if laying.layer.runs is Runs.BAND and high > room - 2 * laying.layer.margin + 1e-9:
        yield said(
            "{path}.height: it is {high} high and the flat between the trims is {room} wide, "
            "which leaves less than the margin of {margin}; give {height} or less.",
            path=laying.path,
            high=Amount(high, Kind.LENGTH),
            room=Amount(room, Kind.LENGTH),
            margin=Amount(laying.layer.margin, Kind.LENGTH),
            height=Amount(laying.fitting, Kind.LENGTH),
        )
