"""A pinned design that is sent: kept among the variants, so that the customer may choose it."""

from render.editor.desk import Desk
from render.editor.pin import Pin
from scenes.customer.number import design_number
from scenes.customer.reply import schemes_of
from scenes.design.differences import BASE_LABEL, labels
from scenes.editing.variant_edits import free_name
from scenes.problems import DesignProblem

__all__ = ["keep_sent_pin"]


def keep_sent_pin(desk: Desk, pin: Pin) -> str:
    """Keep a pinned design as a variant, unless an answer that chooses it can be entered already.

    Its name is its label on the customer's page.

    Parameters
    ----------
    desk : Desk
        The document that it was pinned from.
    pin : Pin

    Returns
    -------
    str
        Name of the variant; empty if none had to be made.

    Raises
    ------
    DesignProblem
        If the pinned design is not to be had as a variant: an answer that chooses it could not be
        entered.
    """
    number = design_number(pin.whole, desk.shelf, desk.beside)
    schemes = schemes_of(desk.design, desk.shelf, desk.beside)
    if number in {scheme.number for scheme in schemes}:
        return ""
    label, _ = labels([pin.whole.without_variants(), desk.design.without_variants()])
    wanted = "A, as sent" if label in ("", BASE_LABEL) else label
    name = free_name(wanted, [variant.name for variant in desk.design.variants])
    try:
        desk.keep_pinned(name, pin)
    except DesignProblem as problem:
        raise DesignProblem(
            f"A customer could choose A, and the answer could not be entered: {problem} To send B "
            'alone, press "Compare no more" first.'
        ) from None
    return name
