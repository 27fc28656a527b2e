"""The customer's answer on the page: pasted, entered in the design, and held against it since."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from render.page.cards.cards import attempt
from render.page.server.arguments import Refused, Value
from render.page.server.host import Host
from render.page.server.roles import Right
from scenes.customer.reply import agreement_words
from scenes.design.document import Design
from scenes.design.rod import other_wraps
from scenes.editing.variant_edits import described
from scenes.problems import DESIGN_REFUSALS, shown

__all__ = ["attach"]

Json = dict[str, Any]


def attach(page: Host) -> None:
    """Add the customer's answer to the page.

    Parameters
    ----------
    page : Host
    """
    Answer(page)


class Answer:
    """The customer's answers to one design.

    Parameters
    ----------
    page : Host
    """

    def __init__(self, page: Host) -> None:
        self._page = page
        page.methods.declare("answer_records", Right.OWN, self.answer_records)
        page.methods.declare("answer_enter", Right.OWN, self.answer_enter)

    def answer_records(self) -> Json:
        """List what was agreed.

        Returns
        -------
        dict
            ``records``: date, number, scheme, customer and remark of each, the latest first;
            ``words``: what differs in the scheme from the design, where it is a variant still;
            ``agreed``, ``changed``: sentences about the latest, empty where there is nothing to
            say; ``other``: name of the variant that was agreed, if that is not the design, and
            ``wrap``: of which wrap it is one.
        """
        desk = self._page.desk
        try:
            agreed, changed = agreement_words(desk.design, desk.shelf, desk.beside)
        except DESIGN_REFUSALS as problem:
            agreed, changed = "", str(problem)
        words = {one.name: "; ".join(one.words) for one in described(desk.design)}
        records = [
            {**record.model_dump(), "words": words.get(record.scheme, "")}
            for record in reversed(desk.design.agreed)
        ]
        last = records[0]["scheme"] if records and changed else ""
        wrap, other = next(_places_of(last, desk.design), ("", "")) if last else ("", "")
        return {
            "records": records,
            "agreed": agreed,
            "changed": changed,
            "other": other,
            "wrap": wrap,
        }

    def answer_enter(self, text: Value) -> Json:
        """Enter an answer in the design.

        Parameters
        ----------
        text : Value
            The answer as it came, with its line ends.

        Returns
        -------
        dict
            As `attempt`; ``said``: what was entered, in a sentence, empty if nothing was.
        """
        if not isinstance(text, str):
            raise Refused("answer_enter: text must be a text; paste the customer's answer.")
        desk = self._page.desk
        answer = attempt(desk, lambda: desk.agree(text, date.today()))
        if answer["problem"]:
            return {**answer, "said": ""}
        entry = desk.design.agreed[-1]
        return {**answer, "said": f"Entered: {shown(entry.scheme)}, number {entry.number}."}


def _places_of(scheme: str, design: Design) -> Iterator[tuple[str, str]]:
    """Wrap and name of each variant that an agreed scheme may be, those of the present wrap first.

    A scheme of another wrap may be called by that wrap too (`scenes.customer.reply.schemes_of`).
    """
    for rod in (design, *other_wraps(design)):
        for variant in rod.variants:
            called = (variant.name, f"{rod.wrap_name}: {variant.name}")
            if scheme in called and variant.name not in rod.variants_set_aside:
                yield rod.wrap_name, variant.name
