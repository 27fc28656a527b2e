"""The bench of the drawing: one HTML file that measures how long frames take in any browser.

The page needs neither network nor program. It shows a table, and keeps every time as JSON. It
counts as loading until it has measured, so a browser that prints a page once it has loaded, as
Chromium does with ``--headless --dump-dom``, prints the table.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from string import Template

from materials.toml_text import named
from render.browser.model import Model, model_of
from render.browser.scripts import drawing_script
from render.browser.stage_json import Json
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.sealed_html import content_policy, json_text
from render.common.tags import SOFTWARE
from render.measure.timings import Timing
from render.output.compare import shared_camera
from render.request.subject import Size, Subject
from scenes.light.lights import LightKind

__all__ = [
    "SIZES",
    "BenchSettings",
    "FrameTimes",
    "Memory",
    "bench_html",
    "bench_model",
    "frame_times",
    "model_in",
]

SIZES: tuple[Size, ...] = ((1280, 720), (1920, 1080), (3840, 2160))
"""Sizes of the picture, pixels."""

_PICTURE: Size = (1600, 900)
"""The picture that the camera of a model takes, pixels; the page enlarges it to each size."""

_AIMS = {
    ("moving", (1920, 1080)): 16.0,
    ("light moved", (1920, 1080)): 20.0,
    ("other light", (1920, 1080)): 20.0,
    ("colours swapped", (1920, 1080)): 20.0,
}
"""Wanted 95th percentiles, ms, by what is drawn and its size."""

_MODEL = re.compile(r'<script type="application/json" id="model">([^<]*)</script>')
_MEASURED = re.compile(r'<script type="application/json" id="measured">([^<]*)</script>')


@dataclass(frozen=True, slots=True)
class BenchSettings:
    """What the page measures.

    Parameters
    ----------
    sizes : tuple of (int, int)
        Widths and heights of the picture, pixels.
    frames : int
        Frames of each row of the table, at most.
    warm_up : int
        Frames before them that are not counted.
    seconds : float
        Time after which a row ends with the frames that it has: three at least, or one where a
        frame takes several times as long.
    enlarged : float
        Enlargement of the rows in which single threads are visible.
    """

    sizes: tuple[Size, ...] = SIZES
    frames: int = 100
    warm_up: int = 5
    seconds: float = 1.0
    enlarged: float = 5.0


@dataclass(frozen=True, slots=True)
class Memory:
    """Memory of the textures, targets and shapes of a model, as the page asked for it.

    Parameters
    ----------
    model : str
        Name.
    size : (int, int)
        Of the picture, pixels.
    held, most : int
        Bytes, after stills of this size; and at most so far.
    """

    model: str
    size: Size
    held: int
    most: int


@dataclass(frozen=True, slots=True)
class FrameTimes:
    """What the page measured.

    Parameters
    ----------
    renderer : str
        Name of what draws, as the browser gives it.
    rows : list of Timing
    memory : list of Memory
    """

    renderer: str
    rows: list[Timing]
    memory: list[Memory]


def bench_model(subject: Subject, progress: Progress) -> Model:
    """Make the model of a design for the bench, in its own light and another one.

    Parameters
    ----------
    subject : Subject
    progress : Progress
    """
    camera = shared_camera([subject.plan()], _PICTURE[0] / _PICTURE[1])
    own = subject.design.light.kind
    other = next(kind for kind in LightKind if kind is not own)
    return model_of([subject], camera, _PICTURE, lights=(other,), progress=progress)


def model_in(page: Path) -> Json:
    """Read the model out of a customer's page.

    Parameters
    ----------
    page : Path
        The HTML file.

    Raises
    ------
    RequestProblem
        If there is none in it.
    """
    found = _MODEL.search(page.read_text(encoding="utf-8", errors="replace"))
    if found is None:
        raise RequestProblem(
            f"file: {named(page)} holds no rod that a browser can draw; give a page that turntable "
            "has made, or a design."
        )
    data: Json = json.loads(found[1])
    return data


def bench_html(models: Mapping[str, Json], settings: BenchSettings | None = None) -> str:
    """Compose the page.

    Parameters
    ----------
    models : mapping of str to dict
        Data of each model (`render.browser.model.Model.data`), by its name.
    settings : BenchSettings, optional

    Returns
    -------
    str
        HTML with line feeds (LF) as line ends, to be written as UTF-8.
    """
    settings = settings or BenchSettings()
    style = _asset("css")
    script = "\n".join(('"use strict";', "(() => {", drawing_script(), _asset("js"), "})();"))
    return Template(_asset("html")).substitute(
        policy=content_policy(style, script),
        software=SOFTWARE,
        style=style,
        settings=json_text(
            {
                "sizes": settings.sizes,
                "frames": settings.frames,
                "warmUp": settings.warm_up,
                "seconds": settings.seconds,
                "enlarged": settings.enlarged,
            }
        ),
        models=json_text([{"name": name, "model": data} for name, data in models.items()]),
        script=script,
    )


def frame_times(page: str) -> FrameTimes:
    """Read what the page measured.

    Parameters
    ----------
    page : str
        HTML of the page after it has measured.

    Raises
    ------
    RuntimeError
        If it failed, or has not measured; the message is a sentence.
    """
    found = _MEASURED.search(page)
    if found is None:
        raise RuntimeError("The page has not measured anything.")
    told = json.loads(found[1])
    if told["failure"]:
        raise RuntimeError(f"The page failed: {told['failure']}")
    rows = []
    for row in told["rows"]:
        size = (row["size"][0], row["size"][1])
        rows.append(
            Timing(
                f"{row['model']}: {row['what']}, {size[0]} x {size[1]}",
                row["times"],
                row["graphics"],
                _AIMS.get((row["what"], size)),
            )
        )
    memory = [
        Memory(one["model"], (one["size"][0], one["size"][1]), one["held"], one["most"])
        for one in told["memory"]
    ]
    return FrameTimes(told["renderer"], rows, memory)


def _asset(suffix: str) -> str:
    folder = resources.files("render.measure")
    return (folder / f"frame_bench.{suffix}").read_text(encoding="utf-8")
