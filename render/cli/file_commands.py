"""Commands that list the samples and start a design file from one of them."""

import os
import shlex
import subprocess
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from materials.toml_text import named
from render.cli.streams import print_line, print_table
from render.request.options import SAMPLE
from scenes.files import samples as shipped
from scenes.files import storage

__all__ = ["new", "samples"]


def samples() -> None:
    """List the sample designs."""
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    for heading in ("name", "title", "what it shows"):
        table.add_column(heading, no_wrap=heading == "name")
    for name in shipped.names():
        table.add_row(name, shipped.load(name).title, shipped.summary(name))
    print_table(table)


def new(file: Path, /, *, from_: Annotated[str, Parameter(name="--from")]) -> None:
    """Start a design file of your own from a sample.

    Parameters
    ----------
    file : Path
        The file to make; one that is there is never overwritten.
    from_ : str
        A sample's name, such as half-scale.
    """
    storage.create(shipped.text(from_.removeprefix(SAMPLE)), file)
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
