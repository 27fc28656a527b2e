"""Each request as a browser, another page or a stranger sends it."""

import logging
import re
from pathlib import Path

import pytest

from tests.loops import run
from tests.render.page.server.conftest import UPGRADE, Answer, Served, ask, served


def plain(log: pytest.LogCaptureFixture) -> bool:
    """Say whether a log holds neither a traceback nor an error."""
    return not any(one.exc_info or one.levelno >= logging.ERROR for one in log.records)


def test_key_works_once_and_the_next_is_printed(tmp_path: Path) -> None:
    async def scenario() -> None:
        async with served(tmp_path) as page:
            first = page.key()
            cookie = await page.enter()
            assert (await page.get(f"/?key={first}")).status == 403
            assert page.key() != first
            assert page.said[-1].startswith("That address has been used.")
            assert (await page.get("/", cookie)).body == "role owner"
            assert await page.enter() != cookie
            assert (await page.get("/", cookie)).body == "role owner"

    run(scenario())


def test_a_tab_of_an_earlier_run_is_told_where_to_go_on(tmp_path: Path) -> None:
    """And it is let in no more than a stranger is."""

    async def scenario() -> None:
        async with served(tmp_path) as page:
            name = (await page.enter()).removeprefix("Cookie: ").partition("=")[0]
            answer = await page.get("/", f"Cookie: {name}=of-an-earlier-run")
            assert answer.status == 403
            assert "go on in the tab that Turnlight has just opened" in answer.body
            assert "just opened" not in (await page.get("/")).body

    run(scenario())


def test_who_has_a_session_needs_no_key(tmp_path: Path) -> None:
    """A spent address that is opened again from a browser's history leads to the page."""

    async def scenario() -> None:
        async with served(tmp_path) as page:
            spent = page.key()
            cookie = await page.enter()
            answer = await page.get(f"/?key={spent}", cookie)
            assert answer.status == 200
            assert "Set-Cookie" not in answer.headers

    run(scenario())


def test_page_secret_is_given_for_a_valid_key_alone(tmp_path: Path) -> None:
    """Who has stolen the cookie has no key; a browser that lost its storage takes a fresh one."""
    given = re.compile('name="turnlight-page" content="([0-9a-f]{64})"')

    async def scenario() -> None:
        async with served(tmp_path) as page:
            spent = page.key()
            first = await page.get(f"/?key={spent}")
            cookie = "Cookie: " + first.headers["Set-Cookie"].partition(";")[0]
            secret = given.search(first.body)
            assert secret is not None
            assert secret[1] not in str(first.headers)
            for path in (f"/?key={spent}", "/?key=x", "/"):
                assert "turnlight-page" not in (await page.get(path, cookie)).body
            fresh = page.key()
            again = await page.get(f"/?key={fresh}", cookie)
            assert "Set-Cookie" not in again.headers
            assert secret[1] in again.body
            assert (await page.get(f"/?key={fresh}")).status == 403
            other = given.search((await page.get(f"/?key={page.key()}")).body)
            assert other is not None
            assert other[1] != secret[1]

    run(scenario())


@pytest.mark.parametrize(("method", "header"), [("HEAD", "X: 1"), ("GET", "Sec-Purpose: prefetch")])
def test_asking_in_advance_spends_no_key(tmp_path: Path, method: str, header: str) -> None:
    async def scenario() -> None:
        async with served(tmp_path) as page:
            key = page.key()
            assert (await page.get(f"/?key={key}", header, method=method)).status == 403
            assert (await page.get(f"/?key={key}")).status == 200

    run(scenario())


def test_cookie_is_bound_and_holds_another_secret(tmp_path: Path) -> None:
    """RFC 6265bis, section 4.1.2: attributes."""

    async def scenario() -> None:
        async with served(tmp_path) as page:
            key = page.key()
            answer = await page.get(f"/?key={key}")
            name, *attributes = answer.headers["Set-Cookie"].split("; ")
            name, _, secret = name.partition("=")
            assert name == f"turnlight-{page.port}"
            assert sorted(attributes) == ["HttpOnly", "Path=/", "SameSite=Strict"]
            assert key not in secret
            assert "Location" not in answer.headers
            for value in (key, page.key(), secret[:-1], "x"):
                assert (await page.get("/", f"Cookie: {name}={value}")).status == 403
            assert (await page.get(f"/?key={secret}")).status == 403

    run(scenario())


def test_cookies_of_other_ports_are_not_ours(tmp_path: Path) -> None:
    async def scenario() -> None:
        async with served(tmp_path) as page, served(tmp_path) as other:
            ours, theirs = await page.enter(), await other.enter()
            assert (await page.get("/", theirs)).status == 403
            # Under our name too, as another server of this machine could set it.
            renamed = theirs.replace(str(other.port), str(page.port))
            assert (await page.get("/", renamed)).status == 403
            assert (await page.get("/", f"{ours}x")).status == 403
            both = f"{renamed}; {ours.removeprefix('Cookie: ')}"
            assert (await page.get("/", both)).status == 200

    run(scenario())


MALFORMED = [
    "Origin: http://[",
    b"Origin: http://\xff\xfe",
    "Origin: http://" + "a" * 300,
    "Origin: http://127.0.0.1:99999999",
    "Origin: ://x",
    "Origin: http://a b",
    "Origin: null\r\nOrigin: null",
    b"Sec-Fetch-Site: \xc3\xa9",
]


@pytest.mark.parametrize("header", MALFORMED, ids=lambda header: repr(header)[:40])
def test_malformed_header_is_one_sentence(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, header: str | bytes
) -> None:
    async def scenario() -> tuple[Answer, Answer]:
        async with served(tmp_path) as page:
            cookie = await page.enter()
            raw = header if isinstance(header, bytes) else header.encode()
            raw = raw.replace(b"PORT", str(page.port).encode())
            return await page.get("/", cookie, raw), await page.get(f"/?key={page.key()}", raw)

    for answer in run(scenario()):
        assert answer.status == 400
        assert re.fullmatch(r"[A-Z][^\n]*\.", answer.body)
        assert answer.headers["Content-Security-Policy"]
    assert plain(caplog)
    assert len(caplog.records) == 1


@pytest.mark.parametrize(
    "request_",
    [
        b"GET / HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: \xff:1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a b\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: [\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nX: \x01\x00\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nX: " + b"a" * 20_000 + b"\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\n" + b"X: a\r\n" * 200 + b"\r\n",
        b"GET /" + b"a" * 20_000 + b" HTTP/1.1\r\nHost: a\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: x\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",  # the start of TLS
        b"\xff\xfe\xfd\r\n\r\n",
    ],
    ids=lambda data: repr(data)[:40],
)
def test_what_is_no_request_is_answered_without_traceback(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, request_: bytes
) -> None:
    async def scenario() -> Answer:
        async with served(tmp_path) as page:
            return await ask(page.port, request_)

    answer = run(scenario())
    assert answer.status == 400
    assert answer.headers["Content-Security-Policy"]
    assert answer.headers["Cache-Control"] == "no-store"
    assert "\n" not in answer.body
    assert plain(caplog)


@pytest.mark.parametrize(
    "value", [b"\xff\xfe", "é".encode(), b"a" * 500, b"", b'"a"', b"bad value"], ids=repr
)
def test_what_another_server_sets_under_our_name_keeps_nobody_out(
    tmp_path: Path, value: bytes
) -> None:
    async def scenario() -> None:
        async with served(tmp_path) as page:
            cookie = await page.enter()
            bad = f"turnlight-{page.port}=".encode() + value
            for both in (
                cookie.encode() + b"; " + bad,
                b"Cookie: " + bad + b"; " + cookie.removeprefix("Cookie: ").encode(),
            ):
                assert (await page.get("/", both)).body == "role owner"
            assert (await page.get("/", b"Cookie: " + bad)).status == 403
            assert (await page.get(f"/?key={page.key()}", b"Cookie: " + bad)).status == 200

    run(scenario())


def test_other_servers_cookies_keep_nobody_out(tmp_path: Path) -> None:
    async def scenario() -> Answer:
        async with served(tmp_path) as page:
            cookie = await page.enter()
            return await page.get("/", cookie.encode() + b"; else=\xff\xfe; ; a; =b")

    assert run(scenario()).body == "role owner"


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("127.0.0.1:{}", 200),
        ("localhost:{}", 403),  # may lead to [::1], where another user can listen
        ("[::1]:{}", 403),
        ("127.0.0.1", 403),
        ("127.0.0.1:1", 403),
        ("127.0.0.2:{}", 403),
        ("elsewhere.example:{}", 403),
        ("127.0.0.1.elsewhere.example:{}", 403),
    ],
)
def test_host_must_be_this_machine(tmp_path: Path, host: str, status: int) -> None:
    async def scenario() -> Answer:
        async with served(tmp_path) as page:
            cookie = await page.enter()
            return await page.get("/", cookie, host=host.format(page.port))

    assert run(scenario()).status == status


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ((), 200),
        (("Sec-Fetch-Site: none",), 200),
        (("Sec-Fetch-Site: same-origin",), 200),
        (("Sec-Fetch-Site: same-site",), 403),  # another port of this machine
        (("Sec-Fetch-Site: cross-site",), 403),
        (("Origin: http://127.0.0.1:PORT",), 200),
        (("Origin: http://localhost:PORT",), 403),
        (("Origin: https://127.0.0.1:PORT",), 403),
        (("Origin: http://127.0.0.1:1",), 403),
        (("Origin: http://elsewhere.example",), 403),
        (("Origin: null",), 403),
        (("Origin: file://",), 403),
    ],
)
def test_only_the_page_itself_is_answered(
    tmp_path: Path, headers: tuple[str, ...], status: int
) -> None:
    async def scenario() -> Answer:
        async with served(tmp_path) as page:
            sent = [header.replace("PORT", str(page.port)) for header in headers]
            return await page.get("/", await page.enter(), *sent)

    assert run(scenario()).status == status


def test_what_changes_something_needs_an_origin(tmp_path: Path) -> None:
    async def scenario() -> None:
        async with served(tmp_path) as page:
            cookie, origin = await page.enter(), f"Origin: http://127.0.0.1:{page.port}"
            asked: list[tuple[str, str, tuple[str, ...], int]] = [
                ("POST", "/", (), 200),
                ("DELETE", "/", (), 200),
                ("GET", "/socket", UPGRADE, 101),
            ]
            for method, path, more, status in asked:
                for given, wanted in (
                    ((), 403),
                    (("Sec-Fetch-Site: same-origin",), 403),
                    (("Origin: http://elsewhere.example",), 403),
                    ((origin,), status),
                ):
                    answer = await page.get(path, cookie, *more, *given, method=method)
                    assert answer.status == wanted, (method, given)
                # Without a session not even the right origin helps.
                assert (await page.get(path, *more, origin, method=method)).status == 403

    run(scenario())


def test_every_answer_carries_the_security_headers(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    async def scenario() -> dict[int, Answer]:
        async with served(tmp_path) as page:
            cookie = await page.enter()
            asked = {200: "/", 404: "/nothing", 500: "/fail"}
            found = {code: await page.get(path, cookie) for code, path in asked.items()}
            found[405] = await page.get("/fail", cookie, _origin(page), method="POST")
            found[403] = await page.get("/")
            return found

    found = run(scenario())
    for status, answer in found.items():
        assert answer.status == status
        assert "'unsafe-inline'" not in answer.headers["Content-Security-Policy"].split("style")[0]
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
    # A fault of ours is told at the terminal, and not to the client.
    assert "a fault" not in found[500].body
    assert any(one.exc_info for one in caplog.records)


def test_faults_of_ours_do_not_fill_the_log(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    async def scenario() -> None:
        async with served(tmp_path) as page:
            cookie = await page.enter()
            for _ in range(5):
                assert (await page.get("/fail", cookie)).status == 500

    run(scenario())
    assert sum(one.exc_info is not None for one in caplog.records) == 1


def test_request_whose_connection_was_cut_is_answered_to_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A TLS connection that was cut has a transport still, and no address (`asyncio.sslproto`)."""

    async def scenario() -> None:
        async with served(tmp_path) as page:
            from asyncio import selector_events

            transport = selector_events._SelectorTransport  # type: ignore[attr-defined]
            monkeypatch.setattr(transport, "get_extra_info", lambda *_: None)
            assert "Turnlight" not in (await page.get("/?key=aaaaa")).body

    run(scenario())
    assert plain(caplog)


def _origin(page: Served) -> str:
    return f"Origin: http://127.0.0.1:{page.port}"
