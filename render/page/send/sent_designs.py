"""The designs that can be sent: the open one, its variants, and A of a comparison.

A customer's page and a comparison hold several of them, which a client ticks; everything else shows
one, which a client picks. Designs that look alike are listed once.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from render.editor.desk import Desk
from render.editor.pin import Pin
from render.page.send.order import Choice
from render.page.send.sent_pin import with_pin_kept
from render.page.workers.export_worker import ExportKind
from render.request.subject import Subject
from scenes.customer.number import design_number, dry
from scenes.customer.reply import LETTERS
from scenes.design.differences import differences
from scenes.design.field_words import in_words
from scenes.design.rod import at_wrap, other_wraps
from scenes.design.variants import variants
from scenes.editing.variant_edits import described
from scenes.problems import DESIGN_REFUSALS, DesignProblem

__all__ = [
    "DESIGN",
    "MOST",
    "OF_ROD",
    "PINNED",
    "SEVERAL",
    "SentDesign",
    "checked",
    "chosen_keys",
    "designs_to_send",
    "full_words",
]

MOST = len(LETTERS)
"""Designs in one file at most."""

DESIGN, PINNED = "design", "pinned"
"""Keys of the open design and of A."""

SEVERAL = (ExportKind.SPIN_PAGE, ExportKind.COMPARISON)
"""Kinds of file that hold several designs."""

OF_ROD = (ExportKind.ROD_SHEET, ExportKind.ROD_PICTURE)
"""Kinds of file that show every wrap, whichever is worked at."""

_TO_BUILD_BY = (ExportKind.SHEET, ExportKind.TEMPLATE, *OF_ROD)
"""Kinds of file that are of the design that was agreed, if one was."""

AsViewed = Callable[[Subject], Subject]


@dataclass(frozen=True, slots=True)
class SentDesign:
    """A design that can be sent, or the reason why it cannot.

    Parameters
    ----------
    key : str
        Identifies it: `DESIGN`, `PINNED`, or ``variant`` and the name of a variant.
    side : str
        "A" or "B" while a comparison stands, of its designs; else empty.
    name : str
        Name of the variant that it is; empty if it is none.
    words : tuple of str
        What differs in it from the open design; empty for that.
    subject : Subject or None
        None if it does not fit.
    reason : str
        Why it does not fit, or why no customer can choose it; empty if it can be sent.
    agreed : bool
        Whether it is what the customer has agreed to last.
    of_rod : bool
        Whether it is a variant of another wrap than that worked at: it is seen where the whole rod
        is.
    """

    key: str
    side: str
    name: str
    words: tuple[str, ...]
    subject: Subject | None
    reason: str = ""
    agreed: bool = False
    of_rod: bool = False

    @property
    def label(self) -> str:
        """What it is called on the page."""
        called = self.name or ("as kept" if self.key == PINNED else "the design")
        return f"{self.side}: {called}" if self.side else called

    @property
    def short(self) -> str:
        """What it is called in the name of a file; empty for the design."""
        return self.name or {PINNED: "A", DESIGN: ""}.get(self.key, "")

    def can_be_in(self, kind: ExportKind) -> bool:
        """Whether it can be in a kind of file.

        Parameters
        ----------
        kind : ExportKind
        """
        if self.of_rod and kind not in OF_ROD:
            return False
        return self.subject is not None and not (kind is ExportKind.SPIN_PAGE and self.reason)

    def state(self, kind: ExportKind, chosen: Collection[str]) -> dict[str, Any]:
        """What the page shows of it.

        Parameters
        ----------
        kind : ExportKind
            Kind of file that is to be made.
        chosen : collection of str
            Keys of the designs in it.
        """
        possible = self.can_be_in(kind)
        return {
            "key": self.key,
            "label": self.label,
            "words": "; ".join(self.words),
            "reason": "" if possible else in_words(self.reason),
            "agreed": self.agreed,
            "chosen": possible and self.key in chosen,
        }


def designs_to_send(desk: Desk, pin: Pin | None, as_viewed: AsViewed) -> list[SentDesign]:
    """List the designs that can be sent, in the order of their letters on a customer's page.

    Parameters
    ----------
    desk : Desk
    pin : Pin or None
        A of a comparison, of which the open design is B.
    as_viewed : callable
        Gives a `Subject` as it is viewed on the page: designs that look alike there are one.

    Returns
    -------
    list of SentDesign
        A, the open design, the variants that fit, those of the other wraps, and those that do not
        fit.
    """
    shelf, beside = desk.shelf, desk.beside
    document, reason = desk.design, ""
    if pin is not None:
        try:
            document = with_pin_kept(desk, pin)[0] or desk.design
        except DESIGN_REFUSALS as problem:
            reason = str(problem)
    last = desk.design.agreed[-1].number if desk.design.agreed else ""
    bare = desk.design.without_variants()
    found: dict[str, SentDesign] = {}

    def enter(
        key: str,
        side: str,
        name: str,
        subject: Subject,
        reason: str = "",
        words: Sequence[str] | None = None,
    ) -> None:
        """List a design, or give one that looks the same the name of this variant.

        `words` are given of a variant of another wrap.
        """
        try:
            seen = as_viewed(subject)
            number = design_number(seen.design, shelf, beside)
            numbers = {
                design_number(one, shelf, beside) for one in (subject.design, dry(subject.design))
            }
        except DESIGN_REFUSALS as problem:
            if key != DESIGN:
                aside.append(SentDesign(key, side, name, (), None, str(problem)))
            return
        if number in found:
            found[number] = _named(found[number], name)
            return
        of_rod = words is not None
        differing = tuple(differences(bare, subject.design) if words is None else words)
        agreed = last in numbers
        made = SentDesign(key, side, name, differing, subject, reason, agreed, of_rod)
        found[number] = _named(made, name)

    aside: list[SentDesign] = []
    # Entered first, the open design takes the place of an A that looks the same.
    enter(DESIGN, "", "", desk.subject)
    if pin is not None:
        enter(PINNED, "A", "", pin.subject, reason)
    made = variants(document)[1:]
    for name, design in made:
        enter(f"variant {name}", "", name, Subject(design, shelf, beside))
    for rod in other_wraps(desk.design):
        plain = rod.without_variants()
        for name, design in variants(rod)[1:]:
            called = f"{rod.wrap_name}: {name}"
            whole = at_wrap(design, desk.design.wrap_name)
            subject = Subject(whole, shelf, beside, called)
            enter(f"variant {called}", "", called, subject, words=differences(plain, design))
    listed = list(found.values())
    if any(one.key == PINNED for one in listed):
        listed = [replace(one, side="B") if one.key == DESIGN else one for one in listed]
        listed.sort(key=lambda one: one.side or "C")
    for one in described(desk.design):
        if one.reason:
            key = f"variant {one.name}"
            aside.append(SentDesign(key, "", one.name, one.words, None, one.reason))
    return [*listed, *aside]


def _named(one: SentDesign, name: str) -> SentDesign:
    """Give a design the name of a variant that it is, unless it has one."""
    if not name or one.subject is None or one.subject.variant:
        return one
    return replace(one, name=name, subject=replace(one.subject, variant=name))


def chosen_keys(
    listed: Sequence[SentDesign], choice: Choice, recent: Sequence[str]
) -> tuple[str, ...]:
    """Keys of the designs that are in a file, as they were ticked or picked, or usually.

    All are usual where they are few, and else those compared and the variants kept last. A
    comparison that stands is usually of its own designs; what is built by is what was agreed.

    Parameters
    ----------
    listed : sequence of SentDesign
        As `designs_to_send` lists them.
    choice : Choice
    recent : sequence of str
        Names of variants that were kept since the document was opened, the last one last.
    """
    possible = [one for one in listed if one.can_be_in(choice.kind)]
    keys = [one.key for one in possible]
    if choice.kind not in SEVERAL:
        if choice.picked in keys:
            return (choice.picked,)
        agreed = [one.key for one in possible if one.agreed and choice.kind in _TO_BUILD_BY]
        return tuple(agreed[:1] or [DESIGN])
    foremost = [one.key for one in possible if one.side or one.key == DESIGN]
    if choice.kind is ExportKind.COMPARISON and len(foremost) > 1:
        usual = foremost
    elif len(keys) <= MOST:
        usual = keys
    else:
        kept = [one.key for name in reversed(recent) for one in possible if one.name == name]
        usual = list(dict.fromkeys([*foremost, *kept]))[:MOST]
    return tuple(key for key in keys if choice.ticks.get(key, key in usual))[:MOST]


def checked(keys: Sequence[str], kind: ExportKind, listed: Sequence[SentDesign]) -> None:
    """Refuse a choice of designs of which no file can be made.

    Parameters
    ----------
    keys : sequence of str
        Keys of the designs.
    kind : ExportKind
        Kind of file.
    listed : sequence of SentDesign

    Raises
    ------
    DesignProblem
        If there are too few.
    """
    if not keys:
        raise DesignProblem("No design is ticked; tick one or more.")
    if kind is ExportKind.COMPARISON and len(keys) < 2:
        if sum(one.can_be_in(kind) for one in listed) > 1:
            raise DesignProblem("A comparison shows two designs or more; tick another.")
        raise DesignProblem(
            "There is no A yet: press Compare, keep the design as A and change it first."
        )


def full_words(count: int, possible: int) -> str:
    """Say that no more designs fit into a file; empty while more do, or there are no more.

    Parameters
    ----------
    count : int
        Number of designs in it.
    possible : int
        Number of those that could be.
    """
    if possible <= MOST:
        return ""
    words = f"{MOST} designs at most, as many as a thumb can switch between on a phone"
    return f"{words}; untick one for another." if count >= MOST else f"{words}."
