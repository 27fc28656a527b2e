"""What the cookie alone opens, which every server of this machine is sent: nothing."""

import io
import json
import re
from contextlib import AsyncExitStack

import pytest
from aiohttp import ClientSession, CookieJar, WSServerHandshakeError
from PIL import Image
from yarl import URL

from render.measure.page_client import PageClient, enter
from render.measure.wire import socket_place
from render.page.server import sockets
from render.page.server.proof import Tickets
from render.page.server.roles import Role, Session
from tests.loops import run
from tests.render.page.server.serving import COOKIE_ALONE, ROLE, Serve

_PNG = io.BytesIO()
Image.new("RGB", (40, 30), (120, 60, 30)).save(_PNG, "PNG")
PNG = _PNG.getvalue()

EMPTY = {"/", "/index.html", "/page/{name}", "/vue.global.js"}
"""What is the same for everybody, beside the framework's client."""


def test_stolen_cookie_opens_nothing(serve: Serve) -> None:
    """Whoever visits a page of another server on this machine sends that server the cookie."""

    async def scenario() -> None:
        async with serve(keys=True) as served:
            address = re.findall(r"http://\S+key=\S+", " ".join(served.said))[-1]
            async with (
                ClientSession(cookie_jar=CookieJar(unsafe=True)) as browser,
                ClientSession(cookie_jar=CookieJar(unsafe=True)) as thief,
            ):
                way = await enter(browser, address)
                for _ in range(2):
                    async with PageClient.open(browser, way) as tab:
                        assert tab.state["may_own"]
                stolen = {one.key: one.value for one in browser.cookie_jar}
                thief.cookie_jar.update_cookies(stolen, way)
                origin = {"Origin": str(way)}
                secrets: list[dict[str, str]] = [{}, {"Turnlight-Page": ""}]
                secrets += [{"Turnlight-Page": one} for one in (*stolen.values(), "x", "a" * 64)]
                for shown in secrets:
                    for path in ("session", "beside?path=decal.picture&name=a.png", "photograph"):
                        async with thief.post(
                            way.join(URL(path)),
                            headers=origin | shown,
                            data=b"x",
                        ) as answer:
                            assert answer.status == 403, path
                            assert "newest address" in (await answer.json())["error"]
                for path in ("ws", "ws/x", "ws/wslink-secret"):
                    with pytest.raises(WSServerHandshakeError, match=r"403|404"):
                        await thief.ws_connect(way.join(URL(path)), headers=origin)
                # Nor has the thief a way to the secret by the address that was used.
                async with thief.get(address) as answer:
                    assert "turnlight-page" not in await answer.text()

    run(scenario())


@pytest.mark.parametrize("role", list(Role))
def test_every_address_asks_for_more_than_the_cookie(serve: Serve, role: Role) -> None:
    async def scenario() -> None:
        async with serve() as served:
            for method, path in served.page.routes.declared:
                status, text = await served.ask(
                    method, re.sub(r"{\w+}", "look.css", path), role, headers=COOKIE_ALONE
                )
                if path in EMPTY or path.startswith("/assets/"):
                    assert status == 200, path
                else:
                    assert status in (403, 404), (method, path, text)

    run(scenario())


def test_socket_s_address_is_good_once_and_for_its_session(serve: Serve) -> None:
    async def scenario() -> None:
        async with serve() as served:
            mine, guest = ({ROLE: one.value} for one in Role)
            place = await socket_place(served.session, served.address, mine)
            for headers, opens in ((guest, False), (mine, True), (mine, False)):
                async with served.session.get(
                    place,
                    headers={
                        **headers,
                        "Upgrade": "websocket",
                        "Connection": "Upgrade",
                        "Sec-WebSocket-Version": "13",
                        "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
                    },
                ) as answer:
                    assert (answer.status == 101) == opens

    run(scenario())


def test_tickets_do_not_pile_up() -> None:
    tickets = Tickets()
    sessions = [Session(str(number), Role.GUEST) for number in range(1000)]
    first = tickets.issue(sessions[0])
    issued = [tickets.issue(sessions[0]) for _ in range(1000)]
    assert not tickets.take(first, sessions[0])
    assert not tickets.take(issued[-1], sessions[1])
    assert tickets.take(issued[-1], sessions[0])
    assert not tickets.take(issued[-1], sessions[0])
    for session in sessions:
        tickets.issue(session)
    assert not tickets.take(issued[-2], sessions[0])
    assert sum(len(mine) for mine in tickets._issued.values()) < 200


def test_made_files_and_pictures_have_addresses_that_cannot_be_guessed(serve: Serve) -> None:
    async def scenario() -> None:
        async with serve() as served:
            async with served.client() as owner, served.client(Role.GUEST) as guest:
                (served.folder / "a.png").write_bytes(PNG)
                place = owner.state["beside_at"]
                assert guest.state["beside_at"] == ""
                assert (await served.ask("GET", f"/{place}a.png", headers=COOKIE_ALONE))[0] == 200
                assert (await served.ask("GET", "/beside/x/a.png"))[0] == 404
            status, text = await served.ask("POST", "/photograph?name=a.png", data=PNG)
            assert status == 200, text
            held = json.loads(text)
            assert len(held["number"]) >= 32, held
            assert (await served.ask("GET", "/photograph/1"))[0] == 404
            seen = await served.ask("GET", f"/photograph/{held['number']}", headers=COOKIE_ALONE)
            assert seen[0] == 200

    run(scenario())


@pytest.mark.parametrize("addresses", [1, 40])
def test_guests_leave_the_owner_room(
    serve: Serve, monkeypatch: pytest.MonkeyPatch, addresses: int
) -> None:
    """Whatever sessions they have; and one guest leaves room for others' sockets of his role."""
    most = sockets._MOST_OF_GUESTS_ADDRESS
    if addresses > 1:
        most = sockets._MOST_OF_ROLE
        monkeypatch.setattr(sockets, "_MOST_OF_GUESTS_ADDRESS", 1000)

    async def scenario() -> None:
        async with serve() as served, AsyncExitStack() as stack:
            opened, refused = 0, []
            guests = [
                {ROLE: Role.GUEST.value, "Test-Name": f"guest-{number // 4}"}
                for number in range(most + 8)
            ]
            # All have an address before there are too many: afterwards nobody is given one.
            places = [
                await socket_place(served.session, served.address, headers) for headers in guests
            ]
            for headers, place in zip(guests, places, strict=True):
                try:
                    await stack.enter_async_context(
                        served.session.ws_connect(place, headers=headers)
                    )
                    opened += 1
                except WSServerHandshakeError as fault:
                    refused.append(fault.status)
            assert opened == most
            assert set(refused) == {503}
            assert (await served.ask("POST", "/session", headers=guests[-1]))[0] == 503
            for _ in range(12):
                await stack.enter_async_context(served.client())

    run(scenario())
