"""Accepting connections: how many, for how long, and what becomes of those without a session.

asyncio's own server accepts whatever comes, waits a minute for a handshake and an hour for a
request. Whoever opens connections and says nothing then holds every file that the process may have
open, and locks the builder out. Here the one that has waited longest makes room.
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
"""Seconds for a handshake and a first request that shows a session or a key."""

_KEEP_ALIVE = 75.0
"""Seconds that an idle connection of a session stays open."""

_LINGER = 2.0
"""Seconds in which the rest of a refused upload is read and thrown away."""

_SHUTDOWN = 2.0
"""Seconds for the end of a TLS connection."""

_MOST_LINE, _MOST_FIELD, _MOST_FIELDS = 8190, 8190, 64
"""Bytes of a request's first line and of each header, and how many headers there may be."""

_TLS_BUFFER = 16_384
"""Bytes that a TLS connection reads at once."""

_BACKLOG = 128
_PAUSE = 0.02
"""Seconds until accepting is tried again when no file can be opened."""

_AT_A_TIME = 8
"""Connections without a session that are cut then, the oldest first."""

_EXHAUSTED = {errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM}

_log = LimitedLog("turnlight.listener")


@dataclass(frozen=True, slots=True)
class Limits:
    """How many connections a listener holds.

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
    """

    strangers: int
    of_address: int
    session: int
    all_of_address: int
    all: int


# Together below the 256 files that some systems allow a process, with room for its own.
_LIMITS = {
    # Here every address is this machine's.
    Role.OWNER: Limits(strangers=48, of_address=48, session=32, all_of_address=96, all=96),
    Role.GUEST: Limits(strangers=32, of_address=12, session=16, all_of_address=28, all=64),
}


class Connection(web.RequestHandler):
    """A connection that speaks HTTP, or a websocket in the end."""

    def __init__(self, server: web.Server, line: "_Line", listener: "Listener") -> None:
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
        self._line = line
        self._listener = listener

    @property
    def entrance(self) -> Entrance:
        """The way by which the client came."""
        return self._listener.entrance

    @property
    def sessions(self) -> frozenset[Session]:
        """Sessions that have a connection to the same listener."""
        return self._listener.sessions

    def admit(self, session: Session) -> bool:
        """Count the connection to a session; False where that has too many already."""
        return self._listener.admit(self._line, session)

    def prove(self) -> None:
        """Note that the page itself uses the connection, and not only who has its cookie."""
        self._line.proven = True

    def handle_error(
        self,
        request: web.BaseRequest,
        status: int = 500,
        exc: BaseException | None = None,
        message: str | None = None,
    ) -> web.StreamResponse:
        """Answer what is no proper request, or what an answer failed at."""
        if status >= 500:
            _log.warning("failed", "An answer of the page failed.", fault=exc)
        else:
            _log.warning("malformed", f"Refused a request from {self._line.address}: not HTTP.")
        if request.writer.output_size > 0:
            raise ConnectionError("The answer had begun already.")
        sentence = (
            "That went wrong in Turnlight itself; the terminal tells more."
            if status >= 500
            else "This is not a proper HTTP request."
        )
        return refusal(status, sentence)


@dataclass(slots=True, eq=False)
class _Line:
    """A connection from the moment when it was accepted."""

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
        """Close at once, whatever is under way."""
        transport = self.protocol and self.protocol.transport
        if isinstance(transport, asyncio.Transport):
            transport.abort()
        elif self.task is not None:
            self.task.cancel()  # in its handshake


class Listener:
    """A bound port and the connections to it.

    Parameters
    ----------
    bound : socket.socket
        Bound, listening; closed by `close`.
    entrance : Entrance
    context : ssl.SSLContext, optional
        Needed where the entrance speaks TLS.
    limits : Limits, optional
        Those of the entrance's role unless given.
    patience : float
        Seconds for a handshake and a first request that shows a session or a key.
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
        self._lines: list[_Line] = []
        self._accepting: asyncio.Task[None] | None = None
        if context is not None:
            # Each connection reserves so much, and its parts hold one another, so that it is only
            # freed when Python next looks for such circles. A TLS record has 16 KiB at most (RFC
            # 8446, section 5.1); asyncio would reserve 256 for each.
            sslproto.SSLProtocol.max_size = _TLS_BUFFER

    @staticmethod
    def bind(host: str, port: int) -> socket.socket:
        """Bind a port; 0 for one that is free.

        Raises
        ------
        OSError
            If it cannot be had.
        """
        bound = socket.create_server((host, port), backlog=_BACKLOG)
        bound.setblocking(False)
        return bound

    def start(self, server: web.Server) -> None:
        """Accept connections from now on, for an aiohttp server."""
        self._accepting = asyncio.ensure_future(self._accept(server))

    async def close(self) -> None:
        """Accept no more, and cut what has no session."""
        if self._accepting is not None:
            self._accepting.cancel()
            await asyncio.wait({self._accepting})
        self._socket.close()
        for line in self._lines:
            if line.deadline is not None:
                line.deadline.cancel()
            if line.session is None:
                line.cut()

    @property
    def sessions(self) -> frozenset[Session]:
        """Sessions that have a connection."""
        return frozenset(line.session for line in self._lines if line.open and line.session)

    def admit(self, line: _Line, session: Session) -> bool:
        """Count a connection to a session; False where that has too many already.

        Those that only the cookie speaks for make room: others may have it (see `proof`).
        """
        held = [other for other in self._lines if other.open and other.session == session]
        if line.session != session and len(held) >= self._limits.session:
            unproven = [other for other in held if not other.proven]
            if not unproven:
                return False
            self._make_room(unproven[:1])
        line.session = session
        if line.deadline is not None:
            line.deadline.cancel()
        return True

    async def _accept(self, server: web.Server) -> None:
        loop = asyncio.get_running_loop()
        while True:
            try:
                accepted, peer = await loop.sock_accept(self._socket)
            except OSError as error:
                if error.errno in _EXHAUSTED:
                    _log.warning("files", "Turnlight may open no more files; new connections wait.")
                    self._make_room(self._strangers()[:_AT_A_TIME])
                # Otherwise a client was gone before it was accepted.
                await asyncio.sleep(_PAUSE)
                continue
            self._take(server, accepted, str(peer[0]))
            # A flood that is accepted without waiting would leave no time for anything else.
            await asyncio.sleep(0)

    def _strangers(self) -> list[_Line]:
        self._lines = [line for line in self._lines if line.open]
        return [line for line in self._lines if line.session is None]

    def _make_room(self, strangers: list[_Line]) -> None:
        for line in strangers:
            line.cut()
            self._lines.remove(line)

    def _take(self, server: web.Server, accepted: socket.socket, address: str) -> None:
        strangers = self._strangers()
        neighbours = [line for line in strangers if line.address == address]
        of_address = sum(line.address == address for line in self._lines)
        crowded = len(neighbours) >= self._limits.of_address
        if (crowded and self._context is not None) or of_address >= self._limits.all_of_address:
            # A handshake costs more than what it would make room for.
            _log.warning("address", f"Too many connections of {address}; more are not taken.")
            accepted.close()
            return
        if crowded:
            _log.warning("idle", f"Many connections without a session, of {address}.")
            self._make_room(neighbours[:1])  # the oldest
        elif len(strangers) >= self._limits.strangers or len(self._lines) >= self._limits.all:
            _log.warning("idle", "Many connections without a session.")
            self._make_room(strangers[:1])
        if len(self._lines) >= self._limits.all:
            accepted.close()
            return
        line = _Line(accepted, address)
        self._lines.append(line)
        loop = asyncio.get_running_loop()
        line.deadline = loop.call_later(self._patience, line.cut)
        line.task = asyncio.ensure_future(self._connect(server, line))

    async def _connect(self, server: web.Server, line: _Line) -> None:
        def protocol() -> Connection:
            line.protocol = Connection(server, line, self)
            return line.protocol

        tls: dict[str, Any] = {}
        if self._context is not None:
            tls = {
                "ssl": self._context,
                "ssl_handshake_timeout": self._patience,
                "ssl_shutdown_timeout": _SHUTDOWN,
            }
        loop = asyncio.get_running_loop()
        try:
            await loop.connect_accepted_socket(protocol, line.socket, **tls)
        except OSError:
            line.socket.close()  # no TLS was spoken, or the client is gone
        except asyncio.CancelledError:
            line.socket.close()
            raise
