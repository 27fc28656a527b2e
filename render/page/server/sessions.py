"""Keys, which admit a browser, and the sessions that they begin.

A key is part of an address and may be seen in a browser's history or over a shoulder. The builder's
keys therefore work once. Afterwards a browser sends another secret with each request, in a cookie,
which is never part of an address. Both are random for each run of the program and end with it. Only
our own page can also send its session's page secret (see `proof`).
"""

import hashlib
import hmac
import secrets
from collections import Counter, OrderedDict
from collections.abc import Callable, Container
from dataclasses import dataclass

from render.page.server.roles import Role, Session

__all__ = ["MOST_SESSIONS", "Keys", "Sessions"]

_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Characters of keys, without those that look alike when a key is typed on a tablet."""

_GROUPS, _GROUP = 4, 5
"""A key of 20 letters holds 99 bits (log2 of 31 to the 20th)."""

_SECRET_BYTES = 32

MOST_SESSIONS = 32
"""Most sessions of one listener; the least recently used one is ended for another."""


def _digest(text: str) -> bytes:
    # A client may send bytes that are no text, which aiohttp keeps as surrogates.
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).digest()


class Keys:
    """Keys of one listener.

    Parameters
    ----------
    once : bool
        Whether each key works only once.
    """

    def __init__(self, *, once: bool) -> None:
        self._once = once
        self._issued: dict[bytes, Callable[[], None] | None] = {}

    def issue(self, on_use: Callable[[], None] | None = None) -> str:
        """Make a key.

        Parameters
        ----------
        on_use : callable, optional
            Called each time the key has been accepted.

        Returns
        -------
        str
            Twenty letters and digits, in groups of five.
        """
        groups = ("".join(secrets.choice(_LETTERS) for _ in range(_GROUP)) for _ in range(_GROUPS))
        key = "-".join(groups)
        self._issued[_digest(key)] = on_use
        return key

    def accept(self, given: str) -> bool:
        """Return whether a key is valid; a key that works once is invalidated.

        Parameters
        ----------
        given : str
            As received from a client.

        Returns
        -------
        bool
        """
        digest = _digest(given)
        # Every key is compared, each in constant time: the duration reveals nothing.
        fitting = [known for known in self._issued if hmac.compare_digest(known, digest)]
        if not fitting:
            return False
        on_use = self._issued.pop(digest) if self._once else self._issued[digest]
        if on_use is not None:
            on_use()
        return True


@dataclass(frozen=True, slots=True)
class _Begun:
    session: Session
    address: str


class Sessions:
    """Sessions of one listener, by the secret in the cookie.

    Parameters
    ----------
    role : Role
        Role of all clients of this listener.
    most : int
        Most sessions at a time.
    """

    def __init__(self, role: Role, most: int = MOST_SESSIONS) -> None:
        self._role = role
        self._most = most
        self._seal = secrets.token_bytes(_SECRET_BYTES)
        # By digest, so that the time of a look-up reveals nothing about the secrets.
        self._sessions: OrderedDict[bytes, _Begun] = OrderedDict()

    def begin(self, address: str = "", used: Container[Session] = ()) -> tuple[str, Session]:
        """Begin a session; where there are too many already, another one is ended.

        Parameters
        ----------
        address : str
            IP address of the client.
        used : container of Session
            Sessions with an open connection.

        Returns
        -------
        secret : str
            For the cookie.
        session : Session
        """
        if len(self._sessions) >= self._most:
            del self._sessions[self._to_end(used)]
        secret = secrets.token_urlsafe(_SECRET_BYTES)
        session = Session(secrets.token_hex(4), self._role)
        self._sessions[_digest(secret)] = _Begun(session, address)
        return secret, session

    def _to_end(self, used: Container[Session]) -> bytes:
        """Choose a session to end.

        Sessions without a connection come first. Among those, sessions of the address that has the
        most, so that a client that begins many sessions does not end those of others. Among those,
        the least recently used one.
        """
        shares = Counter(begun.address for begun in self._sessions.values())
        return min(
            self._sessions,
            key=lambda digest: (
                self._sessions[digest].session in used,
                -shares[self._sessions[digest].address],
            ),
        )

    def find(self, secret: str) -> Session | None:
        """Find the session of a secret; None if there is none.

        Parameters
        ----------
        secret : str
            As received from a client.
        """
        digest = _digest(secret)
        begun = self._sessions.get(digest)
        if begun is None:
            return None
        self._sessions.move_to_end(digest)
        return begun.session

    def page_secret(self, session: Session) -> str:
        """The page secret of a session, which its page sends in addition to the cookie.

        Parameters
        ----------
        session : Session
            Begun here.

        Returns
        -------
        str
            256 bits in hexadecimal; always the same for a session, and for no other.
        """
        return hmac.new(self._seal, session.name.encode(), hashlib.sha256).hexdigest()

    def is_page_secret(self, given: str, session: Session) -> bool:
        """Return whether a text is the page secret of a session.

        Parameters
        ----------
        given : str
            As received from a client.
        session : Session
            Begun here.
        """
        # Digests, because `compare_digest` takes only ASCII text.
        return hmac.compare_digest(_digest(given), _digest(self.page_secret(session)))
