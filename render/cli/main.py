"""The command line: plain verbs over design files."""

import os
import shlex
import subprocess
import sys
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Annotated

from cyclopts import (
    App,
    CycloptsError,
    MissingArgumentError,
    Parameter,
    UnknownCommandError,
    UnusedCliTokensError,
)
from rich.table import Table

from materials.toml_text import named
from render.cli.arguments import DESIGN_DEFAULTS, DesignOptions, read_subject
from render.cli.bench_commands import export, sheet, template
from render.cli.chart_command import chart
from render.cli.colour_command import colour
from render.cli.converters import Flag, Whole
from render.cli.decal_command import decal
from render.cli.edit_commands import add, change, duplicate, move, remove, shelf
from render.cli.fit_command import fit
from render.cli.picture_commands import compare, still, turntable
from render.cli.report import report
from render.cli.sequence_command import sequence
from render.cli.streams import print_line, print_table
from render.common.error_reporting import run_reporting_errors
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.request.options import SAMPLE
from scenes.files import samples, storage
from scenes.problems import nearest, shown

# What draws or makes meshes is imported by the command that needs it: VTK takes a second to load.

__all__ = ["app", "main"]

DEMO = f"{SAMPLE}half-scale"
"""The design that is opened if no file is named."""

_LAST_PORT = 65_535


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


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code (`render.common.error_reporting`).

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after the program's name; by default those of this process.
    """
    return run_reporting_errors(lambda: _run(sys.argv[1:] if arguments is None else arguments))


def _run(arguments: Sequence[str]) -> None:
    try:
        app(list(arguments))
    except CycloptsError as error:
        error.verbose = False
        message = str(error).strip()
        unused = error.unused_tokens or [""]
        if isinstance(error, UnknownCommandError):
            message = _unknown_command(unused[0])
        elif isinstance(error, MissingArgumentError):
            message = _missing_argument(error)
        elif isinstance(error, UnusedCliTokensError):
            message = f"{shown(unused[0])} is more than is asked for."
        command = " ".join(["turnlight", *(error.command_chain or ())])
        message = (
            message if message.endswith("?") else f"{message.rstrip('.')}; see {command} --help."
        )
        raise RequestProblem(message) from None


def _missing_argument(error: MissingArgumentError) -> str:
    """Name the missing argument, and describe it by the first sentence of its help."""
    assert error.argument is not None
    name, command = error.argument.name, app
    for verb in error.command_chain or ():
        command = command[verb]
    arguments = command.assemble_argument_collection(parse_docstring=True)
    help_ = (
        next((argument.parameter.help for argument in arguments if argument.name == name), None)
        or ""
    )
    what = " ".join(help_.split()).partition(". ")[0].rstrip(".")
    if what[1:2].islower() or what[1:2] == " ":
        what = what[:1].lower() + what[1:]
    lead = f"{error.keyword} has nothing behind it" if error.keyword else f"{name} is missing"
    return f"{lead}: {what}" if what else lead


def _unknown_command(word: str) -> str:
    """Message for an unknown command, with the nearest known one."""
    if word.startswith("-"):
        return f"{shown(word)} is not an option that goes before a command."
    like = nearest(word, (name for name in app if not name.startswith("-")))
    return f"{shown(word)} is not a command" + (f"; did you mean {like}?" if like else ".")


@app.command(name="samples")
def list_samples() -> None:
    """List the sample designs."""
    table = Table(box=None, pad_edge=False)
    for heading in ("name", "title", "what it shows"):
        table.add_column(heading, no_wrap=heading == "name")
    for name in samples.names():
        table.add_row(name, samples.load(name).title, samples.summary(name))
    print_table(table)


@app.command
def new(file: Path, /, *, from_: Annotated[str, Parameter(name="--from")]) -> None:
    """Start a design file of your own from a sample.

    Parameters
    ----------
    file : Path
        The file to make; one that is there is never overwritten.
    from_ : str
        A sample's name, such as half-scale.
    """
    storage.create(samples.text(from_.removeprefix(SAMPLE)), file)
    message = f"{named(file)} is there, from the sample {from_}"
    # Control characters are typed differently in every shell.
    if str(file).isprintable():
        message += f": turnlight check {_shell_word(file)} shows its numbers"
    print_line(f"{message}.")


def _shell_word(file: Path) -> str:
    """Quote a file's name for the shell, so that the command takes it for a file."""
    name = str(file)
    if name.startswith(("-", SAMPLE)):
        name = os.path.join(os.curdir, name)
    return subprocess.list2cmdline([name]) if os.name == "nt" else shlex.quote(name)


@app.command
def check(file: str, /, *, design_options: DesignOptions = DESIGN_DEFAULTS) -> None:
    """Check a design, and print what follows from it: pitch, gap, thread lengths and more.

    Parameters
    ----------
    file : str
    design_options : DesignOptions
    """
    subject = read_subject(file, design_options)
    with Progress() as progress:
        text = report(subject, progress)
    print_line(text)


@app.command(name="open")
def open_(
    file: str = DEMO,
    /,
    *,
    share: Flag = False,
    port: Whole = 0,
    browser: bool = True,
    shelf: Path | None = None,
) -> None:
    """Open the page in your browser: design, see it turn, compare and send.

    Parameters
    ----------
    file : str
        A design file; without one, a sample.
    share : bool
        Let other machines on this network use it too, such as a tablet; says what that opens.
    port : int
        Number in the page's address, and one less than in that of guests; 0 for any that is free.
    browser : bool
        Open it in the browser, or only say where it is.
    shelf : Path, optional
        Your own shelf of threads, in place of the one that the design names.
    """
    from render.editor.desk import Desk
    from render.editor.recovery import open_slot
    from render.page.app import open_page

    if not 0 <= port <= _LAST_PORT:
        raise RequestProblem(f"port: {port} is not between 0 and {_LAST_PORT}; give 0 for any.")
    if share and port == _LAST_PORT:
        raise RequestProblem(f"port: guests need the one above {port}; give one less.")
    within = None
    if share:
        within = Path() if file.startswith(SAMPLE) else Path(file).absolute().parent
    desk = Desk.open(file, shelf, within=within, slot=open_slot())
    open_page(desk, shared=share, port=port, browser=browser, announce=_announce)


def _announce(sentence: str) -> None:
    print_line(sentence)
    sys.stdout.flush()


# In the order of the help: pictures and files of a design, changes of a design, its materials.
_OUTPUT_COMMANDS = (still, turntable, compare, export, sheet, template, decal)
_DESIGN_COMMANDS = (fit, sequence, change, add, remove, move, duplicate)
for verb in (*_OUTPUT_COMMANDS, *_DESIGN_COMMANDS, shelf, colour, chart):
    app.command(verb)
