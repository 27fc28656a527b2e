"""An open document with values that were typed and do not fit yet (`render.editor.pending`)."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from render.editor.document_session import DocumentSession
from render.editor.pending import (
    PendingValue,
    ValuePending,
    combined,
    reason_against,
    still_applies,
)
from render.editor.shelf_edits import ShelfEdit
from scenes.design.changes import changed_in_units
from scenes.design.document import Design, with_changes
from scenes.files import file_import
from scenes.problems import DESIGN_REFUSALS

__all__ = ["PendingSession"]

_FITS = "It fits now; press Enter in its field to set it."
"""Of a pending value that fits since a change was taken back: that changes nothing else."""


class PendingSession(DocumentSession):
    """An open document that keeps what was typed and does not fit yet.

    The parameters are those of `DocumentSession`.
    """

    pending_used: tuple[PendingValue, ...] = ()
    """Pending values that the last edit has set."""

    _examined: Design | None = None
    """The design against which the pending values were tried last."""

    def type_in(self, new: PendingValue, gesture: str = "") -> None:
        """Set a field to what was typed or chosen; what does not fit yet is kept as pending.

        Pending values of other fields are used if they fit together with it.

        Parameters
        ----------
        new : PendingValue
        gesture : str
            Identifier of a gesture, whose changes are undone together.

        Raises
        ------
        ValuePending
            If it does not fit yet; then the design has not changed.
        """
        others = [one for one in self.pending.values() if one.path != new.path]
        try:
            made, used = combined(self.design, new, others, self._with_values)
        except DESIGN_REFUSALS as problem:
            self.keep_pending(replace(new, problem=str(problem)))
            raise ValuePending(str(problem), field=getattr(problem, "field", "")) from None
        revision = self.revision
        with self.superseding([new.path, *(one.path for one in used)]):
            super()._put(made, gesture)
        self.pending_used = tuple(used)
        if self.revision == revision:
            self._pending_changed()

    def keep_pending(self, value: PendingValue) -> None:
        """Keep a typed value that does not fit the design yet, or cannot be read.

        Parameters
        ----------
        value : PendingValue
        """
        self.pending[value.path] = value
        self._pending_changed()

    def drop_pending(self, path: str = "") -> None:
        """Drop the pending value of a field.

        Parameters
        ----------
        path : str
            Path of the field; empty for all.
        """
        self.pending = {of: one for of, one in self.pending.items() if path not in ("", of)}
        self._pending_changed()

    @contextmanager
    def superseding(self, paths: Iterable[str]) -> Iterator[None]:
        """Drop the pending values of fields that an edit in the context sets, if it is made.

        Parameters
        ----------
        paths : iterable of str
            Paths of the fields.
        """
        before, changed = self.pending, set(paths)
        self.pending = {of: one for of, one in before.items() if of not in changed}
        try:
            yield
        except DESIGN_REFUSALS:
            self.pending = before
            raise

    def _put(
        self,
        design: Design,
        gesture: str = "",
        description: str = "",
        edit: ShelfEdit | None = None,
    ) -> None:
        used: list[PendingValue] = []
        if self.pending and edit is None and not self._files_protected:
            before = self.design
            others = [one for one in self.pending.values() if still_applies(one, before, design)]
            design, used = combined(design, None, others, self._with_values)
        with self.superseding([one.path for one in used]):
            super()._put(design, gesture, description, edit)
        self.pending_used = tuple(used)

    def _pending_changed(self) -> None:
        self._autosave()
        self._notify()

    def _notify(self) -> None:
        """Tell again why each pending value does not fit; drop those whose field is gone."""
        before, now = self._examined, self.design
        if self.pending and before is not now:
            kept = {}
            for of, one in self.pending.items():
                if before is None or still_applies(one, before, now):
                    reason = reason_against(now, one, self._with_values)
                    kept[of] = replace(one, problem=reason or _FITS)
            self.pending = kept
        self._examined = now
        super()._notify()

    def _document_replaced(self) -> None:
        self._examined, self.pending_used = None, ()
        super()._document_replaced()

    def _with_values(self, design: Design, values: Sequence[PendingValue]) -> Design:
        """Set fields of a design to values, each in its own units, and check the result."""
        made = design
        for units in dict.fromkeys(one.units for one in values):
            these = [one for one in values if one.units is units]

            def change(old: Design, these: Sequence[PendingValue] = these) -> Design:
                return with_changes(old, self._changes_of(old, these))

            made = changed_in_units(made, change, units)
        self._check_here(made)
        return made

    def _changes_of(self, design: Design, values: Iterable[PendingValue]) -> Mapping[str, Any]:
        changes: dict[str, Any] = {}
        for one in values:
            if file_import.is_file_field(design, one.path):
                changes |= file_import.changes_for(
                    design, one.path, one.value, self.beside, self.shelf
                )
            else:
                changes[one.path] = one.value
        return changes

    def _check_here(self, design: Design) -> None:
        self._check(design, self.shelf, self.beside)
