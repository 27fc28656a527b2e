"""Variants kept, renamed and made the design, and what they lose with a layer."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scenes.design import paths
from scenes.design.changes import changes_between
from scenes.design.differences import canonical, differences
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.field_words import in_words
from scenes.design.variants import variant
from scenes.editing.list_edits import removed
from scenes.files.toml_writing import value_text
from scenes.problems import DesignProblem, one_of, shown

__all__ = [
    "VariantDescription",
    "described",
    "fitting_part",
    "free_name",
    "losses_by_removal",
    "made_the_design",
    "renamed",
    "short_name",
    "with_former_design_kept",
    "with_variant",
]

_OF_THE_FILE = ("turnlight", "units", "shelf", "variants")
"""Fields of a document that no variant changes."""

_GLANCE = 40
"""Characters of a name that is made of differences; of one that is typed there may be more."""


def with_variant(base: Design, changed: Design, name: str, replacing: str = "") -> Design:
    """Keep the changes from one design to another as a variant.

    Parameters
    ----------
    base : Design
        The result is this design, with one variant more or changed.
    changed : Design
        The design that the variant makes.
    name : str
        Name of the variant.
    replacing : str
        Name of a variant that it takes the place of; empty for a new one, which comes last.

    Raises
    ------
    DesignProblem
        If nothing differs, the layers have other roles, or the name is in use.
    """
    document = document_of(base)
    entries = list(document.get("variants", []))
    entry = {"name": name, "changes": changes_between(base, changed)}
    places = [place for place, other in enumerate(entries) if other["name"] == replacing]
    if places:
        entries[places[0]] = entry
    else:
        entries.append(entry)
    return design_from({**document, "variants": entries})


def renamed(design: Design, name: str, new: str) -> Design:
    """Give a variant another name.

    Parameters
    ----------
    design : Design
    name : str
        Present name of the variant.
    new : str

    Raises
    ------
    DesignProblem
        If there is no such variant, or the new name is in use or no name.
    """
    place = _place(design, name)
    document = document_of(design)
    entries = list(document["variants"])
    entries[place] = {**entries[place], "name": new}
    return design_from({**document, "variants": entries})


def made_the_design(design: Design, name: str) -> Design:
    """Make a variant the design; the former design takes its place among the variants.

    Parameters
    ----------
    design : Design
    name : str
        Name of the variant.

    Raises
    ------
    DesignProblem
        If there is no such variant, it does not fit the design, or the former design is not to be
        had by changes of fields.
    """
    place = _place(design, name)
    entries = list(design.variants)
    del entries[place]
    rest = design.model_copy(update={"variants": tuple(entries)})
    former = free_name(f"before {name}", [entry.name for entry in entries])
    return with_former_design_kept(rest, variant(design, name), former, place)


def with_former_design_kept(
    former: Design, design: Design, name: str, place: int | None = None
) -> Design:
    """Keep a former design as a variant of another, and let the other variants look as they did.

    Parameters
    ----------
    former : Design
        With its variants.
    design : Design
        The result is this design, with the variants of `former` and `former` itself.
    name : str
        Name for the former design.
    place : int, optional
        Its position among the variants; the last if not given.

    Raises
    ------
    DesignProblem
        If the former design is not to be had by changes of fields, or the name is in use.
    """
    bare, base = design.without_variants(), former.without_variants()
    entries = []
    for listed in former.variants:
        changes: Mapping[str, object] = listed.changes
        if listed.name not in former.variants_set_aside:
            try:
                changes = _exact_changes(bare, with_changes(base, listed.changes))
            except DesignProblem:
                changes = listed.changes  # it is the new design now, or keeps what it can
        entries.append({"name": listed.name, "changes": dict(changes)})
    entry = {"name": name, "changes": dict(_exact_changes(bare, base))}
    entries.insert(len(entries) if place is None else place, entry)
    return design_from({**document_of(bare), "variants": entries})


def fitting_part(design: Design, name: str) -> tuple[Design, list[str]]:
    """Make a variant with those of its changes that fit the design.

    Parameters
    ----------
    design : Design
    name : str
        Name of the variant.

    Returns
    -------
    design : Design
        Without variants.
    left_out : list of str
        Paths of the changes that do not fit; empty if the variant fits.

    Raises
    ------
    DesignProblem
        If there is no such variant.
    """
    changes = design.variants[_place(design, name)].changes
    made, left_out = design.without_variants(), []
    try:
        return with_changes(made, changes), []
    except DesignProblem:
        for path, value in paths.flattened(changes):
            try:
                made = with_changes(made, {path: value})
            except DesignProblem:
                left_out.append(path)
    return made, left_out


@dataclass(frozen=True, slots=True)
class VariantDescription:
    """What a variant of a design changes.

    Parameters
    ----------
    name : str
        Name of the variant.
    words : tuple of str
        Its values, such as ``gap 36 mm``.
    reason : str
        Why it does not fit the design, one sentence; empty if it fits.
    """

    name: str
    words: tuple[str, ...]
    reason: str


def described(design: Design) -> list[VariantDescription]:
    """Say in words what each variant of a design changes.

    Parameters
    ----------
    design : Design
    """
    base = design.without_variants()
    result = []
    for listed in design.variants:
        words, reason = [], ""
        try:
            words = differences(base, with_changes(base, listed.changes))
        except DesignProblem as problem:
            reason = str(problem)
        words = words or [
            f"{in_words(path)} {value if isinstance(value, str) else value_text(value)}"
            for path, value in paths.flattened(listed.changes)
        ]
        result.append(VariantDescription(listed.name, tuple(words), reason))
    return result


def losses_by_removal(design: Design, path: str) -> str:
    """Say which variants lose what if a layer is removed.

    Parameters
    ----------
    design : Design
    path : str
        Path of the layer, or of an entry of another list.

    Returns
    -------
    str
        One sentence; empty if no variant loses anything.
    """
    left = {listed.name: listed.changes for listed in removed(design, path).variants}
    lost = list(_losses(design, left)) if not path.startswith("variants.") else []
    return f"Variants lose with it: {'; '.join(lost)}." if lost else ""


def _losses(design: Design, left: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    for listed in design.variants:
        if listed.name not in left:
            yield f"{shown(listed.name)} changes nothing else, and goes too"
            continue
        # A path may have a new name; values are kept.
        kept = [value for _, value in paths.flattened(left[listed.name])]
        gone = []
        for path, value in paths.flattened(listed.changes):
            if value in kept:
                kept.remove(value)
            else:
                gone.append(_field(path))
        if gone:
            yield f"{shown(listed.name)} {one_of(gone, 'and')}"


def _exact_changes(base: Design, wanted: Design) -> dict[str, object]:
    """List changes that make one design another, defaults of left-out fields included."""
    changes = changes_between(base, wanted, defaults=True)
    made, tables = with_changes(base, changes), document_of(wanted)["layers"]
    for layer, now, then, table in zip(
        base.layers, made.layers, wanted.layers, tables, strict=True
    ):
        if canonical(now) != canonical(then):
            # A field without a value cannot be written as a change: the whole layer can.
            path = base.path_of(layer)
            changes = {
                of: value for of, value in changes.items() if not of.startswith(f"{path}.")
            } | {path: table}
    if not changes:
        raise DesignProblem("nothing differs that a variant could change; change something first.")
    if _looks(with_changes(base, changes)) != _looks(wanted):
        raise DesignProblem(
            "the former design is not to be had by changes of fields; save it as a file of its own."
        )
    if len(changes) > paths.MOST_CHANGES:
        raise DesignProblem(
            f"{len(changes)} fields differ, more than the {paths.MOST_CHANGES} of a variant; save "
            "the former design as a file of its own."
        )
    return changes


def _field(path: str) -> str:
    """Name a field in words, as inside a sentence."""
    return in_words(f" {path}").strip()


def _looks(design: Design) -> dict[str, Any]:
    return {key: value for key, value in canonical(design).items() if key not in _OF_THE_FILE}


def _place(design: Design, name: str) -> int:
    for place, listed in enumerate(design.variants):
        if listed.name == name:
            return place
    variant(design, name)  # refuses the name, with the nearest one
    raise AssertionError(name)


def short_name(words: Sequence[str]) -> str:
    """Name a design by what differs in it, in few words.

    Parameters
    ----------
    words : sequence of str
        As `scenes.design.differences.differences` words them.

    Returns
    -------
    str
        As many of them as are not too long to be read at a glance, the first at least; how many
        more there are is said as a number. Empty if nothing differs.
    """
    if not words:
        return ""
    first, *rest = words
    if len(first) > _GLANCE:
        first = f"{first[:_GLANCE].rsplit(' ', 1)[0].rstrip(' +,')} …"
    told = [first]
    for more in rest:
        if len(", ".join([*told, more])) > _GLANCE:
            break
        told.append(more)
    left = len(words) - len(told)
    return ", ".join(told) + (f" and {left} more" if left else "")


def free_name(wanted: str, taken: Sequence[str]) -> str:
    """Find a name for a variant that no other has.

    Parameters
    ----------
    wanted : str
        Cut where it is too long for a name.
    taken : sequence of str
        Names in use.
    """
    names = (wanted[:60], *(f"{wanted[:55]} {number}" for number in range(2, len(taken) + 3)))
    return next(name for name in names if name not in taken)
