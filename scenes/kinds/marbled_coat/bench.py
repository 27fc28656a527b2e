"""Bench entries of a marbled coat: pigments by volume, comb strokes, weight, steps."""

from collections.abc import Iterator

import numpy as np

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
from scenes.figures.trust import FILM_SHARE, MARK_MM
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.entries import Entries, Mass, finish_density_words, finish_marks
from scenes.kinds.marbled_coat.builder import MarbledBuilder, MarbledResult
from scenes.kinds.marbled_coat.model import CombStroke, Direction
from scenes.quantities import counted

__all__ = ["direction_words", "drop_volumes", "entries", "path_words"]

_ML = 1000.0


def entries(builder: MarbledBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what a marbled coat brings to the bench: pigments, strokes, weight and steps.

    Parameters
    ----------
    builder : MarbledBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    found = wrap.kind_result_of(builder.layer)
    assert isinstance(found, MarbledResult)
    tables = [_pigments_table(builder, found)]
    if builder.layer.strokes:
        tables.append(_strokes_table(builder))
    return Entries(
        sections=(
            Section(
                SectionKey.PATTERN, tuple(_figures(builder)), tuple(tables), tuple(_notes(builder))
            ),
        ),
        masses=tuple(_masses(builder)),
        steps=tuple(_steps(builder)),
    )


def drop_volumes(builder: MarbledBuilder) -> tuple[float, ...]:
    """Volume of the drops of each pigment, mm³: their areas by the thickness of the coat.

    Parameters
    ----------
    builder : MarbledBuilder
    """
    sums = np.zeros(len(builder.layer.pigments))
    for drop in builder.placed_drops:
        sums[drop.pigment - 1] += drop.area
    return tuple((sums * builder.layer.thickness).tolist())


def _fill_volume(builder: MarbledBuilder) -> float:
    """Volume of the coat of finish that levels the thread under the base colour, mm³.

    One coat of the design's finish; 0 if no thread lies under the marbled coat.
    """
    start, end = builder.span
    spans = [earlier.span for earlier in builder.plan.before(builder) if earlier.layer.carries]
    reach = [(max(start, first), min(end, last)) for first, last in spans]
    covered = [(first, last) for first, last in reach if last > first]
    if not covered:
        return 0.0
    first, last = min(first for first, _ in covered), max(last for _, last in covered)
    return builder.plan.blank.lateral_area(first, last) * builder.plan.design.finish.coat_thickness


def _volume(builder: MarbledBuilder) -> float:
    """Volume of the whole coat, mm³."""
    return builder.area * builder.layer.thickness


def _figures(builder: MarbledBuilder) -> Iterator[Figure]:
    key, called, layer = builder.path.replace(".", "_"), builder.path, builder.layer
    thick = Amount(layer.thickness, Kind.FINE_LENGTH)
    volume, dropped = _volume(builder), drop_volumes(builder)
    yield Figure(
        f"{key}_clear",
        f"{called}: clear coat brushed before the drops",
        volume,
        Kind.VOLUME,
        sentence("skin of the blank under it by {thick}; cup and brush keep more", thick=thick),
        FILM_SHARE * volume,
        main=True,
    )
    yield Figure(
        f"{key}_pigmented",
        f"{called}: finish with pigment, all of it",
        sum(dropped),
        Kind.VOLUME,
        sentence(
            "{count}, by their area and {thick}; as much of the coat runs off its ends",
            count=counted(layer.drops, "drop"),
            thick=thick,
        ),
        FILM_SHARE * sum(dropped),
        main=True,
    )
    mean = sum(dropped) / layer.drops
    yield Figure(
        f"{key}_drops_to_ml",
        f"{called}: drops to the millilitre",
        _ML / mean,
        Kind.NUMBER,
        sentence(
            "drops that spread to {wide} in a coat of {thick}; count them into a cup to choose "
            "a needle",
            wide=Amount(layer.drop_diameter, Kind.LENGTH),
            thick=thick,
        ),
        FILM_SHARE * _ML / mean,
        main=True,
    )


def _pigments_table(builder: MarbledBuilder, found: MarbledResult) -> Table:
    layer = builder.layer
    counts = np.bincount(
        [drop.pigment for drop in builder.placed_drops], minlength=len(found.areas)
    )
    seen = np.array(found.areas) / sum(found.areas)
    rows: list[tuple[float | str | None, ...]] = [("base", layer.base, None, None, float(seen[0]))]
    for number, (pigment, volume) in enumerate(
        zip(layer.pigments, drop_volumes(builder), strict=True), 1
    ):
        rows.append(
            (
                f"{number}  {pigment.name}",
                pigment.colour,
                float(counts[number]),
                volume,
                float(seen[number]),
            )
        )
    return Table(
        f"{builder.path.replace('.', '_')}_pigments",
        f"{builder.path}, pigments in the order of the drops",
        (
            Column("pigment", "pigment"),
            Column("colour", "colour"),
            Column("drops", "drops", Kind.COUNT),
            Column(
                "volume",
                "in all",
                Kind.VOLUME,
                sentence("area of its drops by the thickness of the coat"),
                share=FILM_SHARE,
            ),
            Column(
                "seen",
                "of the coat",
                Kind.SHARE,
                sentence("counted on the picture; what ran off the ends is not in it"),
                share=FILM_SHARE,
            ),
        ),
        tuple(rows),
        main=True,
    )


def _strokes_table(builder: MarbledBuilder) -> Table:
    rows = tuple(
        (
            float(number),
            path_words(stroke),
            float(builder.tines(stroke)),
            builder.spacing(stroke),
            abs(stroke.reach),
            direction_words(stroke),
        )
        for number, stroke in enumerate(builder.layer.strokes, 1)
    )
    how = sentence(
        "as the design asks; how far finish follows a tine depends on how thick it has become"
    )
    return Table(
        f"{builder.path.replace('.', '_')}_strokes",
        f"{builder.path}, comb strokes in their order",
        (
            Column("stroke", "stroke", Kind.COUNT),
            Column("direction", "drawn"),
            Column("tines", "tines", Kind.COUNT),
            Column(
                "spacing",
                "apart",
                Kind.LENGTH,
                sentence("set evenly over the coat, square to the path"),
                plus_minus=MARK_MM,
            ),
            Column("reach", "drags", Kind.LENGTH, how, share=0.5, marks=(Mark.MEMORY,)),
            Column("sense", "which way"),
        ),
        rows,
    )


def path_words(stroke: CombStroke) -> str:
    """Write the path of a stroke.

    Parameters
    ----------
    stroke : CombStroke
    """
    if stroke.direction is not Direction.SPIRAL:
        return stroke.direction.value
    return f"in a {stroke.hand.value}-hand spiral, {np.rad2deg(stroke.angle):.3g}° from round"


def direction_words(stroke: CombStroke) -> str:
    """Write the direction in which the tines go.

    Parameters
    ----------
    stroke : CombStroke
    """
    if stroke.alternate:
        return "every second tine the other way"
    forward, back = (
        ("clockwise seen from the butt", "anticlockwise seen from the butt")
        if stroke.direction is Direction.ROUND
        else ("towards the tip", "towards the butt")
    )
    return forward if stroke.reach >= 0 else back


def _notes(builder: MarbledBuilder) -> Iterator[Sentence]:
    yield sentence(
        "{path}: no two coats come out alike. The picture shows what such drops and strokes do, "
        "not where each line will be.",
        path=builder.path,
    )


def _masses(builder: MarbledBuilder) -> Iterator[Mass]:
    start, end = builder.span
    bench = builder.plan.design.bench
    density, marks = finish_density_words(bench), finish_marks(bench)
    fill = bench.finish_mass(_fill_volume(builder))
    if fill:
        yield Mass(
            f"{builder.path}, fill coat under it",
            fill,
            FILM_SHARE * fill,
            (start + end) / 2,
            sentence("one coat of the finish at {density}", density=density),
            marks,
        )
    grams = bench.finish_mass(_volume(builder))
    yield Mass(
        builder.path,
        grams,
        FILM_SHARE * grams,
        (start + end) / 2,
        sentence(
            "its volume at {density}; base colour and pigment left out",
            density=density,
        ),
        marks,
    )


def _steps(builder: MarbledBuilder) -> Iterator[Step]:
    layer = builder.layer
    start, end = (Amount(place, Kind.LENGTH) for place in builder.span)
    names = [pigment.name for pigment in layer.pigments]
    fill = _fill_volume(builder)
    if fill:
        yield Step(
            "Fill and level the thread",
            sentence(
                "Fill the thread between {start} and {end} with a coat of finish, about {fill} on "
                "the wrap; cup and brush keep more. Keep the rod turning until it has set, and "
                "let it cure.",
                start=start,
                end=end,
                fill=Amount(fill, Kind.VOLUME),
            ),
            sentence("A finger feels no row of thread. If it does, fill once more."),
            "Epoxy harms skin, eyes and lungs: gloves, moving air. The product's own safety sheet "
            "comes first.",
        )
    yield Step(
        "Brush the base colour",
        sentence(
            "Tape off {start} and {end}. Brush the base colour, {colour}, between them until "
            "nothing shows through, and let it cure.",
            start=start,
            end=end,
            colour=layer.base,
        ),
        sentence("Even in colour, dry to the touch, free of dust."),
        "Paint and solvent harm skin and lungs: gloves, moving air, no flame; the product's own "
        "safety sheet comes first.",
    )
    yield Step(
        "Drop the pigments",
        sentence(
            "Stir each pigment into a little mixed finish in a cup of its own. Brush {clear} of "
            "clear finish over the base, {thick} thick. While it is wet and the rod lies level "
            "and turns slowly, let {count} fall all round, evenly spread and in turn: "
            "{names}.",
            clear=Amount(_volume(builder), Kind.VOLUME),
            thick=Amount(layer.thickness, Kind.FINE_LENGTH),
            count=counted(layer.drops, "drop"),
            names=", ".join(names),
        ),
        sentence(
            "A drop on a scrap spreads to about {wide}. If it sinks or stands like a bead, the "
            "pigment is too heavy or the coat too stiff.",
            wide=Amount(layer.drop_diameter, Kind.LENGTH),
        ),
        "Epoxy harms skin, eyes and lungs: gloves, moving air; pigment powder is not to be "
        "breathed in. The product's own safety sheet comes first.",
    )
    for number, stroke in enumerate(layer.strokes, 1):
        tines = builder.tines(stroke)
        yield Step(
            "Comb the coat" if len(layer.strokes) == 1 else f"Comb the coat, stroke {number}",
            sentence(
                "Draw {what} through the wet coat {way}, {sense}, just clear of the base.",
                what="a needle"
                if tines == 1
                else f"a comb of {tines} tines, or a needle {tines} times,",
                way=path_words(stroke),
                sense=direction_words(stroke),
            ),
            sentence(
                "Tines {apart} apart; wipe them after each pull.",
                apart=Amount(builder.spacing(stroke), Kind.LENGTH),
            ),
            "Needles point away from the hand; stop the rod before you reach in.",
        )
    yield Step(
        "Let the marbled coat cure",
        sentence(
            "Wipe off what has run over the tape. Keep the rod turning until the coat has set, "
            "take the tape off, and let it cure before the next layer."
        ),
        sentence("No sag, no dust, both ends sharp."),
    )
