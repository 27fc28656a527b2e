"""The builder's decision whether guests may change the design; they may not by default."""

from collections.abc import Callable
from typing import Any

from render.page.server import roles
from render.page.server.arguments import Flag
from render.page.server.methods import Methods
from render.page.server.roles import Right, Session

__all__ = ["Sharing"]


class Sharing:
    """Rights of the guests of a page.

    Parameters
    ----------
    state : State
        The framework's state, which displays the decision.
    shared : bool
        Whether the page can have guests.
    """

    def __init__(self, state: Any, *, shared: bool) -> None:
        self._state = state
        self._guests_edit = False
        self._changed: list[Callable[[], None]] = []
        state.page_shared = shared
        state.guests_edit = False

    def declare(self, methods: Methods) -> None:
        """Declare the owner's method that changes the decision.

        Parameters
        ----------
        methods : Methods
        """
        methods.declare("guests_edit", Right.OWN, self.let_guests_edit)

    def on_change(self, callback: Callable[[], None]) -> None:
        """Register a callback for changes of the guests' rights.

        Parameters
        ----------
        callback : callable
            Called without arguments.
        """
        self._changed.append(callback)

    def rights_of(self, session: Session) -> frozenset[Right]:
        """Return the present rights of a session.

        Parameters
        ----------
        session : Session
        """
        return roles.rights_of(session.role, guests_edit=self._guests_edit)

    def let_guests_edit(self, allowed: Flag) -> None:
        """Allow guests to change the open design, or withdraw that.

        Parameters
        ----------
        allowed : Flag
        """
        self._guests_edit = self._state.guests_edit = allowed
        for callback in self._changed:
            callback()
