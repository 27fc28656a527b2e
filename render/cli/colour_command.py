"""The command that reads a thread's colour off a photograph."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from materials.lamps import Lamp
from materials.photographed import GREY_CARD
from materials.shelf import Shelf
from materials.thread import ThreadKind
from render.cli.converters import Number
from render.cli.streams import print_line
from render.common.error_reporting import print_message
from render.common.problems import RequestProblem
from render.request.options import choice
from scenes.files import own_shelf

__all__ = ["colour"]


def colour(
    photo: Path,
    /,
    *,
    thread: str,
    card: str,
    card_reflectance: Number = GREY_CARD,
    lamp: str | None = None,
    kelvin: Number | None = None,
    kind: str | None = None,
    name: str | None = None,
    like: str | None = None,
    shelf: Path | None = None,
    add_to: Path | None = None,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
) -> None:
    """Read a thread's colour off a photograph of its spool beside a grey or white card.

    Hold the card beside the spool, facing as it faces, by a window, and mark a place without shine.

    Parameters
    ----------
    photo : Path
        JPEG, PNG or WebP.
    thread : str
        Where in the photograph it is, in pixels: left,top,width,height.
    card : str
        Where the card is, in the same way.
    card_reflectance : float
        0.18 for a grey card, about 0.9 for a white one.
    lamp : str, optional
        What light it was: daylight, incandescent or LED. Without it the colour is much less
        certain, since a camera balances a lamp's colour away.
    kelvin : float, optional
        The colour temperature that is printed on the lamp, such as 2700.
    kind : str, optional
        metallic, NCP nylon or nylon: on metallic thread highlights count. As --like, or NCP nylon.
    name : str, optional
        What the thread is called.
    like : str, optional
        A thread on the shelf that has its size, diameter, tex, spool and price; of metallic thread
        its lightness too, which a photograph does not tell.
    shelf : Path, optional
        Your own shelf, to look that thread up on.
    add_to : Path, optional
        Your shelf file, to put the thread on; it is made if it is not there.
    output : Path, optional
        A PNG file: before and after, side by side.
    """
    from render.colour.beside_card import (
        UNNAMED,
        describe_reading,
        nearest_on_shelf,
        read_beside_card,
    )
    from render.colour.colour_sheet import SUFFIXES, save_colour_sheet
    from render.colour.photograph import read_photograph
    from render.common.files import check_no_input, check_suffix
    from render.output.captions import missing_letters
    from scenes.artwork.typesetting import missing_sentence

    if output is not None:
        check_suffix(output, SUFFIXES)
        check_no_input(output, [(photo, "is the photograph itself")])
    known_threads = _load_shelf(shelf, add_to)
    model = None if like is None else known_threads.thread(like)
    if add_to is not None and (name is None or model is None):
        raise RequestProblem(
            "add-to: a shelf needs more than a colour; give --name, and --like with the name of a "
            "thread that has its size, diameter, tex, spool and price."
        )
    thread_kind = ThreadKind.NCP_NYLON if model is None else model.kind
    if kind is not None:
        thread_kind = choice("kind", kind, ThreadKind)
    measured = read_beside_card(
        read_photograph(photo),
        thread,
        card,
        reflectance=card_reflectance,
        kind=thread_kind,
        lamp=None if lamp is None else choice("lamp", lamp, Lamp),
        kelvin=kelvin,
        like=model,
    )
    reading, thread_name = measured.reading, name or UNNAMED
    if output is not None:
        save_colour_sheet(measured, output, thread_name)
        missing = missing_letters([thread_name])
        if missing:
            print_message(missing_sentence(str(output), missing))
    if add_to is not None and model is not None:
        new_thread = replace(
            model, name=thread_name, kind=thread_kind, colour=reading.colour, left_m=None
        )
        own_shelf.put_thread(add_to, new_thread)
    for sentence in (
        *describe_reading(reading, thread_name),
        *reading.notes,
        nearest_on_shelf(reading, thread_name, known_threads.threads),
    ):
        if sentence:
            print_line(sentence)
    if output is not None:
        print_line(f"{output}: before and after")
    if add_to is not None:
        print_line(f"{add_to}: {thread_name} is on it")


def _load_shelf(shelf: Path | None, add_to: Path | None) -> Shelf:
    """The shipped shelf with the builder's threads added, which win."""
    known = Shelf.shipped()
    for path in dict.fromkeys((shelf, add_to)):
        if path is not None and (path is shelf or path.exists()):
            known = known.with_own(Shelf.load(path))
    return known
