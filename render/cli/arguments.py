"""What most commands are told: which design, how it is looked at, how its picture is taken."""

import sys
from dataclasses import dataclass
from pathlib import Path

from cyclopts import Parameter
from rich.console import Console
from rich.table import Table

from render.cli.converters import Flag, Number, Whole
from render.output.size_limit import megabytes
from render.request.capture_settings import Manner
from render.request.options import adjusted, manner_of, subject_of
from render.request.subject import Subject

__all__ = [
    "AS_DESIGNED",
    "LIVE",
    "PLAIN",
    "Look",
    "Pick",
    "Taken",
    "manner_wanted",
    "print_table",
    "say",
    "subject_wanted",
    "weight_of",
]

_WIDE = 160
"""Columns of a table that goes into no terminal."""


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
    exposure : float, optional
        Stops of exposure, below 0 for darker: bright metal close up may want -1.
    walk : float, optional
        Walk the camera round the rod towards its tip, degrees.
    rise : float, optional
        Raise the camera over the rod, degrees.
    zoom : float, optional
        How many times larger than the view has it.
    along : float, optional
        Move the camera along the rod towards its tip, in the design's units.
    """

    detail: str = "normal"
    view: str | None = None
    turn: Number | None = None
    light: str | None = None
    light_turn: Number | None = None
    backdrop: str | None = None
    exposure: Number | None = None
    walk: Number | None = None
    rise: Number | None = None
    zoom: Number | None = None
    along: Number | None = None


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


PLAIN = Pick()
AS_DESIGNED = Look()
LIVE = Taken()


def subject_wanted(file: str, pick: Pick, look: Look = AS_DESIGNED) -> Subject:
    """Give the design that is asked for, as it is to be looked at."""
    return adjusted(
        subject_of(file, pick.shelf),
        variant_name=pick.variant,
        view=look.view,
        turn=look.turn,
        light=look.light,
        light_turn=look.light_turn,
        backdrop=look.backdrop,
        exposure=look.exposure,
        walk=look.walk,
        rise=look.rise,
        zoom=look.zoom,
        along=look.along,
        dry=pick.dry,
        coats=pick.coats,
    )


def manner_wanted(taken: Taken) -> Manner:
    """Give how pictures are to be taken."""
    return manner_of(photo=taken.photo, samples=taken.samples, vision=taken.vision)


def weight_of(path: Path) -> str:
    """Say how large a file, or all of a folder, is."""
    files = [path] if path.is_file() else list(path.iterdir())
    return megabytes(sum(file.stat().st_size for file in files))


def say(text: str) -> None:
    """Answer on standard output."""
    sys.stdout.write(f"{text}\n")


def print_table(table: Table) -> None:
    """Write a table, in a file or a pipe wide enough that no line is broken."""
    console = Console(width=None if sys.stdout.isatty() else _WIDE)
    console.print(table, markup=False, highlight=False)
