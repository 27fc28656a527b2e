"""The command that finds designs that meet wishes."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from render.cli.arguments import DesignOptions, read_subject
from render.cli.converters import Listed, Whole
from render.cli.streams import print_line, print_sentence, print_table
from render.cli.timed import timed_work
from render.common.error_reporting import print_message
from render.common.problems import NearestOnly, RequestProblem
from render.common.progress import Progress
from render.request.options import detail_of
from scenes.quantities import counted

if TYPE_CHECKING:
    from geometry.grid import Detail
    from render.request.subject import Subject
    from scenes.fit.progress import FitProgress
    from scenes.fit.search import Fit

__all__ = ["fit"]

_MAX_ALTERNATIVES = 12
"""Maximum number of designs in one table and one picture."""


def fit(
    file: str,
    /,
    *,
    wish: Listed = (),
    at_most: Listed = (),
    at_least: Listed = (),
    free: Listed = (),
    keep: Listed = (),
    unusual: bool = False,
    alternatives: Whole = 5,
    choose: Whole = 1,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    picture: Path | None = None,
    detail: str = "normal",
    variant: str | None = None,
    wrap: str | None = None,
    shelf: Path | None = None,
) -> None:
    """Go from wishes to a design: say what it should come to, and see what to change for it.

    Without a wish, it lists what may be wished for. Exit code 3 means that no design is as wished
    and the nearest possible was given, with the reason.

    Parameters
    ----------
    file : str
        A design file.
    wish : str
        What it should come to: turns=5, cells=whole, covered_share=50%; meet, for diamonds or
        cells that close at the guide line; or what you have, by its field:
        relief.strip_width=25mm. Give --wish again for more.
    at_most : str
        A bound, such as weight=4.
    at_least : str
        A bound, such as gap=20.
    free : str
        A field that alone may change, such as relief.angle; without it, what serves the wishes.
    keep : str
        A field that must not change.
    unusual : bool
        Also offer what builders do not do, such as very thin coats or very flat angles.
    alternatives : int
        How many designs to show at most.
    choose : int
        Which of them to write, by its number in the table.
    output : Path, optional
        A new design file, with the comments of the old one; its own name changes it in place.
    picture : Path, optional
        A PNG file: the designs one above the other.
    detail : str
        Of the picture: draft, normal or fine.
    variant : str, optional
        Begin from one of the design's variants.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    """
    from render.cli.fit_report import (
        check_target,
        fit_table,
        measures_after_saving,
        measures_table,
        read_again,
        save_changed,
        solution_at,
        source_of,
        warning_lines,
    )
    from render.common.files import check_suffix
    from render.timing.searches import points_to_weigh, work_of_search
    from scenes.fit.measures import Measured
    from scenes.fit.progress import CHECKED_FROM
    from scenes.fit.search import fit as fitted
    from scenes.fit.wishes import read_request
    from scenes.fit.wording import changed_lines, notes, offered_warnings, verdict

    grid_detail = detail_of(detail)
    if not 1 <= alternatives <= _MAX_ALTERNATIVES:
        raise RequestProblem(
            f"alternatives: {alternatives} is not between 1 and {_MAX_ALTERNATIVES}; give how many "
            "designs to show."
        )
    if not 1 <= choose <= alternatives:
        raise RequestProblem(
            f"choose: {choose} is not between 1 and {alternatives}, the designs that are shown; "
            "give the number of one, or more --alternatives."
        )
    if output is not None:
        check_target(output, file)
    if picture is not None:
        check_suffix(picture, (".png",))
    # The text is read before the design, so that a change in between is noticed when saving.
    source = source_of(file)
    subject = read_subject(file, DesignOptions(variant, shelf, wrap=wrap), output=picture)
    design = subject.design.without_variants()
    measured = Measured(design, subject.shelf, subject.beside)
    request = read_request(measured, wish, at_most, at_least)
    if not (request.wishes or request.settings):
        if output or picture or free or keep:
            raise RequestProblem("fit: there is no wish; give one such as --wish turns=5.")
        print_table(measures_table(measured))
        return
    names = [wish.measure.name for wish in request.wishes] + list(request.settings)
    built = any(wish.measure.slow for wish in request.wishes)
    search = work_of_search(names, points_to_weigh(measured), built=built)
    with timed_work(1, search) as progress:
        bar = _Bar(progress)
        found = fitted(
            design,
            subject.shelf,
            request,
            free=free,
            keep=keep,
            most=alternatives,
            step=bar.show,
            beside=subject.beside,
            unusual=unusual,
        )
        solution = solution_at(found, choose)
        # All figures told are of designs that read from their files as they were found.
        checked = [
            read_again(found, number, subject, source, wrap)
            for number in range(1, len(found.solutions) + 1)
        ]
        progress.describe("warnings of the designs found")
        warned = []
        for warnings in offered_warnings(found):
            warned.append(warnings)
            share = len(warned) / len(found.solutions)
            bar.reach(CHECKED_FROM + (1 - CHECKED_FROM) * share)
    print_sentence(verdict(found))
    print_line("")
    print_table(fit_table(found))
    print_line("")
    lines = list(changed_lines(found, solution))
    print_line(f"Changes of design {choose}:" if lines else "Nothing is to be changed.")
    for line in lines:
        print_sentence(line, "  ")
    for note in notes(found, solution):
        print_sentence(note)
    for line in warning_lines(warned):
        print_sentence(line)
    if picture is not None:
        _save_picture(found, subject, picture, grid_detail)
    if output is not None:
        saved = save_changed(checked[choose - 1], subject, file, source, output)
        measures_read = measures_after_saving(saved, subject, request.wishes)
        print_line(
            f"{output}: design {choose}"
            + (f"; read again, {measures_read}" if measures_read else "")
        )
        for name in checked[choose - 1].set_aside:
            print_message(
                f'The variant "{name}" does not fit this design and is set aside in {output}.'
            )
    elif lines:
        which = ", with --choose and its number for another" if len(found.solutions) > 1 else ""
        print_line(f"To write it, give -o and a name{which}.")
    if not found.met:
        asking = ": add --unusual to be offered it." if found.unusual else "."
        raise NearestOnly(found.reason.removesuffix(".") + asking)


class _Bar:
    """Shows a whole search on one bar, from its beginning to its end."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._share = 0.0

    def show(self, at: "FitProgress") -> None:
        """Show where the search stands."""
        self._progress.describe(f"{at.text()}, {counted(at.tried, 'design')} tried")
        self.reach(at.whole)

    def reach(self, share: float) -> None:
        """Show how much of all is done, from 0 to 1."""
        self._progress.advance(share - self._share)
        self._share = share


def _save_picture(found: "Fit", subject: "Subject", picture: Path, detail: "Detail") -> None:
    from render.cli.fit_report import save_picture
    from render.output.compare import steps

    if all(solution.design == found.before.design for solution in found.solutions):
        print_message(f"{picture} is not made, since all designs look the same")
        return
    with Progress(steps(1 + len(found.solutions))) as progress:
        labels = save_picture(found, subject, picture, detail, progress).labels
    print_line(f"{picture}: from top to bottom: {'; '.join(labels)}")
