"""What a browser sends to the page in one piece: a file, as the body of a request."""

from aiohttp import web

__all__ = ["body_of"]

_AT_ONCE = 1 << 16
"""Bytes that are read at a time."""


async def body_of(request: web.Request, most: int) -> bytes | None:
    """Read a file that the browser sends.

    Parameters
    ----------
    request : aiohttp Request
    most : int
        Bytes that it may have.

    Returns
    -------
    bytes or None
        None if it is larger; then no more of it is read than that.
    """
    if (request.content_length or 0) > most:
        return None
    data = bytearray()
    async for part in request.content.iter_chunked(_AT_ONCE):
        data += part
        if len(data) > most:
            return None
    return bytes(data)
