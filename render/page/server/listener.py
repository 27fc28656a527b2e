"""Acceptance of connections: their number, their time limits, and those without a session.

asyncio's own server accepts every connection, waits a minute for a handshake and an hour for a
request. A client that opens idle connections could thus use up the files that the process may
open, and lock the builder out. Here the connection that has been idle longest is closed for a new
one.
"""

import asyncio
import errno
import socket
import ssl
from asyncio import sslproto
from dataclasses import dataclass, field
from typing import Any

from aiohttp import web

from render.page.server.entrance import Entrance
from render.page.server.headers import refusal
from render.page.server.limited_log import LimitedLog
from render.page.server.roles import Role, Session

__all__ = ["Connection", "Limits", "Listener"]

_PATIENCE = 10.0
"""Seconds for a handshake and a first request with a session or a key."""

_KEEP_ALIVE = 75.0
"""Seconds that an idle connection of a session stays open."""

_LINGER = 2.0
"""Seconds in which the rest of a refused upload is read and discarded."""

_SHUTDOWN = 2.0
"""Seconds for the end of a TLS connection."""

_MOST_LINE, _MOST_FIELD, _MOST_FIELDS = 8190, 8190, 64
"""Bytes of a request's first line and of each header, and how many headers there may be."""

_TLS_BUFFER = 16_384
"""Bytes that a TLS connection reads at once."""

_BACKLOG = 128
_PAUSE = 0.02
"""Seconds until accepting is tried again when no file can be opened."""

_CLOSED_AT_ONCE = 8
"""Connections without a session that are closed then, the oldest first."""

_EXHAUSTED = {errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM}

_log = LimitedLog("turnlight.listener")


@dataclass(frozen=True, slots=True)
class Limits:
    """Most connections of a listener.

    Parameters
    ----------
    strangers : int
        Without a session.
    of_address : int
        Without a session, from one address.
    session : int
        Of one session; a browser opens six and one for each tab's websocket.
    all_of_address : int
        With or without a session, from one address.
    all : int
        Altogether.
    """

    strangers: int
    of_address: int
    session: int
    all_of_address: int
    all: int


# Together below the limit of 256 files of some systems, with room for the program's own files.
_LIMITS = {
    # Here every address is this machine's.
    Role.OWNER: Limits(strangers=48, of_address=48, session=32, all_of_address=96, all=96),
    Role.GUEST: Limits(strangers=32, of_address=12, session=16, all_of_address=28, all=64),
}


class Connection(web.RequestHandler):
    """A connection for HTTP, which may become a websocket."""

    def __init__(self, server: web.Server, entry: "_Entry", listener: "Listener") -> None:
        super().__init__(
            server,
            loop=asyncio.get_running_loop(),
            keepalive_timeout=_KEEP_ALIVE,
            lingering_time=_LINGER,
            max_line_size=_MOST_LINE,
            max_field_size=_MOST_FIELD,
            max_headers=_MOST_FIELDS,
            access_log=None,  # type: ignore[arg-type]  # None is for none, as in aiohttp's own runner
        )
        self._entry = entry
        self._listener = listener

    @property
    def entrance(self) -> Entrance:
        """The entrance that the client uses."""
        return self._listener.entrance

    @property
    def sessions(self) -> frozenset[Session]:
        """Sessions that have a connection to the same listener."""
        return self._listener.sessions

    def admit(self, session: Session) -> bool:
        """Assign the connection to a session; False if the session has too many already.

        Parameters
        ----------
        session : Session
        """
        return self._listener.admit(self._entry, session)

    def prove(self) -> None:
        """Record that the connection has proved to be the page's, not only to have its cookie."""
        self._entry.proven = True

    def handle_error(
        self,
        request: web.BaseRequest,
        status: int = 500,
        exc: BaseException | None = None,
        message: str | None = None,
    ) -> web.StreamResponse:
        """Respond to a malformed request, or to a failure of a handler.

        Parameters
        ----------
        request : aiohttp BaseRequest
        status : int
            HTTP status.
        exc : exception, optional
        message : str, optional
            Not used.
        """
        if status >= 500:
            _log.warning("failed", "An answer of the page failed.", fault=exc)
        else:
            _log.warning("malformed", f"Refused a request from {self._entry.address}: not HTTP.")
        if request.writer.output_size > 0:
            raise ConnectionError("The answer had begun already.")
        sentence = (
            "That went wrong in Turnlight itself; the terminal tells more."
            if status >= 500
            else "This is not a proper HTTP request."
        )
        return refusal(status, sentence)


@dataclass(slots=True, eq=False)
class _Entry:
    """An accepted connection, also before it has a protocol."""

    socket: socket.socket
    address: str
    session: Session | None = None
    proven: bool = False
    protocol: Connection | None = None
    task: "asyncio.Task[None] | None" = None
    deadline: asyncio.TimerHandle | None = field(default=None, repr=False)

    @property
    def open(self) -> bool:
        return self.socket.fileno() != -1

    def cut(self) -> None:
        """Close immediately, whatever is under way."""
        transport = self.protocol and self.protocol.transport
        if isinstance(transport, asyncio.Transport):
            transport.abort()
        elif self.task is not None:
            self.task.cancel()  # during the handshake


class Listener:
    """A bound port and the connections to it.

    Parameters
    ----------
    bound : socket.socket
        Listening socket; `close` closes it.
    entrance : Entrance
    context : ssl.SSLContext, optional
        Required if the entrance uses TLS.
    limits : Limits, optional
        By default those of the entrance's role.
    patience : float
        Seconds for a handshake and a first request with a session or a key.
    """

    def __init__(
        self,
        bound: socket.socket,
        entrance: Entrance,
        context: ssl.SSLContext | None = None,
        *,
        limits: Limits | None = None,
        patience: float = _PATIENCE,
    ) -> None:
        self.entrance = entrance
        self._socket = bound
        self._context = context
        self._limits = limits or _LIMITS[entrance.role]
        self._patience = patience
        self._entries: list[_Entry] = []
        self._accepting: asyncio.Task[None] | None = None
        if context is not None:
            # Each connection allocates this many bytes, and is freed only by Python's collector of
            # reference cycles. A TLS record has at most 16 KiB (RFC 8446, section 5.1); asyncio
            # would allocate 256 KiB.
            sslproto.SSLProtocol.max_size = _TLS_BUFFER

    @staticmethod
    def bind(host: str, port: int) -> socket.socket:
        """Bind a port and listen on it.

        Parameters
        ----------
        host : str
            Address of this machine.
        port : int
            0 for a free one.

        Raises
        ------
        OSError
            If it cannot be bound.
        """
        bound = socket.create_server((host, port), backlog=_BACKLOG)
        bound.setblocking(False)
        return bound

    def start(self, server: web.Server) -> None:
        """Start to accept connections.

        Parameters
        ----------
        server : aiohttp Server
            Handles their requests.
        """
        self._accepting = asyncio.ensure_future(self._accept(server))

    async def close(self) -> None:
        """Stop accepting, and close connections without a session."""
        if self._accepting is not None:
            self._accepting.cancel()
            await asyncio.wait({self._accepting})
        self._socket.close()
        for entry in self._entries:
            if entry.deadline is not None:
                entry.deadline.cancel()
            if entry.session is None:
                entry.cut()

    @property
    def sessions(self) -> frozenset[Session]:
        """Sessions that have an open connection."""
        return frozenset(entry.session for entry in self._entries if entry.open and entry.session)

    def admit(self, entry: _Entry, session: Session) -> bool:
        """Assign a connection to a session; False if the session has too many already.

        Connections that have only shown the cookie are closed to make room, because others may
        have the cookie (see `proof`).

        Parameters
        ----------
        entry : _Entry
            The connection.
        session : Session
        """
        held = [other for other in self._entries if other.open and other.session == session]
        if entry.session != session and len(held) >= self._limits.session:
            unproven = [other for other in held if not other.proven]
            if not unproven:
                return False
            self._make_room(unproven[:1])
        entry.session = session
        if entry.deadline is not None:
            entry.deadline.cancel()
        return True

    async def _accept(self, server: web.Server) -> None:
        loop = asyncio.get_running_loop()
        while True:
            try:
                accepted, peer = await loop.sock_accept(self._socket)
            except OSError as error:
                if error.errno in _EXHAUSTED:
                    _log.warning("files", "Turnlight may open no more files; new connections wait.")
                    self._make_room(self._strangers()[:_CLOSED_AT_ONCE])
                # Otherwise a client was gone before it was accepted.
                await asyncio.sleep(_PAUSE)
                continue
            self._take(server, accepted, str(peer[0]))
            # A flood of connections that is accepted without a pause would starve other tasks.
            await asyncio.sleep(0)

    def _strangers(self) -> list[_Entry]:
        self._entries = [entry for entry in self._entries if entry.open]
        return [entry for entry in self._entries if entry.session is None]

    def _make_room(self, strangers: list[_Entry]) -> None:
        for entry in strangers:
            entry.cut()
            self._entries.remove(entry)

    def _take(self, server: web.Server, accepted: socket.socket, address: str) -> None:
        strangers = self._strangers()
        neighbours = [entry for entry in strangers if entry.address == address]
        of_address = sum(entry.address == address for entry in self._entries)
        crowded = len(neighbours) >= self._limits.of_address
        if (crowded and self._context is not None) or of_address >= self._limits.all_of_address:
            # A handshake costs more than closing another connection would gain.
            _log.warning("address", f"Too many connections of {address}; more are not taken.")
            accepted.close()
            return
        if crowded:
            _log.warning("idle", f"Many connections without a session, of {address}.")
            self._make_room(neighbours[:1])  # the oldest
        elif len(strangers) >= self._limits.strangers or len(self._entries) >= self._limits.all:
            _log.warning("idle", "Many connections without a session.")
            self._make_room(strangers[:1])
        if len(self._entries) >= self._limits.all:
            accepted.close()
            return
        entry = _Entry(accepted, address)
        self._entries.append(entry)
        loop = asyncio.get_running_loop()
        entry.deadline = loop.call_later(self._patience, entry.cut)
        entry.task = asyncio.ensure_future(self._connect(server, entry))

    async def _connect(self, server: web.Server, entry: _Entry) -> None:
        def protocol() -> Connection:
            entry.protocol = Connection(server, entry, self)
            return entry.protocol

        tls: dict[str, Any] = {}
        if self._context is not None:
            tls = {
                "ssl": self._context,
                "ssl_handshake_timeout": self._patience,
                "ssl_shutdown_timeout": _SHUTDOWN,
            }
        loop = asyncio.get_running_loop()
        try:
            await loop.connect_accepted_socket(protocol, entry.socket, **tls)
        except OSError:
            entry.socket.close()  # the handshake failed, or the client has disconnected
        except asyncio.CancelledError:
            entry.socket.close()
            raise
