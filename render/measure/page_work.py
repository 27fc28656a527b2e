"""What the program has to do for a browser that draws: edits, and a rod that is turned.

The browser is made to draw, however slowly it does. A time runs from the movement of a slider until
a pixel of the picture that shows the edit has been read back.
"""

import time
from dataclasses import dataclass

import psutil
from playwright.sync_api import Browser, Page

from render.measure.page_speed import ServedPage
from render.measure.timings import Timing

__all__ = ["PageWork", "Turning", "measure_work"]

_WINDOW = {"width": 1280, "height": 720}
_EDITS = 8
_TIMEOUT = 600_000
"""Timeout of a step, ms: a software renderer takes seconds for a picture."""

_DRAFT_AIM = 150.0
"""Wanted time from an edit to its draft, ms."""

_SLIDER = '[data-path="relief.gap"] input[type="range"]'

_DRAW_HERE = "localStorage.setItem('turnlight-drawing', 'browser')"

_READY = """() => {
    const own = window.turnlight?.own?.();
    if (own?.state === "none") throw new Error(`the browser does not draw: ${own.why}`);
    return own?.state === "drawn" && own.number >= 0 && !own.draft;
}"""

_EDIT = """async ([selector, share, timeout]) => {
    const slider = document.querySelector(selector);
    const [low, high] = [Number(slider.min), Number(slider.max)];
    const gl = document.querySelector('[data-test="solid"]').getContext("webgl2");
    const before = window.turnlight.own().number, begun = performance.now();
    slider.value = low + (high - low) * share;
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    const until = async (fulfilled) => {
        while (!fulfilled(window.turnlight.own())) {
            if (performance.now() - begun > timeout) throw new Error("the edit was never drawn");
            await new Promise((next) => setTimeout(next));
        }
        gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
        return performance.now() - begun;
    };
    const first = await until((own) => own.number > before);
    const drafted = window.turnlight.own().draft;
    return [drafted ? first : null, await until((own) => own.number > before && !own.draft)];
}"""


@dataclass(frozen=True, slots=True)
class Turning:
    """The program's use of the processor in some seconds.

    Parameters
    ----------
    what : str
    seconds : float
        Elapsed time.
    processor : float
        Processor time of all its processes, s.
    pictures : int
        Pictures that the browser has drawn meanwhile.
    """

    what: str
    seconds: float
    processor: float
    pictures: int


@dataclass(frozen=True, slots=True)
class PageWork:
    """Edits and turns.

    Parameters
    ----------
    edits : tuple of Timing
        Until the draft, and until the full picture.
    uses : tuple of Turning
        Of the processor.
    renderer : str
        Name of what draws, as the browser gives it.
    """

    edits: tuple[Timing, ...]
    uses: tuple[Turning, ...]
    renderer: str


def measure_work(browser: Browser, program: ServedPage, seconds: float) -> PageWork:
    """Edit the open design and turn the rod, in a browser that draws.

    Parameters
    ----------
    browser : Browser
    program : ServedPage
        With a design that has a gap in its relief.
    seconds : float
        For which the rod is turned, and left alone.
    """
    page = browser.new_page(viewport=_WINDOW)  # type: ignore[arg-type]
    page.set_default_timeout(_TIMEOUT)
    page.add_init_script(_DRAW_HERE)
    page.goto(program.address)
    page.wait_for_function(_READY)
    renderer = page.evaluate("window.turnlight.own().renderer")
    watch = _Watch(page, psutil.Process(program.pid))
    drafts, fulls = [], []
    for number in range(_EDITS):
        share = 0.3 + 0.4 * ((number * 3) % _EDITS) / _EDITS
        draft, full = page.evaluate(_EDIT, [_SLIDER, share, _TIMEOUT])
        # The first edit loads modules.
        if number:
            drafts += [draft] if draft is not None else []
            fulls.append(full)
    edited = watch.passed(f"{_EDITS} edits, each until the full picture")
    page.wait_for_timeout(1000 * seconds)
    rested = watch.passed("nothing done")
    _drag(page, seconds)
    turned = watch.passed("the rod turned by hand")
    page.close()
    return PageWork(
        (
            Timing("edit to draft", drafts, [], _DRAFT_AIM),
            Timing("edit to full picture", fulls, []),
        ),
        (turned, edited, rested),
        renderer,
    )


class _Watch:
    """Processor time and pictures since the last look."""

    def __init__(self, page: Page, program: psutil.Process) -> None:
        self._page, self._program = page, program
        self._last = self._now()

    def passed(self, what: str) -> Turning:
        """What has been used since the last call."""
        last, self._last = self._last, self._now()
        seconds, processor, pictures = (b - a for a, b in zip(last, self._last, strict=True))
        return Turning(what, seconds, processor, round(pictures))

    def _now(self) -> tuple[float, float, float]:
        painted = float(self._page.evaluate("window.turnlight.painted"))
        return time.monotonic(), processor_time(self._program), painted


def processor_time(program: psutil.Process) -> float:
    """Processor time of a program, of what it has started, and of what of that has ended, s.

    Parameters
    ----------
    program : psutil.Process
    """
    total = 0.0
    for process in (program, *program.children(recursive=True)):
        try:
            total += sum(process.cpu_times()[:4])
        except psutil.NoSuchProcess:
            continue  # counted by its parent from now on
    return total


def _drag(page: Page, seconds: float) -> None:
    box = page.locator('[data-test="picture"]').bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    begun, step = time.monotonic(), 0
    while time.monotonic() - begun < seconds:
        step += 1
        page.mouse.move(x, y - 150 + abs((step * 5) % 600 - 300))
        page.wait_for_timeout(10)
    page.mouse.up()
