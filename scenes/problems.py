"""The one error that a design document raises, and the words it is put in.

Every refusal is one sentence: the field in the document's own words, its value as given, and what
would be right.
"""

import difflib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from types import MappingProxyType
from typing import Self

from pydantic_core import PydanticCustomError

from geometry.errors import GeometryError
from materials.problems import MaterialProblem, is_encodable, not_a_number, printable, shown

__all__ = [
    "DESIGN_REFUSALS",
    "DesignProblem",
    "NotWritten",
    "UnreadableFile",
    "article",
    "at_field",
    "is_encodable",
    "near",
    "nearest",
    "not_a_number",
    "one_of",
    "printable",
    "refusal",
    "shown",
]

_SAME_NAME: Mapping[str, str] = MappingProxyType({})


class DesignProblem(ValueError):
    """A design that cannot be used; the message is one sentence for the builder.

    Parameters
    ----------
    sentence : str
        What is wrong and what would be right, on one line.
    field : str, optional
        Path of the field at fault, such as ``relief.gap``; empty where there is none.
    others : sequence of str, optional
        What else is wrong, one sentence each.
    """

    def __init__(self, sentence: str, *, field: str = "", others: Sequence[str] = ()) -> None:
        super().__init__(sentence)
        self.field = field
        self.others = tuple(others)

    @classmethod
    def at(cls, field: str, sentence: str) -> Self:
        """Refuse the value of a field.

        Parameters
        ----------
        field : str
            Path of the field, with which the message begins.
        sentence : str
            All that follows the path.
        """
        return cls(f"{field}: {sentence}", field=field)


class UnreadableFile(DesignProblem):
    """A file that cannot be used by any design: broken, of another kind, or too much to read."""


class NotWritten(Exception):
    """A file that this machine failed to write, for example because its disk is full.

    Raised by a class that also says whose file it is; the message is one sentence.
    """


@contextmanager
def at_field(path: str, fields: Mapping[str, str] = _SAME_NAME) -> Iterator[None]:
    """Put the path of the field at fault on what geometry refuses.

    Parameters
    ----------
    path : str
        Path of the part of the design that geometry builds inside the block.
    fields : dict
        Field of that part by geometry's name of the quantity, where the two differ.

    Raises
    ------
    DesignProblem
        In place of a `GeometryError`.
    """
    try:
        yield
    except GeometryError as error:
        field = f"{path}.{fields.get(error.quantity, error.quantity)}"
        raise DesignProblem.at(field, error.sentence) from None


DESIGN_REFUSALS = (DesignProblem, GeometryError, MaterialProblem)
"""What a design may be refused with, by its document, its shape or its shelf: for `except`."""


def refusal(sentence: str, *, field: str = "") -> PydanticCustomError:
    """Make the error that a validator raises, for `scenes.design.wording` to put into words.

    Parameters
    ----------
    sentence : str
        All that follows the field's path, without the closing full stop.
    field : str
        The path from the model that is being validated to the field at fault.
    """
    return PydanticCustomError("refusal", "{sentence}", {"sentence": sentence, "field": field})


def one_of(options: Iterable[str], word: str = "or") -> str:
    """List options in words: "a, b or c".

    Parameters
    ----------
    options : iterable of str
        In order.
    word : str
        Word before the last option.
    """
    listed = list(options)
    if len(listed) < 2:
        return "".join(listed)
    return f"{', '.join(listed[:-1])} {word} {listed[-1]}"


def article(noun: str) -> str:
    """Give the indefinite article of a noun as it is written, such as "an" of "engine".

    Parameters
    ----------
    noun : str
    """
    return "an" if noun[:1].casefold() in "aeiou" else "a"


def nearest(word: str, options: Iterable[str]) -> str | None:
    """Find the option most like a word, or None if no option is like it.

    Parameters
    ----------
    word : str
        As it was typed.
    options : iterable of str
        What it may have been meant for.
    """
    return next(iter(near(word, options, 1)), None)


def near(word: str, options: Iterable[str], most: int = 3) -> list[str]:
    """Find the options most like a word, the likest first.

    Parameters
    ----------
    word : str
        As it was typed.
    options : iterable of str
        What it may have been meant for.
    most : int
        Most options to return.
    """
    listed = {option.casefold(): option for option in options}
    close = difflib.get_close_matches(word[:100].casefold(), listed, n=most, cutoff=0.6)
    return [listed[name] for name in close]
