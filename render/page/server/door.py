"""The socket between the page's program and its browsers.

The framework lets every client write all state and call whatever is there. This stands in its
place on the server's side: it reads messages within limits, checks each against the table of
methods and the rights of the client, lets no client write state, and sends each client what its
role may see, through a queue of its own.
"""

import asyncio
import contextlib
import time
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from aiohttp import WSCloseCode, WSMsgType, web

from render.page.server.arguments import Refused
from render.page.server.audience import HIDDEN, for_guest, of_rights
from render.page.server.limited_log import LimitedLog
from render.page.server.listener import Connection
from render.page.server.methods import Methods
from render.page.server.outgoing import STATE_TOPIC, Outgoing, Stalled
from render.page.server.pace import Bucket
from render.page.server.proof import Tickets
from render.page.server.roles import SESSION, Right, Role, Session
from render.page.server.wire import (
    HEADER_LENGTH,
    MOST_BYTES,
    Assembler,
    Malformed,
    Request,
    packed_answer,
    packed_publication,
    packed_refusal,
    read_request,
)
from scenes.problems import shown

__all__ = ["Client", "Door"]

_MOST_OF_ROLE = 32
_MOST_OF_SESSION = {Role.OWNER: 16, Role.GUEST: 8}
_MOST_OF_GUESTS_ADDRESS = 12
"""Sockets of all guests that come from one address, whatever their sessions."""

_HEARTBEAT = 20.0
"""Seconds between two questions whether a client is still there."""

_FAREWELL = 2.0
"""Seconds that a client has to agree that its socket is closed."""

_RATE, _BURST = 400.0, 800.0
"""Messages a second of one client, and at once. A hand turns the rod 120 times a second at most,
and each picture that comes of it is acknowledged."""

_BYTE_RATE, _BYTE_BURST = 2e6, 4e6

_LIFE = ("client_connected", "client_exited", "client_unmounted")
"""What the framework's client says of itself; nothing follows from it."""

_BROKEN = "That went wrong in Turnlight itself. Your work is kept; the terminal tells more."


@dataclass(eq=False, slots=True)
class Client:
    """One open socket.

    Parameters
    ----------
    number : int
    session : Session
    outgoing : Outgoing
        What waits to be sent to it.
    address : str
        Whence it came.
    """

    number: int
    session: Session
    outgoing: Outgoing
    address: str = ""
    greeted: bool = False
    assembler: Assembler = field(default_factory=Assembler)
    messages: Bucket = field(default_factory=lambda: Bucket(_RATE, _BURST))
    amount: Bucket = field(default_factory=lambda: Bucket(_BYTE_RATE, _BYTE_BURST))

    @property
    def is_owner(self) -> bool:
        """Whether it is the builder's own."""
        return self.session.role is Role.OWNER


class Door:
    """All sockets of a page.

    Parameters
    ----------
    state : State
        The framework's state.
    methods : Methods
        What clients may ask for.
    rights_of : callable
        Gives the rights of a session.
    log : LimitedLog
        Of what is refused; one kind of line for each session.
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
        self._left: list[Callable[[Client], None]] = []
        self._went_wrong: list[Callable[[], None]] = []
        self._sockets: dict[int, web.WebSocketResponse] = {}
        self._server: Any = None

    # --- for the program --------------------------------------------------------------------

    def install(self, protocol: Any, server: Any, app: web.Application) -> None:
        """Take the place of the framework's own sockets.

        Parameters
        ----------
        protocol : ServerProtocol
            What the framework publishes by.
        server : AbstractWebApp
            Stops by itself some time after the last client has left.
        app : aiohttp Application
        """
        protocol.init(self._publish, lambda payload: payload, _refuse_to_stop)
        self._server = server
        app.on_shutdown.append(self._close)

    def on_left(self, callback: Callable[[Client], None]) -> None:
        """Call back with each client that has gone."""
        self._left.append(callback)

    def on_fault(self, callback: Callable[[], None]) -> None:
        """Call back when a method has failed by a fault of the program's own."""
        self._went_wrong.append(callback)

    @property
    def watched(self) -> bool:
        """Whether anybody is connected."""
        return bool(self._clients)

    @property
    def owner_looks(self) -> bool:
        """Whether the builder's own browser is connected."""
        return any(client.is_owner for client in self._greeted())

    def picture(self, topic: str, place: Hashable, epoch: int, content: Mapping[str, Any]) -> None:
        """Send a picture to everybody (see `Outgoing.picture`)."""
        message = packed_publication(topic, content)
        for client in self._greeted():
            client.outgoing.picture(place, epoch, message)

    def may(self, client: Client, right: Right) -> bool:
        """Say whether a client has a right now."""
        return right in self._rights_of(client.session)

    def rights_changed(self) -> None:
        """Tell all clients what they may do now."""
        for client in self._greeted():
            client.outgoing.state(of_rights(self._rights_of(client.session)))

    # --- one client -------------------------------------------------------------------------

    async def introduce(self, request: web.Request) -> web.Response:
        """Tell the framework's client the address of its socket, good for one."""
        scheme = "wss" if request.secure else "ws"
        ticket = self._tickets.issue(request[SESSION])
        return web.json_response({"sessionURL": f"{scheme}://USE_HOST/ws/{ticket}"})

    async def answer(self, request: web.Request) -> web.StreamResponse:
        """Serve one socket until it closes."""
        session: Session = request[SESSION]
        address = request.remote or ""
        if not self._tickets.take(request.match_info["ticket"], session):
            return web.Response(status=403, text="There is no socket at this address, or no more.")
        if self._crowded(session, address):
            return web.Response(status=503, text="Too many tabs have this page open; close some.")
        socket = web.WebSocketResponse(
            max_msg_size=MOST_BYTES + HEADER_LENGTH,
            heartbeat=_HEARTBEAT,
            compress=False,
            timeout=_FAREWELL,
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
        sender.add_done_callback(lambda task: self._stopped_sending(task, client, transport))
        try:
            await self._listen(client, socket)
        finally:
            sender.cancel()
            del self._clients[client.number], self._sockets[client.number]
            for callback in self._left:
                callback(client)
            if not self._clients:
                self._server.shutdown_schedule()
        return socket

    def _crowded(self, session: Session, address: str) -> bool:
        """Say whether there are too many sockets for another; the owner's are counted apart."""
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
                return  # it is gone, without a word
            if message.type is not WSMsgType.BINARY:
                self._note(client, "it sent text where the page sends binary.")
                await socket.close(code=WSCloseCode.UNSUPPORTED_DATA)
                return
            # Who asks too fast, or takes no answers, is read more slowly.
            await client.outgoing.room()
            wait = max(client.messages.take(1), client.amount.take(len(message.data)))
            if wait > 0:
                await asyncio.sleep(wait)
            try:
                whole = client.assembler.take(message.data)
                asked = None if whole is None else read_request(whole)
            except Malformed as fault:
                self._note(client, f"it sent {fault}; its socket is closed.")
                await socket.close(code=WSCloseCode.PROTOCOL_ERROR)
                return
            if asked is not None:
                await self._serve(client, asked)

    def _note(self, client: Client, sentence: str, *, fault: BaseException | None = None) -> None:
        name = client.session.name
        self._log.warning(name, f"Client {name}: {sentence}", fault=fault)

    def _stopped_sending(
        self, task: "asyncio.Future[None]", client: Client, transport: asyncio.Transport
    ) -> None:
        if task.cancelled():
            return
        fault = task.exception()
        if isinstance(fault, Stalled):
            self._note(client, f"{fault}; its socket is closed.")
        elif not isinstance(fault, ConnectionError):
            self._note(client, "a fault while sending", fault=fault)
        transport.abort()

    async def _serve(self, client: Client, asked: Request) -> None:
        begun = time.monotonic()
        try:
            result = await self._answered(client, asked)
            client.outgoing.answer(packed_answer(asked.number, result))
        except Refused as refusal:
            self._note(client, f"refused: {refusal}")
            client.outgoing.answer(packed_refusal(asked.number, str(refusal)))
        except Exception as fault:  # one client's call must not end the program
            self._note(client, f"a fault in {asked.method}", fault=fault)
            client.outgoing.answer(packed_refusal(asked.number, _BROKEN))
            for callback in self._went_wrong:
                callback()
        if not client.is_owner:
            # A guest takes up half of the page's time at most.
            await asyncio.sleep(time.monotonic() - begun)

    async def _answered(self, client: Client, asked: Request) -> Any:
        if asked.number.startswith("system:"):
            return self._greet(client, asked)
        if not client.greeted:
            raise Refused("Say hello first.")
        serve = _CALLS.get(asked.method)
        if serve is None or asked.keywords:
            raise Refused(f"{shown(asked.method)} is nothing that this page does.")
        return await serve(self, client, asked.arguments)

    def _greet(self, client: Client, asked: Request) -> dict[str, object]:
        if asked.method != "wslink.hello":
            raise Refused(f"{shown(asked.method)} is no greeting.")
        client.greeted = True
        return {"clientID": f"c{client.number}", "maxMsgSize": MOST_BYTES}

    async def _trigger(self, client: Client, given: list[Any]) -> Any:
        name, arguments, keywords = (*given, *(None, [], {})[len(given) :])[:3]
        if not isinstance(arguments, list) or keywords != {} or len(given) > 3:
            raise Refused(f"{shown(name)}: its arguments must be a list.")
        with self._state:
            return await self._methods.call(
                name, arguments, self._rights_of(client.session), client
            )

    async def _state_of(self, client: Client, _: list[Any]) -> dict[str, object]:
        state = self._state.to_dict()
        rights = of_rights(self._rights_of(client.session))
        if not client.is_owner:
            state = {**HIDDEN, **for_guest(state)}
        return {"name": "turnlight", "state": {**state, **rights}}

    async def _life(self, _: Client, given: list[Any]) -> None:
        if len(given) != 1 or given[0] not in _LIFE:
            raise Refused("That is nothing that a page says of itself.")

    async def _error(self, client: Client, given: list[Any]) -> None:
        """Note an error in the browser, which whoever tests or mends the page wants to see."""
        if len(given) != 1 or not isinstance(given[0], str):
            raise Refused("An error is told as one text.")
        self._note(client, f"error in its browser: {given[0]}")

    # --- all of them ------------------------------------------------------------------------

    def _greeted(self) -> list[Client]:
        return [client for client in self._clients.values() if client.greeted]

    def _publish(self, topic: str, content: Any, *_: object, **__: object) -> None:
        """Send what the framework publishes: state, and nothing else."""
        if topic != STATE_TOPIC:
            return
        guests = for_guest(content)
        for client in self._greeted():
            changes = content if client.is_owner else guests
            if changes:
                client.outgoing.state(changes)

    async def _close(self, _: web.Application) -> None:
        for socket in list(self._sockets.values()):
            with contextlib.suppress(ConnectionError, asyncio.TimeoutError):
                await asyncio.wait_for(socket.close(code=WSCloseCode.GOING_AWAY), 1.0)


def _refuse_to_stop() -> None:
    """Stand where the framework lets clients end the program."""


_CALLS: Mapping[str, Callable[[Door, Client, list[Any]], Any]] = {
    "trame.trigger": Door._trigger,
    "trame.state.get": Door._state_of,
    "trame.lifecycle.update": Door._life,
    "trame.error.client": Door._error,
}
"""Calls of the framework's client that are answered. Refused with all others: writing state, having
it sent anew, and ending the program."""
