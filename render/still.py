"""One picture of a design."""

from pathlib import Path

from render.files import check_suffix, replacing
from render.progress import Progress
from render.shoot import SETTING, scene_of
from render.subject import Size
from render.tags import Tag, save_png
from scenes.build import Wrap

__all__ = ["STEPS", "SUFFIXES", "save_still"]

STEPS = SETTING + 1
"""Steps of progress that a still takes."""

SUFFIXES = (".png",)


def save_still(wrap: Wrap, path: Path, *, size: Size, progress: Progress | None = None) -> None:
    """Take a picture of a wrap as its design asks, and write it.

    Raises
    ------
    RequestProblem
        If the file cannot be written or the size cannot be drawn.
    DrawingProblem
    """
    progress = progress or Progress.none()
    check_suffix(path, SUFFIXES)
    with replacing(path) as file:
        with scene_of(wrap, size, progress) as scene:
            progress.say("picture")
            pixels = scene.picture()
            progress.advance()
        save_png(pixels, file, Tag.of(wrap.design))
