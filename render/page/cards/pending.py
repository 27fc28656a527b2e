"""Values that were typed or chosen and do not fit the design yet, as the page shows them."""

from typing import Any

from render.editor.desk import Desk
from render.editor.pending import PendingValue
from scenes.design.field_words import in_words
from scenes.problems import one_of, printable
from scenes.quantities import Units

__all__ = ["FLAG_WORDS", "MAY_WAIT", "pending_state", "pending_words"]

Json = dict[str, Any]

MAY_WAIT = frozenset(
    {"number", "whole", "choice", "flag", "text", "lines", "toml", "thread", "colour"}
)
"""Types of the fields whose values may be pending by `desk_change`; a file's are by its own way."""

FLAG_WORDS = {True: "yes", False: "no"}
"""Text of a pending tick."""


def pending_state(desk: Desk, units: Units) -> list[Json]:
    """List the pending values of a document, for the cards.

    Parameters
    ----------
    desk : Desk
    units : Units
        Units of the lengths shown.

    Returns
    -------
    list of dict
        ``path``; ``text``, as typed; ``words``, the field's name and the text; ``problem``, why it
        does not fit.
    """
    return [
        {
            "path": one.path,
            "text": _text(one, units),
            "words": _words(one, units),
            "problem": _sentence(one),
        }
        for one in desk.pending.values()
    ]


def pending_words(desk: Desk, units: Units) -> str:
    """Name the pending values of a document with what was typed; empty if there are none.

    Parameters
    ----------
    desk : Desk
    units : Units
        Units of the lengths shown.
    """
    return one_of((_words(one, units) for one in desk.pending.values()), "and")


def _words(one: PendingValue, units: Units) -> str:
    name = in_words(f" {one.path}").strip().removeprefix("the ")
    return f"{name} {printable(_text(one, units), 60)}"


def _text(one: PendingValue, units: Units) -> str:
    """What was typed, with its unit if the page shows lengths in another unit now."""
    bare = not any(sign.isalpha() or sign in "°\"'″′" for sign in one.text)
    number = isinstance(one.value, int | float) and one.units is not units
    return f"{one.text} {one.units.value}" if number and bare else one.text


def _sentence(one: PendingValue) -> str:
    sentence = in_words(one.problem.removeprefix(f"{one.path}: "))
    return sentence[:1].upper() + sentence[1:]
