"""A pinned design: the A of a comparison, beside which the open design is B."""

from dataclasses import dataclass

from render.request.subject import Subject
from scenes.design.document import Design
from scenes.problems import DesignProblem, shown

__all__ = ["Pin", "pinned_with_present_variants"]


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


def pinned_with_present_variants(pin: Pin | None, design: Design, document_number: int) -> Design:
    """The pinned design, with what was entered for the customer and kept as variants since.

    Parameters
    ----------
    pin : Pin or None
    design : Design
        The open design, seen from the wrap that is worked at.
    document_number : int
        Number of the open document.

    Raises
    ------
    DesignProblem
        If nothing is pinned, or a design seen from another wrap.
    """
    if pin is None or pin.document_number != document_number:
        raise DesignProblem("there is no A yet; keep a design as A before you change it.")
    whole = pin.whole
    if whole.wrap_name != design.wrap_name:
        raise DesignProblem(
            f"A shows {shown(whole.wrap_name)}, and a variant belongs to one wrap; keep this one "
            "as A before you change it."
        )
    present = {wrap.name: wrap.variants for wrap in design.wraps}
    wraps = tuple(
        wrap.model_copy(update={"variants": present[wrap.name]})
        if present.get(wrap.name, wrap.variants) != wrap.variants
        else wrap
        for wrap in whole.wraps
    )
    kept = {name: getattr(design, name) for name in ("variants", "order", "agreed")}
    return whole.model_copy(update=kept | ({"wraps": wraps} if wraps else {}))
