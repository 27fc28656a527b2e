"""Connections that say nothing, and how many there may be."""

import asyncio
import gc
import re
import socket
import ssl
import subprocess
import sys
import tracemalloc
import urllib.request
from asyncio.sslproto import SSLProtocol
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import pytest
from aiohttp import web

from render.page.server.certificate import make_certificate
from render.page.server.entrance import Entrance, guest_entrance, owner_entrance
from render.page.server.guard import protect
from render.page.server.listener import Limits, Listener
from tests.loops import run
from tests.render.page.conftest import ROOT
from tests.render.page.server.conftest import ask
from tests.waiting import WITHIN

FEW = Limits(strangers=3, of_address=3, session=2, all_of_address=6, all=6)


async def answer(_: web.Request) -> web.Response:
    return web.Response(text="the page")


@asynccontextmanager
async def listening(
    limits: Limits = FEW, *, tls: bool = False, patience: float = 60.0
) -> AsyncIterator[Entrance]:
    app = web.Application()
    protect(app)
    app.add_routes([web.get("/", answer)])
    runner = web.AppRunner(app, shutdown_timeout=0.1)
    await runner.setup()
    assert runner.server is not None
    bound = Listener.bind("127.0.0.1", 0)
    port = bound.getsockname()[1]
    entrance = guest_entrance(port, frozenset({"127.0.0.1"})) if tls else owner_entrance(port)
    context = make_certificate([], ["127.0.0.1"]).context if tls else None
    listener = Listener(bound, entrance, context, limits=limits, patience=patience)
    listener.start(runner.server)
    try:
        yield entrance
    finally:
        await listener.close()
        await runner.cleanup()


async def call(entrance: Entrance) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    """Open a connection, and say nothing."""
    return await asyncio.open_connection("127.0.0.1", entrance.port)


async def closed(reader: asyncio.StreamReader) -> bool:
    """Wait until the other side has closed."""
    try:
        return await asyncio.wait_for(reader.read(), WITHIN) == b""
    except ConnectionError:
        return True


def still_open(reader: asyncio.StreamReader) -> bool:
    return not reader.at_eof() and reader.exception() is None


async def enter(entrance: Entrance, *, proven: bool = False) -> bytes:
    """Begin a session, and give a request of it, by its page or not, that keeps its connection."""
    head = f"Host: 127.0.0.1:{entrance.port}\r\n"
    key = entrance.keys.issue()
    answer = await ask(entrance.port, f"GET /?key={key} HTTP/1.0\r\n{head}\r\n".encode())
    head += f"Cookie: {answer.headers['Set-Cookie'].partition(';')[0]}\r\n"
    if proven:
        given = re.search('turnlight-page" content="([0-9a-f]+)"', answer.body)
        assert given is not None
        head += f"Turnlight-Page: {given[1]}\r\n"
    return f"GET / HTTP/1.1\r\n{head}\r\n".encode()


MANY_PLACES = Limits(strangers=3, of_address=6, session=2, all_of_address=6, all=6)


@pytest.mark.parametrize("tls", [False, True])
def test_the_oldest_stranger_makes_room(tls: bool, caplog: pytest.LogCaptureFixture) -> None:
    """By TLS too, where none of them has begun its handshake."""

    async def scenario() -> None:
        async with listening(MANY_PLACES, tls=tls) as entrance:
            lines = [await call(entrance) for _ in range(8)]
            for reader, _ in lines[:5]:
                assert await closed(reader)
            assert all(still_open(reader) for reader, _ in lines[5:])
            for _, writer in lines:
                writer.close()

    run(scenario())
    assert len(caplog.records) == 1


def test_one_address_begins_only_so_many_handshakes(caplog: pytest.LogCaptureFixture) -> None:
    """More are closed at once: those that came first go on, and no TLS is begun for the others."""

    async def scenario() -> None:
        async with listening(tls=True) as entrance:
            lines = [await call(entrance) for _ in range(20)]
            for reader, _ in lines[3:]:
                assert await closed(reader)
            assert all(still_open(reader) for reader, _ in lines[:3])
            for _, writer in lines:
                writer.close()

    run(scenario())
    assert len(caplog.records) == 1


def test_one_address_has_only_so_many_connections_with_all_its_sessions() -> None:
    limits = Limits(strangers=4, of_address=4, session=2, all_of_address=5, all=9)

    async def scenario() -> None:
        async with listening(limits) as entrance:
            lines = []
            for request in [await enter(entrance) for _ in range(4)]:
                for _ in range(2):
                    lines.append(await call(entrance))
                    lines[-1][1].write(request)
            answers = [await reader.readline() for reader, _ in lines]
            assert [b"200" in one for one in answers] == [True] * 5 + [False] * 3
            for _, writer in lines:
                writer.close()

    run(scenario())


def test_a_flood_by_tls_leaves_little_memory_behind() -> None:
    """A connection is two sockets' worth of objects, and buffers that are as large as one record.

    asyncio's own buffer, 256 KiB for each of 400 connections, would come to 100 MB.
    """

    async def scenario() -> int:
        open_wide = Limits(400, 400, 400, 400, 400)
        async with listening(open_wide, tls=True) as entrance:
            lines = [await call(entrance)]
            await asyncio.sleep(0.1)
            tracemalloc.start()
            before = tracemalloc.get_traced_memory()[0]
            lines += [await call(entrance) for _ in range(200)]
            while sum(isinstance(one, SSLProtocol) for one in gc.get_objects()) < 200:
                await asyncio.sleep(0.01)
            grown = tracemalloc.get_traced_memory()[0] - before
            tracemalloc.stop()
            for _, writer in lines:
                writer.close()
            return grown

    assert run(scenario()) < 200 * 65_536


@pytest.mark.parametrize("tls", [False, True])
@pytest.mark.parametrize("said", [b"", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: "])
def test_who_shows_no_session_in_time_is_cut(tls: bool, said: bytes) -> None:
    async def scenario() -> None:
        async with listening(tls=tls, patience=0.2) as entrance:
            reader, writer = await call(entrance)
            writer.write(said)
            assert await closed(reader)
            writer.close()

    run(scenario())


def test_handshake_without_a_request_is_cut() -> None:
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE

    async def scenario() -> None:
        async with listening(tls=True, patience=2.0) as entrance:
            reader, writer = await asyncio.open_connection("127.0.0.1", entrance.port, ssl=context)
            assert await closed(reader)
            writer.close()

    run(scenario())


def test_who_has_a_session_is_not_cut_for_strangers_or_time() -> None:
    async def scenario() -> None:
        async with listening(patience=2.0) as entrance:
            request = await enter(entrance)
            reader, writer = await call(entrance)
            for _ in range(2):
                writer.write(request)
                assert b"the page" in await reader.readuntil(b"the page")
                strangers = [await call(entrance) for _ in range(6)]
                for stranger, other in strangers:
                    assert await closed(stranger)
                    other.close()
            writer.close()

    run(scenario())


def test_one_session_has_so_many_connections() -> None:
    async def scenario() -> None:
        async with listening() as entrance:
            request = await enter(entrance, proven=True)
            lines = []
            for number in range(FEW.session + 1):
                lines.append(await call(entrance))
                lines[-1][1].write(request)
                first = await lines[-1][0].readline()
                assert (b"503" in first) == (number == FEW.session)
            for _, writer in lines:
                writer.close()
            # Those that were closed are counted no longer.
            for reader, _ in lines[:-1]:
                await closed(reader)
            reader, writer = await call(entrance)
            writer.write(request)
            assert b"200" in await reader.readline()
            writer.close()

    run(scenario())


def test_who_has_but_the_cookie_does_not_use_up_the_connections_of_the_page() -> None:
    async def scenario() -> None:
        async with listening() as entrance:
            shown = await enter(entrance, proven=True)
            stolen = b"\r\n".join(one for one in shown.split(b"\r\n") if b"Page" not in one)
            lines = []
            for request in (shown, stolen, stolen, shown):
                lines.append(await call(entrance))
                lines[-1][1].write(request)
                assert b"200" in await lines[-1][0].readline()
            for reader, _ in lines[1:3]:
                with suppress(ConnectionError):
                    await asyncio.wait_for(reader.read(), WITHIN)  # the thief's are cut
            assert still_open(lines[0][0])
            assert still_open(lines[3][0])
            for _, writer in lines:
                writer.close()

    run(scenario())


def test_refusal_closes_the_connection() -> None:
    async def scenario() -> None:
        async with listening() as entrance:
            reader, writer = await call(entrance)
            host = f"127.0.0.1:{entrance.port}".encode()
            writer.write(b"GET / HTTP/1.1\r\nHost: " + host + b"\r\n\r\n")
            assert b" 403 " in await asyncio.wait_for(reader.read(), WITHIN)
            writer.close()

    run(scenario())


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit.")
@pytest.mark.parametrize(
    ("files", "words"), [(256, "Many connections without a session"), (40, "no more files")]
)
def test_idle_connections_do_not_lock_the_builder_out(files: int, words: str) -> None:
    """300 to each listener; 256 files are what some systems allow a process."""
    process = subprocess.Popen(
        [sys.executable, str(Path(__file__).with_name("crowd.py")), str(files)],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    address = re.search(r"http://\S+", process.stdout.readline())
    assert address is not None
    shared = re.search(r":(\d+)/\?key", process.stdout.readline())
    assert shared is not None
    idle = []
    try:
        port = int(address[0].partition("?")[0].rstrip("/").rpartition(":")[2])
        for number in range(600):
            idle.append(socket.create_connection(("127.0.0.1", (port, int(shared[1]))[number % 2])))
        with urllib.request.urlopen(address[0], timeout=WITHIN) as response:
            cookie = response.headers["Set-Cookie"].partition(";")[0]
        for _ in range(3):
            idle += [socket.create_connection(("127.0.0.1", port)) for _ in range(20)]
            page = urllib.request.Request(f"http://127.0.0.1:{port}/", headers={"Cookie": cookie})
            with urllib.request.urlopen(page, timeout=WITHIN) as response:
                assert response.read() == b"the page"
        process.stdout.readline()
    finally:
        for one in idle:
            one.close()
        _, said = process.communicate("", WITHIN)
    assert process.returncode == 0, said
    assert words in said
    assert len(said.splitlines()) <= 3, said
