"""The websockets between the page's program and its browsers.

The framework's own server lets every client write all state and call everything. This module
replaces it: it reads messages within limits, checks each call against the table of methods and the
rights of the client, lets no client write state, and sends each client the state that its role may
see, through a queue for each client.
"""

import asyncio
import contextlib
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from aiohttp import WSCloseCode, WSMsgType, web

from render.page.server.arguments import Refused
from render.page.server.audience import HIDDEN, for_guest, own_for_guest, rights_state
from render.page.server.limited_log import LimitedLog
from render.page.server.listener import Connection
from render.page.server.methods import Methods
from render.page.server.outgoing import STATE_TOPIC, Outgoing, Stalled
from render.page.server.pace import TokenBucket
from render.page.server.proof import Tickets
from render.page.server.roles import SESSION, Right, Role, Session
from render.page.server.wire import (
    HEADER_LENGTH,
    MOST_BYTES,
    Assembler,
    Call,
    Malformed,
    packed_answer,
    packed_publication,
    packed_refusal,
    read_call,
)
from scenes.problems import shown

__all__ = ["Client", "Sockets"]

_MOST_OF_ROLE = 32
_MOST_OF_SESSION = {Role.OWNER: 16, Role.GUEST: 8}
_MOST_OF_GUESTS_ADDRESS = 12
"""Sockets of all guests from one address, over all their sessions."""

_HEARTBEAT = 20.0
"""Seconds between two websocket pings."""

_BEAT_TOPIC = "turnlight.beat"
_BEAT = packed_publication(_BEAT_TOPIC, {})
"""Message without content: scripts of a browser do not see the pings."""

_TOO_MANY_TABS = (
    "Too many tabs have this page open already; close one of them, and then load this one again."
)

_CLOSE_TIMEOUT = 2.0
"""Seconds that a client has to confirm the closing of its socket."""

_RATE, _BURST = 400.0, 800.0
"""Messages a second of one client, and in a burst. A drag sends at most 120 turns a second, and
each picture that follows is acknowledged."""

_BYTE_RATE, _BYTE_BURST = 2e6, 4e6
"""Bytes a second of one client, and in a burst."""

_LIFECYCLE = ("client_connected", "client_exited", "client_unmounted")
"""Lifecycle messages of the framework's client; they are accepted and ignored."""

_BROKEN = "That went wrong in Turnlight itself. Your work is kept; the terminal tells more."


@dataclass(eq=False, slots=True)
class Client:
    """One open socket.

    Parameters
    ----------
    number : int
        Identifies the socket.
    session : Session
    outgoing : Outgoing
        Queue of messages to it.
    address : str
        Its IP address.
    greeted : bool
        Whether it has sent the framework's greeting.
    assembler : Assembler
    messages, amount : TokenBucket
        Rate limits of its messages and bytes.
    """

    number: int
    session: Session
    outgoing: Outgoing
    address: str = ""
    greeted: bool = False
    assembler: Assembler = field(default_factory=Assembler)
    messages: TokenBucket = field(default_factory=lambda: TokenBucket(_RATE, _BURST))
    amount: TokenBucket = field(default_factory=lambda: TokenBucket(_BYTE_RATE, _BYTE_BURST))

    @property
    def is_owner(self) -> bool:
        """Whether it belongs to the builder's own browser."""
        return self.session.role is Role.OWNER


class Sockets:
    """All sockets of a page.

    Parameters
    ----------
    state : State
        The framework's state.
    methods : Methods
        Methods that clients may call.
    rights_of : callable
        Returns the rights of a session.
    log : LimitedLog
        Log of refusals, limited for each session.
    """

    def __init__(
        self,
        state: Any,
        methods: Methods,
        rights_of: Callable[[Session], frozenset[Right]],
        log: LimitedLog,
    ) -> None:
        self._state, self._methods = state, methods
        self._rights_of, self._log = rights_of, log
        self._clients: dict[int, Client] = {}
        self._numbers = count(1)
        self._tickets = Tickets()
        self._disconnect_callbacks: list[Callable[[Client], None]] = []
        self._fault_callbacks: list[Callable[[], None]] = []
        self._own_states: list[Callable[[Client], Mapping[str, Any]]] = []
        self._sockets: dict[int, web.WebSocketResponse] = {}
        self._server: Any = None

    # --- for the program --------------------------------------------------------------------

    def install(self, protocol: Any, server: Any, app: web.Application) -> None:
        """Replace the framework's own sockets.

        Parameters
        ----------
        protocol : ServerProtocol
            The framework's publisher.
        server : AbstractWebApp
            The framework's server, which stops some time after the last client has left.
        app : aiohttp Application
        """
        protocol.init(self._publish, lambda payload: payload, _refuse_to_stop)
        self._server = server
        app.on_shutdown.append(self._close)

    def on_disconnect(self, callback: Callable[[Client], None]) -> None:
        """Register a callback for each client that has disconnected.

        Parameters
        ----------
        callback : callable
            Called with the `Client`.
        """
        self._disconnect_callbacks.append(callback)

    def on_fault(self, callback: Callable[[], None]) -> None:
        """Register a callback for methods that fail by a fault of the program.

        Parameters
        ----------
        callback : callable
            Called without arguments.
        """
        self._fault_callbacks.append(callback)

    def add_own_state(self, state_of: Callable[[Client], Mapping[str, Any]]) -> None:
        """Register state that has a value of its own for each client (`audience.OF_CLIENT`).

        Changes of it are sent to the client by `show_to`.

        Parameters
        ----------
        state_of : callable
            Called with a `Client` that opens the page; returns its state, value by key.
        """
        self._own_states.append(state_of)

    def show_to(self, client: Client, own: Mapping[str, Any]) -> None:
        """Send a client state with a value of its own; a guest, what a guest may receive of it.

        Parameters
        ----------
        client : Client
        own : mapping
            New value by key.
        """
        if own:
            client.outgoing.state(own if client.is_owner else own_for_guest(own))

    @property
    def watched(self) -> bool:
        """Whether any client is connected."""
        return bool(self._clients)

    @property
    def clients(self) -> list[Client]:
        """Clients that are connected and have sent the framework's greeting."""
        return [client for client in self._clients.values() if client.greeted]

    def has_right(self, client: Client, right: Right) -> bool:
        """Return whether a client has a right at present.

        Parameters
        ----------
        client : Client
        right : Right
        """
        return right in self._rights_of(client.session)

    def beat(self) -> None:
        """Send every client a message without content: a page that hears nothing says so."""
        for client in self.clients:
            # Before state and pictures, as answers are.
            client.outgoing.answer(_BEAT)

    def rights_changed(self) -> None:
        """Send all clients their present rights."""
        for client in self.clients:
            client.outgoing.state(rights_state(self._rights_of(client.session)))

    # --- one client -------------------------------------------------------------------------

    async def issue_socket_address(self, request: web.Request) -> web.Response:
        """Answer the framework's client with the address of its socket, which works once.

        Parameters
        ----------
        request : aiohttp Request
        """
        scheme = "wss" if request.secure else "ws"
        if self._is_full(request[SESSION], request.remote or ""):
            # In the form that `entry.js` reads and shows.
            return web.json_response({"error": _TOO_MANY_TABS}, status=503)
        ticket = self._tickets.issue(request[SESSION])
        return web.json_response({"sessionURL": f"{scheme}://USE_HOST/ws/{ticket}"})

    async def serve_socket(self, request: web.Request) -> web.StreamResponse:
        """Serve one socket until it closes.

        Parameters
        ----------
        request : aiohttp Request
        """
        session: Session = request[SESSION]
        address = request.remote or ""
        if not self._tickets.take(request.match_info["ticket"], session):
            return web.Response(status=403, text="There is no socket at this address, or no more.")
        if self._is_full(session, address):
            return web.Response(status=503, text=_TOO_MANY_TABS)
        socket = web.WebSocketResponse(
            max_msg_size=MOST_BYTES + HEADER_LENGTH,
            heartbeat=_HEARTBEAT,
            compress=False,
            timeout=_CLOSE_TIMEOUT,
        )
        connection = request.protocol
        assert isinstance(connection, Connection)
        connection.prove()
        await socket.prepare(request)
        transport = request.transport
        if transport is None:
            return socket

        client = Client(
            next(self._numbers),
            session,
            Outgoing(socket.send_bytes, transport.get_write_buffer_size),
            address,
        )
        self._clients[client.number], self._sockets[client.number] = client, socket
        self._server.shutdown_cancel()
        sender = asyncio.ensure_future(client.outgoing.run())
        sender.add_done_callback(lambda task: self._sending_ended(task, client, transport))
        try:
            await self._listen(client, socket)
        finally:
            sender.cancel()
            del self._clients[client.number], self._sockets[client.number]
            for callback in self._disconnect_callbacks:
                callback(client)
            if not self._clients:
                self._server.shutdown_schedule()
        return socket

    def _is_full(self, session: Session, address: str) -> bool:
        """Whether there are too many sockets for another one; owner and guests count separately."""
        alike = [client for client in self._clients.values() if client.session.role is session.role]
        return (
            len(alike) >= _MOST_OF_ROLE
            or sum(other.session == session for other in alike) >= _MOST_OF_SESSION[session.role]
            or (
                session.role is Role.GUEST
                and sum(other.address == address for other in alike) >= _MOST_OF_GUESTS_ADDRESS
            )
        )

    async def _listen(self, client: Client, socket: web.WebSocketResponse) -> None:
        async for message in socket:
            if message.type is WSMsgType.ERROR:
                return  # disconnected without a closing message
            if message.type is not WSMsgType.BINARY:
                self._log_client(client, "it sent text where the page sends binary.")
                await socket.close(code=WSCloseCode.UNSUPPORTED_DATA)
                return
            # A client that sends too fast, or does not take its answers, is read more slowly.
            await client.outgoing.room()
            wait = max(client.messages.take(1), client.amount.take(len(message.data)))
            if wait > 0:
                await asyncio.sleep(wait)
            try:
                whole = client.assembler.take(message.data)
                call = None if whole is None else read_call(whole)
            except Malformed as fault:
                self._log_client(client, f"it sent {fault}; its socket is closed.")
                await socket.close(code=WSCloseCode.PROTOCOL_ERROR)
                return
            if call is not None:
                await self._serve(client, call)

    def _log_client(
        self, client: Client, sentence: str, *, fault: BaseException | None = None
    ) -> None:
        name = client.session.name
        self._log.warning(name, f"Client {name}: {sentence}", fault=fault)

    def _sending_ended(
        self, task: "asyncio.Future[None]", client: Client, transport: asyncio.Transport
    ) -> None:
        if task.cancelled():
            return
        fault = task.exception()
        if isinstance(fault, Stalled):
            self._log_client(client, f"{fault}; its socket is closed.")
        elif not isinstance(fault, ConnectionError):
            self._log_client(client, "a fault while sending", fault=fault)
        transport.abort()

    async def _serve(self, client: Client, call: Call) -> None:
        begun = time.monotonic()
        try:
            result = await self._result_of(client, call)
            client.outgoing.answer(packed_answer(call.number, result))
        except Refused as refusal:
            self._log_client(client, f"refused: {refusal}")
            client.outgoing.answer(packed_refusal(call.number, str(refusal)))
        except Exception as fault:  # one client's call must not end the program
            self._log_client(client, f"a fault in {call.method}", fault=fault)
            client.outgoing.answer(packed_refusal(call.number, _BROKEN))
            for callback in self._fault_callbacks:
                callback()
        if not client.is_owner:
            # A guest uses at most half of the page's time.
            await asyncio.sleep(time.monotonic() - begun)

    async def _result_of(self, client: Client, call: Call) -> Any:
        if call.number.startswith("system:"):
            return self._greet(client, call)
        if not client.greeted:
            raise Refused("Say hello first.")
        serve = _CALLS.get(call.method)
        if serve is None or call.keywords:
            raise Refused(f"{shown(call.method)} is nothing that this page does.")
        return await serve(self, client, call.arguments)

    def _greet(self, client: Client, call: Call) -> dict[str, object]:
        if call.method != "wslink.hello":
            raise Refused(f"{shown(call.method)} is no greeting.")
        client.greeted = True
        return {"clientID": f"c{client.number}", "maxMsgSize": MOST_BYTES}

    async def _call_method(self, client: Client, given: list[Any]) -> Any:
        name, arguments, keywords = (*given, *(None, [], {})[len(given) :])[:3]
        if not isinstance(arguments, list) or keywords != {} or len(given) > 3:
            raise Refused(f"{shown(name)}: its arguments must be a list.")
        with self._state:
            return await self._methods.call(
                name, arguments, self._rights_of(client.session), client
            )

    async def _whole_state(self, client: Client, _: list[Any]) -> dict[str, object]:
        state = self._state.to_dict()
        rights = rights_state(self._rights_of(client.session))
        own = {key: value for of in self._own_states for key, value in of(client).items()}
        if not client.is_owner:
            state, own = {**HIDDEN, **for_guest(state)}, own_for_guest(own)
        return {"name": "turnlight", "state": {**state, **own, **rights}}

    async def _lifecycle(self, _: Client, given: list[Any]) -> None:
        if len(given) != 1 or given[0] not in _LIFECYCLE:
            raise Refused("That is nothing that a page says of itself.")

    async def _log_browser_error(self, client: Client, given: list[Any]) -> None:
        """Log an error in the browser, for those who test or repair the page."""
        if len(given) != 1 or not isinstance(given[0], str):
            raise Refused("An error is told as one text.")
        self._log_client(client, f"error in its browser: {given[0]}")

    # --- all of them ------------------------------------------------------------------------

    def _publish(self, topic: str, content: Any, *_: object, **__: object) -> None:
        """Send the state that the framework publishes, and nothing else."""
        if topic != STATE_TOPIC:
            return
        guests = for_guest(content)
        for client in self.clients:
            changes = content if client.is_owner else guests
            if changes:
                client.outgoing.state(changes)

    async def _close(self, _: web.Application) -> None:
        for socket in list(self._sockets.values()):
            with contextlib.suppress(ConnectionError, asyncio.TimeoutError):
                await asyncio.wait_for(socket.close(code=WSCloseCode.GOING_AWAY), 1.0)


def _refuse_to_stop() -> None:
    """Do nothing in place of the framework's call by which clients end the program."""


_CALLS: Mapping[str, Callable[[Sockets, Client, list[Any]], Any]] = {
    "trame.trigger": Sockets._call_method,
    "trame.state.get": Sockets._whole_state,
    "trame.lifecycle.update": Sockets._lifecycle,
    "trame.error.client": Sockets._log_browser_error,
}
"""Calls of the framework's client that are answered. All others are refused, among them writing
state, requesting it again, and ending the program."""
