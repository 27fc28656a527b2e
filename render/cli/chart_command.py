"""Charts for woven panels: from a picture, in other threads, mirrored, turned and repeated."""

from io import BytesIO
from pathlib import Path

import numpy as np
from cyclopts import App
from numpy.typing import NDArray
from PIL import Image

from materials.shelf import Shelf
from materials.thread import Thread, ThreadKind
from render.cli.converters import Flag, Output, Whole
from render.cli.streams import print_line
from render.colour.photograph import MOST_BYTES as MOST_PHOTOGRAPH_BYTES
from render.colour.picture_file import decode_picture
from render.common.files import check_no_input, check_suffix, read_input, replacing
from render.common.problems import RequestProblem
from render.request.options import choice
from scenes.artwork.charts import (
    MOST_SIDE,
    WARP,
    colours_of,
    flipped,
    nearest_threads,
    recoloured,
    reduced,
    tiled,
)
from scenes.artwork.images import read_image
from scenes.files.companion_files import MOST_BYTES
from scenes.problems import DesignProblem, one_of, shown

__all__ = ["chart"]

Image8 = NDArray[np.uint8]

_MOST_THREADS = 24
_SUFFIXES = (".png",)

chart = App(
    name="chart", help="Charts for woven panels: PNG files, one pixel a crossing of threads."
)


@chart.command(name="import")
def import_(
    picture: Path,
    /,
    *,
    output: Output,
    columns: Whole,
    rows: Whole | None = None,
    threads: Whole = 4,
    kind: str | None = None,
    shelf: Path | None = None,
) -> None:
    """Reduce a picture to a chart in a few threads of the shelf.

    Parameters
    ----------
    picture : Path
        A PNG, JPEG or WebP file; clear parts of a PNG stay clear and show the warp.
    output : Path
        A PNG file.
    columns : int
        Warp threads.
    rows : int, optional
        Picks; if left out, as many as keep the picture's shape where threads are all as thick.
    threads : int
        How many threads of the shelf may be used.
    kind : str, optional
        Only metallic, NCP nylon or nylon.
    shelf : Path, optional
        Your own shelf of threads.
    """
    _check_output(output, picture, "picture")
    pixels = _read_picture(picture)
    high, wide = pixels.shape[:2]
    _check_range("columns", columns, MOST_SIDE)
    rows = max(1, round(columns * high / wide)) if rows is None else rows
    _check_range("rows", rows, MOST_SIDE)
    _check_range("threads", threads, _MOST_THREADS)
    made, used = reduced(pixels, columns, rows, _threads_of_kind(_load_shelf(shelf), kind), threads)
    _write(made, output)
    print_line(f"{output}: {columns} columns, {rows} rows. In the design file:")
    _print_colours([thread.colour for thread in used], used)


@chart.command
def recolour(
    file: Path,
    /,
    *swaps: str,
    output: Output,
    kind: str | None = None,
    shelf: Path | None = None,
) -> None:
    """Give a chart the colours of threads on the shelf: the nearest, or those that you name.

    Parameters
    ----------
    file : Path
        A chart.
    swaps : str
        A colour and a thread, such as "#d9482f=Rowan Red A", or "#ffffff=warp" to clear it;
        other colours stay. Without any, each colour goes to the nearest thread.
    output : Path
        A PNG file.
    kind : str, optional
        Only metallic, NCP nylon or nylon.
    shelf : Path, optional
        Your own shelf of threads.
    """
    _check_output(output, file, "chart")
    pixels, threads_on_shelf = _read_chart(file), _load_shelf(shelf)
    colours = [colour for colour in colours_of(pixels) if colour != WARP]
    if swaps:
        changes = dict(_read_swap(swap, colours, threads_on_shelf) for swap in swaps)
    else:
        found = nearest_threads(colours, _threads_of_kind(threads_on_shelf, kind))
        changes = {old: thread.colour for old, thread in zip(colours, found, strict=True)}
    changed = recoloured(pixels, changes)
    _write(changed, output)
    print_line(f"{output}: in the design file:")
    remaining = [colour for colour in colours_of(changed) if colour != WARP]
    _print_colours(remaining, nearest_threads(remaining, threads_on_shelf.threads))


@chart.command
def mirror(file: Path, /, *, output: Output, upright: Flag = False) -> None:
    """Mirror a chart left for right, or upside down.

    Parameters
    ----------
    file : Path
        A chart.
    output : Path
        A PNG file.
    upright : bool
        Upside down.
    """
    _check_output(output, file, "chart")
    _write_and_report(flipped(_read_chart(file), upright=upright), output)


@chart.command
def turn(file: Path, /, *, output: Output) -> None:
    """Turn a chart a quarter to the left: what stood upright then reads along the rod.

    Parameters
    ----------
    file : Path
        A chart.
    output : Path
        A PNG file.
    """
    _check_output(output, file, "chart")
    _write_and_report(np.ascontiguousarray(np.rot90(_read_chart(file))), output)


@chart.command
def repeat(file: Path, /, *, output: Output, up: Whole = 1, beside: Whole = 1) -> None:
    """Put a chart above and beside itself.

    Parameters
    ----------
    file : Path
        A chart.
    output : Path
        A PNG file.
    up : int
        How many above one another.
    beside : int
        How many beside one another.
    """
    _check_output(output, file, "chart")
    pixels = _read_chart(file)
    for name, times, side in (("up", up, pixels.shape[0]), ("beside", beside, pixels.shape[1])):
        if times < 1 or times * side > MOST_SIDE:
            raise RequestProblem(
                f"{name}: {times} times {side} is not between 1 and {MOST_SIDE} crossings; give "
                f"1 to {MOST_SIDE // side}."
            )
    _write_and_report(tiled(pixels, up, beside), output)


def _check_output(output: Path, source: Path, what: str) -> None:
    check_suffix(output, _SUFFIXES)
    check_no_input(output, [(source, f"is the {what} itself")])


def _read_chart(path: Path) -> Image8:
    """Read a chart."""
    data = read_input(path, "chart", MOST_BYTES, "a PNG file")
    try:
        return read_image(data, path.name, "chart", MOST_SIDE)
    except DesignProblem as problem:
        raise RequestProblem(str(problem)) from None


def _read_picture(path: Path) -> Image8:
    """Read a picture as RGBA; only a PNG has clear parts."""
    most = MOST_BYTES if path.suffix.casefold() == ".png" else MOST_PHOTOGRAPH_BYTES
    data = read_input(path, "picture", most, "a JPEG, PNG or WebP file")
    return decode_picture(data, path)


def _load_shelf(own: Path | None) -> Shelf:
    shipped = Shelf.shipped()
    return shipped if own is None else shipped.with_own(Shelf.load(own))


def _threads_of_kind(shelf: Shelf, kind: str | None) -> tuple[Thread, ...]:
    """Threads of a kind, or of all kinds: the first of each colour."""
    wanted = None if kind is None else choice("kind", kind, ThreadKind)
    found: dict[str, Thread] = {}
    for thread in shelf.threads:
        if wanted in (None, thread.kind):
            found.setdefault(thread.colour, thread)
    if not found:
        raise RequestProblem(f"kind: there is no {kind} on the shelf; give another kind.")
    return tuple(found.values())


def _read_swap(text: str, colours: list[str], shelf: Shelf) -> tuple[str, str]:
    old, equals, name = (part.strip() for part in text.partition("="))
    old = (old if old.startswith("#") else f"#{old}").lower()
    if not equals or not name:
        raise RequestProblem(
            f'recolour: {shown(text)} is not a colour and a thread; write it like "#d9482f=Rowan '
            'Red A".'
        )
    if old not in colours:
        raise RequestProblem(
            f"recolour: {shown(old)} is not in the chart; give {one_of(colours[:12])}."
        )
    return old, WARP if name.casefold() == "warp" else shelf.thread(name).colour


def _check_range(field: str, value: int, most: int) -> None:
    if not 1 <= value <= most:
        raise RequestProblem(f"{field}: {value} is not between 1 and {most}; give that many.")


def _write_and_report(pixels: Image8, output: Path) -> None:
    _write(pixels, output)
    rows, columns = pixels.shape[:2]
    print_line(f"{output}: {columns} columns, {rows} rows")


def _write(pixels: Image8, output: Path) -> None:
    data = BytesIO()
    Image.fromarray(pixels).save(data, "PNG", optimize=True)
    with replacing(output) as file:
        file.write_bytes(data.getvalue())


def _print_colours(colours: list[str], threads: tuple[Thread, ...]) -> None:
    print_line("colours = [")
    for colour, thread in zip(colours, threads, strict=True):
        print_line(f'  {{ colour = "{colour}", thread = "{thread.name}" }},')
    print_line("]")
