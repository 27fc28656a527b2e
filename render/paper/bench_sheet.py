"""The bench figures as a PDF sheet, or as numbers in CSV or JSON."""

from pathlib import Path

from render.common.progress import Progress
from render.paper import sheet
from render.paper.bench_files import SUFFIXES as NUMBERS
from render.paper.bench_files import write_numbers
from render.paper.page import SUFFIXES as PAPER
from render.paper.page import PaperSize
from render.request.subject import BUILDING, Subject
from scenes.bench.report import bench_report

__all__ = ["SUFFIXES", "save_bench", "steps"]

SUFFIXES = (*PAPER, *NUMBERS)


def steps(output: Path) -> int:
    """Number of steps of progress of `save_bench`.

    Parameters
    ----------
    output : Path
        Its suffix selects the format.
    """
    return BUILDING + (0 if output.suffix.casefold() in NUMBERS else sheet.STEPS)


def save_bench(subject: Subject, output: Path, paper: PaperSize, progress: Progress) -> str:
    """Write the bench figures of a design in the format of the file's suffix.

    Parameters
    ----------
    subject : Subject
    output : Path
        One of `SUFFIXES`.
    paper : PaperSize
        Size of the pages of a PDF.
    progress : Progress
        Advanced by `steps`.

    Returns
    -------
    str
        Description of what was written, in a few words.

    Raises
    ------
    RequestProblem, DrawingProblem, GeometryError
    """
    wrap = subject.build_for_bench(progress)
    bench = bench_report(wrap, step=progress.describe)
    if output.suffix.casefold() in NUMBERS:
        units = subject.design.units
        write_numbers(bench, units, output)
        return f"{len(bench.sections)} sections, lengths in {units.value}"
    pages = sheet.write_sheet(subject, bench, wrap, output, paper=paper, progress=progress)
    return f"{'1 page' if pages == 1 else f'{pages} pages'} of {paper.value} paper"
