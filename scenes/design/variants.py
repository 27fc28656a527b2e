"""Designs made from one design: its variants, and a sweep of one field; the hash of a design."""

import hashlib
import json
from typing import Any

from materials.toml_text import TextProblem, parse_value, parse_value_or_words
from scenes.design.differences import BASE_LABEL, canonical, labels
from scenes.design.document import Design, with_changes
from scenes.problems import DesignProblem, nearest, one_of, shown

__all__ = ["design_hash", "sweep", "variant", "variants", "with_new_variants_only"]

MOST_SWEPT = 24
"""Most values in one sweep: side by side, more pictures would be too small."""

_LONGEST_SWEEP = 4000
_HASH_DIGITS = 12


def variant(design: Design, name: str) -> Design:
    """Make one variant of a design; the result has no variants.

    Parameters
    ----------
    design : Design
    name : str

    Raises
    ------
    DesignProblem
        If there is no variant of that name, or it does not fit the design.
    """
    changes = {listed.name: listed.changes for listed in design.variants}
    if name in changes:
        try:
            return with_changes(design.without_variants(), changes[name])
        except DesignProblem as problem:
            raise DesignProblem(
                f"{shown(name)} does not fit the design: {problem}", field=problem.field
            ) from None
    if not changes:
        raise DesignProblem(f"{shown(name)} is not a variant; this design has none.")
    close = nearest(name, changes)
    hint = f"did you mean {close}?" if close else f"give {one_of(changes)}."
    raise DesignProblem(f"{shown(name)} is not a variant of this design; {hint}")


def variants(design: Design) -> list[tuple[str, Design]]:
    """Make the design itself and all of its variants that fit it.

    Parameters
    ----------
    design : Design

    Returns
    -------
    list of (str, Design)
        Name and design, none with variants of its own; the design itself first.
    """
    set_aside = design.variants_set_aside
    names = [listed.name for listed in design.variants if listed.name not in set_aside]
    made = [(name, variant(design, name)) for name in names]
    return [(BASE_LABEL, design.without_variants()), *made]


def with_new_variants_only(design: Design, before: Design) -> Design:
    """Leave out the variants of a design that another design has with the same name and changes.

    Parameters
    ----------
    design, before : Design
    """
    known = {listed.name: listed.changes for listed in before.variants}
    new = tuple(listed for listed in design.variants if known.get(listed.name) != listed.changes)
    return design.model_copy(update={"variants": new})


def sweep(design: Design, spec: str) -> list[tuple[str, Design]]:
    """Make one design for each of several values of a field.

    Parameters
    ----------
    design : Design
    spec : str
        Path, equals sign and values between commas, in the design's own units:
        ``relief.gap=14,20,26`` or ``cover.thread=Heron Silver A,Gorse Gold A``. Values may also
        be written as in a design file, in quotes or brackets.

    Returns
    -------
    list of (str, Design)
        Label, and the design without variants.

    Raises
    ------
    DesignProblem
        If the text is not a sweep, there is no such path, or a value is not valid.
    """
    path, equals, text = spec.partition("=")
    path = path.strip()
    values = _values(text) if len(spec) <= _LONGEST_SWEEP else []
    if not (path and equals and text.strip() and values):
        raise DesignProblem(
            f"sweep: {shown(spec)} is not a path and values; write it like relief.gap=14,20,26."
        )
    if len(values) > MOST_SWEPT:
        raise DesignProblem(
            f"sweep: {len(values)} values are more than {MOST_SWEPT}; give fewer, to tell them "
            "apart side by side."
        )
    base = design.without_variants()
    designs = [with_changes(base, {path: value}) for value in values]
    names = labels(designs)
    if len(set(names)) < len(names) or not all(names) or BASE_LABEL in names:
        names = [f"{path} {shown(value)}" for value in values]
    return list(zip(names, designs, strict=True))


def _values(text: str) -> list[Any]:
    """Read values between commas as TOML does, or else as bare words and numbers."""
    try:
        # No line end: a colour's # must not begin a comment that hides the rest.
        return list(parse_value(f"[{text}]"))
    except TextProblem:
        return [parse_value_or_words(word.strip()) for word in text.split(",")]


def design_hash(design: Design) -> str:
    """Identify a design by its content, in twelve hexadecimal digits.

    Comments, order, units, layout, and defaults that are written out do not change the hash.
    Variants count by the designs they make, those that do not fit by their changes.

    Parameters
    ----------
    design : Design
    """
    content = _content(design)
    set_aside = design.variants_set_aside
    content["variants"] = [
        [listed.name, {"changes": listed.changes}]
        if listed.name in set_aside
        else [listed.name, _content(variant(design, listed.name))]
        for listed in design.variants
    ]
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:_HASH_DIGITS]


def _content(design: Design) -> dict[str, Any]:
    """Reduce a design to plain values, without what belongs to the file alone."""
    content: dict[str, Any] = canonical(design)
    return {name: value for name, value in content.items() if name not in ("turnlight", "units")}
