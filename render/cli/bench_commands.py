"""Commands that write the mesh, the bench sheet and the template."""

from geometry.grid import Detail
from render.cli.arguments import DESIGN_DEFAULTS, DesignOptions, read_subject
from render.cli.converters import Output
from render.cli.streams import print_line
from render.cli.timed import timed
from render.common.file_size import written_size
from render.common.files import check_suffix
from render.request.options import detail_of
from render.request.subject import BUILDING

# What draws or makes meshes is imported by the command that needs it: VTK takes a second to load.

__all__ = ["export", "sheet", "template"]


def export(
    file: str,
    /,
    *,
    output: Output,
    detail: str | None = None,
    design_options: DesignOptions = DESIGN_DEFAULTS,
) -> None:
    """Write the wrap as a model for other programs.

    A GLB file has the look of the wrap, its finish and its guides, as textures. Light that goes
    from thread to thread below the finish, and the shift of thread below thick finish, cannot be
    written there. PLY and STL files are a closed mesh of the thread, without the finish.

    Parameters
    ----------
    file : str
        A design file.
    output : Path
        A GLB file, in metres with textures; a PLY file, in mm with colours; an STL file, in mm.
    detail : str, optional
        draft, normal or fine; not given, it is normal for GLB, and draft for PLY and STL, where
        it has a point to a thread. Each step has about five times the triangles; a GLB has no more
        at fine than at normal, because viewers must hold it.
    design_options : DesignOptions
    """
    from render.output.export import STEPS, SUFFIXES, save_mesh

    suffix = check_suffix(output, SUFFIXES)
    grid_detail = detail_of(detail or ("normal" if suffix == ".glb" else "draft"))
    subject = read_subject(file, design_options, output=output)
    with timed(BUILDING + STEPS, "mesh", suffix, [subject], grid_detail) as progress:
        written = save_mesh(subject.build(grid_detail, progress), output, progress)
    sizes = " and ".join(f"{width} × {height}" for width, height in written.textures)
    textures = f"textures of {sizes}, " if sizes else ""
    print_line(
        f"{output}: {written.triangles:,} triangles, {textures}lengths in {written.unit}, "
        f"{written_size(output)}"
    )


def sheet(
    file: str,
    /,
    *,
    output: Output,
    paper: str = "A4",
    design_options: DesignOptions = DESIGN_DEFAULTS,
) -> None:
    """Write everything needed to build the wrap: a page to pin over the bench, or the numbers.

    Of a rod with several wraps it writes a page for the rod, and then each wrap; or one alone
    (`--wrap`).

    Parameters
    ----------
    file : str
        A design file.
    output : Path
        A PDF file; or a CSV or JSON file of the same numbers.
    paper : str
        A4 or letter, for PDF.
    design_options : DesignOptions
    """
    from render.paper.bench_sheet import SUFFIXES, save_bench, sheets, steps
    from render.paper.page import paper_of

    check_suffix(output, SUFFIXES)
    size = paper_of(paper)
    subject = read_subject(file, design_options, output=output)
    whole = design_options.wrap is None
    about = "bench sheet", output.suffix, [subject], Detail.NORMAL
    count = sheets(subject, whole=whole)
    with timed(steps(output, subject, whole=whole), *about, paper=paper, sheets=count) as progress:
        description = save_bench(subject, output, size, progress, whole=whole)
    print_line(f"{output}: {description}")


def template(
    file: str,
    /,
    *,
    output: Output,
    paper: str = "A4",
    design_options: DesignOptions = DESIGN_DEFAULTS,
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
    design_options : DesignOptions
    """
    from render.paper.page import SUFFIXES, paper_of
    from render.paper.template import STEPS, save_template

    check_suffix(output, SUFFIXES)
    size = paper_of(paper)
    subject = read_subject(file, design_options, output=output)
    about = "template", output.suffix, [subject], Detail.NORMAL
    with timed(STEPS, *about, paper=paper) as progress:
        pages = save_template(subject.plan(), output, size, progress)
    count = "1 page" if pages == 1 else f"{pages} pages"
    print_line(f"{output}: {count} of {size.value} paper; print at 100 %, with no fit to page")
