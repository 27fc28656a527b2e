"""The command line: plain verbs over design files."""

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Annotated

from cyclopts import App, CycloptsError, Parameter, Token
from rich.console import Console
from rich.table import Table

from render.display import has_display
from render.files import check_suffix
from render.film import Film, check_film
from render.options import SAMPLE, adjusted, detail_of, size_of, subject_of, subjects_of
from render.problems import RequestProblem
from render.progress import Progress
from render.report import report
from render.subject import BUILDING, Subject
from render.telling import run_told, tell
from scenes import samples, storage
from scenes.problems import shown

# What draws or makes meshes is imported by the command that needs it: VTK takes a second to load.

__all__ = ["app", "main"]


def _version() -> str:
    try:
        return version("turnlight")
    except PackageNotFoundError:
        return "not installed"


app = App(
    name="turnlight",
    version=_version,
    help="Design a thread wrap over a raised relief on a fishing rod, see it turn in the light, "
    "and compare. FILE is a design file, or sample: and a sample's name.",
    help_format="plaintext",
    suppress_keyboard_interrupt=False,
    exit_on_error=False,
    print_error=False,
    result_action="return_none",
)


def _number(_: object, tokens: Sequence[Token]) -> float:
    """Read a number, so that a sentence says what is not one."""
    try:
        return float(tokens[0].value)
    except ValueError:
        raise ValueError(f"{shown(tokens[0].value)} is not a number") from None


def _whole(_: object, tokens: Sequence[Token]) -> int:
    """Read a whole number: 2.5 frames are not 2."""
    try:
        return int(tokens[0].value)
    except ValueError:
        raise ValueError(f"{shown(tokens[0].value)} is not a whole number") from None


Number = Annotated[float, Parameter(converter=_number)]
Whole = Annotated[int, Parameter(converter=_whole)]


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Pick:
    """Which design, with which threads.

    Parameters
    ----------
    variant : str, optional
        One of the design's variants.
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    dry : bool
        Without finish.
    """

    variant: str | None = None
    shelf: Path | None = None
    dry: Annotated[bool, Parameter(negative="")] = False


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Look:
    """How it is looked at.

    Parameters
    ----------
    detail : str
        draft, normal or fine.
    view : str, optional
        whole wrap, three-quarter, close, end-on or arm's length (hyphens for spaces will do).
    turn : float, optional
        Turn the rod about its axis, degrees.
    light : str, optional
        soft boxes, north window, workshop lamp or low sun.
    light_turn : float, optional
        Turn the light round the rod, degrees.
    """

    detail: str = "normal"
    view: str | None = None
    turn: Number | None = None
    light: str | None = None
    light_turn: Number | None = None


# A leading hyphen is the beginning of a wrong size, not of another option.
Pixels = Annotated[str, Parameter(allow_leading_hyphen=True)]
Output = Annotated[Path, Parameter(name=["--output", "-o"])]

PLAIN = Pick()
AS_DESIGNED = Look()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and give its exit code: 0, or 2 for what cannot be done as asked."""
    return run_told(lambda: _run(sys.argv[1:] if arguments is None else arguments))


def _run(arguments: Sequence[str]) -> None:
    try:
        app(list(arguments))
    except CycloptsError as error:
        error.verbose = False
        told = str(error).strip()
        if error.unused_tokens:
            told = f"{shown(error.unused_tokens[0])} is more than is asked for."
        command = " ".join(["turnlight", *(error.command_chain or ())])
        told = told if told.endswith("?") else f"{told.rstrip('.')}; see {command} --help."
        raise RequestProblem(told) from None


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")


@app.command(name="samples")
def list_samples() -> None:
    """List the sample designs."""
    table = Table(box=None, pad_edge=False)
    for heading in ("name", "title", "what it shows"):
        table.add_column(heading, no_wrap=heading == "name")
    for name in samples.names():
        table.add_row(name, samples.load(name).title, samples.summary(name))
    Console().print(table, markup=False)


@app.command
def new(file: Path, /, *, from_: Annotated[str, Parameter(name="--from")]) -> None:
    """Start a design file of your own from a sample.

    Parameters
    ----------
    file : Path
        The file to make; one that is there is never overwritten.
    from_ : str
        A sample's name.
    """
    storage.create(samples.text(from_.removeprefix(SAMPLE)), file)
    _say(f"{file} is there, from the sample {from_}: turnlight check {file} shows its numbers.")


@app.command
def check(file: str, /, *, pick: Pick = PLAIN) -> None:
    """Check a design, and print what follows from it: pitch, gap, thread lengths and more.

    Parameters
    ----------
    file : str
    pick : Pick
    """
    subject = adjusted(subject_of(file, pick.shelf), variant_name=pick.variant, dry=pick.dry)
    with Progress() as progress:
        text = report(subject, progress)
    _say(text)


@app.command
def still(
    file: str,
    /,
    *,
    output: Output,
    size: Pixels = "1600x900",
    pick: Pick = PLAIN,
    look: Look = AS_DESIGNED,
) -> None:
    """Take one picture.

    Parameters
    ----------
    file : str
    output : Path
        A PNG file.
    size : str
        Width and height, pixels.
    pick : Pick
    look : Look
    """
    from render.still import STEPS, SUFFIXES, save_still

    check_suffix(output, SUFFIXES)
    pixels, detail = size_of(size), detail_of(look.detail)
    subject = _subject(file, pick, look)
    with Progress(BUILDING + STEPS) as progress:
        save_still(subject.build(detail, progress), output, size=pixels, progress=progress)
    _say(f"{output}: {size}")


@app.command
def turntable(
    file: str,
    /,
    *,
    output: Output,
    size: Pixels = "960x540",
    frames: Whole = 60,
    seconds: Number = 6.0,
    pick: Pick = PLAIN,
    look: Look = AS_DESIGNED,
) -> None:
    """Turn the rod once about its axis, to be looped.

    Parameters
    ----------
    file : str
    output : Path
        A GIF, MP4 or WebP file, or a new folder for single PNG pictures.
    size : str
        Width and height, pixels.
    frames : int
        Pictures in one turn.
    seconds : float
        For one turn.
    pick : Pick
    look : Look
    """
    from render.turntable import save_turntable, steps

    pixels, detail = size_of(size), detail_of(look.detail)
    check_film(output, Film(pixels, frames, seconds))
    subject = _subject(file, pick, look)
    with Progress(BUILDING + steps(frames)) as progress:
        wrap = subject.build(detail, progress)
        save_turntable(wrap, output, size=pixels, frames=frames, seconds=seconds, progress=progress)
    _say(f"{output}: {frames} frames of {size}, {seconds:g} s a turn, {_weight(output)}")


@app.command
def spin(file: str, /, *, pick: Pick = PLAIN, look: Look = AS_DESIGNED) -> None:
    """Open a window in which the rod turns; a legend there shows the keys.

    Parameters
    ----------
    file : str
    pick : Pick
    look : Look
    """
    if not has_display():
        raise RequestProblem(
            "spin: there is no display here to open a window on; make a turntable instead."
        )
    from render.spin import open_window

    subject = _subject(file, pick, look)
    name = file.removeprefix(SAMPLE)
    open_window(subject.design, subject.shelf, Path(name).with_suffix(""))


@app.command
def compare(
    first: str,
    /,
    *more: str,
    output: Output,
    variants: Annotated[bool, Parameter(negative="")] = False,
    sweep: str | None = None,
    size: Pixels | None = None,
    frames: Whole = 60,
    seconds: Number = 6.0,
    pick: Pick = PLAIN,
    look: Look = AS_DESIGNED,
) -> None:
    """Put designs side by side: several files, the variants of one, or a sweep of one field.

    Parameters
    ----------
    first : str
        A design file.
    more : str
        Further design files.
    output : Path
        A PNG, GIF or MP4 file.
    variants : bool
        Compare the variants of one file; so it is for one file without --sweep.
    sweep : str, optional
        A field and its values, such as relief.gap=14,20,26.
    size : str, optional
        Width and height of the whole, pixels.
    frames : int
        Pictures in one turn, for GIF and MP4.
    seconds : float
        For one turn.
    pick : Pick
    look : Look
    """
    from render.compare import SUFFIXES, Comparison, save_comparison, steps

    suffix = check_suffix(output, SUFFIXES)
    pixels, detail = None if size is None else size_of(size), detail_of(look.detail)
    given = [_subject(file, pick, look) for file in (first, *more)]
    comparison = Comparison.of(subjects_of(given, variants=variants, sweep_spec=sweep))
    for note in comparison.notes:
        tell(note)
    taken = 1 if suffix == ".png" else frames
    with Progress(steps(len(comparison.subjects), taken)) as progress:
        layout = save_comparison(
            comparison,
            output,
            size=pixels,
            detail=detail,
            frames=frames,
            seconds=seconds,
            progress=progress,
        )
    width, height = layout.size
    listed = "; ".join(comparison.labels)
    _say(f"{output}: {width}x{height}, {_weight(output)}, from top to bottom: {listed}")


@app.command
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
    from render.export import STEPS, SUFFIXES, save_mesh

    check_suffix(output, SUFFIXES)
    wanted = detail_of(detail)
    subject = adjusted(subject_of(file, pick.shelf), variant_name=pick.variant, dry=pick.dry)
    with Progress(BUILDING + STEPS) as progress:
        written = save_mesh(subject.build(wanted, progress), output, progress)
    _say(f"{output}: {written.triangles:,} triangles, lengths in {written.unit}, {_weight(output)}")


def _subject(file: str, pick: Pick, look: Look) -> Subject:
    return adjusted(
        subject_of(file, pick.shelf),
        variant_name=pick.variant,
        view=look.view,
        turn=look.turn,
        light=look.light,
        light_turn=look.light_turn,
        dry=pick.dry,
    )


def _weight(path: Path) -> str:
    """Say how large a file, or all of a folder, is."""
    files = [path] if path.is_file() else list(path.iterdir())
    return f"{sum(file.stat().st_size for file in files) / 1e6:.1f} MB"
