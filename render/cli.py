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
from render.film import SUFFIXES as FILMS
from render.film import Film, check_film
from render.fitting import check_limit, megabytes
from render.manner import Manner
from render.options import SAMPLE, adjusted, detail_of, manner_of, size_of, subject_of, subjects_of
from render.problems import RequestProblem
from render.progress import Progress
from render.report import report
from render.subject import BUILDING, Subject
from render.telling import run_told, tell
from scenes import samples, storage
from scenes.problems import shown

# What draws or makes meshes is imported by the command that needs it: VTK takes a second to load.

__all__ = ["app", "main"]

_WIDE = 160
"""Columns of a table that goes into no terminal."""


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
Flag = Annotated[bool, Parameter(negative="")]


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
    coats : int, optional
        With so many coats of finish.
    """

    variant: str | None = None
    shelf: Path | None = None
    dry: Flag = False
    coats: Whole | None = None


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
    backdrop : str, optional
        Card behind the rod: dark, light, or a colour such as 5a6b70, with or without #.
    """

    detail: str = "normal"
    view: str | None = None
    turn: Number | None = None
    light: str | None = None
    light_turn: Number | None = None
    backdrop: str | None = None


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Taken:
    """How the picture is taken.

    Parameters
    ----------
    photo : bool
        Path-trace it: a minute for each picture, and as near to a photograph as we get.
    samples : int, optional
        Paths through each pixel of a photo; more take longer and leave less noise.
    vision : str, optional
        Show what is seen with a colour-vision deficiency: protan, deutan or tritan.
    """

    photo: Flag = False
    samples: Whole | None = None
    vision: str | None = None


# A leading hyphen is the beginning of a wrong size, not of another option.
Pixels = Annotated[str, Parameter(allow_leading_hyphen=True)]
Output = Annotated[Path, Parameter(name=["--output", "-o"])]

PLAIN = Pick()
AS_DESIGNED = Look()
LIVE = Taken()


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


def _print(table: Table) -> None:
    """Write a table, in a file or a pipe wide enough that no line is broken."""
    console = Console(width=None if sys.stdout.isatty() else _WIDE)
    console.print(table, markup=False, highlight=False)


@app.command(name="samples")
def list_samples() -> None:
    """List the sample designs."""
    table = Table(box=None, pad_edge=False)
    for heading in ("name", "title", "what it shows"):
        table.add_column(heading, no_wrap=heading == "name")
    for name in samples.names():
        table.add_row(name, samples.load(name).title, samples.summary(name))
    _print(table)


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
    subject = _subject(file, pick)
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
    taken: Taken = LIVE,
) -> None:
    """Take one picture, and say which trims will be lost at arm's length.

    Parameters
    ----------
    file : str
    output : Path
        A PNG file.
    size : str
        Width and height, pixels.
    pick : Pick
    look : Look
    taken : Taken
    """
    from render.reading import READING, lost_trims
    from render.still import STEPS, SUFFIXES, save_still

    check_suffix(output, SUFFIXES)
    pixels, detail, manner = size_of(size), detail_of(look.detail), _manner(taken)
    subject = _subject(file, pick, look)
    with Progress(BUILDING + READING + STEPS) as progress:
        wrap = subject.build(detail, progress)
        reports = save_still(wrap, output, size=pixels, manner=manner, read=True, progress=progress)
    _say(f"{output}: {size}")
    for sentence in lost_trims(reports):
        _say(sentence)


@app.command
def turntable(
    file: str,
    /,
    *,
    output: Output,
    size: Pixels = "960x540",
    frames: Whole = 60,
    seconds: Number = 6.0,
    max_mb: Number | None = None,
    pick: Pick = PLAIN,
    look: Look = AS_DESIGNED,
    taken: Taken = LIVE,
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
    max_mb : float, optional
        Lower size and frames until the file has so many megabytes at most.
    pick : Pick
    look : Look
    taken : Taken
    """
    from render.turntable import save_turntable, steps

    pixels, detail, manner = size_of(size), detail_of(look.detail), _manner(taken)
    film = Film(pixels, frames, seconds)
    check_film(output, film)
    if max_mb is not None:
        check_limit(max_mb, output, FILMS)
    subject = _subject(file, pick, look)
    with Progress(BUILDING + steps(frames)) as progress:
        made = save_turntable(
            subject.build(detail, progress),
            output,
            size=pixels,
            frames=frames,
            seconds=seconds,
            max_mb=max_mb,
            manner=manner,
            progress=progress,
        )
    if made != film:
        _say(f"{output}: {_fitted(made, max_mb, output)}, {seconds:g} s a turn")
    else:
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
    variants: Flag = False,
    sweep: str | None = None,
    size: Pixels | None = None,
    frames: Whole = 60,
    seconds: Number = 6.0,
    max_mb: Number | None = None,
    pick: Pick = PLAIN,
    look: Look = AS_DESIGNED,
    taken: Taken = LIVE,
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
    max_mb : float, optional
        Lower size and frames until a GIF or MP4 has so many megabytes at most.
    pick : Pick
    look : Look
    taken : Taken
    """
    from render.compare import MOVING, SUFFIXES, Comparison, save_comparison, steps
    from render.reading import lost_trims, readings_table

    suffix = check_suffix(output, SUFFIXES)
    pixels, detail = None if size is None else size_of(size), detail_of(look.detail)
    manner = _manner(taken)
    if max_mb is not None:
        check_limit(max_mb, output, MOVING)
    given = [_subject(file, pick, look) for file in (first, *more)]
    comparison = Comparison.of(subjects_of(given, variants=variants, sweep_spec=sweep))
    for note in comparison.notes:
        tell(note)
    pictures = 1 if suffix == ".png" else frames
    with Progress(steps(len(comparison.subjects), pictures)) as progress:
        made = save_comparison(
            comparison,
            output,
            size=pixels,
            detail=detail,
            frames=frames,
            seconds=seconds,
            max_mb=max_mb,
            manner=manner,
            progress=progress,
        )
    width, height = made.size
    what = f"{width}x{height}, {_weight(output)}"
    if made.film is not None and made.film != Film(made.layout.size, frames, seconds):
        what = _fitted(made.film, max_mb, output)
    _say(f"{output}: {what}, from top to bottom: {'; '.join(comparison.labels)}")
    _print(readings_table(comparison.labels, made.readings, manner))
    for label, reports in zip(comparison.labels, made.readings, strict=True):
        for sentence in lost_trims(reports):
            _say(f"{label}: {sentence}")


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
    subject = _subject(file, pick)
    with Progress(BUILDING + STEPS) as progress:
        written = save_mesh(subject.build(wanted, progress), output, progress)
    _say(f"{output}: {written.triangles:,} triangles, lengths in {written.unit}, {_weight(output)}")


def _subject(file: str, pick: Pick, look: Look = AS_DESIGNED) -> Subject:
    return adjusted(
        subject_of(file, pick.shelf),
        variant_name=pick.variant,
        view=look.view,
        turn=look.turn,
        light=look.light,
        light_turn=look.light_turn,
        backdrop=look.backdrop,
        dry=pick.dry,
        coats=pick.coats,
    )


def _manner(taken: Taken) -> Manner:
    return manner_of(photo=taken.photo, samples=taken.samples, vision=taken.vision)


def _weight(path: Path) -> str:
    """Say how large a file, or all of a folder, is."""
    files = [path] if path.is_file() else list(path.iterdir())
    return megabytes(sum(file.stat().st_size for file in files))


def _fitted(film: Film, max_mb: float | None, path: Path) -> str:
    """Say what was made to fit."""
    (width, height), frames = film.size, film.frames
    return f"made {width}x{height} with {frames} frames to fit {max_mb:g} MB: {_weight(path)}"
