"""Every method and every address, as every role, with hostile values.

They are found in the page's own tables, so that a new one is tried by being there.
"""

import asyncio
import logging
import math
import re
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import AsyncExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from render.measure.wire import Wire
from render.page.server.roles import Right, Role, rights_of
from tests.render.page.server.serving import Served, serving_in

BROKEN = "went wrong in Turnlight itself"

PATHS = (
    "/etc/passwd",
    "../secret.toml",
    "..\\secret.toml",
    "~/.ssh/config",
    ".hidden.toml",
    "pyproject.toml",
    "mine.toml",
    "file:///etc/passwd",
    "//server/share/x.toml",
    "C:\\x.toml",
    "CON.toml",
    "a\0b.toml",
    "x" * 300,
)
FIELDS = (
    "relief.gap",
    "blank.stations",
    "layers.0",
    "layers.0.name",
    "layers.999",
    "layers.-1",
    "title",
    "notes",
    "shelf",
    "variants",
    "camera.turn",
    "relief..gap",
    ".",
    "trim.threads.0.thread",
    "a." * 150,
)
ODD = (
    "",
    " ",
    "\x1b[2J",
    "\u202e\u0000",
    "nan",
    "1e999",
    "half-scale",
    "decal",
    "still",
    "in",
    "A=1,2",
)
NUMBERS = (math.nan, math.inf, -math.inf, 1e300, -1e300, 2**63, -1, 0, 0.5, 10**9, 5e-324)
DEEP: list[Any] = []
for _ in range(6):
    DEEP = [DEEP]
HOSTILE: tuple[Any, ...] = (
    None,
    True,
    b"bytes",
    *NUMBERS,
    *PATHS,
    *ODD,
    *FIELDS,
    DEEP,
    ["x"] * 9_000,
    {"path": {"a": math.nan}},
    {name: 1 for name in FIELDS},
    {"name": "x" * 30_000},
    "\ud7ff" * 5_000,
)

plain = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(max_size=40),
    st.floats(),
    st.integers(-(2**63), 2**63),
    st.dictionaries(
        st.sampled_from(FIELDS), st.one_of(st.floats(), st.text(max_size=9)), max_size=4
    ),
    st.lists(st.sampled_from(ODD), max_size=4),
    st.booleans(),
)


@dataclass(slots=True)
class Court:
    """A page with one socket of each role.

    Parameters
    ----------
    thread : ThreadPoolExecutor
        In which the page's loop runs: a browser of other tests may hold the main one's.
    runner : asyncio.Runner
    served : Served
    wires : dict of Role to Wire
    outside : dict of Path to bytes
        Files that no client may touch, as they are.
    """

    thread: ThreadPoolExecutor
    runner: asyncio.Runner
    served: Served
    wires: dict[Role, Wire]
    outside: dict[Path, bytes]

    def run(self, work: Coroutine[Any, Any, Any]) -> Any:
        return self.thread.submit(self.runner.run, work).result()


@pytest.fixture(scope="module")
def court(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Court]:
    folder = tmp_path_factory.mktemp("court")
    secret = folder / "secret.toml"
    secret.write_text("turnlight = 1\nsecret = 'of nobody else'\n")
    runner, stack = asyncio.Runner(), AsyncExitStack()
    with pytest.MonkeyPatch.context() as patch, ThreadPoolExecutor(1) as thread:
        serve = serving_in(folder, patch)

        async def begin() -> tuple[Served, dict[Role, Wire]]:
            served: Served = await stack.enter_async_context(serve())
            for name in ("pyproject.toml", ".hidden.toml"):
                (served.folder / name).write_text("secret = 'of nobody else'\n")
            return served, {
                role: await stack.enter_async_context(served.client(role)) for role in Role
            }

        served, wires = thread.submit(runner.run, begin()).result()
        kept = (secret, served.folder / "pyproject.toml", served.folder / ".hidden.toml")
        held = Court(thread, runner, served, wires, {file: file.read_bytes() for file in kept})
        yield held
        held.run(stack.aclose())
        thread.submit(runner.close).result()


@pytest.fixture
def unharmed(court: Court, caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    """See that nothing outside was touched and nothing in the program broke."""
    with caplog.at_level(logging.WARNING):
        yield
    assert not [one for one in caplog.records if one.exc_info], caplog.text
    assert {file: file.read_bytes() for file in court.outside} == court.outside
    root = court.served.folder.parent
    assert {one.name for one in root.iterdir()} <= {"designs", "state", "secret.toml"}
    assert all(
        one.suffix == ".toml" or one.name.endswith(".lock") for one in court.served.folder.iterdir()
    )


def try_method(court: Court, role: Role, name: str, arguments: list[object]) -> None:
    """Make a call, and see that its answer is one."""
    may_edit = court.served.page.state.guests_edit
    method = next(one for one in court.served.page.methods if one.name == name)
    answer = court.run(court.wires[role].trigger(name, *arguments))
    told = str(answer.whole)
    assert "Traceback" not in told
    assert "secret = " not in told
    assert BROKEN not in answer.refusal, (name, arguments)
    assert answer.refusal.isprintable()
    if method.right not in rights_of(role, guests_edit=may_edit):
        assert "not for guests" in answer.refusal
    elif role is Role.GUEST:
        assert method.right is not Right.OWN


@pytest.mark.usefixtures("unharmed")
@pytest.mark.parametrize("role", list(Role))
def test_every_method_survives_hostile_values(court: Court, role: Role) -> None:
    court.run(court.wires[Role.OWNER].trigger("guests_edit", True))
    for method in court.served.page.methods:
        many = len(method.signature.words)
        if method.name == "guests_edit":
            continue
        for value in HOSTILE if many else ():
            try_method(court, role, method.name, [value] * many)
        try_method(court, role, method.name, [])
        try_method(court, role, method.name, [None] * (many + 1))


@pytest.mark.usefixtures("unharmed")
@pytest.mark.parametrize("right", list(Right))
def test_rights_are_those_of_the_table(court: Court, right: Right) -> None:
    court.run(court.wires[Role.OWNER].trigger("guests_edit", False))
    for method in court.served.page.methods:
        if method.right is right:
            try_method(court, Role.GUEST, method.name, [])


@pytest.mark.usefixtures("unharmed")
def test_every_method_survives_mixed_values(court: Court) -> None:
    court.run(court.wires[Role.OWNER].trigger("guests_edit", True))
    methods = [one for one in court.served.page.methods if one.name != "guests_edit"]

    @settings(
        max_examples=300,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(st.data())
    def survive(data: st.DataObject) -> None:
        method = data.draw(st.sampled_from(methods))
        role = data.draw(st.sampled_from(list(Role)))
        arguments = [
            data.draw(
                st.sampled_from((*FIELDS, *PATHS, *ODD)) if words.startswith("one line") else plain
            )
            for words in method.signature.words.values()
        ]
        try:
            try_method(court, role, method.name, arguments)
        except (OverflowError, UnicodeEncodeError):
            pass  # MessagePack has no such number or text: it cannot be sent

    survive()


@pytest.mark.usefixtures("unharmed")
@pytest.mark.parametrize("role", [None, *Role])
def test_every_address_survives_hostile_requests(court: Court, role: Role | None) -> None:
    served = court.served
    names = ("..%2f..%2fetc%2fpasswd", "%00", "%1b[2J", "nan", "secret.toml", "%ff%fe", "a" * 3_000)
    queries = ("", "?name=../x.png&path=decal.picture", "?path=%00&name=%ff", "?thread=nan,inf,1,1")
    for (method, path), right in served.page.routes.declared.items():
        for name in names if "{" in path else ("",):
            for query in queries:
                address = re.sub(r"{\w+}", name, path) + query
                for other in {method, "POST", "DELETE", "OPTIONS"}:
                    status, text = court.run(
                        served.ask(other, address, role, data=None if other == "GET" else b"\0x")
                    )
                    assert status < 500, (other, address, text)
                    assert "Traceback" not in text
                    assert "secret = " not in text
                    if role is None:
                        assert status == 403
                    elif other == method and right is Right.OWN and role is Role.GUEST:
                        assert status == 403, address
