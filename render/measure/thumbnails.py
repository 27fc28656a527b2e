"""Thumbnails of the samples for the page: ``python -m render.measure.thumbnails``.

They ship with the program, so that the list of samples appears at once.
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
"""Size that is drawn, and size that it is scaled down to, pixels."""

_QUALITY = 72


def make_thumbnails(names: tuple[str, ...], folder: Path, progress: Progress) -> list[Path]:
    """Make a thumbnail of each sample, with the light and camera of its design.

    Parameters
    ----------
    names : tuple of str
        Samples.
    folder : Path
        Made if it does not exist.
    progress : Progress
        Advanced by `steps`.

    Returns
    -------
    list of Path
        The JPEG files.
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
    """Number of steps of progress of `make_thumbnails`.

    Parameters
    ----------
    count : int
        Number of samples.
    """
    return count * (BUILDING + SETTING + 1)


def main() -> None:
    """Make the thumbnails of the named samples, by default of all."""
    names = tuple(sys.argv[1:]) or samples.names()
    with Progress(steps(len(names))) as progress:
        made = make_thumbnails(names, FOLDER, progress)
    print(f"{len(made)} pictures in {FOLDER}")  # noqa: T201  # the command's own output


if __name__ == "__main__":
    main()
