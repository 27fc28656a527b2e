"""The page in a real browser: a program of its own for each file of tests, and Chromium."""

import os
import re
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Error, Locator, Page, expect

from scenes.files import samples
from tests.conftest import share_light
from tests.waiting import WITHIN, eventually

ROOT = Path(__file__).resolve().parents[3]

COARSE = Path(__file__).parent / "coarse"
"""Has worker processes draw few triangles (`coarse/sitecustomize.py`)."""

ADDRESS = r"http://127\.0\.0\.1:\d+/\?key=[a-z0-9-]+"

SMALL = {"width": 900, "height": 560}
"""Of a window in which pictures are drawn quickly."""


def answer(
    address: str,
    method: str = "GET",
    data: bytes | None = None,
    headers: Mapping[str, str] = {},
) -> tuple[int, bytes]:
    """Ask for an address without a browser."""
    request = urllib.request.Request(address, data, dict(headers), method=method)
    try:
        with urllib.request.urlopen(request, timeout=WITHIN) as response:
            return response.status, response.read()
    except urllib.error.HTTPError as error:
        return error.code, error.read()


@dataclass(slots=True)
class Program:
    """Turnlight with its page open, as a builder starts it.

    Parameters
    ----------
    process : subprocess.Popen
    log : Path
        What it has said.
    state : Path
        Where it keeps unsaved work.
    """

    process: subprocess.Popen[bytes]
    log: Path
    state: Path
    _cookie: str = ""
    _secret: str = ""

    @property
    def address(self) -> str:
        """Address with a key that has not been used: the last that it has printed.

        The next is printed before a browser that uses this one has its answer.
        """
        return re.findall(ADDRESS, self.log.read_text(encoding="utf-8"))[-1]

    @property
    def base(self) -> str:
        """Address without a key."""
        return self.address.partition("?")[0]

    def ask(
        self, path: str, method: str = "GET", data: bytes | None = None, *, session: bool = True
    ) -> tuple[int, bytes]:
        """Ask for a path as the page does, without a browser; give status and body."""
        headers = {"Origin": self.base.rstrip("/")}
        if session:
            headers |= {"Cookie": self.cookie, "Turnlight-Page": self._secret}
        return answer(self.base + path, method, data, headers)

    @property
    def cookie(self) -> str:
        """Header of a session of a client that is no browser."""
        if not self._cookie:
            with urllib.request.urlopen(self.address, timeout=WITHIN) as response:
                self._cookie = response.headers["Set-Cookie"].partition(";")[0]
                given = re.search(rb'name="turnlight-page" content="(\w+)"', response.read())
            assert given is not None
            self._secret = given[1].decode()
        return self._cookie

    def stop(self) -> int:
        """End it as Ctrl-C does, and give its exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(WITHIN)

    def kill(self) -> None:
        """End it without a chance to tidy up."""
        self.process.kill()
        self.process.wait(WITHIN)


Start = Callable[..., Program]


@pytest.fixture(scope="module")
def start(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Start]:
    """Start the program; whatever still runs at the end is stopped."""
    running: list[Program] = []
    home = tmp_path_factory.mktemp("home")

    def begin(
        file: str | Path = "sample:half-scale",
        *options: str,
        state: Path = home,
        program: tuple[str, ...] = ("-m", "render"),
        browser: str = "",
    ) -> Program:
        path = os.pathsep.join((str(COARSE), str(ROOT)))
        share_light(state, tmp_path_factory)
        environment = {**os.environ, "TURNLIGHT_STATE": str(state), "PYTHONPATH": path}
        if browser:
            environment["BROWSER"] = browser
        else:
            options = ("--no-browser", *options)
        log = home / f"said-{len(running)}.txt"
        with log.open("wb") as output:
            process = subprocess.Popen(
                [sys.executable, *program, "open", str(file), *options],
                cwd=home,
                env=environment,
                stdout=output,
                stderr=subprocess.STDOUT,
            )
        started = Program(process, log, state)
        running.append(started)

        def printed() -> bool:
            said = log.read_text(encoding="utf-8")
            assert process.poll() is None, f"The program did not start:\n{said}"
            return re.search(rf"{ADDRESS}\s", said) is not None

        eventually(printed)
        return started

    yield begin
    for one in running:
        if one.process.poll() is None:
            one.kill()
    for one in running:
        assert "Traceback" not in (said := one.log.read_text(encoding="utf-8")), said


@pytest.fixture(scope="module")
def design_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a design file of a builder's own."""
    path = tmp_path_factory.mktemp("designs") / "mine.toml"
    path.write_text(samples.text("half-scale"), encoding="utf-8")
    return path


@dataclass(slots=True)
class Seen:
    """A tab with the page in it.

    Parameters
    ----------
    page : playwright Page
    errors : list of str
        What went wrong in the browser.
    """

    page: Page
    errors: list[str] = field(default_factory=list)

    def open(self, program: Program, *, filling: bool = False) -> None:
        """Go to the page and wait for its first picture.

        Parameters
        ----------
        program : Program
        filling : bool
            Whether a ring of fine pictures is then drawn, as for a builder; else none (`hold`).
        """
        self.page.goto(program.address)
        # A script that cannot be read is seen now, not when the picture has not come in time.
        assert not self.errors, self.errors
        self.picture("true")
        if not filling:
            hold(self.page)

    def picture(self, condition: str) -> dict[str, Any]:
        """Wait until the picture that is shown fulfils a condition, and tell about it.

        Parameters
        ----------
        condition : str
            JavaScript about ``shown`` (epoch, turn, grade).
        """
        self.page.wait_for_function(
            f"() => {{ const shown = window.turnlight?.shown; return shown && ({condition}); }}"
        )
        shown: dict[str, Any] = self.page.evaluate("window.turnlight.shown")
        return shown

    def number(self, path: str) -> Locator:
        """Find the number in a field of the design."""
        return self.page.locator(f'[data-path="{path}"] input.num').first

    def put(self, path: str, value: str) -> None:
        """Type a number into a field of the design."""
        self.number(path).fill(value)
        self.number(path).press("Enter")

    def undo(self, steps: int, path: str, value: str) -> None:
        """Take changes back, and wait until a field holds what it then must."""
        for _ in range(steps):
            self.page.get_by_role("button", name="Undo").click()
        expect(self.number(path)).to_have_value(value)

    def pixels(self) -> bytes:
        """Take a picture of the picture, without what stands over it."""
        return self.page.locator('[data-test="picture"]').screenshot()


HOLD = """(held) => {
    const hold = () => window.trame.trigger("pic_hold", [held]).catch(() => {});
    clearInterval(window.held_by_test);
    if (held) {
        window.held_by_test = setInterval(hold, 4000);
        addEventListener("resize", () => clearInterval(window.held_by_test), { once: true });
    }
    return hold();
}"""
"""Holds as a hand does that stays at a slider: a hold lapses unless it is renewed."""


def hold(page: Page, *, held: bool = True) -> None:
    """Have pictures drawn plainly, and no ring, until the picture's place changes its size.

    The program does so itself while a hand is at a slider. A ring of fine pictures would take both
    cores for a minute from the tests beside it.

    Parameters
    ----------
    page : playwright Page
    held : bool
        False to have fine pictures and the ring drawn again.
    """
    page.evaluate(HOLD, held)


def at_cards(page: Page, address: str, *, drawn: bool = False) -> None:
    """Go to the page for what is on its cards.

    Parameters
    ----------
    page : playwright Page
    address : str
    drawn : bool
        Whether the picture is drawn too, plainly; else the page is not told how large it is to be.
        Every change of the design would take the machine for seconds from the tests beside it.
    """
    if not drawn:
        page.add_init_script("window.ResizeObserver = class { observe() {} disconnect() {} };")
    page.goto(address)
    page.wait_for_selector(".desk .card")
    if drawn:
        hold(page)


@pytest.fixture
def tab(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Seen]:
    """Open a tab; errors in it fail the test."""
    options = getattr(request, "param", {})
    context = browser.new_context(
        **{"viewport": SMALL, "reduced_motion": "reduce", "accept_downloads": True, **options}
    )
    context.set_default_timeout(1000 * WITHIN)
    page = context.new_page()
    seen = Seen(page)

    def note(message: ConsoleMessage) -> None:
        # A program that has ended refuses; the page says so.
        if message.type == "error" and "CONNECTION_REFUSED" not in message.text:
            seen.errors.append(message.text)

    page.on("console", note)

    def broke(error: Error) -> None:
        # A plain object is the program's refusal, or its end. What went wrong there stands in what
        # it said, which is looked at when it has been stopped.
        if str(error) != "Object":
            seen.errors.append(str(error))

    page.on("pageerror", broke)
    page.on("dialog", lambda dialog: dialog.accept())
    yield seen
    context.close()
    assert not seen.errors, seen.errors
