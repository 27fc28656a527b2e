"""Numbers that a kind of layer brings: for `check`, for its card, and for wishes to be fitted.

Everything here follows from the windings alone and is known in milliseconds; what needs the wrap
laid is in the kind's `bench.py`. Sentences hold amounts in mm and rad; units are put on where they
are read.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
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
"""A figure's name, and what there is to say of it."""


class Purpose(StrEnum):
    """For which wishes a field is changed when nobody says which are free."""

    RUN = "run"
    """Where the run of strip or cord lies."""
    LENGTH = "length"
    WEIGHT = "weight"
    THREAD = "thread"
    """Thread of the cover."""
    ASKED = "asked"
    """Only if asked."""


@dataclass(frozen=True, slots=True)
class Measure(Generic[L]):
    """One thing that follows from a layer and may be wished.

    Parameters
    ----------
    name : str
        As it is typed. Kinds that share a name mean the same by it.
    what : str
        In plain words.
    kind : Kind
        What sort of quantity it is, and so how it is held.
    value_of : callable
        Reads it off a laying.
    low, high : float
        What any design may have, as it is held.
    purposes : tuple of Purpose
        Fields with one of them are changed for it.
    tangent_power : int
        Power of tan(alpha) that it goes with, where a run keeps its angle; 0 for none.
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
    """A field that goes smoothly.

    Parameters
    ----------
    field : str
    step : float
        A change that is seen: degrees, or a share of what the field holds.
    rank : float
        How unlikely a builder is to want it changed, in fields.
    purposes : tuple of Purpose
    least : float
        Least step of a length, mm.
    """

    field: str
    step: float
    rank: float
    purposes: tuple[Purpose, ...]
    least: float = 0.0


@dataclass(frozen=True, slots=True)
class DiscreteField:
    """A field that goes by steps.

    Parameters
    ----------
    field : str
        A whole number, a choice, or a thread.
    rank : float
        How unlikely a builder is to want one step, in fields.
    purposes : tuple of Purpose
    choices : tuple of str
        All values of a choice.
    """

    field: str
    rank: float
    purposes: tuple[Purpose, ...]
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SuggestedChange:
    """A change that may be made with one press.

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
    """What follows from a field, to stand under it on its card.

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
    """A run whose angle and one other field are changed together, as any two of its figures ask."""

    @property
    def given(self) -> StripFigure:
        """The figure that the other field holds."""

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
        """Find what fields hold so that the run has two figures.

        Parameters
        ----------
        known : dict
            Two figures, mm and rad.
        fields : sequence of str
            Paths.

        Returns
        -------
        dict or None
            In the design's own units; None if there is no such run.
        """


@dataclass(frozen=True, slots=True)
class Numbers(Generic[L]):
    """The numbers of a kind of layer.

    Parameters
    ----------
    lines : callable
        What `check` says of the first such layer.
    warnings : callable
        What `check` warns of in it that the design alone does not tell.
    field_notes : callable
        What follows from each of its fields.
    alternative_values : callable
        What a field would hold if it were given in place of the one that is, mm or a share.
    measures : tuple of Measure
    continuous : tuple of Smooth
    discrete : tuple of Stepped
        What a fit may change.
    meeting : callable, optional
        What makes it close along the guide line: measures that are to be whole numbers, and those
        that are to be some value at most.
    fixed_angle : callable
        The angle of its run where it is kept all the way, rad; else None.
    coupled : callable, optional
        From its path, its table in the document, the bare radius at the middle of the wrap in mm,
        and a unit of the document in mm.
    fit_notes : callable
        What a builder should know besides of a layer that was fitted, from the measures wished.
    """

    lines: Callable[[L], Iterator[Line]] = lambda builder: iter(())
    warnings: Callable[[L], Iterator[Sentence]] = lambda builder: iter(())
    field_notes: Callable[[L], Iterator[FieldNote]] = lambda builder: iter(())
    alternative_values: Callable[[L], dict[str, float]] = lambda builder: {}
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
