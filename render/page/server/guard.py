"""Who may use the page: whoever has a session, begun with a key.

Every program of this machine, and every web page that is open in the browser, can reach the server.
So each request is looked at in this order: is it well formed, does it name this machine, has it a
session, was it made by the page itself. What the session may do, and whether the cookie alone is
enough for it (see `proof`), is looked at after that.
"""

import re
from collections.abc import Awaitable, Callable

from aiohttp import web

from render.page.server.entrance import Entrance
from render.page.server.headers import SECURITY_HEADERS, add_headers, refusal
from render.page.server.limited_log import LimitedLog
from render.page.server.listener import Connection
from render.page.server.proof import PAGE_HEADER, PROVEN
from render.page.server.roles import SESSION, Session

__all__ = ["protect"]

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

_HOST = r"(?:[A-Za-z0-9._-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\])(?::[0-9]{1,5})?"

# An origin without a name, as of a file, is well formed too (RFC 6454, section 6.2).
_FORMS = {
    "Host": re.compile(_HOST),
    "Origin": re.compile(rf"null|[a-z][a-z0-9+.-]{{0,31}}://(?:{_HOST})?"),
    "Sec-Fetch-Site": re.compile("[a-z-]{1,32}"),
}
"""Forms of the headers that are looked at here (RFC 9110, RFC 6454, Fetch Metadata)."""

_MOST_KEY = 64

_READING = frozenset({"GET", "HEAD"})
_BY_THE_PAGE = frozenset({"same-origin", "none"})
"""Values of ``Sec-Fetch-Site``: what the page asks for, and what a person types."""

_NO_SESSION = (
    "This is not the whole address of the page, or its key is used up. Use the newest one that "
    "Turnlight printed, with the key at its end."
)
_NOT_HERE = "This is not an address of Turnlight."
_ELSEWHERE = "Turnlight answers its own page alone, and another page has asked."
_TOO_MANY = "This browser has too many connections open; close some of its tabs."

# A redirect would still count as the file's that sent the browser here, and SameSite=Strict would
# then keep the cookie back (RFC 6265bis, section 5.2). What this page asks for is its own. It names
# an empty icon, or the browser would ask for one that is not there.
_WELCOME = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<link rel="icon" href="data:,">
<title>Turnlight</title>
{onward}
</head>
<body><p><a href="/">Open Turnlight</a></p></body>
</html>
"""

_ONWARD = '<meta http-equiv="refresh" content="0; url=/">'
_WITH_SECRET = """<meta name="turnlight-page" content="{secret}">
<script src="/page/entry.js"></script>"""
"""The script keeps the secret where only pages of this very port can read it, and goes on."""

_log = LimitedLog("turnlight.guard")


def protect(app: web.Application) -> None:
    """Stand before everything that an application answers.

    A request that is let through holds its `Session` under `SESSION`, and under `PROVEN` whether
    it shows the session's page secret. It must come by a `Connection`.

    Parameters
    ----------
    app : web.Application
        Not yet started.
    """

    @web.middleware
    async def check(request: web.Request, handler: Handler) -> web.StreamResponse:
        refused = _check(request)
        if refused is not None:
            return refused
        try:
            return await handler(request)
        except ConnectionError:
            return web.Response()  # to nobody: the tab has been closed

    app.middlewares.append(check)
    app.on_response_prepare.append(add_headers)


def _check(request: web.Request) -> web.StreamResponse | None:
    """Refuse, or let in by a key, or remember the session and answer None."""
    connection = request.protocol
    assert isinstance(connection, Connection)
    transport = connection.transport
    local = None if transport is None else transport.get_extra_info("sockname")
    if local is None:
        return web.Response()  # to nobody: the connection has been cut
    entrance = connection.entrance
    secrets = _secrets(request, entrance)
    wrong = _malformed(request)
    if wrong:
        _log.warning("malformed", f"Refused a request from {request.remote}: {wrong}")
        return refusal(400, wrong)
    host = request.headers["Host"]
    if not entrance.is_own(host, local[0]):
        return refusal(403, _NOT_HERE)
    found = (entrance.sessions.find(secret) for secret in secrets)
    session = next((candidate for candidate in found if candidate is not None), None)
    if _brings_key(request):
        return _welcome(request, entrance, connection, session)
    if session is None:
        return refusal(403, _NO_SESSION)
    if not _by_the_page(request, entrance.origin(host)):
        return refusal(403, _ELSEWHERE)
    if not connection.admit(session):
        return refusal(503, _TOO_MANY)
    request[SESSION] = session
    shown = request.headers.get(PAGE_HEADER, "")
    request[PROVEN] = entrance.sessions.is_page_secret(shown, session)
    if request[PROVEN]:
        connection.prove()
    return None


def _secrets(request: web.Request, entrance: Entrance) -> list[str]:
    """List what stands under the name of our cookie.

    Other servers of this machine can set a cookie of that name beside it, and cookies of their own
    that are no proper ones; neither must keep the builder out.
    """
    pairs = (
        pair.strip().partition("=")
        for header in request.headers.getall("Cookie", [])
        for pair in header.split(";")
    )
    return [value for name, _, value in pairs if name == entrance.cookie]


def _malformed(request: web.Request) -> str:
    """Say what is wrong with a request's form; empty if nothing is."""
    for name, form in _FORMS.items():
        values = request.headers.getall(name, [])
        if len(values) > 1:
            return f"{name} is given more than once."
        if values and not form.fullmatch(values[0]):
            return f"{name} is not well formed."
    if "Host" not in request.headers:
        return "Host is missing."
    return ""


def _brings_key(request: web.Request) -> bool:
    return request.method == "GET" and request.path == "/" and "key" in request.query


def _welcome(
    request: web.Request, entrance: Entrance, connection: Connection, session: Session | None
) -> web.Response:
    """Begin a session for a valid key; who has one goes on with it.

    The page secret is given for a valid key alone. Who has but the cookie, and an address that is
    spent, is led to the page, which has its secret already if it is the builder's.
    """
    # A browser may ask in advance for what somebody has only begun to type (Fetch, Sec-Purpose).
    if "prefetch" in request.headers.get("Sec-Purpose", ""):
        return refusal(403, _NO_SESSION)
    key = request.query["key"]
    valid = len(key) <= _MOST_KEY and entrance.keys.accept(key)
    secret, onward = "", _ONWARD
    if session is None:
        if not valid:
            _log.warning("key", f"Refused a key from {request.remote}.")
            return refusal(403, _NO_SESSION)
        secret, session = entrance.sessions.begin(request.remote or "", connection.sessions)
    if not connection.admit(session):
        return refusal(503, _TOO_MANY)
    if valid:
        onward = _WITH_SECRET.format(secret=entrance.sessions.page_secret(session))
    response = web.Response(
        text=_WELCOME.format(onward=onward), content_type="text/html", headers=SECURITY_HEADERS
    )
    if secret:
        response.set_cookie(
            entrance.cookie,
            secret,
            path="/",
            httponly=True,
            samesite="Strict",
            secure=entrance.tls,
        )
    return response


def _by_the_page(request: web.Request, origin: str) -> bool:
    """Say whether a request was made by the page itself, or typed by a person.

    Cookies know no ports: another server of this machine counts as the same site, and its pages
    get ours sent along.
    """
    given = request.headers.get("Origin")
    if given is None:
        socket = request.headers.get("Upgrade", "").lower() == "websocket"
        if socket or request.method not in _READING:
            return False  # browsers send it with these: RFC 6455, section 4.1; Fetch, section 3.2
        return request.headers.get("Sec-Fetch-Site", "none") in _BY_THE_PAGE
    return given == origin
