"""Commands that change a design file and keep its comments, and those of the own shelf."""

import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from cyclopts import App, Parameter

from materials.thread import Thread, ThreadKind
from materials.toml_text import TextKind, parse_value_or_words
from render.cli.converters import Listed, Number, Whole
from render.cli.streams import print_line, print_sentence
from render.common.problems import RequestProblem
from render.editor.desk import Desk
from render.editor.disk import OverwriteRefused
from render.page.cards.form import new_entry
from render.request.options import SAMPLE, choice
from scenes.customer.reply import agreement_words
from scenes.design.document import Design
from scenes.design.layers import LAYER_KINDS
from scenes.design.threads import swapped
from scenes.editing.first_layer import text_with_first_layer
from scenes.editing.variant_edits import described, losses_by_removal
from scenes.files import storage
from scenes.problems import DesignProblem, nearest, one_of, printable, shown
from scenes.starting.guide_list import read_guides, with_guides

__all__ = ["add", "agree", "change", "duplicate", "move", "remove", "shelf", "variant"]

_WRAP = "wrap"
"""What `add` and `remove` take for a whole wrap."""

_GUIDES = TextKind(
    "list of guides",
    "give a text with a distance from the butt and the length of a foot in each line",
    "give a distance from the butt and the length of a foot in each line",
    storage.DESIGN_TEXT.limits,
)
"""Names and advice of a file of guides, for refusals."""

_LONGEST_ANSWER = 100_000
"""Characters that are read of a customer's answer."""

variant = App(
    name="variant", help="The variants of a design: list, rename, or make one the design."
)
shelf = App(name="shelf", help="Your own shelf of threads: a file beside the design.")


def change(
    file: str,
    /,
    *changes: str,
    swap: Listed = (),
    guides: Path | None = None,
    wrap: str | None = None,
) -> None:
    """Change fields of a design file, and leave the rest of it as it stands.

    Parameters
    ----------
    file : str
        A design file.
    changes : str
        Fields and their values, such as relief.gap=22 or "cover.thread=Gorse Gold A"; nothing
        behind the sign leaves a field out again.
    swap : str
        A thread for another everywhere on the rod, such as "Sloe Black A=Gorse Gold A"; repeat it
        for more.
    guides : Path, optional
        A text with a guide in each line: its distance from the butt, the length of its foot and,
        if you like, the diameter of its ring. Guides that there are stay bound as they are.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    if not (changes or swap or guides):
        raise RequestProblem("change: nothing to change; give a field and a value: relief.gap=22.")
    desk = _open_desk(file, wrap)
    values: dict[str, Any] = {}
    if guides is not None:
        listed = read_guides(storage.read(guides, _GUIDES), desk.design.units)
        values |= with_guides(desk.design, listed)
    for item in swap:
        old, equals, new = (part.strip() for part in item.partition("="))
        if not (old and new):
            raise RequestProblem(
                f"--swap: {shown(item)} is not two threads; write it like "
                '"Sloe Black A=Gorse Gold A".'
            )
        values |= swapped(desk.design, old, new)
    for item in changes:
        path, equals, text = item.partition("=")
        if not (path.strip() and equals):
            raise RequestProblem(
                f"change: {shown(item)} is not a field and a value; write it like relief.gap=22."
            )
        values[path.strip()] = parse_value_or_words(text.strip()) if text.strip() else None
    given = {path: value for path, value in values.items() if value is not None}
    before = _layer_fields(desk.design)
    if given:
        desk.changes(given)
    replaced = before - _layer_fields(desk.design)
    for path in values.keys() - given.keys():
        desk.clear(path)
    _save(desk)
    if replaced:
        print_sentence(
            f"{desk.called}: {one_of(sorted(replaced), 'and')} left out, which what is given takes "
            "the place of"
        )


def add(
    file: str,
    what: str,
    /,
    *,
    kind: str = "",
    at: Whole | None = None,
    wrap: str | None = None,
) -> None:
    """Add a layer, or an entry to a list, to start from; `change` then makes it yours.

    Parameters
    ----------
    file : str
        A design file.
    what : str
        A kind of layer, such as "seam trim", or a list, such as blank.stations or trim.threads; or
        wrap, for a copy of the wrap where the blank is free, or for one of another --kind.
    kind : str
        Of what is fitted on the blank: grip or guide; or of a wrap, as new has them, such as "open
        diamonds".
    at : int, optional
        Position in its list, from 0; behind its like if not given.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    if what in LAYER_KINDS and wrap is None and _add_first_layer(file, what, at):
        return
    desk = _open_desk(file, wrap)
    if what == _WRAP:
        if at is not None:
            raise RequestProblem("at: a wrap is added behind the others; leave --at out.")
        desk.add_wrap(kind)
    elif what in LAYER_KINDS:
        desk.add_layer(what, at)
    elif "." in what:
        desk.insert(what, new_entry(desk.design, what, kind), at)
    else:
        close = nearest(what, LAYER_KINDS)
        hint = f"did you mean {close}?" if close else f"give {one_of(LAYER_KINDS)}."
        raise RequestProblem(f"add: {shown(what)} is neither a kind of layer nor a list; {hint}")
    _save(desk)


def agree(file: str, text: Annotated[str, Parameter(allow_leading_hyphen=True)], /) -> None:
    """Enter a customer's answer in a design file, as a dated record of what was agreed.

    Parameters
    ----------
    file : str
        A design file.
    text : str
        The answer as it came, in quotes; - reads it from standard input.
    """
    desk = _open_desk(file)
    given = sys.stdin.read(_LONGEST_ANSWER) if text == "-" else text
    desk.agree(given, date.today())
    _save(desk)
    print_line(" ".join(filter(None, agreement_words(desk.design, desk.shelf, desk.beside))))
    remark = desk.design.agreed[-1].remark
    if remark:
        print_line(f"With the remark {shown(remark)}.")


def _add_first_layer(file: str, kind: str, at: int | None) -> bool:
    """Add a layer to a file without layers, which no desk can open; False if it is not one."""
    path = Path(file)
    if file.startswith(SAMPLE) or not path.exists():
        return False
    text = storage.read(path)
    made = text_with_first_layer(text, kind, path)
    if made is None:
        return False
    if at:
        raise RequestProblem(f"layers: {at} is no position in it; give 0.")
    storage.update(path, made, text)
    design = storage.load(path)
    covered = ", with a cover" if len(design.layers) > 1 else ""
    print_line(f"{path.name}: {kind} added, the first layer{covered}")
    for warning in design.warnings:
        print_line(f"warning: {warning}")
    return True


def remove(file: str, path: str, /, *, wrap: str | None = None) -> None:
    """Take a layer, or an entry of a list, out of a design file.

    Parameters
    ----------
    file : str
        A design file.
    path : str
        Such as trim, layers.2, trim.threads.0 or blank.stations.3; or wrap, for all of it.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    desk = _open_desk(file, wrap)
    losses = ""
    if path == _WRAP:
        if wrap is None and desk.design.wraps:
            raise RequestProblem(
                f"remove: the rod has several wraps; say which with --wrap: "
                f"{one_of(shown(name) for name in desk.wrap_names)}."
            )
        desk.remove_wrap()
    else:
        losses = losses_by_removal(desk.design, path)
        desk.remove(path)
    if losses:
        print_sentence(losses)
    _save(desk)


def move(file: str, path: str, to: Whole, /, *, wrap: str | None = None) -> None:
    """Move a layer, or an entry of a list, to another position in its list.

    Parameters
    ----------
    file : str
        A design file.
    path : str
        Such as trim.threads.0 or layers.2.
    to : int
        Its new position, from 0.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    desk = _open_desk(file, wrap)
    desk.move(path, to)
    _save(desk)


def duplicate(file: str, path: str, /, *, wrap: str | None = None) -> None:
    """Put a copy of a layer, or of an entry of a list, behind it.

    Parameters
    ----------
    file : str
        A design file.
    path : str
        Such as trim or trim.threads.0.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    desk = _open_desk(file, wrap)
    desk.duplicate(path)
    _save(desk)


@variant.command(name="list")
def list_variants(file: str, /, *, wrap: str | None = None) -> None:
    """List the variants: what each changes, and why one is set aside.

    Parameters
    ----------
    file : str
        A design file; move, duplicate and remove take variants.0 for the first.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    desk = Desk.open(file)
    _work_at(desk, wrap)
    for listed in described(desk.design):
        reason = f"; set aside: {listed.reason}" if listed.reason else ""
        print_line(f"{listed.name}: {', '.join(listed.words)}{reason}")


@variant.command(name="rename")
def rename_variant(file: str, name: str, new: str, /, *, wrap: str | None = None) -> None:
    """Give a variant another name.

    Parameters
    ----------
    file : str
        A design file.
    name : str
        Its present name.
    new : str
        Its new name.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    desk = _open_desk(file, wrap)
    desk.rename_variant(name, new)
    _save(desk)


@variant.command(name="promote")
def promote_variant(file: str, name: str, /, *, wrap: str | None = None) -> None:
    """Make a variant the design; the former design takes its place among the variants.

    Parameters
    ----------
    file : str
        A design file.
    name : str
        Name of the variant.
    wrap : str, optional
        Which wrap of a rod with several; the first if not given.
    """
    desk = _open_desk(file, wrap)
    desk.make_variant_the_design(name)
    _save(desk)


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Spool:
    """A spool of thread.

    Parameters
    ----------
    kind : str
        metallic, NCP nylon or nylon.
    size : str
        The letter on the spool.
    colour : str
        Six hex digits, with or without #.
    diameter : float
        As laid, mm.
    tex : float
        Grams per kilometre.
    spool : float
        Metres on a new spool.
    price : float
        Of one spool, in your own money.
    """

    kind: str
    size: str
    colour: str
    diameter: Number
    tex: Number
    spool: Number
    price: Number = 0.0


@shelf.command(name="list")
def list_shelf(file: str, /) -> None:
    """List the threads that a design can be wound with; a star marks your own.

    Parameters
    ----------
    file : str
        A design file.
    """
    desk = Desk.open(file)
    own = desk.own_threads
    for thread in desk.shelf.threads:
        star = "*" if thread in own else " "
        print_line(f"{star} {thread.name:<28} {thread.kind:<10} {thread.size:<3} {thread.colour}")


@shelf.command(name="add")
def add_thread(file: str, name: str, /, *, spool: Spool) -> None:
    """Put a thread on your own shelf, in place of one of the same name.

    Parameters
    ----------
    file : str
        A design file; the shelf is beside it.
    name : str
        What you call the thread.
    spool : Spool
    """
    kind = choice("kind", spool.kind, ThreadKind)
    desk = _open_desk(file)
    colour = spool.colour if spool.colour.startswith("#") else f"#{spool.colour}"
    desk.put_thread(
        Thread(
            name,
            kind,
            spool.size,
            colour,
            diameter_mm=spool.diameter,
            tex=spool.tex,
            spool_m=spool.spool,
            price=spool.price,
        )
    )
    _save(desk)


@shelf.command(name="remove")
def remove_thread(file: str, name: str, /) -> None:
    """Take a thread off your own shelf.

    Parameters
    ----------
    file : str
        A design file; the shelf is beside it.
    name : str
    """
    desk = _open_desk(file)
    desk.drop_thread(name)
    _save(desk)


def _open_desk(file: str, wrap: str | None = None) -> Desk:
    if file.startswith(SAMPLE):
        raise RequestProblem(f"{shown(file)} is a sample; make a file of it with turnlight new.")
    desk = Desk.open(file)
    _work_at(desk, wrap)
    return desk


def _work_at(desk: Desk, wrap: str | None) -> None:
    if wrap is None:
        return
    try:
        desk.work_at(wrap)
    except DesignProblem as problem:
        raise RequestProblem(f"wrap: {problem}") from None


def _layer_fields(design: Design) -> set[str]:
    """Paths of the fields that the layers of a design give."""
    return {
        f"{design.path_of(layer)}.{name}"
        for layer in design.layers
        for name in layer.model_fields_set
        if getattr(layer, name) is not None
    }


def _save(desk: Desk) -> None:
    """Save the changes, and print what they are.

    Raises
    ------
    DesignProblem
        If they cannot be saved; the own shelf is then restored too.
    """
    description = desk.undo_description
    if desk.changed:
        try:
            desk.save()
        except DesignProblem as problem:
            if desk.can_undo:
                desk.undo()
            if not isinstance(problem, OverwriteRefused):
                raise
            raise DesignProblem(
                f'"{printable(desk.called)}" was changed by another program meanwhile, and stays '
                "as it is; give the command again."
            ) from None
    print_sentence(
        f"{desk.called}: {description}"
        if description
        else f"{desk.called}: nothing to change in it"
    )
    for warning in desk.design.warnings:
        print_sentence(warning, "warning: ")
