"""The socket as owner, guest and attacker speak to it."""

import asyncio
import json
import logging
import math
import resource
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from aiohttp import web

from render.measure.wire import Wire, frame, socket_place
from render.page import app
from render.page.picture.client_view import ClientView
from render.page.picture.frame_message import TOPIC
from render.page.server import sockets
from render.page.server.roles import Right, Role
from render.page.workers.render_messages import Frame, RenderRequest
from tests.loops import run
from tests.render.page.server.serving import ROLE, IdleWorker, Serve, Served
from tests.waiting import WITHIN

NOT_FINITE = (math.nan, math.inf, -math.inf, 1e300, 10**30 // 10**12)


def play(serve: Serve, act: Callable[[Served], Awaitable[None]]) -> None:
    """Serve a page, and do something with it."""

    async def whole() -> None:
        async with serve() as served:
            await act(served)

    run(whole())


def wanted(served: Served, view: ClientView | None = None) -> list[RenderRequest]:
    """What the drawing process has been told, of the view that was used last or of another."""
    worker = served.page.picture._render_worker
    assert isinstance(worker, IdleWorker)
    told = [one for one in worker.messages if isinstance(one, tuple)]
    if view is None:
        return [requests[0] for requests in told]
    return [one for requests in told for one in requests if one.view == view.number]


def view_of(served: Served, role: Role) -> ClientView:
    """The view of somebody."""
    return next(view for view in served.page.picture.views if view.session.role is role)


# ---- What a client may write and call


@pytest.mark.parametrize("role", list(Role))
def test_no_file_is_given_that_was_not_made(serve: Serve, tmp_path: Path, role: Role) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("of nobody's business")
    forged = [{"number": str(secret.with_suffix("")), "name": "x.txt", "weight": "", "notes": []}]

    async def act(served: Served) -> None:
        async with served.client(role) as wire:
            answer = await wire.call("trame.state.update", [{"key": "send_done", "value": forged}])
            assert answer.refusal
        name = str(secret.with_suffix("")).replace("/", "%2F")
        status, text = await served.ask("GET", f"/sent/{name}/x.txt")
        assert status == 404
        assert "business" not in text
        assert served.page.state.send_done == []

    play(serve, act)


@pytest.mark.parametrize("role", list(Role))
def test_no_client_writes_state(serve: Serve, role: Role) -> None:
    keys = (
        "trame__template_main",
        "trame__scripts",
        "trame__vue_use",
        "trame__client_only",
        "guests_edit",
        "may_own",
        "form_cards",
        "pic_look",
        "side_values",
        "__proto__",
        "made-up",
    )

    async def act(served: Served) -> None:
        async with served.client() as other, served.client(role) as wire:
            before = served.page.state.to_dict().copy()
            for key in keys:
                answer = await wire.call("trame.state.update", [{"key": key, "value": "x"}])
                assert answer.refusal == '"trame.state.update" is nothing that this page does.'
            assert served.page.state.to_dict() == before
            await other.trigger("pic_frames")
            assert other.pushed == []

    play(serve, act)


@pytest.mark.parametrize("role", list(Role))
def test_what_is_not_declared_is_refused(serve: Serve, role: Role) -> None:
    calls: tuple[tuple[str, list[object]], ...] = (
        ("application.exit", []),
        ("application.exit.later", [0]),
        ("trame.force.push", ["desk_path", "file_lost"]),
        ("trame.lifecycle.update", ["server_exited"]),
        ("trame.trigger", ["exit", [], {}]),
        ("trame.trigger", ["__init__", [], {}]),
        ("trame.trigger", ["desk_settle", [], {"self": 1}]),
        ("trame.trigger", []),
        ("unpublish", []),
    )

    async def act(served: Served) -> None:
        async with served.client(role) as wire:
            for method, given in calls:
                answer = await wire.call(method, *given)
                assert answer.refusal, method
                assert set(answer.whole["error"]) == {"code", "message"}
                assert "\n" not in answer.refusal
            assert (await wire.trigger("pic_frames")).refusal == ""

    play(serve, act)


def test_page_starts_with_nothing_undeclared(serve: Serve, monkeypatch: pytest.MonkeyPatch) -> None:
    from render.page.app import Page

    async def stray(_: web.Request) -> web.Response:
        return web.Response()

    async def start(spoil: Callable[[Page], object]) -> None:
        install = Page._bind

        def bind(page: Page, bound: object) -> None:
            spoil(page)
            install(page, bound)
            if spoil is stray_route:
                bound.app.router.add_get("/stray", stray)  # type: ignore[attr-defined]

        monkeypatch.setattr(Page, "_bind", bind)
        async with serve():
            pass

    def stray_route(_: Page) -> None:
        pass

    def trigger(page: Page) -> None:
        page.server.trigger("stray")(lambda: None)

    for spoil, sentence in ((stray_route, "without a right"), (trigger, "knows no rights")):
        with pytest.raises((RuntimeError, AssertionError), match=sentence):
            run(start(spoil))
        monkeypatch.undo()

    def unlimited(name: str) -> None:
        raise AssertionError(name)

    async def declare() -> None:
        async with serve() as served:
            with pytest.raises(TypeError, match="the argument name has no limits"):
                served.page.methods.declare("stray", Right.OWN, unlimited)
            with pytest.raises(TypeError, match="declared twice"):
                served.page.methods.declare("pic_turn", Right.OWN, list)

    run(declare())


def test_only_the_files_that_the_page_needs_are_served(serve: Serve) -> None:
    async def act(served: Served) -> None:
        for path in ("/logo.png", "/coi-serviceworker.min.js", "/loading.tpl", "/assets/"):
            assert (await served.ask("GET", path))[0] == 404, path
        assert (await served.ask("GET", "/vue.global.js"))[0] == 200
        assert (await served.ask("POST", "/vue.global.js"))[0] == 404
        assert (await served.ask("GET", "/ws"))[0] == 404

    play(serve, act)


def test_every_client_hears_from_the_program_when_nothing_happens(
    serve: Serve, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(app, "_BEAT_PERIOD", 0.02)
    heard: list[str] = []
    take = Wire._take

    def note(wire: Wire, message: dict[str, Any]) -> None:
        heard.append(message["id"])
        take(wire, message)

    monkeypatch.setattr(Wire, "_take", note)

    async def act(served: Served) -> None:
        async with served.client(Role.GUEST) as wire, asyncio.timeout(WITHIN), wire.changed:
            await wire.changed.wait_for(lambda: heard.count("publish:turnlight.beat:0") > 2)

    play(serve, act)


def test_a_tab_too_many_is_refused_before_its_socket(
    serve: Serve, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sockets, "_MOST_OF_SESSION", dict.fromkeys(Role, 1))

    async def act(served: Served) -> None:
        assert (await served.ask("POST", "/session", Role.GUEST))[0] == 200
        async with served.client(Role.GUEST):
            status, text = await served.ask("POST", "/session", Role.GUEST)
            assert status == 503
            assert "Too many tabs" in json.loads(text)["error"]
            assert (await served.ask("POST", "/session", Role.OWNER))[0] == 200

    play(serve, act)


# ---- Bytes


def test_a_claimed_size_reserves_nothing(serve: Serve) -> None:
    """A frame of 13 bytes that claims 1.5 GB; then parts that never end."""

    async def act(served: Served) -> None:
        async with served.client() as wire:
            before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            await wire.socket.send_bytes(frame(b"\x80", whole=1_500_000_000))
            assert await wire.closed() == 1002
            unit = 1024 if sys.platform == "darwin" else 1
            grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / unit
            assert grown < 50_000
        async with served.client() as wire:
            for number in range(20):
                await wire.socket.send_bytes(
                    frame(b"x" * 100_000, number=number + 50, whole=900_000)
                )
            assert await wire.closed() == 1002

    play(serve, act)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x00" * 11,
        frame(b""),
        frame(b"\xc1"),
        frame(b"\xdd\xff\xff\xff\xff"),
        frame(b"\x91" * 900 + b"\xc0"),
        frame(b"\x91" * 200_000 + b"\xc0"),
        frame(b"\xc7\x01\x01\x00"),
        frame([1, 2]),
        frame({"id": 7, "method": "trame.state.get"}),
        frame({"id": "rpc:x:1\n", "method": "trame.state.get"}),
        frame({"id": "publish:trame.state.topic:0", "method": "trame.state.get"}),
        frame({"id": "rpc:x:1", "method": ["trame.state.get"]}),
        frame({"id": "rpc:x:1", "method": "trame.state.get", "args": {"a": 1}}),
        frame({"id": "rpc:x:1", "method": "trame.state.get", "args": [0] * 99}),
        frame({"id": "rpc:x:1", "method": "\x1b[2J"}),
        frame(b"\x80", offset=5, whole=9),
        frame(b"\x80\x80", whole=1),
        frame(b"x" * 1_000_001),
    ],
    ids=range(19),
)
def test_malformed_messages_close_the_socket_of_who_sent_them(
    serve: Serve, data: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    async def act(served: Served) -> None:
        async with served.client() as other, served.client() as wire:
            await wire.socket.send_bytes(data)
            assert await wire.closed() in (1002, 1009)
            assert (await other.trigger("pic_frames")).refusal == ""

    play(serve, act)
    assert not [one for one in caplog.records if one.exc_info]
    assert all(letter.isprintable() for letter in "".join(caplog.messages))


def test_text_is_not_printed(
    serve: Serve, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    async def act(served: Served) -> None:
        async with served.client() as wire:
            await wire.socket.send_str("\x1b]0;gone\x07 peculiar")
            assert await wire.closed() == 1003

    play(serve, act)
    said = caplog.text + "".join(capfd.readouterr())
    assert "peculiar" not in said
    assert "\x1b" not in said


def test_the_terminal_gets_one_line_of_a_client_and_no_escape_codes(
    serve: Serve, caplog: pytest.LogCaptureFixture
) -> None:
    async def act(served: Served) -> None:
        async with served.client(Role.GUEST) as wire:
            for _ in range(30):
                await wire.trigger("\x1b[2J\x07rude\nlines")
                await wire.call("trame.error.client", "\x1b[31mred\r\n" * 2000)

    with caplog.at_level(logging.DEBUG):
        play(serve, act)
    mine = [one.getMessage() for one in caplog.records if one.name == "turnlight.page"]
    assert len(mine) == 1
    assert "\\x1b[2J" in mine[0]
    assert mine[0].isprintable()
    assert len(mine[0]) < 500


# ---- Numbers


@pytest.mark.parametrize("number", NOT_FINITE)
def test_numbers_that_are_none_never_reach_the_drawing_process(serve: Serve, number: float) -> None:
    calls: tuple[tuple[str, list[object]], ...] = (
        ("pic_turn", [number, True, False]),
        ("pic_hello", [number, 500, 1, 0]),
        ("pic_hello", [500, 500, number, 0]),
        ("pic_hello", [500, 500, 1, number]),
        ("pic_look", [{"zoom": number}]),
        ("pic_look", [{"walk": number}]),
        ("pic_look", [{"exposure": number}]),
        ("pic_look", [{"light_turn": number}, True]),
    )

    async def act(served: Served) -> None:
        async with served.client() as wire:
            await wire.trigger("pic_hello", 800, 500, 1, 30)
            before, look = len(wanted(served)), view_of(served, Role.OWNER).look
            for name, given in calls:
                answer = await wire.trigger(name, *given)
                await wire.trigger("pic_frames")  # the state comes after the answer
                assert answer.refusal or wire.state["page_status"], name
                assert "\n" not in answer.refusal
            assert len(wanted(served)) == before
            assert view_of(served, Role.OWNER).look == look

    play(serve, act)


def test_sizes_are_kept_within_what_can_be_drawn(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as wire:
            for width, height in ((0, 0), (-5, 1e9), (1e9, 1e9), (1e-300, 3)):
                assert (await wire.trigger("pic_hello", width, height, 1, 0)).refusal == ""
                size = wanted(served)[-1].size
                assert min(size) >= 64
                assert max(size) <= 4096

    play(serve, act)


# ---- Guests


def test_a_guest_is_sent_nothing_of_files(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            assert (await owner.trigger("desk_change", "relief.gap", 20)).result["problem"] == ""
            assert (await owner.trigger("file_save_as", "elsewhere.toml")).result["problem"] == ""
            await owner.trigger("send_choose", "still", ".png", "mail")
            await owner.trigger("send_make")
            await guest.trigger("pic_frames")
            content = repr(guest.state) + repr(guest.pushed)
            assert "gap" in content
            for private in (str(served.folder), "elsewhere", "mine.toml", "waiting", "bench-sheet"):
                assert private not in content, private
            assert all(one["price"] == 0 for one in guest.state["shelf_threads"])
            assert "elsewhere.toml" in owner.state["desk_path"]
            assert owner.state["send_jobs"]
            assert owner.state["may_own"]
            assert not guest.state["may_own"]
            assert not guest.state["may_edit"]

    play(serve, act)


def test_every_key_of_the_page_is_shown_to_guests_or_hidden_on_purpose(serve: Serve) -> None:
    from render.page.server.audience import HIDDEN, OF_CLIENT, SHOWN, TRIMMED

    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            mine = {key for key in owner.state if not key.startswith("trame__")}
            assert mine == SHOWN | set(HIDDEN) | OF_CLIENT | set(TRIMMED)
            assert set(guest.state) == set(owner.state)
            # What is each client's own is not published to all of them.
            assert OF_CLIENT & set(served.page.state.to_dict()) == set()

    play(serve, act)


def test_guests_edit_only_while_the_owner_lets_them(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            assert "not for guests" in (await guest.trigger("guests_edit", True)).refusal
            assert "not for guests" in (await guest.trigger("desk_undo")).refusal
            change = ("desk_change", "relief.gap", 21)
            assert "not for guests" in (await guest.trigger(*change)).refusal
            assert (await owner.trigger("guests_edit", True)).refusal == ""
            assert (await guest.trigger(*change)).result["problem"] == ""
            assert guest.state["may_edit"]
            assert not guest.state["may_own"]
            for name in ("file_save", "file_places", "send_make", "file_keep_mine"):
                assert "not for guests" in (await guest.trigger(name)).refusal
            assert (await owner.trigger("guests_edit", False)).refusal == ""
            assert "not for guests" in (await guest.trigger(*change)).refusal
            assert not guest.state["may_edit"]
            assert owner.state["form_revision"] == 1

    play(serve, act)


def test_a_guest_who_edits_names_no_other_files(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("guests_edit", True)
            await guest.trigger("desk_add_layer", "decal")
            path = "decal.picture"
            (served.folder / "private.png").write_bytes(b"")
            answer = await guest.trigger("desk_change", path, "private.png")
            assert "a guest cannot name other files" in answer.result["problem"].lower()
            assert (await served.ask("GET", "/beside/x/private.png", Role.GUEST))[0] == 403
            answer = await owner.trigger("desk_change", path, "private.png")
            assert "a guest" not in answer.result["problem"].lower()

    play(serve, act)


def test_a_guest_takes_nothing_back_on_the_shelf(serve: Serve) -> None:
    thread = {
        "name": "Demo Blue A",
        "kind": "NCP nylon",
        "size": "A",
        "colour": "#1f7fe8",
        "diameter": "0.17",
        "tex": "28",
        "spool": "90",
        "price": "4",
    }

    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            assert (await owner.trigger("shelf_put", thread)).result["problem"] == ""
            shelf = (served.folder / "my-shelf.toml").read_text()
            await owner.trigger("guests_edit", True)
            answer = await guest.trigger("desk_undo")
            assert "shelf" in answer.result["problem"]
            assert (served.folder / "my-shelf.toml").read_text() == shelf
            assert (await owner.trigger("desk_undo")).result["problem"] == ""

    play(serve, act)


def test_what_a_client_sees_of_its_own_view_is_no_state_of_another(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("pic_hello", 800, 500, 1, 0)
            await guest.trigger("pic_hello", 400, 300, 1, 0)
            await guest.trigger("pic_look", {"light": "low sun"})
            await owner.trigger("pic_look", {"light": "north window", "zoom": 2})
            await owner.trigger("guests_edit", True)
            await guest.trigger("desk_change", "relief.gap", 21)
            await owner.trigger("pic_frames")
            lights = [wire.state["pic_look"]["light"] for wire in (owner, guest)]
            assert lights == ["north window", "low sun"]
            assert owner.state["pic_scale"] != guest.state["pic_scale"]
            assert owner.state["pic_epoch"] == 3
            assert guest.state["pic_epoch"] == 3
            # Another tab of the owner's begins with the design's own look.
            async with served.client() as other:
                assert other.state["pic_look"]["light"] == "soft boxes"

    play(serve, act)


def test_who_may_change_nothing_holds_nothing_back(
    serve: Serve, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("render.page.picture.picture.monotonic", lambda: 100.0)

    async def act(served: Served) -> None:
        async with served.client() as owner, served.client(Role.GUEST) as guest:
            await owner.trigger("pic_hello", 800, 500, 1, 0)
            assert "not for guests" in (await guest.trigger("pic_hold", True)).refusal
            assert not wanted(served)[-1].held
            await owner.trigger("guests_edit", True)
            await guest.trigger("pic_hold", True)
            assert wanted(served)[-1].held
            await owner.trigger("guests_edit", False)
            async with asyncio.timeout(WITHIN):
                while wanted(served)[-1].held:
                    await asyncio.sleep(0.01)

    play(serve, act)


def test_a_hold_lapses_unless_it_is_renewed(serve: Serve, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    monkeypatch.setattr("render.page.picture.picture.monotonic", lambda: clock[0])

    async def act(served: Served) -> None:
        async with served.client() as owner:
            await owner.trigger("pic_hello", 800, 500, 1, 0)
            for _ in range(5):
                await owner.trigger("pic_hold", True)
                clock[0] += 9
                await owner.trigger("pic_turn", 10, False, False)
                assert wanted(served)[-1].held
            clock[0] += 2
            async with asyncio.timeout(WITHIN):
                while wanted(served)[-1].held:
                    await asyncio.sleep(0.01)

    play(serve, act)


def test_who_has_gone_holds_nothing_back(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            await owner.trigger("pic_hello", 800, 500, 1, 0)
            await owner.trigger("guests_edit", True)
            async with served.client(Role.GUEST) as guest:
                await guest.trigger("pic_hold", True)
                assert wanted(served)[-1].held
            while wanted(served)[-1].held:
                await asyncio.sleep(0.01)

    play(serve, act)


def test_acknowledging_what_was_not_sent_counts_for_nothing(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            await owner.trigger("pic_hello", 800, 500, 1, 0)
            await owner.trigger("pic_got", 10**9)
            assert wanted(served)[-1].seen == 0
            assert (await owner.trigger("pic_got", -1)).refusal

    play(serve, act)


# ---- Files by name


@pytest.mark.parametrize(
    "name",
    [
        "pyproject.toml",
        "pyproject",
        ".hidden.toml",
        ".git/config.toml",
        "../outside.toml",
        "link.toml",
        "sub/../.hidden",
        "folder.toml",
        "nul\0byte.toml",
        "x" * 251 + ".toml",
    ],
)
def test_nothing_but_a_design_is_written_over_or_opened(
    serve: Serve, tmp_path: Path, name: str
) -> None:
    async def act(served: Served) -> None:
        folder = served.folder
        outside = tmp_path / "outside.toml"
        (folder / ".git").mkdir()
        (folder / "folder.toml").mkdir()
        bait = [folder / "pyproject.toml", folder / ".hidden.toml", folder / ".git/config.toml"]
        for file in (*bait, outside):
            file.write_text('[project]\nname = "x"\nturnlight = 1\n')
        (folder / "link.toml").symlink_to(outside)
        before = {file: file.read_bytes() for file in (*bait, outside)}
        listed = sorted(folder.rglob("*"))
        async with served.client() as wire:
            for method, given in (("file_save_as", [name, True]), ("file_open", [name, True])):
                answer = await wire.trigger(method, *given)
                problem = answer.refusal or answer.result["problem"]
                assert problem
                assert "\n" not in problem
        assert {file: file.read_bytes() for file in (*bait, outside)} == before
        assert sorted(folder.rglob("*")) == listed

    play(serve, act)


def test_designs_are_written_over_when_asked(serve: Serve) -> None:
    async def act(served: Served) -> None:
        other = served.folder / "other.toml"
        other.write_bytes((served.folder / "mine.toml").read_bytes())
        async with served.client() as wire:
            await wire.trigger("desk_change", "relief.gap", 20)
            answer = await wire.trigger("file_save_as", "other.toml")
            assert answer.result["ask"]
            answer = await wire.trigger("file_save_as", "other.toml", True)
            assert answer.result["problem"] == ""
            assert (await wire.trigger("file_open", "mine.toml")).result["problem"] == ""
            places = (await wire.trigger("file_places")).result
            assert places["beside"] == ["mine.toml", "other.toml"]

    play(serve, act)


# ---- Clients that take nothing


def picture(
    number: int, *, view: int = 1, epoch: int = 1, turn: float = 0.0, size: int = 200_000
) -> Frame:
    return Frame(number, view, epoch, "B", turn, "plain", bytes(size))


async def stalled(served: Served) -> Wire:
    """Open a socket that takes nothing from its greeting on."""
    headers = {ROLE: Role.OWNER.value}
    place = await socket_place(served.session, served.address, headers)
    socket = await served.session.ws_connect(place, headers=headers, max_msg_size=0)
    wire = Wire(socket)
    await wire.send("wslink.hello", {}, number="system:c0:0")
    await socket.receive()
    assert socket._conn is not None
    assert socket._conn.transport is not None
    socket._conn.transport.pause_reading()  # type: ignore[attr-defined]
    return wire


def abort(wire: Wire) -> None:
    """End a socket that takes nothing, without a farewell, which it would not take either."""
    assert wire.socket._conn is not None
    assert wire.socket._conn.transport is not None
    wire.socket._conn.transport.abort()


def test_a_client_that_takes_nothing_holds_up_nobody_and_is_cut(
    serve: Serve, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    from functools import partial

    from render.page.server import sockets
    from render.page.server.outgoing import Outgoing

    monkeypatch.setattr(sockets, "Outgoing", partial(Outgoing, patience=0.5))

    async def act(served: Served) -> None:
        async with served.client() as owner:
            await owner.trigger("pic_hello", 800, 500, 1, 0)
            asleep = await stalled(served)
            await asleep.send("trame.trigger", "pic_hello", [400, 300, 1, 0], {})
            clients = served.page.sockets._clients
            assert len(clients) == 2
            drawing = served.page.picture
            while len(drawing.views) < 2:
                await asyncio.sleep(0.01)
            awake, sleeping = sorted(drawing.views, key=lambda view: view.number)
            for number in range(1, 21):
                # Turns between those of the ring, as while a hand turns the rod.
                turn = 0.001 * number
                for view in (awake, sleeping):
                    drawing._received(
                        picture(
                            number, view=view.number, epoch=view.epoch, turn=turn, size=1_000_000
                        )
                    )
                await owner.trigger("pic_got", number)
                assert wanted(served, awake)[-1].seen == number
                answer = await owner.trigger("desk_change", "relief.gap", 14 + 0.1 * number)
                assert answer.result["problem"] == ""
            while len(clients) > 1:
                await asyncio.sleep(0.01)
            # Not by the heartbeat, which takes half a minute.
            assert "it has taken nothing for 0.5 s" in caplog.text
            abort(asleep)
            assert [one["number"] for one in owner.pictures][-1] == 20

    play(serve, act)


def test_who_asks_and_takes_no_answers_is_not_listened_to(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            greedy = await stalled(served)
            for _ in range(150):
                await asyncio.wait_for(greedy.send("trame.state.get"), 5)
            client = list(served.page.sockets._clients.values())[-1]
            while (await owner.trigger("pic_frames")).refusal:
                pass
            assert client.outgoing.waiting[0] <= 32
            abort(greedy)

    play(serve, act)


def test_a_page_opened_anew_is_sent_the_pictures_there_are(serve: Serve) -> None:
    async def act(served: Served) -> None:
        async with served.client() as owner:
            await owner.trigger("pic_hello", 800, 500, 1, 0)
            epoch = view_of(served, Role.OWNER).epoch
            for number in range(3):
                turn = math.radians(3 * number)
                served.page.picture._received(picture(number + 1, epoch=epoch, turn=turn, size=9))
            async with served.client() as other:
                await other.trigger("pic_frames")
        while served.page.picture.views:
            await asyncio.sleep(0.01)
        # The view that left last of this session is that of the first tab.
        async with served.client() as again:
            await again.trigger("pic_frames")
            while len(again.pictures) < 3:
                await asyncio.sleep(0.01)
            assert [one["slot"] for one in again.pictures] == [0, 1, 2]
            assert again.pictures[0]["jpeg"] == bytes(9)
        assert other.pictures == []

    assert TOPIC == "turnlight.frame"
    play(serve, act)
