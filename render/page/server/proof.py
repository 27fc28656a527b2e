"""What shows that a request comes from the page itself, and not from whoever has its cookie.

A browser keeps one set of cookies for all ports of a machine, so whatever else listens on this one
gets the cookie of every browser that visits it, a guest's machine likewise. What a page of ours has
in its storage only a page of the same scheme, host and port can read (HTML, section 12.2). So the
cookie opens nothing but the empty page and its scripts. The page secret, given once for a key, is
shown in a header with all that says or changes something of the design. A socket's address and
those of files and pictures, to which a browser adds no header, are told to the page alone and
cannot be guessed. This does not protect against what can read the browser's own files or memory.
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
"""Header in which the page shows its secret; ``entry.js`` names it too."""

PROVEN = web.RequestKey("PROVEN", bool)
"""Key under which a request holds whether the page secret of its session was shown."""

_MOST_TICKETS = 16
"""Of one session; a tab uses its own at once."""

_MOST_SESSIONS = 128

_BYTES = 16


class Proof(Enum):
    """What a request must show beside a session's cookie."""

    NONE = "none"
    """Nothing: what is answered is the same for everybody."""
    SECRET = "secret"
    """The page secret, in a header."""
    ADDRESS = "address"
    """Nothing more than its address, of which a part cannot be guessed; who answers looks at it."""


def unguessable() -> str:
    """Make a part of an address that nobody can guess: 128 bits, in lower case."""
    return secrets.token_hex(_BYTES)


def is_same(given: str, known: str) -> bool:
    """Compare a part of an address, as a client gave it, in a time that tells nothing."""
    return hmac.compare_digest(_digest(given), _digest(known))


class Tickets:
    """Addresses of sockets, each good for one socket of the session that asked for it."""

    def __init__(self) -> None:
        # By digest, so that the time a look-up takes tells nothing of the tickets.
        self._issued: OrderedDict[Session, list[bytes]] = OrderedDict()

    def issue(self, session: Session) -> str:
        """Make a ticket; of a session's own only the newest few are good."""
        ticket = unguessable()
        mine = self._issued.pop(session, [])
        self._issued[session] = [*mine, _digest(ticket)][-_MOST_TICKETS:]
        if len(self._issued) > _MOST_SESSIONS:
            self._issued.popitem(last=False)
        return ticket

    def take(self, ticket: str, session: Session) -> bool:
        """Say whether a ticket is good for a session; it is spent by that."""
        mine = self._issued.get(session, [])
        digest = _digest(ticket)
        if digest not in mine:
            return False
        mine.remove(digest)
        return True


def _digest(text: str) -> bytes:
    return sha256(text.encode("utf-8", "surrogateescape")).digest()
