"""Stills: one picture of a design."""

from pathlib import Path

from render.common.files import check_suffix, replacing
from render.common.progress import Progress
from render.common.tags import Tag, save_png
from render.output.capture import SETTING, scene_of
from render.output.reading import Reports, read_trims
from render.output.signature import Signature
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.shapes import resolution_of
from render.request.subject import Size
from scenes.building.build import Wrap

__all__ = ["STEPS", "SUFFIXES", "save_still"]

STEPS = SETTING + 1
"""Steps of progress of a still."""

SUFFIXES = (".png",)


def save_still(
    wrap: Wrap,
    path: Path,
    *,
    size: Size,
    capture: CaptureSettings = LIVE,
    read: bool = False,
    signature: Signature | None = None,
    resolution: int | None = None,
    progress: Progress | None = None,
) -> Reports:
    """Take a picture of a wrap with the light and camera of its design, and write it.

    Parameters
    ----------
    wrap : Wrap
    path : Path
        A PNG file.
    size : (int, int)
        Width and height, pixels.
    capture : CaptureSettings
    read : bool
        Measure the trims too, which takes `render.output.reading.READING` more steps.
    signature : Signature, optional
        Put on the picture.
    resolution : int, optional
        Pixels to an inch on paper; by default that of a size of paper, and else none.
    progress : Progress, optional
        Advanced by `STEPS`.

    Returns
    -------
    tuple of BandReport
        One for each line of each trim; empty if they were not measured.

    Raises
    ------
    RequestProblem
        If the file cannot be written, or the size or capture settings are wrong.
    DrawingProblem
    """
    progress = progress or Progress.none()
    check_suffix(path, SUFFIXES)
    if signature is not None:
        signature.note_missing(path, progress)
    reports: Reports = ()
    with replacing(path) as file:
        with scene_of(wrap, size, progress, capture=capture) as scene:
            progress.describe("picture")
            pixels = scene.picture()
            if read and scene.can_measure:
                reports = read_trims(wrap, capture=capture, progress=progress, scene=scene)
        if signature is not None:
            pixels = signature.placed(pixels).on(pixels)
        tag = Tag.of(wrap.design, capture=capture.description)
        save_png(pixels, file, tag, resolution=resolution or resolution_of(size))
    if read and capture.photo:
        # Nobody waits for a photo until the trims have been measured.
        reports = read_trims(wrap, capture=capture, progress=progress)
    return reports
