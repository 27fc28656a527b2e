"""What of a design may leave the builder's machine, as plain data.

A worker gets the document without names, notes of agreements, times and cost prices, the looks of
the threads that it uses, and its files. Nothing that a worker gets is code.
"""

import hashlib
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Self

from materials.shelf import Shelf
from materials.thread import Thread, ThreadKind
from render.request.subject import Subject
from scenes.design.document import Design, design_from, document_of
from scenes.design.threads import thread_names, variants_without_thread
from scenes.design.variants import variants
from scenes.files.companion_files import SHIPPED, layer_files
from scenes.parts.bench import BenchSpec
from scenes.parts.order import OrderSpec
from scenes.problems import DesignProblem, shown

__all__ = ["PublicDesign", "customers_named", "public_subjects"]

_LONGEST_TITLE = 200
"""Characters of a title."""

_LEAST_LETTERS = 4
"""Letters of a single name that count as a name when they stand alone in a text."""


@dataclass(frozen=True, slots=True)
class PublicDesign:
    """One design without variants, as plain data.

    Parameters
    ----------
    document : str
        The document as JSON.
    threads : tuple of tuple
        Name, kind, size, colour, diameter (mm) and tex (g per km) of every thread that it names.
    files : tuple of (str, bytes)
        Name and content of every file that its layers name.
    variant : str
        Name of the variant that it is; empty for the design itself.
    """

    document: str
    threads: tuple[tuple[Any, ...], ...]
    files: tuple[tuple[str, bytes], ...]
    variant: str = ""

    @classmethod
    def of(cls, subject: Subject) -> Self:
        """Reduce a design to what may be published.

        Parameters
        ----------
        subject : Subject
            Without variants.

        Raises
        ------
        DesignProblem, ShelfProblem
            If a thread or a file is missing.
        """
        design = subject.design
        names = dict.fromkeys(name for _, name in thread_names(design))
        named = {file: field for field, file in layer_files(design)}
        return cls(
            json.dumps(document_of(_public(design)), sort_keys=True),
            tuple(_looks(subject.shelf.thread(name)) for name in names),
            tuple((file, subject.beside.read(file, field)) for file, field in named.items()),
            subject.variant,
        )

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> Self:
        """Read what `plain` wrote; lists stand for tuples.

        Parameters
        ----------
        plain : dict
        """
        return cls(
            plain["document"],
            tuple(tuple(thread) for thread in plain["threads"]),
            tuple((name, data) for name, data in plain["files"]),
            plain["variant"],
        )

    @property
    def plain(self) -> dict[str, Any]:
        """The design as lists, texts, numbers and bytes."""
        return {
            "document": self.document,
            "threads": [list(thread) for thread in self.threads],
            "files": [list(file) for file in self.files],
            "variant": self.variant,
        }

    @property
    def digest(self) -> str:
        """Hash of the content, 64 hexadecimal digits."""
        files = [[name, hashlib.sha256(data).hexdigest()] for name, data in self.files]
        content = json.dumps([self.document, self.threads, files, self.variant])
        return hashlib.sha256(content.encode()).hexdigest()

    def subject(self) -> Subject:
        """Read it as a design that can be built."""
        shelf = Shelf(
            Thread(
                name,
                ThreadKind(kind),
                size,
                colour,
                diameter_mm=diameter,
                tex=tex,
                spool_m=1,
                price=0,
            )
            for name, kind, size, colour, diameter, tex in self.threads
        )
        beside = SHIPPED
        for name, data in self.files:
            beside = beside.with_file(name, data)
        return Subject(design_from(json.loads(self.document)), shelf, beside, self.variant)


def public_subjects(subject: Subject) -> tuple[list[Subject], list[str]]:
    """List a design and those of its variants that can be built, each as it may be published.

    Parameters
    ----------
    subject : Subject

    Returns
    -------
    subjects : list of Subject
        The design itself first, with an empty `Subject.variant`. Titles of variants end in their
        names.
    notes : list of str
        One sentence for each variant that is left out.

    Raises
    ------
    DesignProblem, ShelfProblem
        If a thread or a file is missing, or the design names its customer.
    """
    design = subject.design
    _check_no_customer(design)
    left_out = {**design.variants_set_aside, **variants_without_thread(design, subject.shelf)}
    notes = [
        f"The variant {shown(name)} is left out: {reason}" for name, reason in left_out.items()
    ]
    found: list[Subject] = []
    for place, (name, made) in enumerate(variants(design)):
        if place and name in left_out:
            continue
        if place:
            title = f"{made.title}, {name}"[:_LONGEST_TITLE]
            made = made.model_copy(update={"title": title})
        single = replace(subject, design=made, variant=name if place else "")
        found.append(PublicDesign.of(single).subject())
    return found, notes


def customers_named(design: Design) -> list[str]:
    """List the fields in which a part of a customer's name stands as a word of its own.

    It may be a word of the language, so this is no reason to refuse the design.

    Parameters
    ----------
    design : Design
    """
    words = {
        word.casefold()
        for customer in _customers(design)
        for word in re.findall(r"[^\W\d_]+", customer)
        if len(word) >= _LEAST_LETTERS
    }
    return [
        path
        for path, text in _texts(document_of(_public(design)))
        if words & {word.casefold() for word in re.findall(r"[^\W\d_]+", text)}
    ]


def _public(design: Design) -> Design:
    """Copy a design without customer, rod number, agreements and bench."""
    order = OrderSpec(builder=design.order.builder, price=design.order.price)
    currency = design.bench.currency
    bench = BenchSpec(currency=currency) if currency else BenchSpec()
    return design.model_copy(
        update={"order": order, "bench": bench, "agreed": (), "shelf": None, "variants": ()}
    )


def _check_no_customer(design: Design) -> None:
    for _, made in variants(design):
        names = [" ".join(name.split()).casefold() for name in _customers(design)]
        for path, text in _texts(document_of(_public(made))):
            plain = " ".join(text.split()).casefold()
            if any(name in plain for name in names):
                raise DesignProblem(
                    f"{path}: {shown(text)} names the customer, which a catalogue must not; "
                    "give another text.",
                    field=path,
                )


def _customers(design: Design) -> Iterator[str]:
    for name in (design.order.customer, *(entry.customer for entry in design.agreed)):
        if name.strip():
            yield name


def _texts(value: object, path: str = "") -> Iterator[tuple[str, str]]:
    """Every text of a document, with its path."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict):
        for key, below in value.items():
            yield from _texts(below, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list):
        for place, below in enumerate(value):
            yield from _texts(below, f"{path}.{place}")


def _looks(thread: Thread) -> tuple[Any, ...]:
    return (
        thread.name,
        thread.kind.value,
        thread.size,
        thread.colour,
        thread.diameter_mm,
        thread.tex,
    )
