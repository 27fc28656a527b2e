"""A pinned design that is sent: kept among the variants, so that the customer may choose it."""

from render.editor.desk import Desk
from render.editor.pin import Pin, pinned_with_present_variants
from scenes.customer.number import design_number
from scenes.customer.reply import schemes_of
from scenes.design.differences import paired_differences
from scenes.design.document import Design
from scenes.editing.variant_edits import free_name, short_name, with_former_design_kept
from scenes.problems import DesignProblem

__all__ = ["keep_sent_pin", "with_pin_kept"]


def with_pin_kept(desk: Desk, pin: Pin) -> tuple[Design | None, str]:
    """Keep a pinned design as a variant in a copy of the open document.

    Parameters
    ----------
    desk : Desk
        The document that it was pinned from.
    pin : Pin

    Returns
    -------
    design : Design or None
        None if an answer that chooses the pinned design can be entered already.
    name : str
        Name of the variant: what differs from the open design.

    Raises
    ------
    DesignProblem
        If the pinned design is not to be had as a variant: an answer that chooses it could not be
        entered.
    """
    number = design_number(pin.whole, desk.shelf, desk.beside)
    schemes = schemes_of(desk.design, desk.shelf, desk.beside)
    if number in {scheme.number for scheme in schemes}:
        return None, ""
    bare = desk.design.without_variants()
    words, _ = paired_differences(pin.whole.without_variants(), bare, bare.units)
    taken = [variant.name for variant in desk.design.variants]
    name = free_name(short_name(words) or "A, as sent", taken)
    try:
        former = pinned_with_present_variants(pin, desk.design, desk.document_number)
        return with_former_design_kept(former, desk.design, name), name
    except DesignProblem as problem:
        raise DesignProblem(
            f"A customer could choose A, and the answer could not be entered: {problem} To send B "
            'alone, press "Compare no more" first.'
        ) from None


def keep_sent_pin(desk: Desk, pin: Pin) -> str:
    """Keep a pinned design as a variant, unless an answer that chooses it can be entered already.

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
        As `with_pin_kept`.
    """
    made, name = with_pin_kept(desk, pin)
    if made is not None:
        desk.keep_pinned(name, pin)
    return name
