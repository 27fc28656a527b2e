"""How the builder and guests come in, and that neither's key opens the other's way."""

import asyncio
import hashlib
import os
import re
import ssl
import stat
import webbrowser
from pathlib import Path

import pytest

from render.common.problems import RequestProblem
from render.page.server import handover
from render.page.server.access import Access
from render.page.server.listener import Listener
from render.page.server.machine import address_on_network
from tests.loops import run
from tests.render.page.server.conftest import UPGRADE, Served, ask, served

UNVERIFIED = ssl.create_default_context()
UNVERIFIED.check_hostname, UNVERIFIED.verify_mode = False, ssl.CERT_NONE
TLS = {"ssl": UNVERIFIED}


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """List what a browser is started with."""
    addresses: list[str] = []

    def note(address: str) -> bool:
        addresses.append(address)
        return True

    monkeypatch.setattr(webbrowser, "open", note)
    return addresses


def test_no_key_stands_on_the_browsers_command_line(tmp_path: Path, opened: list[str]) -> None:
    async def scenario() -> None:
        async with served(tmp_path, browser=True) as page:
            (uri,) = opened
            assert uri.startswith("file://")
            file = Path(uri.removeprefix("file://"))
            assert stat.S_IMODE(file.stat().st_mode) == 0o600
            assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
            key = re.findall(r"\?key=([a-z0-9-]+)", file.read_text())[0]
            assert key not in uri
            assert page.key() != key
            before = list(page.said)
            assert (await page.get(f"/?key={key}")).status == 200
            assert not file.exists()
            assert (await page.get(f"/?key={key}")).status == 403
            # The address on the terminal still works, so no other is printed.
            assert page.said == before
            await page.enter()

    run(scenario())


def test_file_that_was_not_used_is_removed_at_the_end(tmp_path: Path, opened: list[str]) -> None:
    async def scenario() -> None:
        async with served(tmp_path, browser=True):
            assert len(list((tmp_path / "handover").iterdir())) == 1

    run(scenario())
    assert list((tmp_path / "handover").iterdir()) == []


def test_file_of_a_killed_program_is_cleared_away_later(tmp_path: Path) -> None:
    left, recent = (handover.Handover(tmp_path, "http://127.0.0.1:1/") for _ in range(2))
    os.utime(left.file, (0, 0))
    third = handover.Handover(tmp_path, "http://127.0.0.1:1/?a&b")
    assert set(third.file.parent.iterdir()) == {recent.file, third.file}
    assert "?a&amp;b" in third.file.read_text()


def test_without_a_browser_or_a_folder_the_address_is_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(webbrowser, "open", lambda _: False)
    blocked = tmp_path / "file"
    blocked.write_text("")

    async def scenario(state: Path, words: str) -> None:
        async with served(state, browser=True) as page:
            assert words in page.said[0]
            assert page.said[1].startswith("Turnlight is open at http://127.0.0.1:")
            await page.enter()

    run(scenario(tmp_path, "No browser could be opened here"))
    assert list((tmp_path / "handover").iterdir()) == []
    run(scenario(blocked, "cannot be written"))


def guests(page: Served) -> tuple[str, int, str, str]:
    """Read the notice: address, port, key and fingerprint."""
    notice = page.access.sharing()
    found = re.search(r"https://(\S+):(\d+)/\?key=(\S+)", notice)
    assert found is not None
    return found[1], int(found[2]), found[3], notice.splitlines()[-1]


def test_guests_come_by_tls_with_a_key_of_their_own(tmp_path: Path) -> None:
    async def scenario() -> None:
        async with served(tmp_path, shared=True) as page:
            host, port, key, fingerprint = guests(page)
            assert host == address_on_network()
            _, writer = await asyncio.open_connection(host, port, **TLS)
            der = writer.get_extra_info("ssl_object").getpeercert(binary_form=True)
            writer.close()
            assert hashlib.sha256(der).digest().hex(":").upper() == fingerprint
            there = {"port": port, "host": f"{host}:{port}", **TLS}
            cookies = []
            for _ in range(2):  # two tablets
                answer = await page.get(f"/?key={key}", **there)
                assert answer.status == 200
                name, *attributes = answer.headers["Set-Cookie"].split("; ")
                assert name.startswith(f"__Host-turnlight-{port}=")
                assert sorted(attributes) == ["HttpOnly", "Path=/", "SameSite=Strict", "Secure"]
                cookies.append(f"Cookie: {name}")
                assert (await page.get("/", cookies[-1], **there)).body == "role guest"
            origin = f"Origin: https://{host}:{port}"
            assert (await page.get("/socket", cookies[0], *UPGRADE, origin, **there)).status == 101
            plain = f"Origin: http://{host}:{port}"
            assert (await page.get("/socket", cookies[0], *UPGRADE, plain, **there)).status == 403

    run(scenario())


def test_no_key_and_no_cookie_opens_the_others_way(tmp_path: Path) -> None:
    async def scenario() -> None:
        async with served(tmp_path, shared=True) as page:
            _, port, key, _ = guests(page)
            there = {"port": port, **TLS}
            owners = page.key()
            assert (await page.get(f"/?key={owners}", **there)).status == 403
            assert (await page.get(f"/?key={key}")).status == 403
            owner = await page.enter()  # the key was not spent by that
            answer = await page.get(f"/?key={key}", **there)
            guest = "Cookie: " + answer.headers["Set-Cookie"].partition(";")[0]
            assert (await page.get("/", guest, **there)).status == 200
            # A guest of an earlier run is not sent to a tab of the owner's.
            earlier = await page.get("/", guest.partition("=")[0] + "=earlier", **there)
            assert earlier.status == 403
            assert earlier.body.endswith("ask whoever shares the page for the new address.")
            for cookie in (guest, guest.replace("__Host-", "").replace(str(port), str(page.port))):
                assert (await page.get("/", cookie)).status == 403
            renamed = owner.replace("turnlight-", "__Host-turnlight-")
            for cookie in (owner, renamed.replace(str(page.port), str(port))):
                assert (await page.get("/", cookie, **there)).status == 403

    run(scenario())


def test_guests_listener_speaks_tls_only_and_the_builders_stays_here(tmp_path: Path) -> None:
    async def scenario() -> None:
        async with served(tmp_path, shared=True) as page:
            host, port, key, _ = guests(page)
            assert (await page.get(f"/?key={key}", port=port)).status == 0
            if host != "127.0.0.1":
                with pytest.raises(ConnectionError):
                    await asyncio.open_connection(host, page.port)

    run(scenario())


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost:{}", 200),
        ("127.0.0.1:{}", 200),
        ("127.0.0.2:{}", 403),
        ("127.0.0.1:1", 403),
        ("127.0.0.1", 403),
        ("elsewhere.example:{}", 403),  # made to lead here: DNS rebinding
    ],
)
def test_host_over_the_network_must_be_this_machine(tmp_path: Path, host: str, status: int) -> None:
    async def scenario() -> int:
        async with served(tmp_path, shared=True) as page:
            _, port, key, _ = guests(page)
            answer = await page.get(f"/?key={key}", port=port, host=host.format(port), **TLS)
            return answer.status

    assert run(scenario()) == status


def test_notice_says_what_to_compare(tmp_path: Path) -> None:
    async def scenario() -> str:
        async with served(tmp_path, shared=True) as page:
            return page.access.sharing()

    notice = run(scenario())
    assert "will warn" in notice
    assert "Without comparing, somebody on the network could stand in between" in notice
    assert re.search(r"^([0-9A-F]{2}:){31}[0-9A-F]{2}$", notice, re.M)


def test_port_in_use_is_a_sentence_and_leaves_nothing_bound(tmp_path: Path) -> None:
    held = Listener.bind("127.0.0.1", 0)
    port = held.getsockname()[1]
    with pytest.raises(
        RequestProblem, match=f"port: {port} is in use by another program; give another"
    ):
        Access(port, shared=False, state=tmp_path, announce=print)
    # As the guests' port, the one above the builder's.
    with pytest.raises(
        RequestProblem, match=f"port: {port} is in use by another program; give another"
    ):
        Access(port - 1, shared=True, state=tmp_path, announce=print)
    Listener.bind("127.0.0.1", port - 1).close()
    held.close()


def test_end_leaves_no_listener(tmp_path: Path) -> None:
    async def scenario() -> int:
        async with served(tmp_path) as page:
            return page.port

    port = run(scenario())
    with pytest.raises(ConnectionError):
        run(ask(port, b"GET / HTTP/1.1\r\n\r\n"))
