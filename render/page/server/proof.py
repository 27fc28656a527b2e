"""Proof that a request comes from the page itself, and not from somebody who has its cookie.

A browser keeps one set of cookies for all ports of a machine, so every other server on this machine
gets the cookie of each browser that visits it; the same holds for a guest's machine. The storage of
our page can only be read by a page of the same scheme, host and port (HTML, section 12.2).
Therefore the cookie opens only the empty page and its scripts. The page secret, which is given once
for a key, is sent in a header with every request that reads or changes the design. The addresses of
sockets, files and pictures, to which a browser adds no header, are given to the page alone and are
unguessable. This does not protect against programs that can read the browser's files or memory.
"""

import hmac
import secrets
from collections import OrderedDict
from enum import Enum
from hashlib import sha256

from aiohttp import web

from render.page.server.roles import Session

__all__ = ["PAGE_HEADER", "PROVEN", "Proof", "Tickets", "is_same", "unguessable"]

PAGE_HEADER = "Turnlight-Page"
"""Header with the page secret; ``entry.js`` names it too."""

PROVEN = web.RequestKey("PROVEN", bool)
"""Key under which a request holds whether it has the page secret of its session."""

_MOST_TICKETS = 16
"""Valid tickets of one session; a tab uses its ticket immediately."""

_MOST_SESSIONS = 128

_BYTES = 16


class Proof(Enum):
    """Proof that a request must have in addition to a session's cookie."""

    NONE = "none"
    """None: the response is the same for everybody."""
    SECRET = "secret"
    """The page secret, in a header."""
    ADDRESS = "address"
    """An unguessable part of its address, which the handler checks."""


def unguessable() -> str:
    """Make an unguessable part of an address: 128 bits, in lower-case hexadecimal."""
    return secrets.token_hex(_BYTES)


def is_same(given: str, known: str) -> bool:
    """Compare a part of an address in constant time.

    Parameters
    ----------
    given : str
        As received from a client.
    known : str
        The valid value.
    """
    return hmac.compare_digest(_digest(given), _digest(known))


class Tickets:
    """Tickets in the addresses of sockets, each valid for one socket of one session."""

    def __init__(self) -> None:
        # By digest, so that the time of a look-up reveals nothing about the tickets.
        self._issued: OrderedDict[Session, list[bytes]] = OrderedDict()

    def issue(self, session: Session) -> str:
        """Make a ticket; only the newest tickets of a session are valid.

        Parameters
        ----------
        session : Session
        """
        ticket = unguessable()
        mine = self._issued.pop(session, [])
        self._issued[session] = [*mine, _digest(ticket)][-_MOST_TICKETS:]
        if len(self._issued) > _MOST_SESSIONS:
            self._issued.popitem(last=False)
        return ticket

    def take(self, ticket: str, session: Session) -> bool:
        """Return whether a ticket is valid for a session, and invalidate it.

        Parameters
        ----------
        ticket : str
            As received from a client.
        session : Session
        """
        mine = self._issued.get(session, [])
        digest = _digest(ticket)
        if digest not in mine:
            return False
        mine.remove(digest)
        return True


def _digest(text: str) -> bytes:
    return sha256(text.encode("utf-8", "surrogateescape")).digest()
