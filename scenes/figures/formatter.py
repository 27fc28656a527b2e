"""Computed figures as text: rounded for reading, in the units of a design file.

`check`, the page, the bench sheet and the template use it. `scenes.quantities` writes values of the
file itself, which are not rounded.
"""

import math
from dataclasses import dataclass

from scenes.figures.figures import Amount, Cell, Column, Figure, Kind, Sentence
from scenes.quantities import IN, Units, plain_number

__all__ = ["FOOT", "OUNCE", "FigureFormatter"]

FOOT = 12 * IN
"""The international foot in mm."""

OUNCE = 28.349523125
"""The avoirdupois ounce in g, exact since 1959."""

_NO_CURRENCY = "in your money"
"""Unit of money where the design names no currency."""

_LONG_TIME = 3 * 3600.0
"""Times from this length on are written in hours, s."""


@dataclass(frozen=True, slots=True)
class _Unit:
    """A unit and how numbers in it are rounded.

    Parameters
    ----------
    name : str
    size : float
        Value of one such unit in the internal unit of the kind.
    decimals : int
        Most decimals, unless a smaller amount would read as 0.
    least : int, optional
        Most decimals of such an amount, which is written to its first digit.
    """

    name: str
    size: float
    decimals: int
    least: int | None = None

    def decimals_for(self, value: float) -> int:
        """Most decimals for a number in this unit."""
        if self.least is None or value == 0 or not math.isfinite(value):
            return self.decimals
        first = -math.floor(math.log10(abs(value)))
        return max(self.decimals, min(first, self.least))


_EVERYWHERE = {
    Kind.ANGLE: _Unit("degrees", math.pi / 180, 1),
    Kind.VOLUME: _Unit("ml", 1000.0, 2),
    # A metre of fine thread weighs some hundredths of a gram, and a ring some thousandths.
    Kind.MASS: _Unit("g", 1.0, 2, 4),
    Kind.MEASURED_VOLUME: _Unit("ml", 1000.0, 3),
    Kind.MEASURED_MASS: _Unit("g", 1.0, 2, 4),
    Kind.PERIOD: _Unit("s", 1.0, 3),
    Kind.TIME: _Unit("min", 60.0, 0),
    Kind.COUNT: _Unit("", 1.0, 0),
    Kind.NUMBER: _Unit("", 1.0, 2),
    Kind.SHARE: _Unit("%", 0.01, 1),
    Kind.SPEED: _Unit("turns a minute", 1.0, 0),
}
_UNITS = {
    Units.MM: {
        Kind.LENGTH: _Unit("mm", 1.0, 1),
        Kind.PLACE: _Unit("mm", 1.0, 1),
        Kind.CALIPER: _Unit("mm", 1.0, 2),
        # Ridges under the last coat may stand less than a thousandth high.
        Kind.FINE_LENGTH: _Unit("mm", 1.0, 3, 4),
        Kind.THREAD_LENGTH: _Unit("m", 1000.0, 1),
        Kind.MOMENT: _Unit("g·m", 1000.0, 2),
        Kind.INERTIA: _Unit("g·m²", 1e6, 2),
    },
    Units.IN: {
        Kind.LENGTH: _Unit("in", IN, 3),
        Kind.PLACE: _Unit("in", IN, 2),
        Kind.CALIPER: _Unit("in", IN, 3),
        Kind.FINE_LENGTH: _Unit("in", IN, 4, 5),
        Kind.THREAD_LENGTH: _Unit("ft", FOOT, 1),
        Kind.MOMENT: _Unit("oz·in", OUNCE * IN, 2),
        Kind.INERTIA: _Unit("oz·in²", OUNCE * IN**2, 1),
    },
}


_HOURS = _Unit("h", 3600.0, 1)


class FigureFormatter:
    """Formats figures in the units of a file.

    Parameters
    ----------
    units : Units
    currency : str
        Written after amounts of money; if empty, words stand there.
    """

    def __init__(self, units: Units, currency: str = "") -> None:
        self._units = (
            _EVERYWHERE | _UNITS[units] | {Kind.MONEY: _Unit(currency or _NO_CURRENCY, 1.0, 2)}
        )

    def unit(self, kind: Kind) -> str:
        """Name of the unit; empty for plain numbers.

        Parameters
        ----------
        kind : Kind
        """
        return self._units[kind].name

    def converted(self, value: float, kind: Kind) -> float:
        """Convert a value to the unit, unrounded.

        Parameters
        ----------
        value : float
            In the unit that figures of the kind are held in.
        kind : Kind
        """
        return value / self._units[kind].size

    def number(self, value: float, kind: Kind, *, zeros: bool = False) -> str:
        """Write a number in the unit, rounded for reading at the bench.

        Parameters
        ----------
        value : float
            In the unit that figures of the kind are held in.
        kind : Kind
        zeros : bool
            Keep zeros at the end, so that numbers in a column line up.
        """
        converted = self.converted(value, kind)
        return _rounded(converted, self._units[kind].decimals_for(converted), zeros=zeros)

    def amount(self, value: float, kind: Kind, *, zeros: bool = False) -> str:
        """Write number and unit; see `number`.

        Parameters
        ----------
        value : float
            In the unit that figures of the kind are held in.
        kind : Kind
        zeros : bool
            Keep zeros at the end.
        """
        if kind is Kind.TIME and abs(value) >= _LONG_TIME:
            return f"{_rounded(value / _HOURS.size, 1)} {_HOURS.name}"
        return _with_unit(self.number(value, kind, zeros=zeros), self.unit(kind))

    def precise(self, value: float, kind: Kind) -> str:
        """Write number and unit to four digits, so that near misses differ.

        Parameters
        ----------
        value : float
            In the unit that figures of the kind are held in.
        kind : Kind
        """
        return _with_unit(
            plain_number(float(f"{self.converted(value, kind):.4g}")), self.unit(kind)
        )

    def coarse(self, value: float, kind: Kind) -> str:
        """Write number and unit to one digit.

        Parameters
        ----------
        value : float
            In the unit that figures of the kind are held in.
        kind : Kind
        """
        return _with_unit(f"{self.converted(value, kind):.1g}", self.unit(kind))

    def length(self, mm: float) -> str:
        """Write a length as a caliper reads it, with its unit.

        Parameters
        ----------
        mm : float
            Length, mm.
        """
        return self.amount(mm, Kind.CALIPER)

    def span(self, first: float, last: float) -> str:
        """Write from one place to another: ``20 to 140 mm``.

        Parameters
        ----------
        first, last : float
            mm.
        """
        return f"{self.number(first, Kind.CALIPER)} to {self.length(last)}"

    def gap(self, mm: float) -> str:
        """Write a gap between strips, or an overlap where it is negative.

        Parameters
        ----------
        mm : float
            Gap, mm.
        """
        return f"a gap of {self.length(mm)}" if mm >= 0 else f"an overlap of {self.length(-mm)}"

    def figure(self, figure: Figure) -> str:
        """Write number, uncertainty and unit: ``25.4 ± 0.3 mm``, or ``17 mm (11 to 40 mm)``.

        Bounds that read like the number are left out.

        Parameters
        ----------
        figure : Figure
        """
        if figure.bounds is not None:
            value = self.amount(figure.value, figure.kind)
            if {self.amount(bound, figure.kind) for bound in figure.bounds} == {value}:
                return value
            return f"{value} ({self.bounds(*figure.bounds, figure.kind)})"
        if not figure.plus_minus:
            return self.amount(figure.value, figure.kind)
        unit = self._units[figure.kind]
        if figure.kind is Kind.TIME and abs(figure.value) >= _LONG_TIME:
            unit = _HOURS
        off = abs(figure.plus_minus / unit.size)
        most = unit.decimals_for(figure.value / unit.size)
        decimals = min(most, _decimals_of(off))
        # An error below the last digit shown counts as one of that digit.
        off = max(off, 10.0**-decimals)
        value = _rounded(figure.value / unit.size, decimals, zeros=True)
        return _with_unit(f"{value} ± {_rounded(off, decimals, zeros=True)}", unit.name)

    def bounds(self, least: float, most: float, kind: Kind) -> str:
        """Write an interval: ``10.6 to 40 mm``, or ``10.6 mm or more, or none``.

        Parameters
        ----------
        least, most : float
            In the unit that figures of the kind are held in; the second may be infinite.
        kind : Kind
        """
        if math.isinf(most):
            return f"{self.amount(least, kind)} or more, or none"
        return f"{self.number(least, kind)} to {self.amount(most, kind)}"

    def sentence(self, sentence: Sentence) -> str:
        """Write a sentence with its amounts.

        Parameters
        ----------
        sentence : Sentence
        """
        return sentence.words.format_map(
            {
                name: self._amount(amount) if isinstance(amount, Amount) else amount
                for name, amount in sentence.amounts.items()
            }
        )

    def _amount(self, amount: Amount) -> str:
        if amount.bare:
            return self.number(amount.value, amount.kind)
        # Masses to weigh out keep their zeros: they say how finely to weigh.
        zeros = amount.kind is Kind.MEASURED_MASS
        return self.amount(amount.value, amount.kind, zeros=zeros)

    def heading(self, column: Column) -> str:
        """Write a column's name with its unit: ``gap, mm``.

        Parameters
        ----------
        column : Column
        """
        unit = self.unit(column.kind) if column.kind else ""
        return f"{column.name}, {unit}" if unit else column.name

    def cell(self, column: Column, cell: Cell) -> str:
        """Write a cell; the unit is in the heading.

        Parameters
        ----------
        column : Column
        cell : Cell
        """
        if cell is None or isinstance(cell, str):
            return cell or ""
        assert column.kind is not None
        unit = self._units[column.kind]
        zeros = column.kind not in (Kind.NUMBER, Kind.MEASURED_VOLUME)
        converted = self.converted(cell, column.kind)
        return _rounded(converted, unit.decimals_for(converted), zeros=zeros)


def _with_unit(number: str, unit: str) -> str:
    return f"{number} {unit}" if unit else number


def _rounded(value: float, decimals: int, *, zeros: bool = False) -> str:
    """Round to a number of decimals; below 0, to tens, hundreds and so on."""
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    if not zeros and "." in text:
        text = text.rstrip("0").rstrip(".")
    return text.removeprefix("-") if not text.strip("-0.") else text


def _decimals_of(off: float) -> int:
    """Decimals at which an error has one digit, or two if the first is 1."""
    power = math.floor(math.log10(off))
    return (1 if off / 10.0**power < 2 else 0) - power
