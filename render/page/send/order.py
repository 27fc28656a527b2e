"""What was asked for: a kind of file with its options, and the state of the design then."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from materials.thread import Thread
from render.editor.desk import Desk
from render.editor.pin import Pin
from render.page.workers.export_worker import ExportKind
from render.request.shapes import Shape
from scenes.design.document import Design
from scenes.design.threads import thread_names

__all__ = ["Age", "Choice", "Order", "Origin", "origin_of"]


@dataclass(slots=True)
class Choice:
    """What a client has chosen to make.

    Parameters
    ----------
    kind : ExportKind
    ending : str
        File name extension.
    size : str
        Name of a preset.
    shape : str
        Value of a `Shape`.
    signed : bool
        Whether pictures carry title, builder and mark.
    ticks : dict of str to bool
        Whether a design is to be in a file of several, by its key; those that the client has
        neither ticked nor unticked are left out.
    picked : str
        Key of the design that a file of one is to be of; empty for the usual one.
    looking : bool
        Whether the client looks at the choice.
    problem : str
        Why the last file that it asked for could not be made; empty if it could.
    """

    kind: ExportKind = ExportKind.SPIN_PAGE
    ending: str = ".html"
    size: str = "mail"
    shape: str = Shape.WIDE.value
    signed: bool = False
    ticks: dict[str, bool] = field(default_factory=dict)
    picked: str = ""
    looking: bool = False
    problem: str = ""


class Age(StrEnum):
    """Relation of a file to the open design."""

    PRESENT = "present"
    EARLIER = "earlier"
    """The design has changed since the file was asked for."""

    OTHER = "other"
    """Another design is open."""


@dataclass(frozen=True, slots=True)
class Origin:
    """What a file is made of: one document in one state.

    Parameters
    ----------
    document_number : int
        Number of the document (`Desk.document_number`).
    path : Path or None
        Its file; None if it had none.
    design : Design
        The design, without its variants and the name of its shelf.
    threads : tuple of Thread or None
        The threads that it names, None for one that the shelf lacks.
    variants : dict of str to dict
        The changes of its variants, by name.
    """

    document_number: int
    path: Path | None
    design: Design
    threads: tuple[Thread | None, ...]
    variants: Mapping[str, object] = field(default_factory=dict)

    def age(self, now: "Origin", names: Collection[str] = ()) -> Age:
        """Compare with what is open now.

        Parameters
        ----------
        now : Origin
        names : collection of str
            Names of the variants that count.
        """
        same_look = self.design == now.design and self.threads == now.threads
        # A sample has no file: opened again, it is known by what it is.
        same_file = self.path == now.path and (self.path is not None or same_look)
        if self.document_number != now.document_number and not same_file:
            return Age.OTHER
        same = same_look and all(
            self.variants.get(name) == now.variants.get(name) for name in names
        )
        return Age.PRESENT if same else Age.EARLIER


def origin_of(desk: Desk) -> Origin:
    """What a file is made of if it is asked for now.

    Parameters
    ----------
    desk : Desk
    """
    subject = desk.subject
    threads = tuple(subject.shelf.get(name) for _, name in thread_names(subject.design))
    path = None if desk.path is None else desk.path.absolute()
    design = subject.design.model_copy(update={"shelf": None})
    variants = {listed.name: listed.changes for listed in desk.design.variants}
    return Origin(desk.document_number, path, design, threads, variants)


@dataclass(frozen=True, slots=True)
class Order:
    """A file that was asked for.

    Parameters
    ----------
    name : str
        File name for the customer.
    origin : Origin
        The document as it was then.
    choice : Choice
    keys : tuple of str
        Keys of the designs in it.
    designs : tuple of str
        What these are called.
    names : tuple of str
        Names of the variants among them.
    pin : Pin or None
        A of the comparison then.
    replaces : int
        Number of the job whose file this one takes the place of; 0 for none.
    """

    name: str
    origin: Origin
    choice: Choice
    keys: tuple[str, ...] = ()
    designs: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    pin: Pin | None = None
    replaces: int = 0

    def age(self, now: Origin) -> Age:
        """Compare what it is made of with what is open now.

        Parameters
        ----------
        now : Origin
        """
        return self.origin.age(now, self.names)
