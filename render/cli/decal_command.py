"""The command that draws lettering and pictures at their true size, to print."""

from pathlib import Path

from render.cli.arguments import DesignOptions, read_subject
from render.cli.converters import Output
from render.cli.streams import print_line
from render.cli.timed import timed
from render.common.files import check_suffix

__all__ = ["decal"]


def decal(
    file: str,
    /,
    *,
    output: Output,
    paper: str = "A4",
    variant: str | None = None,
    shelf: Path | None = None,
    wrap: str | None = None,
) -> None:
    """Draw lettering and pictures at their true size, read and mirrored side by side, to print.

    Parameters
    ----------
    file : str
        A design file.
    output : Path
        A PDF file.
    paper : str
        A4 or letter.
    variant : str, optional
        One of the design's variants.
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    from geometry.grid import Detail
    from render.paper.decal import STEPS, save_decals
    from render.paper.page import SUFFIXES, paper_of

    check_suffix(output, SUFFIXES)
    size = paper_of(paper)
    subject = read_subject(file, DesignOptions(variant, shelf, wrap=wrap), output=output)
    about = ("printed artwork", output.suffix, [subject], Detail.NORMAL)
    with timed(STEPS, *about, paper=size.value) as progress:
        pages = save_decals(subject.plan(), output, size, progress)
    count = "1 page" if pages == 1 else f"{pages} pages"
    print_line(f"{output}: {count} of {size.value} paper; print at 100 %, with no fit to page")
