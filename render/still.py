"""One picture of a design."""

from pathlib import Path

from render.files import check_suffix, replacing
from render.progress import Progress
from render.shoot import SETTING_UP, Shoot, Subject, scene_of
from render.tags import Tag, save_png

__all__ = ["STEPS", "SUFFIXES", "still"]

STEPS = SETTING_UP + 1
"""Steps of progress that it takes."""

SUFFIXES = (".png",)


def still(subject: Subject, target: Path, shoot: Shoot, progress: Progress) -> None:
    """Take one picture and write it.

    Raises
    ------
    RequestProblem, ValueError
        If the target cannot be written or the design cannot be drawn.
    """
    check_suffix(target, SUFFIXES)
    with replacing(target) as file:
        with scene_of(subject, shoot, progress) as scene:
            progress.say("picture")
            pixels = scene.picture()
            progress.advance()
        save_png(pixels, file, Tag.of(subject.design))
