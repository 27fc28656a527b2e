"""Numbers of a kind of layer: for `check`, for its card, and for wishes to be fitted.

They follow from the windings alone, in milliseconds. Numbers that need the wrap laid are in the
`bench.py` of the kind. Sentences hold amounts in mm and rad; the reader adds units.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Generic, Protocol, TypeVar

from geometry.strip import StripFigure
from scenes.figures.figures import Kind, Sentence
from scenes.kinds.builder import LayerBuilder

__all__ = [
    "ContinuousField",
    "CoupledRun",
    "DiscreteField",
    "FieldNote",
    "Line",
    "Measure",
    "Numbers",
    "Purpose",
    "SuggestedChange",
]

L = TypeVar("L", bound=LayerBuilder[Any])

Line = tuple[str, Sentence]
"""Name of a figure and a sentence about it."""


class Purpose(StrEnum):
    """Wishes for which a field is changed when the builder does not choose the free fields."""

    RUN = "run"
    """Where the run of strip or cord lies."""
    LENGTH = "length"
    WEIGHT = "weight"
    THREAD = "thread"
    """Thread of the cover."""
    CROSSES = "crosses"
    """Where threads that are led both ways cross."""
    ASKED = "asked"
    """Only if asked."""


@dataclass(frozen=True, slots=True)
class Measure(Generic[L]):
    """A quantity that follows from a layer and may be wished.

    Parameters
    ----------
    name : str
        Name in a wish. Kinds that share a name mean the same quantity.
    what : str
        Description in plain words.
    kind : Kind
        Kind of quantity; it sets the internal unit.
    value_of : callable
        Reads the value off a builder.
    low, high : float
        Bounds of the value in any design.
    purposes : tuple of Purpose
        Fields with one of them are changed for it.
    tangent_power : int
        Power of tan(alpha) that it is proportional to, for a run of fixed angle; 0 for none.
    """

    name: str
    what: str
    kind: Kind
    value_of: Callable[[L], float]
    low: float = 0.0
    high: float = math.inf
    purposes: tuple[Purpose, ...] = (Purpose.RUN,)
    tangent_power: int = 0


@dataclass(frozen=True, slots=True)
class ContinuousField:
    """A field with continuous values.

    Parameters
    ----------
    field : str
    step : float
        Smallest visible change: degrees, or a share of the value.
    rank : float
        Cost of changing it, as a number of other fields.
    purposes : tuple of Purpose
    least : float
        Least step of a length, mm.
    usual : (float, float), optional
        Least and greatest value that builders use, mm, degrees or plain; a fit goes beyond them
        only if asked. Without it, whatever the document allows.
    """

    field: str
    step: float
    rank: float
    purposes: tuple[Purpose, ...]
    least: float = 0.0
    usual: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class DiscreteField:
    """A field with discrete values.

    Parameters
    ----------
    field : str
        A whole number, a choice, or a thread.
    rank : float
        Cost of one step, as a number of other fields.
    purposes : tuple of Purpose
    choices : tuple of str
        All values, if the field is a choice.
    usual : (int, int), optional
        Least and greatest whole number that builders use, as for a `ContinuousField`.
    measure : str
        Measure that is the field itself, so that a wish for it gives the field's value; empty if
        there is none.
    """

    field: str
    rank: float
    purposes: tuple[Purpose, ...]
    choices: tuple[str, ...] = ()
    usual: tuple[int, int] | None = None
    measure: str = ""


@dataclass(frozen=True, slots=True)
class SuggestedChange:
    """A change that the page offers as a button.

    Parameters
    ----------
    label : Sentence
    field : str
    value : float
        mm.
    help : str
    """

    label: Sentence
    field: str
    value: float
    help: str


@dataclass(frozen=True, slots=True)
class FieldNote:
    """A note under a field on its card.

    Parameters
    ----------
    field : str
    text : Sentence, optional
    suggestion : Take, optional
    """

    field: str
    text: Sentence | None = None
    suggestion: SuggestedChange | None = None


class CoupledRun(Protocol):
    """A run whose angle and one other field are solved together from any two of its figures."""

    @property
    def given(self) -> StripFigure:
        """Figure that the other field gives."""

    def figure(self, name: str, value: float) -> tuple[StripFigure, float] | None:
        """Express a measure's value as one of the run's figures; None if it is not one.

        Parameters
        ----------
        name : str
            Name of the measure.
        value : float
            In the unit of the measure.
        """

    def now(self, figure: StripFigure) -> float | None:
        """Current value of a figure, mm or rad; None if the run is not possible.

        Parameters
        ----------
        figure : StripFigure
        """

    def held(self, path: str) -> tuple[StripFigure, float]:
        """Give the figure that is kept while one field changes: the one that the other field gives.

        Parameters
        ----------
        path : str
            Path of the field that changes.
        """

    def made(
        self, known: Mapping[StripFigure, float], fields: Sequence[str]
    ) -> dict[str, float] | None:
        """Find field values with which the run has two given figures.

        Parameters
        ----------
        known : dict
            Two figures, mm and rad.
        fields : sequence of str
            Paths.

        Returns
        -------
        dict or None
            Value by path, in the design's own units; None if there is no such run.
        """


@dataclass(frozen=True, slots=True)
class Numbers(Generic[L]):
    """The numbers of a kind of layer.

    Parameters
    ----------
    lines : callable
        Lines of `check` about the first such layer.
    warnings : callable
        Warnings of `check` that need more than the document.
    field_notes : callable
        Notes under its fields on the card.
    alternative_values : callable
        Values of the fields that could be given in place of the one given, by field, in the units
        of the model.
    whole_of : mapping of str to str
        Fields that are best a whole number of another field: the other, by field.
    measures : tuple of Measure
    continuous : tuple of Smooth
    discrete : tuple of Stepped
        Fields that a fit may change.
    meeting : callable, optional
        Conditions for closing along the guide line: measures that must be whole numbers (None), and
        those with an upper limit.
    fixed_angle : callable
        Angle of its run if it is constant, rad; else None.
    coupled : callable, optional
        Makes a `CoupledRun` from the path of the layer, its table in the document, the bare radius
        at the middle of the wrap in mm, and the unit of the document in mm.
    fit_notes : callable
        Notes about a fitted layer, from the builder and the names of the measures wished.
    """

    lines: Callable[[L], Iterator[Line]] = lambda builder: iter(())
    warnings: Callable[[L], Iterator[Sentence]] = lambda builder: iter(())
    field_notes: Callable[[L], Iterator[FieldNote]] = lambda builder: iter(())
    alternative_values: Callable[[L], dict[str, float]] = lambda builder: {}
    whole_of: Mapping[str, str] = field(default_factory=dict)
    measures: tuple[Measure[L], ...] = ()
    continuous: tuple[ContinuousField, ...] = ()
    discrete: tuple[DiscreteField, ...] = ()
    meeting: Callable[[L], Iterator[tuple[str, float | None]]] | None = None
    fixed_angle: Callable[[Any], float | None] = lambda layer: None
    coupled: Callable[[str, Mapping[str, Any], float, float], CoupledRun] | None = None
    fit_notes: Callable[[L, Sequence[str]], Iterator[str]] = lambda builder, wished: iter(())

    def measure(self, name: str) -> Measure[L] | None:
        """Find a measure by its name.

        Parameters
        ----------
        name : str
        """
        return next((measure for measure in self.measures if measure.name == name), None)
