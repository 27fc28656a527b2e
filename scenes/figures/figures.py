"""Data of the bench report: figures, tables, sentences and steps, in mm, rad, g and s.

`scenes.figures.formatter` adds units for people. A `Sentence` keeps its quantities apart from its
words, so that they can be written in inches as well.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

__all__ = [
    "Amount",
    "BenchReport",
    "Cell",
    "Column",
    "Figure",
    "Kind",
    "Mark",
    "Section",
    "SectionKey",
    "Sentence",
    "Step",
    "Table",
    "sentence",
]


class Kind(StrEnum):
    """What sort of quantity a number is, and the unit that it is held in."""

    LENGTH = "length"
    """mm"""
    PLACE = "place along the rod"
    """mm from the butt, as a rule reads it."""
    CALIPER = "caliper length"
    """mm, written as a caliper reads it: diameters, cells."""
    FINE_LENGTH = "fine length"
    """mm, written in thousandths: films, ridges, threads."""
    THREAD_LENGTH = "thread length"
    """mm, written in metres or feet."""
    ANGLE = "angle"
    """rad"""
    VOLUME = "volume"
    """mm³"""
    MASS = "mass"
    """g"""
    MEASURED_VOLUME = "measured volume"
    """mm³, written as finely as it is measured out, so that parts add up."""
    MEASURED_MASS = "measured mass"
    """g, written so too."""
    MOMENT = "moment"
    """g mm"""
    INERTIA = "moment of inertia"
    """g mm²"""
    PERIOD = "period"
    """s, written in seconds."""
    TIME = "time"
    """s"""
    MONEY = "money"
    """The builder's own currency."""
    COUNT = "count"
    """A whole number."""
    NUMBER = "number"
    """A plain number: turns, tex."""
    SHARE = "share"
    """0 to 1, written in per cent."""
    SPEED = "speed"
    """Turns a minute."""


class Mark(StrEnum):
    """Why a figure should be trusted less than one that follows from measurements."""

    DEFAULT = "invented default"
    """A default of Turnlight, which the builder should replace with a value of their own."""
    PRACTICE = "common practice, no source"
    MEMORY = "from memory"
    ASSUMED = "assumed where nothing was measured"


Cell = float | str | None


@dataclass(frozen=True, slots=True)
class Amount:
    """A number in a sentence.

    Parameters
    ----------
    value : float
        In the unit of the kind.
    kind : Kind
    bare : bool
        Whether the unit is left out because the next amount has it: "3 to 5 mm".
    """

    value: float
    kind: Kind
    bare: bool = False


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words with amounts in them.

    Parameters
    ----------
    words : str
        With ``{name}`` where an amount goes, as in `str.format`.
    amounts : mapping of str to Amount or str
    """

    words: str
    amounts: Mapping[str, Amount | str] = field(default_factory=dict)


def sentence(words: str, **amounts: Amount | str) -> Sentence:
    """Make a sentence from words and amounts.

    Parameters
    ----------
    words : str
        With ``{name}`` where an amount goes.
    amounts : Amount or str
        By name.
    """
    return Sentence(words, amounts)


@dataclass(frozen=True, slots=True)
class Figure:
    """One number to build by.

    Parameters
    ----------
    key : str
        Name for machines, the same in every version: ``strip_width``.
    name : str
        Name for people.
    value : float
    kind : Kind
        Kind of quantity; `value` is in its unit.
    how : Sentence
        One line: how it was computed.
    plus_minus : float or None
        Uncertainty to either side, in the same unit; None where the value is exact, or has bounds.
    marks : tuple of Mark
    main : bool
        Whether it is among the few that are read first.
    bounds : (float, float) or None
        Least and greatest value, in the same unit, where it is farther off to one side than to
        the other; the second is infinite where there may be none.
    """

    key: str
    name: str
    value: float
    kind: Kind
    how: Sentence
    plus_minus: float | None = None
    marks: tuple[Mark, ...] = ()
    main: bool = False
    bounds: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Parameters
    ----------
    key : str
    name : str
    kind : Kind or None
        None for words.
    how : Sentence or None
    plus_minus : float or None
        Uncertainty of every number in the column, in its unit.
    share : float or None
        Uncertainty as a share of the number; at most one of the two is given.
    marks : tuple of Mark
    """

    key: str
    name: str
    kind: Kind | None = None
    how: Sentence | None = None
    plus_minus: float | None = None
    share: float | None = None
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of numbers and words.

    Parameters
    ----------
    key : str
    name : str
    columns : tuple of Column
    rows : tuple of tuple of Cell
        As many cells as columns; None for an empty cell.
    main : bool
        Whether it is among the few that are read first.
    """

    key: str
    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    main: bool = False

    def __post_init__(self) -> None:
        """Refuse a ragged table."""
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"a row of {self.key} has not {len(self.columns)} cells")

    def column(self, key: str) -> tuple[Cell, ...]:
        """All cells of one column.

        Parameters
        ----------
        key : str
            Key of the column.
        """
        index = [column.key for column in self.columns].index(key)
        return tuple(row[index] for row in self.rows)


class SectionKey(StrEnum):
    """Keys of the sections in their order; a key is also the heading."""

    CUT = "cut plan"
    MARKS = "marks"
    CORDS = "cords"
    PATTERN = "pattern"
    """Crossed threads, weaving, lettering, rings, overlays, marbled coats."""
    GUIDES = "guide places"
    THREADS = "threads"
    FINISH = "finish"
    WEIGHT = "weight"
    COST = "time and cost"


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the bench report.

    Parameters
    ----------
    key : SectionKey
    figures : tuple of Figure
    tables : tuple of Table
    notes : tuple of Sentence
    """

    key: SectionKey
    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    notes: tuple[Sentence, ...] = ()

    def figure(self, key: str) -> Figure | None:
        """Find a figure; None if it is not here.

        Parameters
        ----------
        key : str
            Its name for machines.
        """
        return next((figure for figure in self.figures if figure.key == key), None)

    def table(self, key: str) -> Table | None:
        """Find a table; None if it is not here.

        Parameters
        ----------
        key : str
            Its name for machines.
        """
        return next((table for table in self.tables if table.key == key), None)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the order of work.

    Parameters
    ----------
    title : str
        Two to five words.
    work : Sentence
        What to do.
    check : Sentence or None
        What to check before going on.
    caution : str or None
        What can injure at this step.
    """

    title: str
    work: Sentence
    check: Sentence | None = None
    caution: str | None = None


@dataclass(frozen=True, slots=True)
class BenchReport:
    """Everything that a builder needs to know to build a wrap.

    Parameters
    ----------
    title : str
    design : str
        The design's hash, as `check` shows it.
    sections : tuple of Section
        In the order of `SectionKey`; empty sections are left out.
    warnings : tuple of Sentence
    steps : tuple of Step
        In bench order.
    cautions : tuple of str
        For the foot of every page.
    currency : str
        Written after amounts of money; may be empty.
    """

    title: str
    design: str
    sections: tuple[Section, ...]
    warnings: tuple[Sentence, ...]
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]
    currency: str = ""

    def section(self, key: SectionKey) -> Section | None:
        """Find a section; None if there is none.

        Parameters
        ----------
        key : SectionKey
        """
        return next((section for section in self.sections if section.key is key), None)

    def figure(self, key: str) -> Figure | None:
        """Find a figure in any section; None if there is none.

        Parameters
        ----------
        key : str
            Its name for machines.
        """
        found = (section.figure(key) for section in self.sections)
        return next((item for item in found if item is not None), None)

    def table(self, key: str) -> Table | None:
        """Find a table in any section; None if there is none.

        Parameters
        ----------
        key : str
            Its name for machines.
        """
        found = (section.table(key) for section in self.sections)
        return next((item for item in found if item is not None), None)
