"""Who may use the page: only whoever has its address, with the key in it.

The server listens on this machine alone unless it is shared. Even so every program and every web
page open in the browser could reach it, so each request must show a random key (as a cookie once
it has been given in the address), and a socket must come from the page itself.
"""

import hmac
import secrets
import socket
from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from aiohttp import web

__all__ = ["Guard", "address_on_network"]

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

_KEY_BYTES = 24

_HEADERS = {
    # Vue makes functions of the page's own templates, for which it must be allowed to.
    "Content-Security-Policy": (
        "default-src 'self'; script-src 'self' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' blob: data:; connect-src 'self'; object-src 'none'; base-uri 'self'; "
        "form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

_REFUSED = (
    "This is not the whole address of the page. Use the one that Turnlight printed when it "
    "started, with the key at its end."
)


class Guard:
    """Lets in who has the key.

    Parameters
    ----------
    shared : bool
        Whether other machines may come too.
    """

    def __init__(self, *, shared: bool) -> None:
        self.key = secrets.token_urlsafe(_KEY_BYTES)
        self._shared = shared

    def protect(self, app: web.Application) -> None:
        """Stand before everything that an application answers."""

        @web.middleware
        async def check(request: web.Request, handler: Handler) -> web.StreamResponse:
            return await self._check(request, handler)

        app.middlewares.append(check)

    def address(self, host: str, port: int) -> str:
        """The page's address, with the key."""
        return f"http://{host}:{port}/?key={self.key}"

    async def _check(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        port = request.transport.get_extra_info("sockname")[1] if request.transport else 0
        # Browsers keep one set of cookies for all ports of a machine.
        cookie = f"turnlight-{port}"
        if not self._right_host(request, port) or not _same_origin(request):
            return _refusal()
        given = request.query.get("key")
        if given is not None and request.path == "/":
            if not self._is_key(given):
                return _refusal()
            # Sent on to the address without the key, which then stands in no history.
            response = web.Response(status=303, headers={**_HEADERS, "Location": "/"})
            response.set_cookie(cookie, self.key, httponly=True, samesite="Lax", path="/")
            return response
        if not self._is_key(request.cookies.get(cookie, "")):
            return _refusal()
        try:
            response_made = await handler(request)
        except ConnectionError:
            return web.Response()  # to nobody: the tab has been closed
        if not response_made.prepared:
            response_made.headers.update(_HEADERS)
        return response_made

    def _is_key(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self.key.encode())

    def _right_host(self, request: web.Request, port: int) -> bool:
        """Refuse a name of somebody else's that was made to lead to this machine."""
        if self._shared:
            return True
        return request.host in {f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]")}


def _same_origin(request: web.Request) -> bool:
    origin = request.headers.get("Origin")
    return origin is None or urlsplit(origin).netloc == request.host


def _refusal() -> web.Response:
    return web.Response(status=403, text=_REFUSED, headers=_HEADERS)


def address_on_network() -> str:
    """Find this machine's address on its network, as far as it knows; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address set aside for documentation (RFC 5737): it only picks the way out.
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()
