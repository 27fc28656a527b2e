"""One entrance to the page: a port, the role of its clients, and its valid addresses."""

import ipaddress
from dataclasses import dataclass, field

from render.page.server.roles import Role
from render.page.server.sessions import Keys, Sessions

__all__ = ["Entrance", "guest_entrance", "owner_entrance"]

_LOOPBACK_NAMES = frozenset({"127.0.0.1"})
"""Only the address of the listener: ``localhost`` may resolve to ``[::1]``, where another user of
this machine could listen on the same port and have the same origin for a browser."""
_PLAIN_PORT, _TLS_PORT = 80, 443
"""Ports that browsers leave out of an address (RFC 9110, section 4.2)."""


@dataclass(frozen=True, slots=True)
class Entrance:
    """One entrance to the page.

    Parameters
    ----------
    role : Role
        Role of the clients that use it.
    port : int
    tls : bool
        Whether it uses TLS, and only TLS.
    names : frozenset of str
        Valid host names and addresses, in lower case, without the port.
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
        name. The prefix makes a browser accept the cookie only from this host by TLS (RFC
        6265bis, section 4.1.3.2).
        """
        return f"{'__Host-' if self.tls else ''}turnlight-{self.port}"

    def origin(self, host: str) -> str:
        """Origin of a page that was requested with a ``Host`` header.

        Parameters
        ----------
        host : str
            Value of the header.
        """
        return f"{'https' if self.tls else 'http'}://{host}"

    def address(self, name: str, key: str) -> str:
        """Address of the page with a key.

        Parameters
        ----------
        name : str
            Host name or address.
        key : str
        """
        return f"{self.origin(f'{name}:{self.port}')}/?key={key}"

    def is_own(self, host: str, local: str) -> bool:
        """Return whether a ``Host`` header names this entrance.

        A stranger's host name can be made to resolve to this machine (DNS rebinding), but it is not
        among the valid names.

        Parameters
        ----------
        host : str
            Value of the header: name or address, with the port unless it is the default one.
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
    """Make the builder's entrance, on this machine only.

    Parameters
    ----------
    port : int
    """
    return Entrance(Role.OWNER, port, False, _LOOPBACK_NAMES, Keys(once=True), Sessions(Role.OWNER))


def guest_entrance(port: int, names: frozenset[str]) -> Entrance:
    """Make the guests' entrance, on the network; its key admits any number of guests.

    Parameters
    ----------
    port : int
    names : frozenset of str
        Valid host names and addresses, in lower case.
    """
    return Entrance(Role.GUEST, port, True, names, Keys(once=False), Sessions(Role.GUEST))
