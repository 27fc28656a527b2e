"""Agreement of the browser's picture with the live picture: one shading in two hosts.

Both draw the same stage with the same shader text. They differ in the packing of maps, the
filtering of textures and the rasterization of triangles.
`python -m render.measure.browser_agreement [SAMPLE ...]` compares samples in all lights, at full
view and enlarged.
"""

import base64
import io
import json
import math
import os
import shutil
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from PIL import Image
from playwright.sync_api import Browser, sync_playwright
from rich.console import Console
from rich.table import Table

from geometry.grid import Detail
from materials.shelf import Shelf
from render.browser.model import Model, model_of
from render.browser.scripts import drawing_script
from render.common.progress import Progress
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from render.measure.likeness import mean_flip
from render.output.compare import shared_camera
from render.request.subject import Pixels, Size, Subject
from scenes.files import samples
from scenes.light.lights import LightKind
from scenes.stage.camera import Camera
from scenes.stage.stage import stage_for

__all__ = [
    "ENLARGEMENT",
    "MAX_FLIP",
    "BrowserDrawing",
    "HostComparison",
    "compare_hosts",
    "open_chromium",
]

SIZE: Size = (480, 270)
ENLARGEMENT = 5.0
"""Enlargement at which single threads are visible."""

MAX_FLIP = {1.0: 0.01, ENLARGEMENT: 0.02}
"""Maximum mean FLIP, by enlargement."""

_HARNESS = """async ([text]) => {
    const canvas = document.createElement("canvas");
    document.body.append(canvas);
    window.canvas = canvas;
    window.drawing = await drawingOf(canvas, JSON.parse(text));
    return drawing !== null;
}"""

_DRAW = """async (view) => {
    await drawing.ready(view);
    drawing.draw(view);
    drawing.finish();
    const error = drawing.gl.getError();
    if (error) throw new Error(`WebGL error ${error}`);
    return canvas.toDataURL("image/png");
}"""

_LOSE = """async () => {
    const losing = drawing.gl.getExtension("WEBGL_lose_context");
    const lost = new Promise((done) => canvas.addEventListener("webglcontextlost", (event) => {
        event.preventDefault();
        done();
    }, { once: true }));
    losing.loseContext();
    await lost;
    await new Promise((done) => setTimeout(done));
    const back = new Promise((done) => canvas.addEventListener(
        "webglcontextrestored", done, { once: true }));
    losing.restoreContext();
    await back;
    window.drawing = await drawingOf(canvas, window.model);
}"""


class BrowserDrawing:
    """A model, drawn on a page of a browser.

    Parameters
    ----------
    browser : Browser
    model : Model
    """

    def __init__(self, browser: Browser, model: Model) -> None:
        self.page = browser.new_page()
        self._model = model
        self.page.set_content("<!doctype html><title>A model</title>")
        self.page.add_script_tag(content=f"{drawing_script()}\nwindow.drawingOf = drawingOf;")
        text = json.dumps(model.data)
        self.page.evaluate("(text) => { window.model = JSON.parse(text); }", text)
        if not self.page.evaluate(_HARNESS, [text]):
            raise RuntimeError("the browser has no WebGL2 with targets of half floats")

    def picture(self, **changes: Any) -> Pixels:
        """Draw a still; `changes` replace fields of the view (`render/browser/drawing.js`)."""
        width, height = self._model.data["size"]
        view = {
            "design": 0,
            "finished": self._model.data["designs"][0]["finished"] is not None,
            "light": 0,
            "lightTurn": (0.0, 0.0),
            "turn": 0.0,
            "middle": (width / 2, height / 2),
            "scale": 1.0,
            "upright": False,
            "width": width,
            "height": height,
            "samples": 2,
            "preview": 0,
        }
        url = self.page.evaluate(_DRAW, view | changes)
        with Image.open(io.BytesIO(base64.b64decode(url.partition(",")[2]))) as image:
            return np.asarray(image.convert("RGB"))

    def lose_context(self) -> None:
        """Lose and restore the WebGL context, and prepare the model again."""
        self.page.evaluate(_LOSE)

    def close(self) -> None:
        """Close the page."""
        self.page.close()


@dataclass(frozen=True, slots=True)
class HostComparison:
    """One picture in both hosts, and its difference.

    Parameters
    ----------
    light : LightKind
    enlarged : float
        Factor of enlargement.
    flip : float
        Mean FLIP of the browser's picture against the live one.
    live, browser : (height, width, 3) uint8
        sRGB.
    """

    light: LightKind
    enlarged: float
    flip: float
    live: Pixels
    browser: Pixels


def compare_hosts(
    browser: Browser,
    subject: Subject,
    detail: Detail = Detail.NORMAL,
    *,
    size: Size = SIZE,
    lights: Sequence[LightKind] = tuple(LightKind),
    enlarged: Sequence[float] = (1.0, ENLARGEMENT),
) -> Iterator[HostComparison]:
    """Compare the pictures of a design in both hosts, at its own turn of the rod.

    Parameters
    ----------
    browser : Browser
    subject : Subject
    detail : Detail
    size : (int, int)
        Width and height, pixels.
    lights : sequence of LightKind
    enlarged : sequence of float
        Factors of enlargement.

    Yields
    ------
    HostComparison
    """
    aspect = size[0] / size[1]
    camera = shared_camera([subject.plan()], aspect)
    model = model_of([subject], camera, size, detail, lights=lights)
    wrap = subject.build(detail, Progress.none())
    drawing = BrowserDrawing(browser, model)
    for light in lights:
        spec = wrap.design.light.model_copy(update={"kind": light})
        stage = stage_for(wrap, aspect, camera=camera, light=spec)
        with LiveScene(stage, size) as live:
            for factor in enlarged:
                live.look_from(_enlarge(camera, factor))
                live_picture = live.picture()
                number = model.lights.index(light.value)
                browser_picture = drawing.picture(light=number, turn=stage.turn, scale=factor)
                yield HostComparison(
                    light,
                    factor,
                    mean_flip(live_picture, browser_picture),
                    live_picture,
                    browser_picture,
                )
    drawing.close()


def _enlarge(camera: Camera, factor: float) -> Camera:
    half = math.tan(camera.view_angle / 2) / factor
    return replace(camera, view_angle=2 * math.atan(half))


@contextmanager
def open_chromium() -> Iterator[Browser]:
    """Open Chromium, the system's or the one that ``TURNLIGHT_CHROMIUM`` names."""
    path = os.environ.get("TURNLIGHT_CHROMIUM") or shutil.which("chromium")
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield opened
        opened.close()


def table_of(found: dict[str, list[HostComparison]]) -> Table:
    """Table of mean FLIP, one row for each sample.

    Parameters
    ----------
    found : dict of str to list of HostComparison
        By sample; all in the same lights and enlargements.
    """
    table = Table(title="Browser against live picture: mean FLIP")
    table.add_column("sample")
    for comparison in next(iter(found.values()), []):
        table.add_column(f"{comparison.light.value}, {comparison.enlarged:g} ×", justify="right")
    table.add_column("")
    for name, comparisons in found.items():
        good = all(comparison.flip <= MAX_FLIP[comparison.enlarged] for comparison in comparisons)
        table.add_row(
            name, *(f"{comparison.flip:.4f}" for comparison in comparisons), "yes" if good else "NO"
        )
    return table


def main(names: Sequence[str] = ()) -> None:
    """Compare the pictures of samples, and print the table.

    Parameters
    ----------
    names : sequence of str, optional
        Samples; by default all.
    """
    quieten()
    console = Console()
    found = {}
    with open_chromium() as browser:
        for name in names or samples.names():
            console.print(f"comparing: {name}", style="dim", highlight=False)
            subject = Subject(samples.load(name).without_variants(), Shelf.shipped())
            found[name] = list(compare_hosts(browser, subject))
    console.print(table_of(found))


if __name__ == "__main__":
    main(sys.argv[1:])
