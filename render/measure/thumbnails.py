"""Small pictures of the samples for the page: ``python -m render.measure.thumbnails``.

They ship with the program, so that the list of samples is there at once.
"""

import sys
from pathlib import Path

from PIL import Image

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.files import replacing
from render.common.progress import Progress
from render.output.capture import SETTING, scene_of
from render.request.subject import BUILDING, Subject
from scenes.files import samples

__all__ = ["FOLDER", "make_thumbnails"]

FOLDER = Path(__file__).parents[1] / "page" / "files" / "thumbnails"

_DRAWN, _SHOWN = (960, 540), (480, 270)
"""Drawn larger than shown: twice as sharp on a screen of twice the points."""

_QUALITY = 72


def make_thumbnails(names: tuple[str, ...], folder: Path, progress: Progress) -> list[Path]:
    """Take a picture of each sample as its design asks, advancing by `steps`.

    Parameters
    ----------
    names : tuple of str
    folder : Path
        Made if it is not there.
    progress : Progress

    Returns
    -------
    list of Path
        JPEG files.
    """
    folder.mkdir(exist_ok=True)
    made = []
    for name in names:
        subject = Subject(samples.load(name).without_variants(), Shelf.shipped())
        wrap = subject.build(Detail.NORMAL, progress)
        with scene_of(wrap, _DRAWN, progress) as scene:
            pixels = scene.picture()
        picture = Image.fromarray(pixels).resize(_SHOWN, Image.Resampling.LANCZOS)
        path = folder / f"{name}.jpg"
        with replacing(path) as whole:
            picture.save(whole, format="JPEG", quality=_QUALITY, optimize=True, progressive=True)
        made.append(path)
    return made


def steps(count: int) -> int:
    """Steps of progress that so many pictures take."""
    return count * (BUILDING + SETTING + 1)


def main() -> None:
    """Make the pictures that are asked for by name, or all."""
    names = tuple(sys.argv[1:]) or samples.names()
    with Progress(steps(len(names))) as progress:
        made = make_thumbnails(names, FOLDER, progress)
    print(f"{len(made)} pictures in {FOLDER}")  # noqa: T201  # the command's own output


if __name__ == "__main__":
    main()
