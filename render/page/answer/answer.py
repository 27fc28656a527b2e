"""The customer's answer on the page: pasted, entered in the design, and held against it since."""

from datetime import date
from typing import Any

from render.page.cards.cards import attempt
from render.page.server.arguments import Refused, Value
from render.page.server.host import Host
from render.page.server.roles import Right
from scenes.customer.reply import agreement_words
from scenes.problems import DESIGN_REFUSALS

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
            ``agreed``, ``changed``: sentences about the latest, empty where there is nothing to
            say.
        """
        desk = self._page.desk
        try:
            agreed, changed = agreement_words(desk.design, desk.shelf, desk.beside)
        except DESIGN_REFUSALS as problem:
            agreed, changed = "", str(problem)
        records = [record.model_dump() for record in reversed(desk.design.agreed)]
        return {"records": records, "agreed": agreed, "changed": changed}

    def answer_enter(self, text: Value) -> Json:
        """Enter an answer in the design.

        Parameters
        ----------
        text : Value
            The answer as it came, with its line ends.
        """
        if not isinstance(text, str):
            raise Refused("answer_enter: text must be a text; paste the customer's answer.")
        return attempt(self._page.desk, lambda: self._page.desk.agree(text, date.today()))
