"""What was asked for: a kind of file with its options, and the state of the design then."""

from dataclasses import dataclass
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
    problem : str
        Why the last file that it asked for could not be made; empty if it could.
    """

    kind: ExportKind = ExportKind.SPIN_PAGE
    ending: str = ".html"
    size: str = "mail"
    shape: str = Shape.WIDE.value
    signed: bool = False
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
    """

    document_number: int
    path: Path | None
    design: Design
    threads: tuple[Thread | None, ...]

    def age(self, now: "Origin") -> Age:
        """Compare with what is open now.

        Parameters
        ----------
        now : Origin
        """
        same_file = self.path is not None and self.path == now.path
        if self.document_number != now.document_number and not same_file:
            return Age.OTHER
        same = self.design == now.design and self.threads == now.threads
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
    return Origin(desk.document_number, path, design, threads)


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
    pin : Pin or None
        A of the comparison then.
    replaces : int
        Number of the job whose file this one takes the place of; 0 for none.
    """

    name: str
    origin: Origin
    choice: Choice
    pin: Pin | None = None
    replaces: int = 0
