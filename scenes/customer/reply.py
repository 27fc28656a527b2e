"""The customer's answer: a short text made on the customer's page, read on the builder's."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from materials.shelf import Shelf
from scenes.customer.number import (
    NUMBER_PATTERN,
    SeenParts,
    checked_number,
    design_number,
    dry,
    seen_parts,
)
from scenes.design.differences import BASE_LABEL
from scenes.design.document import Design, design_from, document_of
from scenes.design.rod import other_wraps
from scenes.design.variants import variants
from scenes.files.companion_files import CompanionFiles
from scenes.problems import DESIGN_REFUSALS, DesignProblem, one_of, shown

__all__ = [
    "LETTERS",
    "REMARK",
    "Scheme",
    "agreement_words",
    "reply_text",
    "schemes_of",
    "with_agreement",
]

LETTERS = "ABCD"
"""Letters of the designs on a customer's page, which a thumb switches between: it has no more."""

REMARK = "Remark:"
"""Word before what the customer adds; the last of the text."""

_NUMBER = "Design number"
_MARKED = re.compile(rf"{_NUMBER}\W{{0,4}}?\s*{NUMBER_PATTERN}\b", re.IGNORECASE)
_ALONE = re.compile(rf"\s*{NUMBER_PATTERN}\s*")
_TITLE = re.compile(r"^[>*\xa0 \t]*Design:[*\xa0 \t]*(\S.*)$", re.MULTILINE | re.IGNORECASE)
_LONGEST = 20_000
_MOST_REMARK = 1000


@dataclass(frozen=True, slots=True)
class Scheme:
    """One of the designs that a customer may choose.

    Parameters
    ----------
    label : str
        What it is called; empty if there is only one.
    number : str
        Its design number.
    letter : str
        Letter on the customer's page; empty if there is only one.
    """

    label: str
    number: str
    letter: str = ""


def reply_text(scheme: Scheme, design: Design) -> str:
    """Write the answer that a customer sends to choose a scheme.

    Parameters
    ----------
    scheme : Scheme
    design : Design
        Gives title, customer and rod.

    Returns
    -------
    str
        A few lines; a remark may follow, with `REMARK` before it.
    """
    order = design.order
    chosen = f"{scheme.letter}: {scheme.label}" if scheme.letter else "as shown"
    lines = [
        f"I choose {chosen}.",
        f"Design: {design.title}",
        *([f"Rod: {order.rod}"] if order.rod else []),
        f"{_NUMBER}: {scheme.number}",
        *([order.customer] if order.customer else []),
    ]
    return "\n".join(lines)


def schemes_of(design: Design, shelf: Shelf, beside: CompanionFiles) -> list[Scheme]:
    """List the schemes that an answer may choose: the design itself and its variants that fit.

    Those of every wrap of a rod, from whichever it is seen; where two have the same name, that of
    the other wrap is named with it.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    beside : CompanionFiles

    Returns
    -------
    list of Scheme
        Each also as it is shown without finish; variants that lack a thread or a file are left out.
    """
    return [scheme for scheme, _ in _schemes(design, shelf, beside)]


def _schemes(
    design: Design, shelf: Shelf, beside: CompanionFiles
) -> Iterator[tuple[Scheme, Design]]:
    """The schemes of `schemes_of`, each with its design as it is finished."""
    listed = list(variants(design))
    for rod in other_wraps(design):
        taken = {name for name, _ in listed}
        listed += [
            (f"{rod.wrap_name}: {name}" if name in taken else name, made)
            for name, made in variants(rod)[1:]
        ]
    for name, made in listed:
        try:
            schemes = list(_with_dry(name, made, shelf, beside))
        except DESIGN_REFUSALS:
            if name == BASE_LABEL:
                raise
            continue
        for scheme in schemes:
            yield scheme, made


def with_agreement(
    design: Design,
    text: str,
    shelf: Shelf,
    beside: CompanionFiles,
    day: date,
) -> Design:
    """Enter a customer's answer in a design.

    Parameters
    ----------
    design : Design
    text : str
        The answer as it came, perhaps quoted or wrapped on its way.
    shelf : Shelf
    beside : CompanionFiles
    day : date
        When it came.

    Raises
    ------
    DesignProblem
        If the text has no design number, or that of another design, or names another scheme than
        its number; or it is entered already.
    """
    number = _number_in(text)
    found = list(_schemes(design, shelf, beside))
    schemes = [scheme for scheme, _ in found]
    chosen, made = next((pair for pair in found if pair[0].number == number), (None, design))
    if chosen is None:
        raise DesignProblem(
            f"{number} is the number of {_of_what(text, design)}: {_numbers(schemes)}; open the "
            "design that was sent, or send this one anew."
        )
    other = _other_named(text, chosen, schemes)
    if other:
        raise DesignProblem(
            f"the answer names {shown(other)}, but {number} is the number of "
            f"{shown(chosen.label)}; ask the customer which of the two is meant."
        )
    if design.agreed and (design.agreed[-1].number, design.agreed[-1].scheme) == (
        number,
        chosen.label,
    ):
        raise DesignProblem(
            f"this answer, {number}, is entered already, on {design.agreed[-1].date}; paste a "
            "newer one."
        )
    entry: dict[str, Any] = {"date": day.isoformat(), "number": number, "scheme": chosen.label}
    if design.order.customer:
        entry["customer"] = design.order.customer
    remark = _remark_in(text, design.order.customer)
    if remark:
        entry["remark"] = remark
    parts = seen_parts(made, shelf, beside)
    entry["blank"] = parts.blank
    entry["agreed_wraps"] = [
        {"name": name, "digest": digest} for name, digest in parts.wraps.items()
    ]
    document = document_of(design)
    return design_from({**document, "agreed": [*document.get("agreed", []), entry]})


def agreement_words(
    design: Design, shelf: Shelf, beside: CompanionFiles, *, of_rod: bool = False
) -> tuple[str, str]:
    """Say what the customer agreed to last, and whether it is still so.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    beside : CompanionFiles
    of_rod : bool
        Of the whole rod; else of the wrap that the design describes and of the blank. A wrap that
        is as agreed stays so where another one is changed or added.

    Returns
    -------
    agreed : str
        One sentence; empty if nothing was agreed.
    changed : str
        One sentence if this is not what was agreed; else empty.
    """
    if not design.agreed:
        return "", ""
    last = design.agreed[-1]
    called = f"{shown(last.scheme)}, " if last.scheme else ""
    who = last.customer or "the customer"
    agreed = f"Agreed by {who} on {last.date}: {called}design number {last.number}."
    present = {scheme.number for scheme in _with_dry("", design, shelf, beside)}
    if last.number in present:
        return agreed, ""
    now = design_number(design, shelf, beside)
    for scheme in schemes_of(design, shelf, beside):
        if scheme.number == last.number:
            return agreed, (
                f"This is not the scheme agreed, {shown(scheme.label)}, but {now}; make that "
                "variant the design."
            )
    then = SeenParts(last.blank, {wrap.name: wrap.digest for wrap in last.agreed_wraps})
    parts = seen_parts(design, shelf, beside)
    name = design.wrap_name
    if then.wraps and not of_rod and name not in then.wraps:
        return "", (
            f"The customer has not agreed to this wrap, {shown(name)}, which was not in what was "
            f"agreed on {last.date}; ask the customer."
        )
    changes = _changes(then, parts)
    kept = then.blank == parts.blank and then.wraps.get(name) == parts.wraps[name]
    if kept and not of_rod:
        return f"{agreed} This wrap is as agreed; since then {changes}.", ""
    since = f"; {changes} since" if changes else ""
    return agreed, (
        f"This is not what was agreed: the design is {now} now{since}; ask the customer again."
    )


def _changes(then: SeenParts, now: SeenParts) -> str:
    """What differs in a rod from what was agreed; empty where that was not recorded."""
    if not then.wraps:
        return ""
    said = ["the blank or what is fitted on it has changed"] if then.blank != now.blank else []
    for name, digest in now.wraps.items():
        if name not in then.wraps:
            said.append(f"wrap {shown(name)} was added")
        elif then.wraps[name] != digest:
            said.append(
                f"wrap {shown(name)} has changed" if len(now.wraps) > 1 else "the wrap has changed"
            )
    said += [f"wrap {shown(name)} is gone" for name in then.wraps if name not in now.wraps]
    return ", ".join(said)


def _with_dry(name: str, design: Design, shelf: Shelf, beside: CompanionFiles) -> Iterator[Scheme]:
    yield Scheme(name, design_number(design, shelf, beside))
    if design.finish.coats:
        yield Scheme(name, design_number(dry(design), shelf, beside))


def _numbers(schemes: list[Scheme]) -> str:
    first = {scheme.label: scheme.number for scheme in reversed(schemes)}
    listed = [f"{first[label]} ({label})" for label in dict.fromkeys(s.label for s in schemes)]
    return f"here are {one_of(listed, 'and')}" if len(listed) > 1 else f"here is {listed[0]}"


def _of_what(text: str, design: Design) -> str:
    """What a number belongs to that is none of this design, as far as the answer names it."""
    found = _TITLE.search(text)
    title = " ".join(found[1].strip("* \t\r").split()) if found else ""
    if title.casefold() in ("", " ".join(design.title.split()).casefold()):
        return "another design, or of this one before it was changed"
    return f"another design, {shown(title)}; this one is {shown(design.title)}"


def _number_in(text: str) -> str:
    """The one design number of a text."""
    if len(text) > _LONGEST:
        raise DesignProblem(
            f"{len(text)} characters are more than an answer has; paste the customer's answer "
            "alone."
        )
    alone = _ALONE.fullmatch(text)
    found = [alone] if alone else list(_MARKED.finditer(text))
    if not found:
        raise DesignProblem(
            f"{shown(' '.join(text.split())[:60])} holds no design number; paste the customer's "
            f'whole answer, with "{_NUMBER}: XXXX-XXXX" in it.'
        )
    numbers: list[str] = []
    for match in found:
        number = checked_number(match[1] + match[2])
        if number is None:
            raise DesignProblem(
                f'"{match[1]}-{match[2]}" is no design number: a letter of it has changed on its '
                "way; ask the customer to send the answer again."
            )
        numbers.append(number)
    if len(set(numbers)) > 1:
        raise DesignProblem(
            f"the text holds {one_of(dict.fromkeys(numbers), 'and')}; paste one answer alone."
        )
    return numbers[0]


def _other_named(text: str, chosen: Scheme, schemes: list[Scheme]) -> str:
    """Label of another scheme that the answer's first sentence names in place of the chosen one."""
    found = re.search(r"I choose\b(.*)", text, re.IGNORECASE)
    if found is None:
        return ""
    words = found[1].casefold()
    labels = {scheme.label for scheme in schemes if scheme.label}
    named = [label for label in labels if re.search(rf"\b{re.escape(label.casefold())}\b", words)]
    # Of labels within one another, the longest is meant. Words that tell designs apart may stand
    # beside the name of the chosen one, and be the name of another.
    within = [label for label in named if label != chosen.label and chosen.label in label]
    if chosen.label in named and not within:
        return ""
    meant = max(within or named, key=len, default="")
    return "" if chosen.label.endswith(f": {meant}") else meant


def _remark_in(text: str, customer: str) -> str:
    """What the customer adds: all behind the word for it, or without that word behind the answer.

    The answer ends with its number and the customer's name.
    """
    found = re.search(rf"^[> \t]*{REMARK}", text, re.MULTILINE)
    if found is not None:
        lines = [line.lstrip("> \t") for line in text[found.end() :].splitlines()]
    else:
        marked = list(_MARKED.finditer(text))
        if not marked:
            return ""
        behind = text[marked[-1].end() :].lstrip(" \t.,;:")
        lines = [line.strip("> \t") for line in behind.splitlines()]
        if customer:
            lines = [line for line in lines if line.casefold() != customer.casefold()]
    plain = " ".join(" ".join(lines).split())
    return "".join(letter for letter in plain if letter.isprintable())[:_MOST_REMARK].strip()
