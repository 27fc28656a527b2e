"""The command that spells a crossed pattern out."""

from pathlib import Path

from render.cli.converters import Output
from render.cli.streams import print_line
from render.request.options import subject_of

__all__ = ["sequence"]


def sequence(
    file: str,
    /,
    *,
    output: Output,
    shelf: Path | None = None,
) -> None:
    """Write a design with every step of its crossed patterns, to change by hand.

    What is laid stays the same, thread for thread. A variant that changes a pattern is left out.

    Parameters
    ----------
    file : str
        A design file.
    output : Path
        A new design file; one that is there is never overwritten.
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    """
    from render.cli.fit_report import changed_design, check_target, save_changed, source_of
    from scenes.building.spelling import spelled_out

    check_target(output)
    source = source_of(file)
    subject = subject_of(file, shelf)
    changed = changed_design(subject, spelled_out(subject.plan()), source)
    design = save_changed(changed, subject, file, source, output)
    steps = sum(len(getattr(layer, "courses", None) or ()) for layer in design.layers)
    names = ", ".join(changed.set_aside)
    set_aside = f"; variants set aside, because they do not fit it: {names}" if names else ""
    print_line(f"{output}: {steps} steps{set_aside}")
