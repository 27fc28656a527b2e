"""The tab without a browser: closing it ends, whatever its tasks make of a cancellation."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import Any, cast

import pytest
from yarl import URL

from render.measure import page_client
from render.measure.page_client import PageClient
from tests.loops import run


def test_closing_ends_though_a_cancellation_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """As `asyncio.wait_for` may lose it up to Python 3.11 (CPython issue 81839)."""
    lost = 0

    @asynccontextmanager
    async def connected(*_: object, **__: object) -> AsyncIterator[object]:
        yield object()

    async def acknowledge(_: PageClient) -> None:
        nonlocal lost
        with suppress(asyncio.CancelledError):
            await asyncio.Event().wait()
        lost += 1
        await asyncio.Event().wait()

    monkeypatch.setattr(page_client, "connected", connected)
    monkeypatch.setattr(PageClient, "_acknowledge", acknowledge)

    async def scenario() -> None:
        async with PageClient.open(cast(Any, None), URL("http://127.0.0.1")):
            await asyncio.sleep(0)

    run(asyncio.wait_for(scenario(), 20))
    assert lost == 1
