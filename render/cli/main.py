"""The command line: plain verbs over design files.

Each command is imported when it is called: the list of commands and the version need none.
"""

import sys
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version

from cyclopts import (
    App,
    CycloptsError,
    MissingArgumentError,
    UnknownCommandError,
    UnusedCliTokensError,
)

from render.common.error_reporting import run_reporting_errors
from render.common.problems import RequestProblem
from scenes.problems import nearest, shown

__all__ = ["COMMANDS", "app", "main"]


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
        _load_help(arguments[0] if arguments else "")
        app(list(arguments))
    except CycloptsError as error:
        unused = error.unused_tokens or [""]
        if isinstance(error, UnknownCommandError):
            # Its own text names similar commands, for which it imports all of them.
            message = _unknown_command(unused[0])
        elif isinstance(error, MissingArgumentError):
            message = _missing_argument(error)
        elif isinstance(error, UnusedCliTokensError):
            message = f"{shown(unused[0])} is more than is asked for."
        else:
            error.verbose = False
            message = str(error).strip()
        command = " ".join(["turnlight", *(error.command_chain or ())])
        message = (
            message if message.endswith("?") else f"{message.rstrip('.')}; see {command} --help."
        )
        raise RequestProblem(message) from None


def _load_help(word: str) -> None:
    """Let a command show its whole docstring, in place of its line in the list of commands."""
    if word in app and not word.startswith("-") and app[word].default_command is not None:
        app[word].help = None


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


COMMANDS = {
    "file_commands:samples": "List the sample designs.",
    "file_commands:new": (
        "Start a design file of your own, for the blank that you measured or from a sample."
    ),
    "check_command:check": (
        "Check a design, and print what follows from it: pitch, gap, thread lengths and more."
    ),
    "open_command:open_": "Open the page in your browser: design, see it turn, compare and send.",
    "picture_commands:still": "Take one picture, and say which trims will be lost at arm's length.",
    "picture_commands:turntable": (
        "Turn the rod once about its axis, to be looped, or on a page to be turned with a finger."
    ),
    "picture_commands:compare": (
        "Put designs side by side: several files, the variants of one, or a sweep of one field."
    ),
    "catalogue_command:catalogue": (
        "Make a web site of designs: a page for each, with pictures to turn, and an index."
    ),
    "bench_commands:export": "Write the wrap as a model for other programs.",
    "bench_commands:sheet": (
        "Write everything needed to build the wrap: a page to pin over the bench, or the numbers."
    ),
    "bench_commands:template": (
        "Draw the wrap unrolled at its true size, to print, cut out and roll round the blank."
    ),
    "decal_command:decal": (
        "Draw lettering and pictures at their true size, read and mirrored side by side, to print."
    ),
    "fit_command:fit": (
        "Go from wishes to a design: say what it should come to, and see what to change for it."
    ),
    "sequence_command:sequence": (
        "Write a design with every step of its crossed patterns, to change by hand."
    ),
    "edit_commands:change": (
        "Change fields of a design file, and leave the rest of it as it stands."
    ),
    "edit_commands:add": (
        "Add a layer, or an entry to a list, to start from; `change` then makes it yours."
    ),
    "edit_commands:agree": (
        "Enter a customer's answer in a design file, as a dated record of what was agreed."
    ),
    "edit_commands:remove": "Take a layer, or an entry of a list, out of a design file.",
    "edit_commands:move": "Move a layer, or an entry of a list, to another position in its list.",
    "edit_commands:duplicate": "Put a copy of a layer, or of an entry of a list, behind it.",
    "edit_commands:variant": ("The variants of a design: list, rename, or make one the design."),
    "edit_commands:shelf": "Your own shelf of threads: a file beside the design.",
    "colour_command:colour": (
        "Read a thread's colour off a photograph of its spool beside a grey or white card."
    ),
    "chart_command:chart": "Charts for woven panels: PNG files, one pixel a crossing of threads.",
    "reference_commands:fields": (
        "Explain the fields of a design file: meaning, unit, range, default and example."
    ),
    "reference_commands:schema": (
        "Write the JSON Schema of a design file, with which text editors complete and check it."
    ),
}
"""The first sentence of the docstring of each command, by its module and function."""

for _place, _sentence in COMMANDS.items():
    app.command(f"render.cli.{_place}", help=_sentence)
