"""What the soak does and what it notices, at a page in this process that draws nothing."""

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from yarl import URL

from render.measure.page_client import PageClient, PageError, Refusal
from render.measure.visits import editing_guest, guest, second_tab, strangers
from render.page.server.roles import Role
from tests.loops import run
from tests.render.page.server.serving import ROLE, Served, serving_in

OWNER, GUEST = ({ROLE: role.value} for role in (Role.OWNER, Role.GUEST))

Play = Callable[[Callable[[Served, URL], Awaitable[None]]], None]


@pytest.fixture
def play(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Play:
    """Do something at a page."""
    serve = serving_in(tmp_path, monkeypatch)

    def play_it(act: Callable[[Served, URL], Awaitable[None]]) -> None:
        async def whole() -> None:
            async with serve() as served:
                await act(served, URL(served.address))

        run(whole())

    return play_it


def test_a_tab_sees_what_another_does(play: Play) -> None:
    async def act(served: Served, origin: URL) -> None:
        async with (
            PageClient.open(served.session, origin, OWNER) as one,
            PageClient.open(served.session, origin, OWNER) as other,
        ):
            title = one.state["desk_title"]
            seen = asyncio.ensure_future(
                other.until("its new title", lambda state: state["desk_title"] != title)
            )
            answer = await one.do("desk_change", "title", "Heron")
            assert answer["problem"] == ""
            await seen
            assert other.state["desk_title"] == "Heron"
            assert len(one.delays) == 1
            with pytest.raises(Refusal, match="is nothing that this page does"):
                await one.do("no_such_thing")

    play(act)


def test_a_page_that_ends_is_noticed(play: Play) -> None:
    async def act(served: Served, origin: URL) -> None:
        async with PageClient.open(served.session, origin, OWNER) as tab:
            waiting = asyncio.ensure_future(tab.until("nothing", lambda state: False))
            await asyncio.sleep(0)
            await tab._wire.socket.close()
            with pytest.raises(PageError, match="closed the socket in place of: nothing"):
                await waiting

    play(act)


def test_visits_leave_the_design_as_it_was(play: Play) -> None:
    async def act(served: Served, origin: URL) -> None:
        before = served.page.desk.design
        await second_tab(served.session, origin, OWNER)
        await guest(served.session, origin, GUEST)
        async with PageClient.open(served.session, origin, OWNER) as owner:
            await editing_guest(owner, served.session, origin, GUEST)
        # It is the builder's page alone that says so, and it has said no again.
        await guest(served.session, origin, GUEST)
        await strangers(origin)
        assert served.page.desk.design == before
        assert not served.page.desk.changed

    play(act)


def test_a_guest_who_is_given_too_much_is_noticed(play: Play) -> None:
    async def act(served: Served, origin: URL) -> None:
        with pytest.raises(PageError, match="desk_change was done for a guest"):
            await guest(served.session, origin, OWNER)

    play(act)
