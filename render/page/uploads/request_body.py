"""Reading of a file that a browser sends as the body of a request."""

from aiohttp import web

__all__ = ["body_of"]

_CHUNK = 1 << 16
"""Bytes that are read at a time."""


async def body_of(request: web.Request, most: int) -> bytes | None:
    """Read the body of a request, up to a limit.

    Parameters
    ----------
    request : aiohttp Request
    most : int
        Size limit, bytes.

    Returns
    -------
    bytes or None
        None if the body is larger; then reading has stopped at the limit.
    """
    if (request.content_length or 0) > most:
        return None
    data = bytearray()
    async for part in request.content.iter_chunked(_CHUNK):
        data += part
        if len(data) > most:
            return None
    return bytes(data)
