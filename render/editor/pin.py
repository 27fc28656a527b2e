"""A pinned design: the A of a comparison, beside which the open design is B."""

from dataclasses import dataclass

from render.request.subject import Subject
from scenes.design.document import Design

__all__ = ["Pin"]


@dataclass(frozen=True, slots=True)
class Pin:
    """The open design as it was at one moment.

    Parameters
    ----------
    subject : Subject
        What is drawn as A.
    whole : Design
        The design with its variants.
    document_number : int
        Number of the document that was open (`Desk.document_number`); a pin lasts as long as that.
    variant : str
        Name of the variant that was opened as B then; empty if none was.
    """

    subject: Subject
    whole: Design
    document_number: int
    variant: str = ""
