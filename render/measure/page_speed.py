"""Response times of the page, measured in a real browser on this machine.

A time runs from a movement of a slider, or of the mouse, until the browser has painted the picture
that belongs to it.
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

__all__ = ["ServedPage", "Speed", "measure", "served"]

_WINDOW = {"width": 1280, "height": 720}
_CHANGES = 8
_TIMEOUT = 300_000
"""Timeout of a picture, or of a whole ring of pictures, ms."""

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
    """Response times and rates of the page.

    Parameters
    ----------
    slider_draft, slider_normal : float
        Median time from a slider's movement to the new picture, s: at draft detail while the
        slider is dragged, at normal detail after it is released.
    drag_draft : float
        Time of a picture while the rod is dragged and no picture is cached, s.
    ring_fill : float
        Time until a whole turn is cached in the browser, s.
    ring_rate : float
        Pictures per second while the rod is dragged, with a whole turn cached.
    load : float
        Load average of the last minute; NaN where the system has none.
    """

    slider_draft: float
    slider_normal: float
    drag_draft: float
    ring_fill: float
    ring_rate: float
    load: float


def measure(file: str = "sample:half-scale") -> Speed | None:
    """Measure the page with a design open; None if there is no Chromium.

    Parameters
    ----------
    file : str, optional
        Path, or ``sample:`` and a sample's name.
    """
    chromium = os.environ.get("TURNLIGHT_CHROMIUM") or shutil.which("chromium")
    if chromium is None:
        return None
    with served(file) as program, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport=_WINDOW)  # type: ignore[arg-type]
        page.set_default_timeout(_TIMEOUT)
        page.goto(program.address)
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


@dataclass(frozen=True, slots=True)
class ServedPage:
    """A running program.

    Parameters
    ----------
    address : str
        Of its page, with a key.
    pid : int
        Of its own process, which starts the others.
    """

    address: str
    pid: int


@contextmanager
def served(file: str) -> Iterator[ServedPage]:
    """Run the program with a design open, and stop it at the end.

    Parameters
    ----------
    file : str
        Path, or ``sample:`` and a sample's name.

    Yields
    ------
    ServedPage

    Raises
    ------
    RuntimeError
        If it does not start.
    """
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
            yield ServedPage(found[0], process.pid)
        finally:
            process.terminate()
            process.wait(20)
            process.stdout.close()


def _slider(page: Page) -> tuple[float, float]:
    """Median times until the draft picture and until the normal picture, s.

    For drafts the slider is moved on as soon as a picture has come; for normal pictures it is
    released in between.
    """
    drafts, normals = [], []
    for number in range(_CHANGES):
        page.evaluate(_MOVE, [_SLIDER, _share(number)])
        drafts.append(_waited(page, ""))
    for number in range(_CHANGES // 2):
        page.wait_for_function("window.turnlight.shown.grade === 'fine'")
        page.evaluate(_MOVE, [_SLIDER, _share(number)])
        normals.append(_waited(page, "plain"))
    # The first change is left out: it loads modules and textures.
    return statistics.median(drafts[1:]), statistics.median(normals)


def _share(number: int) -> float:
    return 0.3 + 0.4 * ((number * 3) % _CHANGES) / _CHANGES


def _waited(page: Page, grade: str) -> float:
    taken = page.wait_for_function(_ARRIVED, arg=grade, polling=10).json_value()
    return float(taken) / 1e3


def _drag(page: Page, seconds: float) -> float:
    """Different pictures per second while the rod is dragged up and down."""
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
