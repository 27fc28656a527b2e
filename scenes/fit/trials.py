"""Trial designs of a fit, each evaluated once."""

import contextlib
import math
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property, partial
from typing import Any

from materials.shelf import Shelf
from scenes.design import paths
from scenes.design.document import Design, document_of, with_changes
from scenes.files.companion_files import SHIPPED, CompanionFiles
from scenes.fit.measures import Measure, Measured
from scenes.fit.offer_warnings import document_warnings
from scenes.fit.progress import ProgressCounter
from scenes.fit.wishes import Wish
from scenes.problems import DESIGN_REFUSALS, DesignProblem

__all__ = ["Trial", "Trials"]

Changes = Mapping[str, Any]

Key = tuple[tuple[str, Any], ...]

_MOST_GROWN = 6
"""Largest wrap that is built in a search, in grid points of the present design: thinner cords or a
longer wrap may take a hundred times as long and gigabytes."""

_TOO_LARGE = "The wrap is sampled too finely to be weighed in a search."

_MOST_KEPT = 8
"""Most designs kept with their plans, of which a large one takes 2 MB."""


class Trial:
    """A changed design, or the reason why it is invalid.

    It keeps the values that were read. The design and its plan are made again when they are needed
    and `Trials` keeps them no longer.

    Parameters
    ----------
    changes : dict
        Value by path, in the design's own units.
    make : callable or None
        Gives the design and its measures; None if the design is invalid.
    problem : str
        Why it is invalid; empty if it is valid.
    most_points : float, optional
        Grid points of the largest wrap that is built for a slow measure.
    built : callable
        Called when a wrap was built.
    """

    def __init__(
        self,
        changes: Changes,
        make: Callable[[], Measured] | None,
        problem: str,
        most_points: float = math.inf,
        built: Callable[[], None] = lambda: None,
    ) -> None:
        self.changes = dict(changes)
        self.problem = problem
        self._make = make
        self._most_points = most_points
        self._built = built
        self._values: dict[str, float | None] = {}
        self._prepared: bool | None = None

    @property
    def valid(self) -> bool:
        """Whether the changed design is valid."""
        return self._make is not None

    @property
    def measured(self) -> Measured | None:
        """The design and its measures; None if it is invalid."""
        return self._make() if self._make else None

    @property
    def design(self) -> Design | None:
        """The changed design; None if it is invalid."""
        measured = self.measured
        return measured.design if measured else None

    def value(self, measure: Measure) -> float | None:
        """Read a measure, in internal units; None if the design is invalid or cannot be built.

        A wrap that is too large to be built in a search has no slow measure.

        Parameters
        ----------
        measure : Measure
        """
        if not self.valid:
            return None
        if measure.name not in self._values:
            measured = self.measured
            assert measured is not None
            try:
                if measure.slow and measured.points > self._most_points:
                    raise DesignProblem(_TOO_LARGE)
                self._values[measure.name] = measure.of(measured)
                if measure.slow:
                    self._built()
            except DESIGN_REFUSALS as error:
                self._values[measure.name] = None
                self.problem = str(error)
        return self._values[measure.name]

    def miss(self, wish: Wish) -> float:
        """Distance from a wish, in tolerances; infinite for an invalid design.

        Parameters
        ----------
        wish : Wish
        """
        value = self.value(wish.measure)
        return math.inf if value is None else wish.miss(value) / wish.within

    def can_be_wound(self) -> bool:
        """Tell whether the wrap can be wound; if not, `problem` gives the reason."""
        if self._prepared is None:
            measured = self.measured
            try:
                if measured is not None:
                    measured.plan.prepare()
                self._prepared = measured is not None
            except DesignProblem as error:
                self.problem = str(error)
                self._prepared = False
        return self._prepared

    def met(self, wishes: Sequence[Wish]) -> bool:
        """Tell whether wishes are met.

        Parameters
        ----------
        wishes : sequence of Wish
        """
        # Slow measures come last, and only if the other wishes are met.
        in_order = sorted(wishes, key=lambda wish: wish.measure.slow)
        return all(self.miss(wish) <= 1 for wish in in_order)


class Trials:
    """Tries changes to one design.

    A change that causes a new warning is rejected: a wrap must not run into a grip, for example, or
    a gap that is to be constant be 100 mm off at one end.

    Parameters
    ----------
    design : Design
        Without variants.
    shelf : Shelf
    settings : dict
        Values of the fields that are set, by path.
    progress : ProgressCounter, optional
        Counts the trials.
    beside : CompanionFiles
        Where the design's files are looked up.
    """

    def __init__(
        self,
        design: Design,
        shelf: Shelf,
        settings: Changes,
        progress: ProgressCounter | None = None,
        beside: CompanionFiles = SHIPPED,
    ) -> None:
        self.design = design
        self.shelf = shelf
        self.beside = beside
        self.settings = dict(settings)
        self.progress = progress or ProgressCounter()
        self._seen: dict[Key, Trial] = {}
        self._kept: OrderedDict[Key, Measured] = OrderedDict()
        present = Measured(design, shelf, beside)
        self._warned = _subjects(present)
        if self.settings:
            with contextlib.suppress(*DESIGN_REFUSALS):
                present = Measured(with_changes(design, self.settings), shelf, beside)
                self._warned |= _subjects(present)
        self._present = present

    def evaluate(self, changes: Changes) -> Trial:
        """Make the design with the settings and some changes.

        Parameters
        ----------
        changes : dict
            Value by path.
        """
        self.progress.show()
        both = {**self.settings, **changes}
        key = tuple(sorted(both.items(), key=lambda item: item[0]))
        if key not in self._seen:
            self._seen[key] = self._tried(key, both)
            self.progress.count()
        return self._seen[key]

    def changed_document(self, changes: Changes) -> dict[str, Any]:
        """Give the document with the settings and some changes, without checking the values.

        Parameters
        ----------
        changes : dict
            Value by path.

        Raises
        ------
        DesignProblem
            If there is no such path.
        """
        document = document_of(self.design, defaults=True)
        return paths.changed(document, {**self.settings, **changes})

    def _tried(self, key: Key, changes: Changes) -> Trial:
        make = partial(self._measured, key, changes)
        try:
            for subject, sentence in document_warnings(make()):
                if subject not in self._warned:
                    return Trial(changes, None, sentence)
        except DESIGN_REFUSALS as problem:
            return Trial(changes, None, str(problem))
        return Trial(changes, make, "", self._most_points, self.progress.built)

    def _measured(self, key: Key, changes: Changes) -> Measured:
        """Make a changed design with its plan, or take it from the latest that were made."""
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        design = with_changes(self.design, changes) if changes else self.design
        made = self._kept[key] = Measured(design, self.shelf, self.beside)
        if len(self._kept) > _MOST_KEPT:
            self._kept.popitem(last=False)
        return made

    @cached_property
    def _most_points(self) -> float:
        try:
            return _MOST_GROWN * self._present.points
        except DESIGN_REFUSALS:
            return math.inf


def _subjects(measured: Measured) -> set[str]:
    return {subject for subject, _ in document_warnings(measured)}
