"""What a worker does with a task; takes and returns plain data, and needs no file of the design."""

import io
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgpack
import numpy as np
from PIL import Image

from geometry.grid import Detail
from render.catalogue.program_version import program_version
from render.catalogue.tasks import SMALL, Task, TaskKind, small_size
from render.common.problems import REFUSALS, DrawingProblem
from render.common.progress import Progress
from render.common.tags import Tag
from render.output.capture import scene_of
from render.output.film import Film, film_at
from render.output.turntable import save_turntable
from render.pathtraced.engines import Engine
from render.request.capture_settings import CaptureSettings
from render.request.subject import Pixels, Size
from render.spin.spin_page import save_spin_page
from scenes.problems import printable

__all__ = ["SECONDS", "run_task"]

SECONDS = 6.0
"""Duration of one turn of a turntable."""

_QUALITY = 88
"""WebP quality of stills, as of animated WebP films."""


def run_task(plain: dict[str, Any]) -> dict[str, Any]:
    """Do a task.

    Parameters
    ----------
    plain : dict
        From `Task.plain`.

    Returns
    -------
    dict
        ``results``: bytes by suffix; ``notes``: sentences to be read; ``problem``: one sentence,
        empty if all went well.
    """
    if plain["program"] != program_version():
        return _failed(
            "worker: it has another version of Turnlight than this machine; install the same "
            "on both."
        )
    task = Task.from_plain(plain)
    progress = _Notes()
    try:
        results = _MAKERS[task.kind](task, tuple(plain["parts"]), progress)
    except (*REFUSALS, DrawingProblem) as problem:
        return _failed(str(problem))
    except OSError as error:
        return _failed(f"worker: {error.strerror or type(error).__name__}.")
    except MemoryError:
        return _failed("worker: there is not enough memory; ask for less detail or smaller.")
    return {"results": results, "notes": progress.notes, "problem": ""}


def _failed(sentence: str) -> dict[str, Any]:
    return {"results": {}, "notes": [], "problem": printable(sentence, 2000)}


class _Notes(Progress):
    """Progress that shows nothing and keeps what must be read."""

    def __init__(self) -> None:
        super().__init__(quiet=True)
        self.notes: list[str] = []

    def note(self, sentence: str) -> None:
        """Keep a sentence.

        Parameters
        ----------
        sentence : str
        """
        self.notes.append(sentence)

    def expect(self, seconds: float, sentence: str) -> None:
        """Leave a forecast out: it is of this worker alone.

        Parameters
        ----------
        seconds : float
        sentence : str
        """


def _capture(task: Task) -> CaptureSettings:
    engine = None if task.engine is None else Engine(task.engine)
    capture = CaptureSettings(photo=task.photo, samples=task.samples, engine=engine)
    capture.prepare()
    return capture


def _still(task: Task, _: tuple[bytes, ...], progress: Progress) -> dict[str, bytes]:
    subject, capture = task.design.subject(), _capture(task)
    wrap = subject.build(Detail(task.detail), progress)
    with scene_of(wrap, task.size, progress, capture=capture) as scene:
        picture = Image.fromarray(scene.picture())
    tag = Tag.of(subject.design, capture=capture.description)
    small = picture.resize(small_size(task.size), Image.Resampling.LANCZOS)
    return {".webp": _webp(picture, tag), SMALL: _webp(small, tag)}


def _webp(picture: Image.Image, tag: Tag) -> bytes:
    file = io.BytesIO()
    picture.save(file, "WEBP", quality=_QUALITY, method=4, use_sharp_yuv=True, xmp=tag.xmp())
    return file.getvalue()


def _film(task: Task, _: tuple[bytes, ...], progress: Progress) -> dict[str, bytes]:
    subject, capture = task.design.subject(), _capture(task)
    wrap = subject.build(Detail(task.detail), progress)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "film.mp4")
        film = Film(task.size, task.frames, SECONDS)
        save_turntable(wrap, path, film, capture=capture, progress=progress)
        return {".mp4": path.read_bytes()}


def _frames(task: Task, _: tuple[bytes, ...], progress: Progress) -> dict[str, bytes]:
    subject, capture = task.design.subject(), _capture(task)
    wrap = subject.build(Detail(task.detail), progress)
    film = Film(task.size, task.frames, SECONDS)
    numbers = range(task.first, task.last)
    start = subject.design.camera.turn
    with scene_of(wrap, task.size, progress, capture=capture, pictures=len(numbers)) as scene:
        pictures = [_png(scene.picture(film.turn(number, start))) for number in numbers]
    return {".frames": msgpack.packb(pictures)}


def _png(pixels: Pixels) -> bytes:
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG")
    return file.getvalue()


def _joined_film(task: Task, parts: tuple[bytes, ...], _: Progress) -> dict[str, bytes]:
    pictures = [_pixels(png, task.size) for part in parts for png in msgpack.unpackb(part)]
    design, capture = task.design.subject().design, _capture(task)
    film = Film(task.size, task.frames, SECONDS)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "film.mp4")
        with film_at(path, film, Tag.of(design, capture=capture.description)) as write:
            write(pictures.__getitem__)
        return {".mp4": path.read_bytes()}


def _pixels(png: bytes, size: Size) -> Pixels:
    with Image.open(io.BytesIO(png), formats=("PNG",)) as picture:
        assert picture.size == size
        return np.asarray(picture.convert("RGB"))


def _spin_page(task: Task, _: tuple[bytes, ...], progress: Progress) -> dict[str, bytes]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "spin.html")
        save_spin_page(
            [task.design.subject()],
            path,
            Film(task.size, task.frames, SECONDS),
            detail=Detail(task.detail),
            progress=progress,
        )
        return {".html": path.read_bytes()}


_MAKERS: dict[TaskKind, Callable[[Task, tuple[bytes, ...], Progress], dict[str, bytes]]] = {
    TaskKind.STILL: _still,
    TaskKind.FILM: _film,
    TaskKind.FRAMES: _frames,
    TaskKind.JOINED_FILM: _joined_film,
    TaskKind.SPIN_PAGE: _spin_page,
}
