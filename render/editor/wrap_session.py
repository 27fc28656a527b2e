"""A document session in which the wraps of a rod are worked at one by one."""

from render.editor.pending import PendingValue
from render.editor.trial import TrialSession
from scenes.design import paths
from scenes.design.document import document_of
from scenes.design.rod import at_wrap, wrap_names
from scenes.editing import wrap_edits
from scenes.parts.layer import LayerModel
from scenes.problems import DESIGN_REFUSALS, DesignProblem
from scenes.starting.further_wrap import layers_of_kind
from scenes.starting.wrap_kinds import wrap_kind

__all__ = ["WrapSession"]


class WrapSession(TrialSession):
    """A session whose design is seen from one wrap of the rod: the one that is worked at.

    All edits are made on the design as it is seen, and written back into the document.
    """

    @property
    def wrap_name(self) -> str:
        """Name of the wrap that is worked at."""
        return self.design.wrap_name

    @property
    def wrap_names(self) -> tuple[str, ...]:
        """Names of all wraps, in the order of the document."""
        return wrap_names(self._history.now.document)

    def work_at(self, name: str) -> list[PendingValue]:
        """Look at the rod from one of its wraps, which edits are made on from now on.

        Parameters
        ----------
        name : str
            Name of the wrap.

        Returns
        -------
        list of PendingValue
            Pending values of the former wrap, which are dropped.

        Raises
        ------
        DesignProblem
            If there is no such wrap.
        """
        if name == self.wrap_name:
            return []
        before = document_of(self.design)
        self._history.work_at(name)
        dropped = [one for one in self.pending.values() if _is_of_wrap(before, one.path)]
        for one in dropped:
            del self.pending[one.path]
        self._examined = self.design
        self.revision += 1
        self._notify_ahead()
        if dropped:
            self._autosave()
        self._notify()
        return dropped

    def add_wrap(self, kind: str = "") -> None:
        """Add a wrap where the blank is free, and work at that.

        Parameters
        ----------
        kind : str
            Name of a kind of wrap to begin with; a copy of the wrap that is worked at if empty.

        Raises
        ------
        DesignProblem
            If there is no such kind, or no place for it.
        """
        document = self._history.now.document

        def laid(start: float, end: float) -> tuple[LayerModel, ...]:
            return layers_of_kind(document, kind, start, end, self.shelf)

        if kind:
            wrap_kind(kind)  # refuses a wrong name
        made = wrap_edits.added(document, self.wrap_name, laid if kind else None)
        name = made.wraps[-1].name
        self._put(at_wrap(made, self.wrap_name), description=f"{name} added")
        self.work_at(name)

    def rename_wrap(self, new: str) -> None:
        """Give the wrap that is worked at another name.

        Parameters
        ----------
        new : str

        Raises
        ------
        DesignProblem
            If it is no name, or another wrap has it.
        """
        old = self.wrap_name
        self._put(wrap_edits.renamed(self.design, new), description=f"{old} is {new} now")

    def remove_wrap(self) -> None:
        """Remove the wrap that is worked at, and work at the first of those that are left.

        Raises
        ------
        DesignProblem
            If it is the only one.
        """
        name = self.wrap_name
        made = wrap_edits.removed(self._history.now.document, name)
        self._history.work_at(made.wrap_name)
        before, self.pending = self.pending, {}
        try:
            self._put(made, description=f"{name} removed")
        except DESIGN_REFUSALS:
            self._history.work_at(name)
            self.pending = before
            raise
        # Undone, the wrap is worked at again.
        self._history.work_at(name, self._history.at - 1)

    def reload(self) -> None:
        """Read the document's file again and discard unsaved work; the wrap stays, if it can.

        Raises
        ------
        DesignProblem
        """
        name = self.wrap_name
        super().reload()
        if name in self.wrap_names:
            self.work_at(name)


def _is_of_wrap(document: dict[str, object], path: str) -> bool:
    """Whether a path leads into the wrap that is worked at, and not to something of the rod."""
    try:
        return paths.route(document, path)[0] in ("placement", "layers", "finish")
    except DesignProblem:
        return True
