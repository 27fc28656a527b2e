"""Keys, which let a browser in, and sessions, which keep it in.

A key stands in an address and so may be seen: in a browser's history, over a shoulder. The
builder's keys therefore work once. What a browser then shows with each request is another secret,
in a cookie that no address ever holds. Both are random for each run of the program and end with it.
What only a page of ours can show beside the cookie is its session's page secret (see `proof`).
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
"""Without those that are mistaken for one another when a key is typed on a tablet."""

_GROUPS, _GROUP = 4, 5
"""A key of 20 letters holds 99 bits (log2 of 31 to the 20th)."""

_SECRET_BYTES = 32

MOST_SESSIONS = 32
"""Sessions of one listener; the one unused for longest makes room for another."""


def _digest(text: str) -> bytes:
    # What a client sends may hold bytes that are no text, which aiohttp keeps as surrogates.
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).digest()


class Keys:
    """Keys of one listener.

    Parameters
    ----------
    once : bool
        Whether each key works a single time.
    """

    def __init__(self, *, once: bool) -> None:
        self._once = once
        self._issued: dict[bytes, Callable[[], None] | None] = {}

    def issue(self, on_use: Callable[[], None] | None = None) -> str:
        """Make a key.

        Parameters
        ----------
        on_use : callable, optional
            Called each time the key has let somebody in.

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
        """Say whether a key is valid; one that works once is spent by that.

        Parameters
        ----------
        given : str
            As a client sent it.

        Returns
        -------
        bool
        """
        digest = _digest(given)
        # Every key is compared, and each in constant time: how long it takes tells nothing.
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
        Of every client that comes by this listener.
    most : int
        Sessions at a time.
    """

    def __init__(self, role: Role, most: int = MOST_SESSIONS) -> None:
        self._role = role
        self._most = most
        self._seal = secrets.token_bytes(_SECRET_BYTES)
        # By digest, so that the time a look-up takes tells nothing of the secrets.
        self._sessions: OrderedDict[bytes, _Begun] = OrderedDict()

    def begin(self, address: str = "", used: Container[Session] = ()) -> tuple[str, Session]:
        """Begin a session; where there are too many already, another ends.

        Parameters
        ----------
        address : str
            Whence the client comes.
        used : container of Session
            Those with a connection.

        Returns
        -------
        secret : str
            For the cookie.
        session : Session
        """
        if len(self._sessions) >= self._most:
            del self._sessions[self._least_missed(used)]
        secret = secrets.token_urlsafe(_SECRET_BYTES)
        session = Session(secrets.token_hex(4), self._role)
        self._sessions[_digest(secret)] = _Begun(session, address)
        return secret, session

    def _least_missed(self, used: Container[Session]) -> bytes:
        """Choose a session to end.

        One that nobody has open, if there is one; of those one of the address that has most, for
        who comes again and again must not end other people's; of those the one unused for longest.
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
        """Find the session of a secret; None where there is none.

        Parameters
        ----------
        secret : str
            As a client sent it.
        """
        digest = _digest(secret)
        begun = self._sessions.get(digest)
        if begun is None:
            return None
        self._sessions.move_to_end(digest)
        return begun.session

    def page_secret(self, session: Session) -> str:
        """Give what a page of a session shows beside the cookie.

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
        """Say whether what a client sent is the page secret of a session.

        Parameters
        ----------
        given : str
            As the client sent it.
        session : Session
            Begun here.
        """
        # Digests, because texts that are not ASCII cannot be compared so.
        return hmac.compare_digest(_digest(given), _digest(self.page_secret(session)))
