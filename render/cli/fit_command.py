"""The command that goes from wishes to a design."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from render.cli.arguments import Pick, subject_wanted
from render.cli.converters import Listed, Whole
from render.cli.streams import print_table, say
from render.common.error_reporting import tell
from render.common.problems import NearestOnly, RequestProblem
from render.common.progress import Progress
from render.request.options import detail_of

if TYPE_CHECKING:
    from geometry.grid import Detail
    from render.request.subject import Subject
    from scenes.fit.search import Fit

__all__ = ["fit"]

_MOST_SHOWN = 12
"""Designs in one table and one picture."""


def fit(
    file: str,
    /,
    *,
    wish: Listed = (),
    at_most: Listed = (),
    at_least: Listed = (),
    free: Listed = (),
    keep: Listed = (),
    alternatives: Whole = 5,
    choose: Whole = 1,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    picture: Path | None = None,
    detail: str = "normal",
    variant: str | None = None,
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
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    """
    from render.cli.fit_report import (
        changed_lines,
        check_target,
        fit_table,
        measures_table,
        notes,
        picked,
        save_fitted,
        source_of,
        told_again,
        verdict,
    )
    from render.common.files import check_suffix
    from scenes.fit.measures import Measured
    from scenes.fit.search import fit as fitted
    from scenes.fit.wishes import read_request

    wanted = detail_of(detail)
    if not 1 <= alternatives <= _MOST_SHOWN:
        raise RequestProblem(
            f"alternatives: {alternatives} is not between 1 and {_MOST_SHOWN}; give how many "
            "designs to show."
        )
    if output is not None:
        check_target(output, file)
    if picture is not None:
        check_suffix(picture, (".png",))
    # Read first: what is written over later must be no newer than what the design was read from.
    source = source_of(file)
    subject = subject_wanted(file, Pick(variant, shelf))
    design = subject.design.without_variants()
    measured = Measured(design, subject.shelf, subject.beside)
    request = read_request(measured, wish, at_most, at_least)
    if not (request.wishes or request.settings):
        if output or picture or free or keep:
            raise RequestProblem("fit: there is no wish; give one such as --wish turns=5.")
        print_table(measures_table(measured))
        return
    with Progress() as progress:
        found = fitted(
            design,
            subject.shelf,
            request,
            free=free,
            keep=keep,
            most=alternatives,
            step=progress.say,
            beside=subject.beside,
        )
    chosen = picked(found, choose)
    say(verdict(found))
    say("")
    print_table(fit_table(found))
    say("")
    lines = list(changed_lines(found, chosen))
    say(f"Changes of design {choose}:" if lines else "Nothing is to be changed.")
    for line in lines:
        say(f"  {line}")
    for note in notes(found, chosen):
        say(note)
    if picture is not None:
        _picture(found, subject, picture, wanted)
    if output is not None:
        saved, lost = save_fitted(subject, file, source, chosen.trial.changes, output)
        again = told_again(saved, subject, request.wishes)
        say(f"{output}: design {choose}" + (f"; read again, {again}" if again else ""))
        for name in lost:
            tell(f'The variant "{name}" no longer fits this design and is left out of {output}.')
    elif lines:
        which = ", with --choose and its number for another" if len(found.solutions) > 1 else ""
        say(f"To write it, give -o and a name{which}.")
    if not found.met:
        raise NearestOnly(found.reason)


def _picture(found: "Fit", subject: "Subject", picture: Path, detail: "Detail") -> None:
    from render.cli.fit_report import save_picture
    from render.output.compare import steps

    if all(one.design == found.before.design for one in found.solutions):
        tell(f"{picture} is not made, since all designs look the same")
        return
    with Progress(steps(1 + len(found.solutions))) as progress:
        labels = save_picture(found, subject, picture, detail, progress).labels
    say(f"{picture}: from top to bottom: {'; '.join(labels)}")
