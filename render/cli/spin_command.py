"""Spin pages made by the commands `turntable` and `compare`."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from geometry.grid import Detail
from render.cli.timed import timed
from render.common.file_size import megabytes
from render.output.film import Film
from render.request.capture_settings import CaptureSettings
from render.request.subject import Subject
from scenes.customer.reply import LETTERS

__all__ = ["PAGES", "PAGE_SIZE", "write_spin_page"]

PAGES = (".html",)
"""Suffixes of spin pages."""

PAGE_SIZE = "1600x900"
"""Default size of its frames."""


def write_spin_page(
    subjects: Sequence[Subject],
    labels: Sequence[str],
    output: Path,
    film: Film,
    max_mb: float | None,
    detail: Detail,
    capture: CaptureSettings,
) -> str:
    """Make a spin page, and describe it in one sentence.

    Parameters
    ----------
    subjects : sequence of Subject
    labels : sequence of str
        One for each design; empty for a single one.
    output : Path
        An HTML file.
    film : Film
        Size, frames and duration of one turn.
    max_mb : float, optional
        Maximum size of the file, megabytes.
    detail : Detail
    capture : CaptureSettings

    Raises
    ------
    RequestProblem, DrawingProblem
    """
    from render.spin.spin_page import STANDING_IN, save_spin_page, steps

    more: dict[str, Any] = {"size": film.size, "frames": min(film.frames, STANDING_IN)}
    if capture.photo:
        more["paths"] = capture.paths
    count = steps(len(subjects), film.frames)
    with timed(count, "spin page", PAGES[0], subjects, detail, **more) as progress:
        made = save_spin_page(
            subjects,
            output,
            film,
            labels=labels,
            max_mb=max_mb,
            detail=detail,
            capture=capture,
            progress=progress,
        )
    (width, height), weight = made.film.size, megabytes(output.stat().st_size)
    frames = f"{made.film.frames} frames of {width}x{height}"
    if made.modelled:
        what = f"the rod itself, and {frames} to stand in for it, {weight}"
    elif made.film != film:
        what = f"made {width}x{height} with {made.film.frames} frames to fit: {weight}"
    else:
        what = f"{frames}, {weight}"
    letters = [f"{letter}: {label}" for letter, label in zip(LETTERS, labels, strict=False)]
    return f"{output}: {'; '.join([what, *letters])}"
