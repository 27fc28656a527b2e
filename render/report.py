"""The numbers of a design as text, in the units of its file."""

import math
from collections.abc import Iterator

from geometry.grid import Detail
from render.progress import Progress
from render.subject import Subject
from scenes.layers import Laid, MeshStrip
from scenes.numbers import LatticeNumbers, Numbers, StripNumbers, numbers_of
from scenes.quantities import Units
from scenes.variants import design_hash

__all__ = ["report"]

_DECIMALS = {Units.MM: 2, Units.IN: 3}
"""A hundredth of a mm and a thousandth of an inch: what a caliper reads."""

_LONG = {Units.MM: ("m", 1000.0), Units.IN: ("ft", 12 * 25.4)}
"""What lengths of thread are told in, and that in mm."""

_HELD = 0.5
"""How closely a constant gap should be kept, mm: what an eye sees along a ruler (from memory)."""

Line = tuple[str, str]


def report(subject: Subject, progress: Progress | None = None) -> str:
    """Write what follows from a design, a line for each figure, with its unit.

    Raises
    ------
    GeometryError
        If the wrap cannot be built.
    """
    progress = progress or Progress.none()
    wrap = subject.build(Detail.DRAFT, progress)
    progress.say("lengths")
    numbers = numbers_of(wrap)
    design = subject.design
    words = _Words(design.units)
    lines = [design.title, f"design {design_hash(design)}", ""]
    lines += _aligned(_lines(subject, numbers, words))
    lines += ["", "thread on the blank, without tails or waste"]
    lines += _threads(numbers, words)
    warnings = list(_warnings(subject, numbers, words))
    if warnings:
        lines += ["", "warnings", *(f"  {warning}" for warning in warnings)]
    return "\n".join(lines)


class _Words:
    """Lengths in the units of a file."""

    def __init__(self, units: Units) -> None:
        self.units = units

    def length(self, mm: float) -> str:
        return f"{self.number(mm)} {self.units.value}"

    def number(self, mm: float) -> str:
        return _plain(mm / self.units.in_mm, _DECIMALS[self.units])

    def span(self, first: float, last: float) -> str:
        return f"{self.number(first)} to {self.length(last)}"

    def thread(self, mm: float) -> str:
        unit, size = _LONG[self.units]
        return f"{mm / size:.2f} {unit}"


def _plain(value: float, decimals: int) -> str:
    """Write a number with so many decimals at most, without zeros at their end."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _degrees(angle: float) -> str:
    return _plain(math.degrees(angle), 1)


def _lines(subject: Subject, numbers: Numbers, words: _Words) -> Iterator[Line]:
    place = subject.design.placement
    yield "wrap", f"{words.span(place.start, place.end)}, {words.length(place.length)} long"
    yield "blank", f"{words.length(numbers.diameter)} thick at the middle of the wrap"
    if numbers.strip is not None:
        yield from _strip(subject, numbers.strip, words)
    if numbers.lattice is not None:
        yield from _lattice(numbers.lattice, words)
    yield "cover", f"{words.span(*numbers.cover_span)}, {numbers.rows} rows"


def _strip(subject: Subject, strip: StripNumbers, words: _Words) -> Iterator[Line]:
    relief = subject.design.relief
    assert isinstance(relief, MeshStrip)
    along = " to ".join(dict.fromkeys(_degrees(angle) for angle in strip.angles))
    yield "angle", f"{_degrees(strip.angle)} degrees in the middle, {along} degrees along the wrap"
    yield "pitch", f"{words.length(strip.pitch)} a turn"
    yield "strip width", f"{words.length(strip.width)}, {_plain(strip.cells, 2)} cells"
    least, most = (words.number(gap) for gap in strip.gaps)
    varies = "" if least == most else f", {least} to {words.length(strip.gaps[1])} along the wrap"
    yield "gap", f"{words.length(strip.gap)} along the blank{varies}"
    if relief.laid is not Laid.UNSTEERED:
        yield "unsteered", _unsteered(strip, words)
    yield "covered share", f"{_plain(100 * strip.covered_share, 1)} % of the blank"
    each = "" if relief.starts == 1 else " each strip"
    yield "turns", f"{_plain(strip.turns, 2)}{each}"
    yield "strip length", f"{words.length(strip.length)}{each}"
    for number, whole in enumerate(strip.whole_cells):
        cells = "1 cell is" if whole.cells == 1 else f"{whole.cells} cells are"
        yield (
            "whole cells" if number == 0 else "",
            f"{cells} {words.length(whole.width)} wide and leave a gap of "
            f"{words.length(whole.gap)}",
        )


def _unsteered(strip: StripNumbers, words: _Words) -> str:
    if strip.unsteered is None:
        return "left to itself the strip would turn back on this taper"
    first, last = strip.unsteered
    if words.number(first) == words.number(last):
        return "left to itself the strip would keep this gap"
    return f"left to itself the strip would go from {_gap(first, words)} to {_gap(last, words)}"


def _gap(mm: float, words: _Words) -> str:
    return f"a gap of {words.length(mm)}" if mm >= 0 else f"an overlap of {words.length(-mm)}"


def _warnings(subject: Subject, numbers: Numbers, words: _Words) -> Iterator[str]:
    yield from subject.design.warnings
    strip, relief = numbers.strip, subject.design.relief
    if strip is None or not isinstance(relief, MeshStrip) or relief.laid is not Laid.CONSTANT_GAP:
        return
    least, most = strip.gaps
    if max(strip.gap - least, most - strip.gap) > _HELD:
        yield (
            f"the constant gap of {words.length(strip.gap)} cannot be held within "
            f"{words.length(_HELD)} on this blank; it goes from {words.span(least, most)}."
        )


def _lattice(lattice: LatticeNumbers, words: _Words) -> Iterator[Line]:
    yield "pitch", f"{words.length(lattice.pitch)} a turn"
    yield (
        "diamonds",
        f"{lattice.around} round the blank, each {words.length(lattice.diamond)} long and "
        f"{words.length(lattice.width)} wide",
    )
    yield "crossings", f"{words.length(lattice.crossing)} high"
    yield "turns", f"{_plain(lattice.turns, 2)} each cord"
    yield "cord length", f"{words.length(lattice.length)} each cord"


def _aligned(lines: Iterator[Line]) -> list[str]:
    listed = list(lines)
    width = max(len(name) for name, _ in listed)
    return [f"{name:<{width}}  {value}".rstrip() for name, value in listed]


def _threads(numbers: Numbers, words: _Words) -> list[str]:
    """List each thread once for each layer that it is used in, in bench order."""
    used: dict[tuple[str, str], list[float]] = {}
    for one in numbers.threads:
        sums = used.setdefault((one.use, one.thread.name), [0.0, 0.0])
        sums[0] += one.length
        sums[1] += one.mass_g
    rows = [
        (use, name, words.thread(length), f"{mass:.2f} g")
        for (use, name), (length, mass) in used.items()
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(4)]
    return [
        f"  {use:<{widths[0]}}  {name:<{widths[1]}}  {length:>{widths[2]}}  {mass:>{widths[3]}}"
        for use, name, length, mass in rows
    ]
