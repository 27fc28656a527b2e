"""Headers that every answer carries, refusals and errors too."""

from aiohttp import web

__all__ = ["SECURITY_HEADERS", "add_headers", "refusal"]

SECURITY_HEADERS = {
    # Scripts may be made from text, which the page's framework cannot do without: its client
    # compiles the page's template in the browser (Vue's `compile`, which ends in `new Function`),
    # as it does the template of each component of ours, and finds plugins by `window.eval`. No
    # script from elsewhere and none within a page is run.
    "Content-Security-Policy": (
        "default-src 'self'; script-src 'self' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' blob: data:; connect-src 'self'; object-src 'none'; base-uri 'self'; "
        "form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    # Most answers hold something of a design; what does not says so by its own header.
    "Cache-Control": "no-store",
}


async def add_headers(_: web.BaseRequest, response: web.StreamResponse) -> None:
    """Add to an answer what it does not say itself; called before any is sent."""
    for name, value in SECURITY_HEADERS.items():
        response.headers.setdefault(name, value)


def refusal(status: int, sentence: str) -> web.Response:
    """Refuse in one sentence, and close the connection.

    Parameters
    ----------
    status : int
        400 and above.
    sentence : str
    """
    response = web.Response(status=status, text=sentence, headers=SECURITY_HEADERS)
    response.force_close()
    return response
