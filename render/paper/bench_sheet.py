"""The bench figures as a PDF sheet, or as numbers in CSV or JSON."""

from dataclasses import replace
from pathlib import Path

from render.common.progress import Progress
from render.paper import sheet
from render.paper.bench_files import SUFFIXES as NUMBERS
from render.paper.bench_files import write_numbers
from render.paper.page import SUFFIXES as PAPER
from render.paper.page import PaperSize
from render.request.subject import BUILDING, Subject
from scenes.bench.report import WrapAmounts, report_of, wrap_amounts
from scenes.bench.rod_report import rod_report
from scenes.design.rod import other_wraps

__all__ = ["SUFFIXES", "save_bench", "sheets", "steps"]

SUFFIXES = (*PAPER, *NUMBERS)


def steps(output: Path, subject: Subject, *, whole: bool = True) -> int:
    """Number of steps of progress of `save_bench`.

    Parameters
    ----------
    output : Path
        Its suffix selects the format.
    subject : Subject
    whole : bool
        As for `save_bench`.
    """
    wraps = len(subject.design.wraps) + 1 if whole else 1
    pictures = sheets(subject, whole=whole)
    return BUILDING * wraps + (0 if output.suffix.casefold() in NUMBERS else sheet.STEPS * pictures)


def sheets(subject: Subject, *, whole: bool = True) -> int:
    """Number of sheets that `save_bench` writes: of the rod, and of each of its wraps.

    Parameters
    ----------
    subject : Subject
    whole : bool
        As for `save_bench`.
    """
    further = len(subject.design.wraps)
    return further + 2 if whole and further else 1


def save_bench(
    subject: Subject, output: Path, paper: PaperSize, progress: Progress, *, whole: bool = True
) -> str:
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
    whole : bool
        Write every wrap of a rod with several, and their sums; else the first alone.

    Returns
    -------
    str
        Description of what was written, in a few words.

    Raises
    ------
    RequestProblem, DrawingProblem, GeometryError
    """
    subjects = [subject]
    if whole:
        subjects += [replace(subject, design=rod) for rod in other_wraps(subject.design)]
    amounts: list[WrapAmounts] = []
    written: list[sheet.WrapSheet] = []
    for one in subjects:
        wrap = one.build_for_bench(progress)
        amounts.append(wrap_amounts(wrap, step=progress.describe))
        written.append(sheet.WrapSheet(one, report_of(amounts[-1]), wrap))
    rod = rod_report(amounts) if len(subjects) > 1 else None
    wraps = [one.bench for one in written]
    if output.suffix.casefold() in NUMBERS:
        units = subject.design.units
        if rod is None:
            write_numbers(wraps[0], units, output)
            return f"{len(wraps[0].sections)} sections, lengths in {units.value}"
        write_numbers(rod, units, output, wraps)
        return f"the rod and its {len(wraps)} wraps, lengths in {units.value}"
    pages = sheet.write_sheets(written, rod, output, paper=paper, progress=progress)
    return f"{'1 page' if pages == 1 else f'{pages} pages'} of {paper.value} paper"
