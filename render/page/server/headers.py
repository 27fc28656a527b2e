"""Security headers of every response, refusals and errors included."""

from aiohttp import web

__all__ = ["SECURITY_HEADERS", "add_headers", "refusal"]

SECURITY_HEADERS = {
    # 'unsafe-eval' is needed by the framework: its client compiles the page's template and the
    # templates of our components in the browser (Vue's `compile`, which uses `new Function`), and
    # finds plugins by `window.eval`. No script of another host and no inline script runs.
    "Content-Security-Policy": (
        "default-src 'self'; script-src 'self' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' blob: data:; connect-src 'self'; object-src 'none'; base-uri 'self'; "
        "form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    # Most responses contain parts of a design; others set this header themselves.
    "Cache-Control": "no-store",
}


async def add_headers(_: web.BaseRequest, response: web.StreamResponse) -> None:
    """Add the security headers that a response does not set itself.

    Parameters
    ----------
    _ : aiohttp BaseRequest
    response : aiohttp StreamResponse
        Not sent yet.
    """
    for name, value in SECURITY_HEADERS.items():
        response.headers.setdefault(name, value)


def refusal(status: int, sentence: str) -> web.Response:
    """Make a response that refuses in one sentence and closes the connection.

    Parameters
    ----------
    status : int
        HTTP status, 400 or above.
    sentence : str
    """
    response = web.Response(status=status, text=sentence, headers=SECURITY_HEADERS)
    response.force_close()
    return response
