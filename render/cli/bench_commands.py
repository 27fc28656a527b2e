"""The commands that write what is built from or printed: a mesh, the bench sheet, the template."""

from render.cli.arguments import PLAIN, Pick, subject_wanted, weight_of
from render.cli.converters import Output
from render.cli.streams import say
from render.common.files import check_suffix
from render.common.progress import Progress
from render.request.options import detail_of
from render.request.subject import BUILDING

# What draws or makes meshes is imported by the command that needs it: VTK takes a second to load.

__all__ = ["export", "sheet", "template"]


def export(
    file: str,
    /,
    *,
    output: Output,
    detail: str = "draft",
    pick: Pick = PLAIN,
) -> None:
    """Write the wrap as a closed mesh, without the finish.

    Parameters
    ----------
    file : str
        A design file.
    output : Path
        A GLB file, in metres with colours; a PLY file, in mm with colours; an STL file, in mm.
    detail : str
        draft, normal or fine.
    pick : Pick
    """
    from render.output.export import STEPS, SUFFIXES, save_mesh

    check_suffix(output, SUFFIXES)
    wanted = detail_of(detail)
    subject = subject_wanted(file, pick)
    with Progress(BUILDING + STEPS) as progress:
        written = save_mesh(subject.build(wanted, progress), output, progress)
    say(
        f"{output}: {written.triangles:,} triangles, lengths in {written.unit}, {weight_of(output)}"
    )


def sheet(
    file: str,
    /,
    *,
    output: Output,
    paper: str = "A4",
    pick: Pick = PLAIN,
) -> None:
    """Write everything needed to build the wrap: a page to pin over the bench, or the numbers.

    Parameters
    ----------
    file : str
        A design file.
    output : Path
        A PDF file; or a CSV or JSON file of the same numbers.
    paper : str
        A4 or letter, for PDF.
    pick : Pick
    """
    from render.paper.bench_sheet import SUFFIXES, save_bench, steps
    from render.paper.page import paper_of

    check_suffix(output, SUFFIXES)
    size = paper_of(paper)
    subject = subject_wanted(file, pick)
    with Progress(steps(output)) as progress:
        told = save_bench(subject, output, size, progress)
    say(f"{output}: {told}")


def template(
    file: str,
    /,
    *,
    output: Output,
    paper: str = "A4",
    pick: Pick = PLAIN,
) -> None:
    """Draw the wrap unrolled at its true size, to print, cut out and roll round the blank.

    Parameters
    ----------
    file : str
        A design file.
    output : Path
        A PDF file.
    paper : str
        A4 or letter.
    pick : Pick
    """
    from render.paper.page import SUFFIXES, paper_of
    from render.paper.template import STEPS, save_template

    check_suffix(output, SUFFIXES)
    size = paper_of(paper)
    subject = subject_wanted(file, pick)
    with Progress(STEPS) as progress:
        pages = save_template(subject.plan(), output, size, progress)
    told = "1 page" if pages == 1 else f"{pages} pages"
    say(f"{output}: {told} of {size.value} paper; print at 100 %, with no fit to page")
