"""A document session that shows changes before they are made."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from types import MappingProxyType

from render.editor.pending_session import PendingSession
from render.request.subject import Subject
from scenes.design.document import Design, with_changes
from scenes.design.pictured import pictured
from scenes.editing.variant_edits import with_variant
from scenes.problems import DESIGN_REFUSALS, DesignProblem

__all__ = ["TrialSession"]


class TrialSession(PendingSession):
    """A session in which changes are tried: they are drawn, and are no part of the design.

    A trial ends when it is kept or left, and with every change of the design that is seen on the
    rod; what was agreed, a title or a variant changes nothing there.
    """

    _trial: Design | None = None
    _tried_on: Design | None = None
    _tried: Mapping[str, object] = MappingProxyType({})

    @property
    def drawn_design(self) -> Design:
        """The design as it is tried, or the design itself."""
        return self.design if self._trial is None else self._trial

    @property
    def drawn(self) -> Subject:
        """What the picture shows."""
        return Subject(self.drawn_design.without_variants(), self.shelf, self.beside)

    def try_out(self, changes: Mapping[str, object]) -> None:
        """Show changes without making them, in place of those that were tried before.

        Parameters
        ----------
        changes : dict
            New value by path.

        Raises
        ------
        DesignProblem, ShelfProblem
            If the changed design is not valid; then nothing has changed.
        """
        made = with_changes(self.design, changes)
        self._check_here(made)
        self._trial, self._tried_on, self._tried = made, self.design, dict(changes)
        self._notify()

    def leave_trial(self) -> None:
        """Show the design itself again."""
        if self._trial is not None:
            self._trial = None
            self._notify()

    def keep_trial(self, description: str) -> None:
        """Make the changes that are tried, as one edit.

        Parameters
        ----------
        description : str
            The edit in words.
        """
        made = self._present_trial()
        with self._ending_trial():
            self._put(made, description=description)

    def keep_trial_as_variant(self, name: str) -> None:
        """Store what is tried as a variant; the design stays as it is.

        Parameters
        ----------
        name : str
            Name of the variant.

        Raises
        ------
        DesignProblem
            If the name is in use; then what is tried is shown still.
        """
        made = with_variant(self.design, self._present_trial(), name)
        with self._ending_trial():
            self._put(made, description=f"{name} kept as a variant")

    def _present_trial(self) -> Design:
        if self._trial is None:
            raise DesignProblem("nothing is being tried; choose something first.")
        return self._trial

    @contextmanager
    def _ending_trial(self) -> Iterator[None]:
        """End the trial with the edit in the context, unless it is refused."""
        before = self._trial
        self._trial = None
        try:
            yield
        except DESIGN_REFUSALS:
            self._trial = before
            raise

    def _notify_ahead(self) -> None:
        self._follow_design()
        super()._notify_ahead()

    def _notify(self) -> None:
        self._follow_design()
        super()._notify()

    def _follow_design(self) -> None:
        """End a trial of another design, or go on with it on one that looks the same."""
        before, now = self._tried_on, self.design
        if self._trial is None or before is now or before is None:
            return
        self._trial, self._tried_on = None, now
        if pictured(before) == pictured(now):
            with suppress(*DESIGN_REFUSALS):
                self._trial = with_changes(now, self._tried)
