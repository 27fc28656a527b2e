"""What the command line does where a turntable or a comparison is to be a spin page."""

from collections.abc import Sequence
from pathlib import Path

from geometry.grid import Detail
from render.common.progress import Progress
from render.output.film import Film
from render.output.size_limit import megabytes
from render.request.capture_settings import CaptureSettings
from render.request.subject import Subject

__all__ = ["PAGES", "PAGE_SIZE", "write_spin_page"]

PAGES = (".html",)
"""What a spin page's name ends in."""

PAGE_SIZE = "1600x900"
"""Of its frames, where none is given."""


def write_spin_page(
    subjects: Sequence[Subject],
    labels: Sequence[str],
    output: Path,
    film: Film,
    max_mb: float | None,
    detail: Detail,
    capture: CaptureSettings,
) -> str:
    """Make the page, and say in a sentence what was made.

    Raises
    ------
    RequestProblem, DrawingProblem
    """
    from render.spin.spin_page import MAX_MB, save_spin_page, steps

    most = MAX_MB if max_mb is None else max_mb
    with Progress(steps(len(subjects), film.frames)) as progress:
        made = save_spin_page(
            subjects,
            output,
            film,
            labels=labels,
            max_mb=most,
            detail=detail,
            capture=capture,
            progress=progress,
        )
    (width, height), weight = made.size, megabytes(output.stat().st_size)
    what = f"{made.frames} frames of {width}x{height}, {weight}"
    if made != film:
        what = f"made {width}x{height} with {made.frames} frames to fit {most:g} MB: {weight}"
    letters = [f"{letter} {label}" for letter, label in zip("ABCD", labels, strict=False)]
    return f"{output}: {'; '.join([what, *letters])}"
