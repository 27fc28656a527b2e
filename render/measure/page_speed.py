"""How quickly the page answers, measured in a real browser on the machine at hand.

What is timed is what a builder waits for: from the slider's movement, or the hand's, until the
browser has painted the picture that belongs to it.
"""

import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

__all__ = ["Speed", "measure"]

_WINDOW = {"width": 1280, "height": 720}
_CHANGES = 8
_PATIENCE = 300_000
"""Milliseconds until a picture, or a whole ring of them, must be there."""

_SLIDER = '[data-path="relief.gap"] input[type="range"]'

_MOVE = """([selector, share]) => {
  const slider = document.querySelector(selector);
  const [low, high] = [Number(slider.min), Number(slider.max)];
  slider.value = low + (high - low) * share;
  window.turnlight.moved = performance.now();
  window.turnlight.before = window.turnlight.shown.epoch;
  slider.dispatchEvent(new Event("input", { bubbles: true }));
}"""

_ARRIVED = """(grade) => {
  const { shown, before, moved } = window.turnlight;
  return shown.epoch > before && (!grade || shown.grade !== "preview") && shown.at - moved;
}"""


@dataclass(frozen=True, slots=True)
class Speed:
    """How quickly the page answers.

    Parameters
    ----------
    slider_draft, slider_normal : float
        From a slider's movement to the new picture, seconds, the median of several: at draft
        detail while it is dragged, at normal detail when it is let go.
    drag_draft : float
        A picture of a rod that is dragged, while none is kept, seconds.
    ring_fill : float
        Until a whole turn is kept in the browser, seconds.
    ring_rate : float
        Pictures a second of a rod that is dragged then.
    load : float
        Processes that waited for a core meanwhile, the mean of a minute; NaN where the system
        does not tell.
    """

    slider_draft: float
    slider_normal: float
    drag_draft: float
    ring_fill: float
    ring_rate: float
    load: float


def measure(file: str = "sample:half-scale") -> Speed | None:
    """Open the page on a design and measure it; None without a Chromium to open it in."""
    chromium = os.environ.get("TURNLIGHT_CHROMIUM") or shutil.which("chromium")
    if chromium is None:
        return None
    with _served(file) as address, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport=_WINDOW)  # type: ignore[arg-type]
        page.set_default_timeout(_PATIENCE)
        page.goto(address)
        page.wait_for_function("window.turnlight?.shown?.grade === 'fine'")
        draft, normal = _slider(page)
        dragged = 1 / _drag(page, 4.0)
        begun = time.monotonic()
        page.wait_for_function("window.turnlight.ring.have === window.turnlight.ring.of")
        filled = time.monotonic() - begun
        rate = _drag(page, 4.0)
        browser.close()
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    return Speed(draft, normal, dragged, filled, rate, load)


@contextmanager
def _served(file: str) -> Iterator[str]:
    """Run the program and give the page's address."""
    with tempfile.TemporaryDirectory() as folder:
        process = subprocess.Popen(
            [sys.executable, "-m", "render", "open", file, "--no-browser"],
            cwd=Path(__file__).resolve().parents[2],
            env={**os.environ, "TURNLIGHT_STATE": folder},
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdout is not None
        try:
            found = re.search(r"http://\S+", process.stdout.readline())
            if found is None:
                raise RuntimeError("the page did not start.")
            yield found[0]
        finally:
            process.terminate()
            process.wait(20)
            process.stdout.close()


def _slider(page: Page) -> tuple[float, float]:
    """Seconds until the picture of each place of a slider that is dragged, and until the good one.

    Dragged on as soon as a picture is there; let go in between for the good ones.
    """
    drafts, normals = [], []
    for number in range(_CHANGES):
        page.evaluate(_MOVE, [_SLIDER, _share(number)])
        drafts.append(_waited(page, ""))
    for number in range(_CHANGES // 2):
        page.wait_for_function("window.turnlight.shown.grade === 'fine'")
        page.evaluate(_MOVE, [_SLIDER, _share(number)])
        normals.append(_waited(page, "plain"))
    # The first change loads what the later ones find loaded.
    return statistics.median(drafts[1:]), statistics.median(normals)


def _share(number: int) -> float:
    return 0.3 + 0.4 * ((number * 3) % _CHANGES) / _CHANGES


def _waited(page: Page, grade: str) -> float:
    taken = page.wait_for_function(_ARRIVED, arg=grade, polling=10).json_value()
    return float(taken) / 1e3


def _drag(page: Page, seconds: float) -> float:
    """Pictures a second of a rod that is dragged up and down, each of another turn."""
    box = page.locator('[data-test="picture"]').bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate("window.turnlight.log.length = 0")
    begun, step = time.monotonic(), 0
    while time.monotonic() - begun < seconds:
        step += 1
        page.mouse.move(x, y - 150 + abs((step * 5) % 600 - 300))
    log = page.evaluate("window.turnlight.log")
    page.mouse.up()
    turns = [row[2] for row in log]
    changed = [row for row, before in zip(log[1:], turns, strict=False) if row[2] != before]
    if len(changed) < 2:
        return 1 / seconds
    return (len(changed) - 1) / (changed[-1][0] - changed[0][0]) * 1e3
