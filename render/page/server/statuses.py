"""The sentence in the status line of each client.

A sentence about something that a client has done is for that client alone. What concerns everybody,
such as an interrupted drawing, is for all tabs of the owner, and for guests only if they may know.
Every sentence lasts until the next one, and at most until the design changes: it is no longer true
then.
"""

from collections.abc import Mapping
from typing import Any

from render.page.server.roles import Role
from render.page.server.sockets import Client, Sockets

__all__ = ["Statuses"]


class Statuses:
    """The status lines of a page.

    Parameters
    ----------
    sockets : Sockets
    """

    def __init__(self, sockets: Sockets) -> None:
        self._sockets = sockets
        self._of_role = dict.fromkeys(Role, "")
        self._of_client: dict[int, str] = {}
        sockets.add_own_state(self._state_of)
        sockets.on_disconnect(self._left)

    @property
    def of_owner(self) -> str:
        """The sentence for all tabs of the owner."""
        return self._of_role[Role.OWNER]

    def show_to(self, client: Client, sentence: str) -> None:
        """Show a sentence to one client.

        Parameters
        ----------
        client : Client
        sentence : str
        """
        self._of_client[client.number] = sentence
        client.outgoing.state(self._state_of(client))

    def show(self, sentence: str, *, guests: bool) -> None:
        """Show a sentence to all tabs of the owner.

        Parameters
        ----------
        sentence : str
        guests : bool
            Whether guests see it too.
        """
        for role in (Role.OWNER, Role.GUEST) if guests else (Role.OWNER,):
            self._show_to_role(role, sentence)

    def clear(self) -> None:
        """Remove all sentences: the design has changed."""
        for role in Role:
            self._show_to_role(role, "")

    def _left(self, client: Client) -> None:
        self._of_client.pop(client.number, None)

    def _show_to_role(self, role: Role, sentence: str) -> None:
        clients = [client for client in self._sockets.clients if client.session.role is role]
        before = [self._state_of(client) for client in clients]
        self._of_role[role] = sentence
        for client, shown in zip(clients, before, strict=True):
            self._of_client.pop(client.number, None)
            if self._state_of(client) != shown:
                client.outgoing.state(self._state_of(client))

    def _state_of(self, client: Client) -> Mapping[str, Any]:
        of_role = self._of_role[client.session.role]
        return {"page_status": self._of_client.get(client.number, of_role)}
