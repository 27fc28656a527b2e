"""The addresses that the page serves: one table, with the right that each needs."""

from collections.abc import Awaitable, Callable
from typing import Any

from aiohttp import web

from render.page.server.limited_log import LimitedLog
from render.page.server.proof import PROVEN, Proof
from render.page.server.roles import SESSION, Right, Session

__all__ = ["Routes"]

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

_REFUSED = "This is not for guests of the page."
_UNPROVEN = (
    "This browser does not have what the page needs to show that it is Turnlight's own. Open the "
    "newest address that Turnlight printed, with the key at its end."
)
_BROKEN = "That went wrong in Turnlight itself. Your work is kept; the terminal tells more."


class Routes:
    """Table of the addresses that are served; any other address is not found.

    Parameters
    ----------
    rights_of : callable
        Returns the rights of a session.
    log : LimitedLog
        Log of faults.
    """

    def __init__(self, rights_of: Callable[[Session], frozenset[Right]], log: LimitedLog) -> None:
        self._rights_of = rights_of
        self._log = log
        self._declared: dict[
            tuple[str, str], tuple[Right, Proof, Callable[[web.Request], Any]]
        ] = {}

    @property
    def declared(self) -> dict[tuple[str, str], Right]:
        """Right by method and path."""
        return {key: right for key, (right, _, _) in self._declared.items()}

    def declare(
        self,
        path: str,
        right: Right,
        handler: Callable[[web.Request], Any],
        method: str = "GET",
        *,
        proof: Proof = Proof.SECRET,
    ) -> None:
        """Add a route.

        Parameters
        ----------
        path : str
            As for aiohttp, such as ``/page/{name}``.
        right : Right
            Right that a client needs.
        handler : callable
            Coroutine that answers an aiohttp Request.
        method : str
            HTTP method.
        proof : Proof
            Proof that a request must have in addition to the cookie.
        """
        self._declared[method, path] = right, proof, handler

    def install(self, app: web.Application) -> None:
        """Install the declared routes in an application; with any other route it does not start.

        Session and host are checked by middleware that was installed before.

        Parameters
        ----------
        app : aiohttp Application
        """

        @web.middleware
        async def check(request: web.Request, handler: Handler) -> web.StreamResponse:
            return await self._check(request, handler)

        app.middlewares.append(check)
        for (method, path), (_, _, handler) in self._declared.items():
            resource = app.router.add_resource(path)
            resource.add_route(method, handler)
        app.on_startup.append(self._check_all)

    async def _check_all(self, app: web.Application) -> None:
        for route in app.router.routes():
            resource = route.resource
            path = resource.canonical if resource is not None else "?"
            if (route.method, path) not in self._declared:
                raise RuntimeError(f"{route.method} {path} is answered without a right.")

    async def _check(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        resource = request.match_info.route.resource
        declared = None
        if resource is not None:
            declared = self._declared.get((request.method, resource.canonical))
        if declared is None:
            return web.Response(status=404, text="There is nothing at this address.")
        right, proof, _ = declared
        session: Session | None = request.get(SESSION)
        if session is None or right not in self._rights_of(session):
            return web.Response(status=403, text=_REFUSED)
        if proof is Proof.SECRET and not request.get(PROVEN, False):
            # In the form that `entry.js` reads and shows.
            return web.json_response({"error": _UNPROVEN}, status=403)
        try:
            return await handler(request)
        except (web.HTTPException, ConnectionError):
            raise
        except Exception as fault:  # the request of one client must not end in a bare traceback
            self._log.warning(session.name, f"A fault at {request.path}", fault=fault)
            return web.Response(status=500, text=_BROKEN)
