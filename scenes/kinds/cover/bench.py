"""Bench entries of covers: turns, thread and how it is wound."""

import math
from collections.abc import Iterator

from geometry.layers.settle import STEEPEST_SLOPE
from materials.thread import FIBRE_DENSITY_G_CM3, PACKING, laid_diameter_mm
from scenes.figures.figures import (
    Amount,
    Figure,
    Kind,
    Mark,
    Section,
    SectionKey,
    Sentence,
    Step,
    sentence,
)
from scenes.kinds.builder import ThreadUse, WrapContext
from scenes.kinds.cover.builder import CoverBuilder, CoverResult
from scenes.kinds.entries import LATHE_SAFETY, Entries, ThreadNeed
from scenes.quantities import Units

__all__ = ["bench_warnings", "entries"]

_PACKING_SHARE = 0.06
"""Relative uncertainty of a laid width from tex, for a packing between 0.8 and 1."""


def entries(builder: CoverBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """List what a cover brings to the bench: turns, thread and how it is wound.

    Parameters
    ----------
    builder : CoverBuilder
    uses : tuple of ThreadUse
        Thread that the layer took.
    wrap : WrapContext
        Built at any detail.
    """
    result = wrap.kind_result_of(builder.layer)
    assert isinstance(result, CoverResult)
    share = builder.row_share
    rows = result.count
    needs = tuple(
        ThreadNeed(use.use, use.thread, 1, use.length, 1, rows, share, on_lathe=True)
        for use in uses
    )
    start, end = builder.span
    along, inlaid = _along_with(builder)
    # A round number on the builder's own ruler.
    gauge = 12.7 if wrap.design.units is Units.IN else 10.0
    step = Step(
        "Wind the cover",
        Sentence(
            f"{{thread}}, from {{start}} to {{end}}: {{rows}} turns, row against row.{along}",
            {
                "thread": builder.thread.name,
                "start": Amount(start, Kind.LENGTH),
                "end": Amount(end, Kind.LENGTH),
                "rows": Amount(rows, Kind.COUNT),
                **inlaid,
            },
        ),
        sentence(
            "Pack and burnish every few turns, before tension builds. No gap over the ridges, no "
            "row over another; about {ten} turns in {length}{along}.",
            ten=Amount(round(gauge / builder.cover().laid_width), Kind.COUNT),
            length=Amount(gauge, Kind.LENGTH),
            along=" along the slope" if builder.climbs else "",
        ),
        LATHE_SAFETY,
    )
    return Entries(
        sections=(Section(SectionKey.THREADS, tuple(_cover_figures(builder, rows, share))),),
        threads=needs,
        steps=(step,),
        air=result.air,
    )


def _along_with(builder: CoverBuilder) -> tuple[str, dict[str, Amount | str]]:
    """Name what is wound along with the cover, and where; words and amounts of a sentence."""
    amounts: dict[str, Amount | str] = {}
    parts = []
    for number, layer in enumerate(builder.inlaying):
        places = []
        for first, last in sorted(layer.inlaid()):
            low, high = f"low{len(amounts)}", f"high{len(amounts)}"
            amounts[low] = Amount(first, Kind.LENGTH, bare=True)
            amounts[high] = Amount(last, Kind.LENGTH)
            places.append(f"{{{low}}} to {{{high}}}")
        amounts[f"layer{number}"] = layer.path
        parts.append(f"{{layer{number}}} at {' and '.join(places)}")
    if not parts:
        return "", {}
    steps = "step" if len(parts) == 1 else f"{len(parts)} steps"
    words = f" Wind in on the way, in place of its rows: {', '.join(parts)}; read the next {steps} "
    return f"{words}first.", amounts


def _cover_figures(builder: CoverBuilder, rows: int, share: float) -> Iterator[Figure]:
    thread, wound = builder.thread, builder.layer.wound
    yield Figure(
        f"{builder.path}_turns",
        f"{builder.path} turns",
        rows,
        Kind.COUNT,
        sentence(
            "{length} of cover{slopes} by {width} from row to row",
            slopes=", followed up and down its slopes," if builder.climbs else "",
            length=Amount(builder.span[1] - builder.span[0], Kind.LENGTH),
            width=Amount(builder.cover().laid_width, Kind.FINE_LENGTH),
        ),
        share * rows,
        main=True,
    )
    yield Figure(
        f"{builder.path}_row_width",
        f"{builder.path}, from row to row",
        builder.cover().laid_width,
        Kind.FINE_LENGTH,
        sentence(
            "the shelf's laid width; wind a test strip and give {path}.wound to know it",
            path=builder.path,
        )
        if wound is None
        else sentence(
            "your test strip: {turns} turns in {over}",
            turns=str(wound.turns),
            over=Amount(wound.over, Kind.LENGTH),
        ),
        share * builder.cover().laid_width,
        (Mark.MEMORY,) if wound is None else (),
    )
    slope = builder.layer.steepest_slope
    yield Figure(
        f"{builder.path}_steepest",
        f"{builder.path}, steepest slope that rows hold",
        math.atan(slope),
        Kind.ANGLE,
        sentence(
            "a rise of {slope} along 1 of blank; on more they slide, and bunch to a ramp",
            slope=f"{slope:g}",
        ),
        marks=(Mark.MEMORY,) if slope == STEEPEST_SLOPE else (),
    )
    density = FIBRE_DENSITY_G_CM3[thread.kind]
    from_tex = laid_diameter_mm(thread.tex, density, PACKING)
    yield Figure(
        f"{builder.path}_width_from_tex",
        f"{builder.path} thread, width from its tex",
        from_tex,
        Kind.FINE_LENGTH,
        sentence(
            "2 sqrt(tex / (pi density packing)): {tex} tex, {density} g/cm3, packing {packing}",
            tex=f"{thread.tex:g}",
            density=f"{density:g}",
            packing=f"{PACKING:g}",
        ),
        _PACKING_SHARE * from_tex,
    )


def bench_warnings(builder: CoverBuilder) -> Iterator[Sentence]:
    """Warn of a counted width of its rows that is far from the shelf's thread.

    Parameters
    ----------
    builder : CoverBuilder
    """
    wound, diameter = builder.layer.wound, builder.thread.diameter_mm
    if wound is not None and not 0.75 <= wound.width / diameter <= 1.25:
        yield sentence(
            "{path}.wound gives {width} from row to row, far from the {shelf} that the shelf has "
            "for {thread}; count again, or correct the shelf.",
            path=builder.path,
            width=Amount(wound.width, Kind.FINE_LENGTH),
            shelf=Amount(diameter, Kind.FINE_LENGTH),
            thread=builder.thread.name,
        )
