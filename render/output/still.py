"""One picture of a design."""

from pathlib import Path

from render.common.files import check_suffix, replacing
from render.common.progress import Progress
from render.common.tags import Tag, save_png
from render.output.capture import SETTING, scene_of
from render.output.reading import Reports, read_trims
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import Size
from scenes.building.build import Wrap

__all__ = ["STEPS", "SUFFIXES", "save_still"]

STEPS = SETTING + 1
"""Steps of progress that a still takes."""

SUFFIXES = (".png",)


def save_still(
    wrap: Wrap,
    path: Path,
    *,
    size: Size,
    capture: CaptureSettings = LIVE,
    read: bool = False,
    progress: Progress | None = None,
) -> Reports:
    """Take a picture of a wrap as its design asks, and write it.

    Parameters
    ----------
    wrap : Wrap
    path : Path
        A PNG file.
    size : (int, int)
        Width and height, pixels.
    capture : CaptureSettings
    read : bool
        Measure the trims too, which takes another `render.output.reading.READING` steps of
        progress.
    progress : Progress, optional

    Returns
    -------
    tuple of BandReport
        Each line of each trim, if they were measured.

    Raises
    ------
    RequestProblem
        If the file cannot be written or the picture cannot be taken so.
    DrawingProblem
    """
    progress = progress or Progress.none()
    check_suffix(path, SUFFIXES)
    with replacing(path) as file:
        reports = read_trims(wrap, capture=capture, progress=progress) if read else ()
        with scene_of(wrap, size, progress, capture=capture) as scene:
            progress.say("picture")
            pixels = scene.picture()
        save_png(pixels, file, Tag.of(wrap.design, capture=capture.description))
    return reports
