"""What the cards show in one unit of length: fields, figures, warnings, ranges, bench figures."""

from collections.abc import Mapping, Sequence
from typing import Any

from render.editor.desk import Desk
from render.page.cards import figures, form
from render.page.cards.lay_sequence import mark_patterns
from render.page.cards.pending import pending_state
from render.page.cards.profile import profile_of
from render.page.cards.shelf_threads import sentences_naming
from render.page.cards.wrap_length import add_length
from render.page.guides.guide_fields import add_guides
from render.page.workers.bench_worker import BenchFigures, BenchTexts
from scenes.building.build import Plan
from scenes.design.document import Design
from scenes.quantities import Units

__all__ = ["UnitCards"]

Json = dict[str, Any]

_NO_TEXTS = BenchTexts([], [], [])


class UnitCards:
    """The cards in one unit of length, for all clients that have chosen it.

    Parameters
    ----------
    desk : Desk
        The open document.
    units : Units
    """

    def __init__(self, desk: Desk, units: Units) -> None:
        self._desk = desk
        self.units = units
        self._cards: list[Json] = []
        self._bounds: Mapping[str, list[float]] = {}
        self._texts = _NO_TEXTS
        self._state: Json = {}

    @property
    def state(self) -> Mapping[str, Any]:
        """State of the page, by key."""
        return self._state

    @property
    def design(self) -> Design:
        """The open design in these units, without its variants."""
        design = self._desk.design.without_variants()
        return design.model_copy(update={"units": self.units})

    @property
    def is_fresh(self) -> bool:
        """Whether the bench figures are those of the open design."""
        return bool(self._state["form_bench"]["fresh"])

    def update(self, plan: Plan, bench: BenchFigures | None, trouble: str) -> Json:
        """Follow a change of the document or of the bench figures.

        Parameters
        ----------
        plan : Plan
            Of the open design.
        bench : BenchFigures or None
            The last that were computed for this document.
        trouble : str
            Why none are computed; empty if they are.

        Returns
        -------
        dict
            What has changed of the state, by key.
        """
        desk, units, design = self._desk, self.units, self.design
        self._cards = cards = form.cards_of(design, units)
        add_length(cards, design)
        add_guides(form.all_fields(cards), design)
        mark_patterns(cards, plan)
        fresh = False
        if bench is None:
            self._texts = _NO_TEXTS
        elif units in bench.texts:
            fresh, self._texts = bench.revision == desk.revision, bench.texts[units]
        found = figures.figures_of(plan, units)
        spools = self._spools() if fresh else []
        paths = [field["path"] for field in form.all_fields(cards)]
        warned = [*figures.warnings_of(design, paths), *figures.warnings_elsewhere(design)]
        return self._changed(
            desk_units=units.value,
            form_cards=cards,
            form_figures=_by_path([*found, *spools]),
            form_warnings={
                path: [warning["text"] for warning in warnings]
                for path, warnings in _by_path(warned).items()
            },
            form_pending=pending_state(desk, units),
            form_profile=profile_of(design, units),
            form_bounds=self._bounds,
            form_bench={
                "sections": self._texts.sections,
                "warnings": self._texts.warnings,
                "private": sentences_naming(desk.private_threads, self._texts.warnings),
                "fresh": fresh,
                "trouble": trouble,
            },
            form_revision=desk.revision,
        )

    def set_bounds(self, bounds: Mapping[str, list[float]]) -> Json:
        """Take the ranges of sliders, by path; return what has changed of the state, by key.

        Parameters
        ----------
        bounds : dict of str to list of float
            Low end, high end and step.
        """
        self._bounds = bounds
        return self._changed(form_bounds=bounds)

    def field(self, path: str) -> Json | None:
        """Return the field of a path; None if no card has it.

        Parameters
        ----------
        path : str
        """
        fields = form.all_fields(self._cards)
        return next((field for field in fields if field["path"] == path), None)

    def opened(self, ids: set[str]) -> list[Json]:
        """Return some cards.

        Parameters
        ----------
        ids : set of str
            Their identifiers.
        """
        return [card for card in self._cards if card["id"] in ids]

    def _changed(self, **given: Any) -> Json:
        changed = {
            key: value
            for key, value in given.items()
            if key not in self._state or self._state[key] != value
        }
        self._state.update(changed)
        return changed

    def _spools(self) -> list[Json]:
        """Amounts of thread, to show below each layer's thread."""
        paths = {field["path"] for field in form.all_fields(self._cards)}
        found = []
        for use, text in self._texts.threads:
            named = [f"{use}.{key}" for key in ("thread", "threads", "grade")]
            under = next((path for path in named if path in paths), "")
            if under:
                found.append({"under": under, "text": text, "take": None})
        return found


def _by_path(listed: Sequence[Json]) -> dict[str, list[Json]]:
    """Figures or warnings by the path that they stand under."""
    found: dict[str, list[Json]] = {}
    for one in listed:
        found.setdefault(one["under"], []).append(one)
    return found
