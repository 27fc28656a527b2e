"""A first wrap: ``python -m render.measure.demo`` makes pictures of a sample and opens the page."""

import sys
from pathlib import Path

from geometry.grid import Detail
from render.cli.entry import guarded
from render.common.display import has_display
from render.common.error_reporting import print_message, run_reporting_errors
from render.common.progress import Progress
from render.output.compare import Comparison, save_comparison
from render.output.compare import steps as comparison_steps
from render.output.film import Film
from render.output.still import STEPS as STILL_STEPS
from render.output.still import save_still
from render.output.turntable import save_turntable
from render.output.turntable import steps as turntable_steps
from render.request.options import SAMPLE, subject_of, subjects_of
from render.request.subject import BUILDING, Subject

__all__ = ["make_pictures"]

NAME = "half-scale"
FOLDER = Path("out")

_FRAMES = 36


def make_pictures(subject: Subject, folder: Path, progress: Progress) -> list[tuple[str, Path]]:
    """Make a still, a turntable and a comparison of a design's variants.

    Parameters
    ----------
    subject : Subject
        A design with variants.
    folder : Path
        Must exist.
    progress : Progress
        Advanced by `steps`.

    Returns
    -------
    list of (str, Path)
        Description and path of each.
    """
    still, turning, compared = (
        folder / f"{NAME}{ending}" for ending in (".png", "-turning.gif", "-variants.png")
    )
    wrap = subject.build(Detail.NORMAL, progress)
    save_still(wrap, still, size=(1600, 900), progress=progress)
    save_turntable(wrap, turning, Film((960, 540), _FRAMES), progress=progress)
    save_comparison(Comparison.of(subjects_of([subject])), compared, progress=progress)
    return [("a still", still), ("a turntable", turning), ("its variants compared", compared)]


def steps(subject: Subject) -> int:
    """Number of steps of progress of `make_pictures`.

    Parameters
    ----------
    subject : Subject
    """
    designs = 1 + len(subject.design.variants)
    return BUILDING + STILL_STEPS + turntable_steps(_FRAMES) + comparison_steps(designs)


def show() -> None:
    """Make the pictures, print their paths, and open the page if there is a display."""
    subject = subject_of(f"{SAMPLE}{NAME}")
    FOLDER.mkdir(exist_ok=True)
    sys.stdout.write(f"Drawing {subject.design.title}, an invented sample design.\n")
    sys.stdout.flush()
    with Progress(steps(subject)) as progress:
        made = make_pictures(subject, FOLDER, progress)
    for what, path in made:
        sys.stdout.write(f"  {what}: {path.resolve()}\n")
    if not has_display():
        sys.stdout.write(
            "There is no display here to open the page on, so this is all; turnlight open serves "
            "it all the same.\n"
        )
        return
    sys.stdout.write("Opening the page in your browser; Ctrl-C here ends it.\n")
    sys.stdout.flush()
    from render.editor.desk import Desk
    from render.editor.recovery import open_slot
    from render.page.app import open_page

    desk = Desk.open(f"{SAMPLE}{NAME}", slot=open_slot())
    open_page(desk, announce=print_message)


if __name__ == "__main__":
    sys.exit(guarded(lambda: lambda: run_reporting_errors(show)))
