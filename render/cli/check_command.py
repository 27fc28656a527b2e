"""The command that checks a design and prints its figures."""

from render.cli.arguments import DESIGN_DEFAULTS, DesignOptions, read_subject
from render.cli.report import report
from render.cli.streams import print_line
from render.common.progress import Progress

__all__ = ["check"]


def check(file: str, /, *, design_options: DesignOptions = DESIGN_DEFAULTS) -> None:
    """Check a design, and print what follows from it: pitch, gap, thread lengths and more.

    Of a rod with several wraps it prints each and their sums, or one alone (`--wrap`).

    Parameters
    ----------
    file : str
    design_options : DesignOptions
    """
    subject = read_subject(file, design_options)
    with Progress() as progress:
        text = report(subject, progress, whole=design_options.wrap is None)
    print_line(text)
