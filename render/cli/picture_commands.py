"""Commands that take pictures: stills, turntables and comparisons."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from render.cli.arguments import (
    CAPTURE_DEFAULTS,
    DESIGN_DEFAULTS,
    VIEW_DEFAULTS,
    CaptureOptions,
    DesignOptions,
    ViewOptions,
    read_capture,
    read_subject,
)
from render.cli.converters import Flag, Number, Output, Pixels, Whole
from render.cli.spin_command import PAGE_SIZE, PAGES, write_spin_page
from render.cli.streams import print_line, print_table
from render.cli.timed import timed
from render.common.error_reporting import print_message
from render.common.file_size import written_size
from render.common.files import check_suffix
from render.common.problems import RequestProblem
from render.output.film import SUFFIXES as FILMS
from render.output.film import Film, check_film
from render.output.size_limit import check_limit
from render.request.capture_settings import CaptureSettings
from render.request.options import detail_of, size_of, subjects_of
from render.request.subject import BUILDING
from scenes.parts.view import Lean, View

# What draws or makes meshes is imported by the command that needs it: VTK takes a second to load.

__all__ = ["compare", "still", "turntable"]

_FILM_SHORT_SIDE, _PAGE_SHORT_SIDE = 540, 900
"""Shorter side of films, and of spin pages, that are given by their shape, pixels."""

_ROD_SIZE = "2400x1000"
"""Size of the picture of a whole rod."""

_STRIP_SIZE = "2400x1400"
"""Size of the strip of a rod: rows high enough for the grips of a short, stout one."""

_OF_ONE_VIEW = ("walk", "rise", "zoom", "along", "lean")
"""Options that move the camera of a single view."""

_USUAL_SIZE = (1280, 860)
"""About the size of a comparison whose size is not given, for a forecast of its time, pixels."""


def still(
    file: str,
    /,
    *,
    output: Output,
    size: Pixels | None = None,
    signed: Flag = False,
    strip: Flag = False,
    design_options: DesignOptions = DESIGN_DEFAULTS,
    view_options: ViewOptions = VIEW_DEFAULTS,
    capture_options: CaptureOptions = CAPTURE_DEFAULTS,
) -> None:
    """Take one picture, and say which trims will be lost at arm's length.

    With --whole it is the rod, and each of its wraps enlarged above or below it; with --strip the
    rod at one true scale, in four rows from butt to tip.

    Parameters
    ----------
    file : str
    output : Path
        A PNG file.
    size : str, optional
        Width and height, pixels, or a shape: 16:9, 1:1, 4:5, 9:16, A4 or "A4 upright"; 1600x900,
        2400x1000 with --whole, and 2400x1400 with --strip.
    signed : bool
        Put title and builder in a corner, and your mark (`order.mark`) in the other.
    strip : bool
        The whole rod at one scale, in four rows that overlap at their marks.
    design_options : DesignOptions
    view_options : ViewOptions
    capture_options : CaptureOptions
    """
    from render.output.reading import READING, lost_trims
    from render.output.signature import Signature
    from render.output.still import STEPS, SUFFIXES, save_still

    check_suffix(output, SUFFIXES)
    whole = view_options.whole
    if strip:
        if whole:
            raise RequestProblem("strip: --strip and --whole are given together; keep one.")
        _check_rod_view(view_options, "strip")
        # What the camera is not asked for is checked as for the whole rod.
        view_options = replace(view_options, whole=True)
    elif whole:
        _check_rod_view(view_options, "whole")
    pixels, detail, capture = (
        size_of(size or (_STRIP_SIZE if strip else _ROD_SIZE if whole else "1600x900")),
        detail_of(view_options.detail),
        read_capture(capture_options),
    )
    subject = read_subject(file, design_options, view_options, output=output)
    signature = Signature.of(subject) if signed else None
    more: dict[str, Any] = {"size": pixels, **_paths_of(capture)}
    taken: dict[str, Any] = {"size": pixels, "capture": capture, "signature": signature}
    lines = [f"{output}: {pixels[0]}x{pixels[1]}{_made_by(capture)}"]
    if strip:
        from render.output.strip_picture import STEPS as strip_steps
        from render.output.strip_picture import save_strip, strip_sentence

        with timed(BUILDING + strip_steps, "rod", ".png", [subject], detail, **more) as progress:
            layout_of_rows = save_strip(
                subject.build(detail, progress), output, progress=progress, **taken
            )
        print_line(f"{lines[0]}, {strip_sentence(layout_of_rows, subject.design.units)}")
        return
    if whole:
        from render.output.rod_picture import inset_sentence, save_rod_picture
        from render.output.rod_picture import steps as rod_steps

        count = BUILDING + READING + rod_steps(subject.design)
        with timed(count, "rod, trims read", ".png", [subject], detail, **more) as progress:
            wrap = subject.build(detail, progress)
            layout, reports = save_rod_picture(wrap, output, read=True, progress=progress, **taken)
        units = subject.design.units
        lines += [f"{one.name}: {inset_sentence(one, units)}" for one in layout.insets]
    else:
        count = BUILDING + READING + STEPS
        with timed(count, "still, trims read", ".png", [subject], detail, **more) as progress:
            wrap = subject.build(detail, progress)
            reports = save_still(wrap, output, read=True, progress=progress, **taken)
    for line in lines:
        print_line(line)
    for sentence in lost_trims(reports):
        print_line(sentence)


def turntable(
    file: str,
    /,
    *,
    output: Output,
    size: Pixels | None = None,
    frames: Whole = 60,
    seconds: Number = 6.0,
    max_mb: Number | None = None,
    signed: Flag = False,
    design_options: DesignOptions = DESIGN_DEFAULTS,
    view_options: ViewOptions = VIEW_DEFAULTS,
    capture_options: CaptureOptions = CAPTURE_DEFAULTS,
) -> None:
    """Turn the rod once about its axis, to be looped, or on a page to be turned with a finger.

    Parameters
    ----------
    file : str
    output : Path
        A GIF, MP4 or WebP file, a new folder for single PNG pictures, or an HTML file: the spin
        page, which a customer opens in any browser.
    size : str, optional
        Width and height, pixels, or a shape such as 1:1; 960x540, and 1600x900 for a spin page.
    frames : int
        Pictures in one turn; of a spin page, 12 at most stand in for the rod itself.
    seconds : float
        For one turn.
    max_mb : float, optional
        Lower size and frames until the file has so many megabytes at most; a spin page,
        4 for each of its designs.
    signed : bool
        Put title and builder in a corner, and your mark (`order.mark`) in the other; a spin page
        has them in its heading.
    design_options : DesignOptions
    view_options : ViewOptions
    capture_options : CaptureOptions
    """
    from render.output.signature import Signature
    from render.output.turntable import save_turntable, steps

    paged = check_suffix(output, (*FILMS, *PAGES), folder=True) in PAGES
    size = size or (PAGE_SIZE if paged else "960x540")
    pixels, detail, capture = (
        size_of(size),
        detail_of(view_options.detail),
        read_capture(capture_options),
    )
    film = Film(pixels, frames, seconds)
    if paged:
        subjects = [read_subject(file, design_options, view_options, output=output)]
        print_line(write_spin_page(subjects, (), output, film, max_mb, detail, capture))
        return
    check_film(output, film)
    if max_mb is not None:
        check_limit(max_mb, output, FILMS)
    subject = read_subject(file, design_options, view_options, output=output)
    signature = Signature.of(subject) if signed else None
    limited = max_mb is not None
    more: dict[str, Any] = {
        "size": pixels,
        "frames": frames,
        "limited": limited,
        **_paths_of(capture),
    }
    count = BUILDING + steps(frames, limited=limited)
    with timed(count, "turntable", output.suffix, [subject], detail, **more) as progress:
        made = save_turntable(
            subject.build(detail, progress),
            output,
            film,
            max_mb=max_mb,
            capture=capture,
            signature=signature,
            progress=progress,
        )
    if made != film:
        fitted = _describe_fitted(made, max_mb, output)
        print_line(f"{output}: {fitted}, {seconds:g} s a turn{_made_by(capture)}")
    else:
        print_line(
            f"{output}: {frames} frames of {pixels[0]}x{pixels[1]}, {seconds:g} s a turn, "
            f"{written_size(output)}{_made_by(capture)}"
        )


def compare(
    first: str,
    /,
    *more: str,
    output: Output,
    variants: Flag = False,
    sweep: str | None = None,
    size: Pixels | None = None,
    frames: Whole = 60,
    seconds: Number = 6.0,
    max_mb: Number | None = None,
    design_options: DesignOptions = DESIGN_DEFAULTS,
    view_options: ViewOptions = VIEW_DEFAULTS,
    capture_options: CaptureOptions = CAPTURE_DEFAULTS,
) -> None:
    """Put designs side by side: several files, the variants of one, or a sweep of one field.

    Parameters
    ----------
    first : str
        A design file.
    more : str
        Further design files.
    output : Path
        A PNG, GIF or MP4 file, or an HTML file: a spin page that switches between the designs.
    variants : bool
        Compare the variants of one file; so it is for one file without --sweep.
    sweep : str, optional
        A field and its values, such as relief.gap=14,20,26.
    size : str, optional
        Width and height of the whole, pixels, or its shape, such as 4:5; of each picture on a spin
        page.
    frames : int
        Pictures in one turn, if it turns.
    seconds : float
        For one turn.
    max_mb : float, optional
        Lower size and frames until what turns has so many megabytes at most; a spin page,
        4 for each of its designs.
    design_options : DesignOptions
    view_options : ViewOptions
    capture_options : CaptureOptions
    """
    from render.output.compare import MOVING, SUFFIXES, Comparison, save_comparison, steps
    from render.output.reading import lost_trims, readings_table

    suffix = check_suffix(output, (*SUFFIXES, *PAGES))
    if view_options.lean not in (None, Lean.LEVEL.value, Lean.FIT.value):
        raise RequestProblem(
            f"lean: {view_options.lean} is for pictures of one rod; those of a comparison lie "
            "level, one above the other, so leave it out."
        )
    pixels, detail = None if size is None else size_of(size), detail_of(view_options.detail)
    capture = read_capture(capture_options)
    if max_mb is not None:
        check_limit(max_mb, output, (*MOVING, *PAGES))
    given = [
        read_subject(file, design_options, view_options, output=output) for file in (first, *more)
    ]
    comparison = Comparison.of(subjects_of(given, variants=variants, sweep_spec=sweep))
    if not (more or sweep):
        for name in given[0].design.variants_set_aside:
            print_message(f'The variant "{name}" does not fit the design and is not shown.')
    for note in comparison.notes:
        print_message(note)
    if suffix in PAGES:
        film = Film(pixels or size_of(PAGE_SIZE), frames, seconds)
        labelled = comparison.subjects, comparison.labels
        print_line(write_spin_page(*labelled, output, film, max_mb, detail, capture))
        return
    pictures = 1 if suffix == ".png" else frames
    limited = max_mb is not None
    shown: dict[str, Any] = {"size": pixels or _USUAL_SIZE, "frames": pictures, "limited": limited}
    shown |= _paths_of(capture)
    count = steps(len(comparison.subjects), pictures, limited=limited)
    with timed(count, "comparison", suffix, comparison.subjects, detail, **shown) as progress:
        made = save_comparison(
            comparison,
            output,
            size=pixels,
            detail=detail,
            frames=frames,
            seconds=seconds,
            max_mb=max_mb,
            capture=capture,
            progress=progress,
        )
    width, height = made.size
    what = f"{width}x{height}, {written_size(output)}"
    if made.film is not None and made.film != Film(made.layout.size, frames, seconds):
        what = _describe_fitted(made.film, max_mb, output)
    print_line(
        f"{output}: {what}, from top to bottom: {'; '.join(comparison.labels)}{_made_by(capture)}"
    )
    print_table(readings_table(comparison.labels, made.readings, capture))
    for label, reports in zip(comparison.labels, made.readings, strict=True):
        for sentence in lost_trims(reports):
            print_line(f"{label}: {sentence}")


def _check_rod_view(view_options: ViewOptions, option: str) -> None:
    """Refuse what moves the camera: a picture of a rod has cameras of its own."""
    given = next((name for name in _OF_ONE_VIEW if getattr(view_options, name) is not None), None)
    if given is not None:
        cameras = "a camera for each wrap" if option == "whole" else "a camera for each row"
        raise RequestProblem(
            f"{given}: --{given} moves the camera of one view, and --{option} has {cameras}; leave "
            f'it out, or give --view "{View.WHOLE_ROD.value}".'
        )


def _paths_of(capture: CaptureSettings) -> dict[str, int]:
    """Paths of light through a pixel, for a forecast of the time; none of a live picture."""
    return {"paths": capture.paths} if capture.photo else {}


def _made_by(capture: CaptureSettings) -> str:
    return f", {capture.maker}" if capture.maker else ""


def _describe_fitted(film: Film, max_mb: float | None, path: Path) -> str:
    """Describe a film whose size or frames were lowered to fit a limit."""
    (width, height), frames = film.size, film.frames
    return f"made {width}x{height} with {frames} frames to fit {max_mb:g} MB: {written_size(path)}"
