"""Checks of every request: only clients with a session, begun with a key, may use the page.

Every program on this machine, and every web page that is open in the browser, can reach the server.
The checks are made in this order: is the request well formed, does it name this machine, has it a
session, was it made by the page itself. The rights of the session, and whether the cookie alone is
sufficient (see `proof`), are checked afterwards.
"""

import re
from collections.abc import Awaitable, Callable

from aiohttp import web

from render.page.server.entrance import Entrance
from render.page.server.headers import SECURITY_HEADERS, add_headers, refusal
from render.page.server.limited_log import LimitedLog
from render.page.server.listener import Connection
from render.page.server.proof import PAGE_HEADER, PROVEN
from render.page.server.roles import SESSION, Role, Session

__all__ = ["protect"]

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

_HOST = r"(?:[A-Za-z0-9._-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\])(?::[0-9]{1,5})?"

# An origin without a name, as of a file, is well formed too (RFC 6454, section 6.2).
_FORMS = {
    "Host": re.compile(_HOST),
    "Origin": re.compile(rf"null|[a-z][a-z0-9+.-]{{0,31}}://(?:{_HOST})?"),
    "Sec-Fetch-Site": re.compile("[a-z-]{1,32}"),
}
"""Valid forms of the headers that are checked here (RFC 9110, RFC 6454, Fetch Metadata)."""

_MOST_KEY = 64

_READING = frozenset({"GET", "HEAD"})
_PAGE_FETCH_SITES = frozenset({"same-origin", "none"})
"""Accepted values of ``Sec-Fetch-Site``: requests of the page, and addresses typed by a person."""

_NO_SESSION = (
    "This is not the whole address of the page, or its key is used up. Use the newest one that "
    "Turnlight printed, with the key at its end."
)
_ANOTHER_RUN = {
    Role.OWNER: (
        "Turnlight has been started again since this tab was opened, and its key ended with the "
        "earlier run: go on in the tab that Turnlight has just opened, where work that was not "
        "saved is offered, and close this one."
    ),
    Role.GUEST: (
        "Turnlight has been started again since this tab was opened, and its key ended with the "
        "earlier run: ask whoever shares the page for the new address."
    ),
}
"""For who comes with a session that is not known any more. None is kept for the next run: until
then another program may listen on the port, and be sent the cookie by a tab that waits."""
_NOT_HERE = "This is not an address of Turnlight."
_ELSEWHERE = "Turnlight answers its own page alone, and another page has asked."
_TOO_MANY = "This browser has too many connections open; close some of its tabs."

# After a redirect the initiator would still be the file that led the browser here, and
# SameSite=Strict would then withhold the cookie (RFC 6265bis, section 5.2). Requests of this page
# are same-site. The empty icon keeps the browser from requesting one that does not exist.
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
"""The script stores the secret where only pages of this port can read it, and opens the page."""

_log = LimitedLog("turnlight.guard")


def protect(app: web.Application) -> None:
    """Install the checks in an application.

    An accepted request holds its `Session` under `SESSION`, and under `PROVEN` whether it has the
    session's page secret. Requests must arrive by a `Connection`.

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
            return web.Response()  # not received: the tab has been closed

    app.middlewares.append(check)
    app.on_response_prepare.append(add_headers)


def _check(request: web.Request) -> web.StreamResponse | None:
    """Return a refusal or a welcome page; None if the request is accepted."""
    connection = request.protocol
    assert isinstance(connection, Connection)
    transport = connection.transport
    local = None if transport is None else transport.get_extra_info("sockname")
    if local is None:
        return web.Response()  # not received: the connection has been closed
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
    if _has_key(request):
        return _begin_session(request, entrance, connection, session)
    if session is None:
        return refusal(403, _ANOTHER_RUN[entrance.role] if secrets else _NO_SESSION)
    if not _is_from_page(request, entrance.origin(host)):
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
    """List all values of the cookie with our name.

    Other servers on this machine can set another cookie of that name, and malformed cookies;
    neither may lock the builder out.
    """
    pairs = (
        pair.strip().partition("=")
        for header in request.headers.getall("Cookie", [])
        for pair in header.split(";")
    )
    return [value for name, _, value in pairs if name == entrance.cookie]


def _malformed(request: web.Request) -> str:
    """Describe what is malformed in a request; empty if it is well formed."""
    for name, form in _FORMS.items():
        values = request.headers.getall(name, [])
        if len(values) > 1:
            return f"{name} is given more than once."
        if values and not form.fullmatch(values[0]):
            return f"{name} is not well formed."
    if "Host" not in request.headers:
        return "Host is missing."
    return ""


def _has_key(request: web.Request) -> bool:
    return request.method == "GET" and request.path == "/" and "key" in request.query


def _begin_session(
    request: web.Request, entrance: Entrance, connection: Connection, session: Session | None
) -> web.Response:
    """Begin a session for a valid key, or continue the client's session.

    The page secret is given only for a valid key. A client with a session and a used key is led to
    the page, which has its secret already if it is the builder's.
    """
    # A browser may prefetch an address that somebody has only begun to type (Fetch, Sec-Purpose).
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


def _is_from_page(request: web.Request, origin: str) -> bool:
    """Return whether a request was made by the page itself, or its address typed by a person.

    Cookies ignore ports: another server on this machine counts as the same site, and requests of
    its pages carry our cookie.
    """
    given = request.headers.get("Origin")
    if given is None:
        socket = request.headers.get("Upgrade", "").lower() == "websocket"
        if socket or request.method not in _READING:
            return False  # browsers send it with these: RFC 6455, section 4.1; Fetch, section 3.2
        return request.headers.get("Sec-Fetch-Site", "none") in _PAGE_FETCH_SITES
    return given == origin
