"""Gallery of all samples in all lights, dry and finished: `python3 start.py gallery`.

It writes full-size pictures and a contact sheet to `out/gallery`.
"""

from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.files import replacing
from render.common.progress import Progress
from render.common.tags import Tag, save_png
from render.live.live import LiveScene
from render.live.vtk_log import errors_caught, quieten
from scenes.building.build import Plan, build
from scenes.design.document import Design, with_changes
from scenes.files import samples
from scenes.light.lights import LightKind
from scenes.parts.view import LightSpec
from scenes.stage.stage import stage_for

__all__ = ["gallery", "main"]

_SIZE = (1280, 720)
_TILE = (480, 200)
_CAPTION = 26
_TURN = 0.35
_PAPER, _INK = "#101114", "#c9ccd1"


def gallery(
    folder: Path,
    *,
    size: tuple[int, int] = _SIZE,
    detail: Detail = Detail.NORMAL,
    names: tuple[str, ...] | None = None,
    progress: Progress | None = None,
) -> Path:
    """Take all pictures, and combine them on a contact sheet.

    Parameters
    ----------
    folder : Path
        Made if it does not exist.
    size : (int, int)
        Width and height of each picture, pixels.
    detail : Detail
    names : tuple of str, optional
        Samples to show; all of them if not given.
    progress : Progress, optional
        Advanced by 1 for each picture.

    Returns
    -------
    Path
        The contact sheet.
    """
    quieten()
    folder.mkdir(parents=True, exist_ok=True)
    progress = progress or Progress.none()
    names = names or samples.names()
    sheet = _ContactSheet(len(names) * 2, len(LightKind))
    for number, name in enumerate(names):
        for finished in (False, True):
            design = _with_coats(samples.load(name).without_variants(), finished)
            wrap = build(Plan(design, Shelf.shipped()), detail)
            word = "finished" if finished else "dry"
            first = stage_for(wrap, size[0] / size[1])
            with errors_caught(), LiveScene(first, size) as scene:
                for column, kind in enumerate(LightKind):
                    progress.describe(f"{name}, {kind}, {word}")
                    light = LightSpec(kind=kind)
                    scene.show_stage(stage_for(wrap, size[0] / size[1], light=light))
                    pixels = scene.picture(_TURN)
                    file = folder / f"{name}-{kind.replace(' ', '-')}-{word}.png"
                    with replacing(file) as whole:
                        save_png(pixels, whole, Tag.of(design))
                    row = 2 * number + finished
                    sheet.paste(Image.fromarray(pixels), row, column, f"{name}, {kind}, {word}")
                    progress.advance()
    path = folder / "contact-sheet.png"
    with replacing(path) as whole:
        sheet.image.save(whole, format="PNG", optimize=True)
    return path


def main() -> None:
    """Make the gallery of all samples in `out/gallery`."""
    pictures = len(samples.names()) * 2 * len(LightKind)
    with Progress(pictures) as progress:
        sheet = gallery(Path("out") / "gallery", progress=progress)
    print(f"{pictures} pictures and {sheet}")  # noqa: T201  # the command's own output


def _with_coats(design: Design, finished: bool) -> Design:
    if finished and design.finish.coats > 0:
        return design
    return with_changes(design, {"finish.coats": 2 if finished else 0})


class _ContactSheet:
    """A contact sheet: small pictures in rows, each with a caption."""

    def __init__(self, rows: int, columns: int) -> None:
        size = (columns * _TILE[0], rows * (_TILE[1] + _CAPTION))
        self.image = Image.new("RGB", size, _PAPER)
        self._draw = ImageDraw.Draw(self.image)
        self._font = ImageFont.load_default(15)

    def paste(self, picture: Image.Image, row: int, column: int, caption: str) -> None:
        """Put the middle band of a picture into a cell."""
        width, height = picture.size
        band = round(width * _TILE[1] / _TILE[0] / 2)
        middle = picture.crop((0, height // 2 - band, width, height // 2 + band))
        x, y = column * _TILE[0], row * (_TILE[1] + _CAPTION)
        self.image.paste(middle.resize(_TILE, Image.Resampling.LANCZOS), (x, y))
        self._draw.text((x + 8, y + _TILE[1] + 3), caption, fill=_INK, font=self._font)


if __name__ == "__main__":
    main()
