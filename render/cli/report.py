"""The numbers of a design as text, in the units of its file."""

from collections.abc import Iterator

from geometry.grid import Detail
from render.common.progress import Progress
from render.request.subject import Subject
from scenes.bench.numbers import LatticeNumbers, Numbers, StripNumbers, numbers_of
from scenes.bench.whole import bench_of
from scenes.design.variants import design_hash
from scenes.figures.figures import Bench, Kind, Section, SectionKey
from scenes.figures.written import Written
from scenes.kinds.mesh_strip.model import Laid, MeshStrip

__all__ = ["report"]

_HELD = 0.5
"""How closely a constant gap should be kept, mm: what an eye sees along a ruler (from memory)."""

Line = tuple[str, str]


def report(subject: Subject, progress: Progress | None = None) -> str:
    """Write what follows from a design, a line for each figure, with its unit.

    Raises
    ------
    DesignProblem
        If the wrap cannot be built.
    """
    progress = progress or Progress.none()
    wrap = subject.build(Detail.DRAFT, progress)
    progress.say("lengths")
    numbers = numbers_of(wrap)
    design = subject.design
    lines = [design.title, f"design {design_hash(design)}", ""]
    bench = bench_of(wrap, step=progress.say)
    written = Written(design.units, bench.currency)
    lines += _aligned(_lines(subject, numbers, written))
    threads = _threads(bench, written)
    if threads:
        lines += ["", "thread on the blank, and to load with tails and waste", *threads]
    for section in bench.sections:
        lines += _main_figures(section, written)
    warnings = list(_warnings(subject, numbers, written))
    warnings += [written.sentence(warning) for warning in bench.warnings]
    if warnings:
        lines += ["", "warnings", *(f"  {warning}" for warning in warnings)]
    return "\n".join(lines)


def _lines(subject: Subject, numbers: Numbers, written: Written) -> Iterator[Line]:
    place = subject.design.placement
    yield "wrap", f"{written.span(place.start, place.end)}, {written.length(place.length)} long"
    yield "blank", f"{written.length(numbers.diameter)} thick at the middle of the wrap"
    if numbers.strip is not None:
        yield from _strip(subject, numbers.strip, written)
    if numbers.lattice is not None:
        yield from _lattice(numbers.lattice, written)
    if numbers.cover_span is not None:
        yield "cover", f"{written.span(*numbers.cover_span)}, {numbers.rows} rows"


def _strip(subject: Subject, strip: StripNumbers, written: Written) -> Iterator[Line]:
    relief = subject.design.relief
    assert isinstance(relief, MeshStrip)
    along = " to ".join(dict.fromkeys(written.number(angle, Kind.ANGLE) for angle in strip.angles))
    middle, cells = (
        written.amount(strip.angle, Kind.ANGLE),
        written.number(strip.cells, Kind.NUMBER),
    )
    yield "angle", f"{middle} in the middle, {along} degrees along the wrap"
    yield "pitch", f"{written.length(strip.pitch)} a turn"
    yield (
        "strip width",
        f"{written.length(strip.width)}, {cells} cells",
    )
    least, most = (written.number(gap, Kind.CALIPER) for gap in strip.gaps)
    varies = "" if least == most else f", {least} to {written.length(strip.gaps[1])} along the wrap"
    yield "gap", f"{written.length(strip.gap)} along the blank{varies}"
    if relief.laid is not Laid.UNSTEERED:
        yield "unsteered", _unsteered(strip, written)
    yield "covered share", f"{written.amount(strip.covered_share, Kind.SHARE)} of the blank"
    each = "" if relief.starts == 1 else " each strip"
    yield "turns", f"{written.number(strip.turns, Kind.NUMBER)}{each}"
    yield "strip length", f"{written.length(strip.length)}{each}"
    for number, whole in enumerate(strip.whole_cells):
        cells = "1 cell is" if whole.cells == 1 else f"{whole.cells} cells are"
        yield (
            "whole cells" if number == 0 else "",
            f"{cells} {written.length(whole.width)} wide and leave a gap of "
            f"{written.length(whole.gap)}",
        )


def _unsteered(strip: StripNumbers, written: Written) -> str:
    if strip.unsteered is None:
        return "left to itself the strip would turn back on this taper"
    first, last = strip.unsteered
    if written.number(first, Kind.CALIPER) == written.number(last, Kind.CALIPER):
        return "left to itself the strip would keep this gap"
    return f"left to itself the strip would go from {written.gap(first)} to {written.gap(last)}"


def _warnings(subject: Subject, numbers: Numbers, written: Written) -> Iterator[str]:
    yield from subject.design.warnings
    strip, relief = numbers.strip, subject.design.relief
    if strip is None or not isinstance(relief, MeshStrip) or relief.laid is not Laid.CONSTANT_GAP:
        return
    least, most = strip.gaps
    if max(strip.gap - least, most - strip.gap) > _HELD:
        yield (
            f"the constant gap of {written.length(strip.gap)} cannot be held within "
            f"{written.length(_HELD)} on this blank; it goes from {written.span(least, most)}."
        )


def _lattice(lattice: LatticeNumbers, written: Written) -> Iterator[Line]:
    yield "pitch", f"{written.length(lattice.pitch)} a turn"
    yield (
        "diamonds",
        f"{lattice.around} round the blank, each {written.length(lattice.diamond)} long and "
        f"{written.length(lattice.width)} wide",
    )
    yield "crossings", f"{written.length(lattice.crossing)} high"
    yield "turns", f"{written.number(lattice.turns, Kind.NUMBER)} each cord"
    yield "cord length", f"{written.length(lattice.length)} each cord"


def _aligned(lines: Iterator[Line]) -> list[str]:
    listed = list(lines)
    width = max(len(name) for name, _ in listed)
    return [f"{name:<{width}}  {value}".rstrip() for name, value in listed]


def _threads(bench: Bench, written: Written) -> list[str]:
    """List each thread once for each layer that it is used in, in bench order."""
    table = bench.table("threads")
    if table is None:
        return []
    columns = {column.key: column for column in table.columns}
    rows = []
    for row in table.rows:
        cells = dict(zip(columns, row, strict=True))
        shown = {key: written.cell(columns[key], cell) for key, cell in cells.items()}
        length, mass = (_unit_of(written, columns[key].kind) for key in ("on_blank", "mass"))
        rows.append(
            (
                shown["use"],
                shown["thread"],
                f"{shown['on_blank']} {length}" if shown["on_blank"] else "pulled out",
                f"{shown['mass']} {mass}" if shown["mass"] else "",
                f"load {shown['load']} {length}",
            )
        )
    widths = [max((len(row[column]) for row in rows), default=0) for column in range(5)]
    return [
        f"  {use:<{widths[0]}}  {name:<{widths[1]}}  {length:>{widths[2]}}  {mass:>{widths[3]}}  "
        f"{load:>{widths[4]}}"
        for use, name, length, mass, load in rows
    ]


def _unit_of(written: Written, kind: Kind | None) -> str:
    assert kind is not None
    return written.unit(kind)


_TOLD_ABOVE = frozenset({"angle", "pitch", "cover_turns", "cord_angle"})
"""Figures that stand among the first lines already."""


def _main_figures(section: Section, written: Written) -> list[str]:
    """Write the figures of a section that are read first, and its notes, under its heading."""
    figures = [one for one in section.figures if one.main and one.key not in _TOLD_ABOVE]
    if not figures:
        return []
    lines = [(one.name, written.figure(one)) for one in figures]
    notes = section.notes if section.key is SectionKey.CUT else ()
    return [
        "",
        section.key.value,
        *(f"  {line}" for line in _aligned(iter(lines))),
        *(f"  {written.sentence(note)}" for note in notes),
    ]
