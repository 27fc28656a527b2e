"""Whether guests may change the design: the builder's to say, and no until he says so."""

from collections.abc import Callable
from typing import Any

from render.page.server import roles
from render.page.server.arguments import Flag
from render.page.server.methods import Methods
from render.page.server.roles import Right, Session

__all__ = ["Sharing"]


class Sharing:
    """What guests of a page may do.

    Parameters
    ----------
    state : State
        The framework's state; it only shows what is decided here.
    shared : bool
        Whether there can be guests.
    """

    def __init__(self, state: Any, *, shared: bool) -> None:
        self._state = state
        self._guests_edit = False
        self._changed: list[Callable[[], None]] = []
        state.page_shared = shared
        state.guests_edit = False

    def declare(self, methods: Methods) -> None:
        """Let the owner's page ask for it."""
        methods.declare("guests_edit", Right.OWN, self.let_guests_edit)

    def on_change(self, callback: Callable[[], None]) -> None:
        """Call back when guests may do something else."""
        self._changed.append(callback)

    def rights_of(self, session: Session) -> frozenset[Right]:
        """Give the rights of a client as they are now."""
        return roles.rights_of(session.role, guests_edit=self._guests_edit)

    def let_guests_edit(self, allowed: Flag) -> None:
        """Let guests change the open design, or no longer."""
        self._guests_edit = self._state.guests_edit = allowed
        for callback in self._changed:
            callback()
