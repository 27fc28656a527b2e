"""One way into the page: a port, who comes by it, and what the address must be."""

import ipaddress
from dataclasses import dataclass, field

from render.page.server.roles import Role
from render.page.server.sessions import Keys, Sessions

__all__ = ["Entrance", "guest_entrance", "owner_entrance"]

_LOOPBACK_NAMES = frozenset({"127.0.0.1"})
"""Only the address that is listened on: ``localhost`` may lead to ``[::1]``, where another user of
this machine could listen on the same port and be the same origin for a browser."""
_PLAIN_PORT, _TLS_PORT = 80, 443
"""Ports that browsers leave out of an address (RFC 9110, section 4.2)."""


@dataclass(frozen=True, slots=True)
class Entrance:
    """One way into the page.

    Parameters
    ----------
    role : Role
        Of who comes by it.
    port : int
    tls : bool
        Whether it speaks TLS, and only that.
    names : frozenset of str
        Names and addresses by which it may be reached, in lower case, without the port.
    keys : Keys
    sessions : Sessions
    """

    role: Role
    port: int
    tls: bool
    names: frozenset[str]
    keys: Keys = field(repr=False)
    sessions: Sessions = field(repr=False)

    @property
    def cookie(self) -> str:
        """Name of the cookie.

        Browsers keep one set of cookies for all ports of a machine, so the port is part of the
        name. The prefix makes a browser refuse the cookie from anything but this very host by TLS
        (RFC 6265bis, section 4.1.3.2).
        """
        return f"{'__Host-' if self.tls else ''}turnlight-{self.port}"

    def origin(self, host: str) -> str:
        """Give the origin of a page that was asked for by a ``Host`` header."""
        return f"{'https' if self.tls else 'http'}://{host}"

    def address(self, name: str, key: str) -> str:
        """Give an address with a key in it."""
        return f"{self.origin(f'{name}:{self.port}')}/?key={key}"

    def is_own(self, host: str, local: str) -> bool:
        """Say whether a ``Host`` header names this entrance.

        Somebody else's name can be made to lead to this machine (DNS rebinding), but then it is a
        name that is not among ours.

        Parameters
        ----------
        host : str
            Name or address, with the port unless it is the usual one.
        local : str
            Address of this machine to which the connection was made.
        """
        name, colon, port = host.lower().rpartition(":")
        if not colon or port.endswith("]"):
            name, port = host.lower(), str(_TLS_PORT if self.tls else _PLAIN_PORT)
        if port != str(self.port):
            return False
        return name in self.names or (self.tls and _same_address(name, local))


def _same_address(name: str, local: str) -> bool:
    try:
        return ipaddress.ip_address(name.strip("[]")) == ipaddress.ip_address(local)
    except ValueError:
        return False


def owner_entrance(port: int) -> Entrance:
    """Make the builder's own entrance, on this machine alone."""
    return Entrance(Role.OWNER, port, False, _LOOPBACK_NAMES, Keys(once=True), Sessions(Role.OWNER))


def guest_entrance(port: int, names: frozenset[str]) -> Entrance:
    """Make the entrance of guests, on the network; its key lets in as many as have it."""
    return Entrance(Role.GUEST, port, True, names, Keys(once=False), Sessions(Role.GUEST))
