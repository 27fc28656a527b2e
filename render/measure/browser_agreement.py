"""The browser's picture against the live picture: one shading in two hosts.

Both draw the same stage with the same text; what differs is how maps are packed, how textures are
filtered and where triangles meet pixels. `python -m render.measure.browser_agreement [SAMPLE ...]`
compares all samples under all lights, whole and enlarged.
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

__all__ = ["ENLARGED", "WANTED", "Compared", "Drawn", "compared", "in_browser"]

SIZE: Size = (480, 270)
ENLARGED = 5.0
"""How many times a picture is enlarged to see single threads."""

WANTED = {1.0: 0.01, ENLARGED: 0.02}
"""Mean FLIP at most, by how far the picture is enlarged."""

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


class Drawn:
    """A model on a page of a browser.

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
        """Draw a still of the model; `changes` are of the view (`render/browser/drawing.js`)."""
        width, height = self._model.data["size"]
        view = {
            "design": 0,
            "finished": self._model.data["designs"][0]["finished"] is not None,
            "light": 0,
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
        """Take the context away, give it back, and prepare the model anew."""
        self.page.evaluate(_LOSE)

    def close(self) -> None:
        """Close the page."""
        self.page.close()


@dataclass(frozen=True, slots=True)
class Compared:
    """One picture in both hosts.

    Parameters
    ----------
    light : LightKind
    enlarged : float
    flip : float
        Mean FLIP of the browser's picture against the live one.
    live, browser : (height, width, 3) uint8
    """

    light: LightKind
    enlarged: float
    flip: float
    live: Pixels
    browser: Pixels


def compared(
    browser: Browser,
    subject: Subject,
    detail: Detail = Detail.NORMAL,
    *,
    size: Size = SIZE,
    lights: Sequence[LightKind] = tuple(LightKind),
    enlarged: Sequence[float] = (1.0, ENLARGED),
) -> Iterator[Compared]:
    """Draw a design in both hosts, at its own turn.

    Parameters
    ----------
    browser : Browser
    subject : Subject
    detail : Detail
    size : (int, int)
        Width and height, pixels.
    lights : sequence of LightKind
    enlarged : sequence of float
    """
    aspect = size[0] / size[1]
    camera = shared_camera([subject.plan()], aspect)
    model = model_of([subject], camera, size, detail, lights=lights)
    wrap = subject.build(detail, Progress.none())
    drawn = Drawn(browser, model)
    for light in lights:
        spec = wrap.design.light.model_copy(update={"kind": light})
        stage = stage_for(wrap, aspect, camera=camera, light=spec)
        with LiveScene(stage, size) as live:
            for factor in enlarged:
                live.look_from(_nearer(camera, factor))
                wanted = live.picture()
                number = model.lights.index(light.value)
                found = drawn.picture(light=number, turn=stage.turn, scale=factor)
                yield Compared(light, factor, mean_flip(wanted, found), wanted, found)
    drawn.close()


def _nearer(camera: Camera, factor: float) -> Camera:
    half = math.tan(camera.view_angle / 2) / factor
    return replace(camera, view_angle=2 * math.atan(half))


@contextmanager
def in_browser() -> Iterator[Browser]:
    """Open Chromium, the system's or the one that ``TURNLIGHT_CHROMIUM`` names."""
    path = os.environ.get("TURNLIGHT_CHROMIUM") or shutil.which("chromium")
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield opened
        opened.close()


def table_of(found: dict[str, list[Compared]]) -> Table:
    """A table of mean FLIP, a row for each sample."""
    table = Table(title="Browser against live picture: mean FLIP")
    table.add_column("sample")
    for one in next(iter(found.values()), []):
        table.add_column(f"{one.light.value}, {one.enlarged:g} ×", justify="right")
    table.add_column("")
    for name, each in found.items():
        good = all(one.flip <= WANTED[one.enlarged] for one in each)
        table.add_row(name, *(f"{one.flip:.4f}" for one in each), "yes" if good else "NO")
    return table


def main(names: Sequence[str] = ()) -> None:
    """Compare samples, all by default, and print the table."""
    quieten()
    console = Console()
    found = {}
    with in_browser() as browser:
        for name in names or samples.names():
            console.print(f"comparing: {name}", style="dim", highlight=False)
            subject = Subject(samples.load(name).without_variants(), Shelf.shipped())
            found[name] = list(compared(browser, subject))
    console.print(table_of(found))


if __name__ == "__main__":
    main(sys.argv[1:])
