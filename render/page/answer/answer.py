"""The customer's answer on the page: pasted, entered in the design, and held against it since."""

from datetime import date
from typing import Any

from render.page.cards.cards import attempt
from render.page.picture.picture import Picture
from render.page.server.arguments import Refused, Value
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.server.sockets import Client
from scenes.customer.reply import agreement_words
from scenes.problems import DESIGN_REFUSALS

__all__ = ["attach"]

Json = dict[str, Any]


def attach(page: Host, picture: Picture) -> None:
    """Add the customer's answer to the page.

    Parameters
    ----------
    page : Host
    picture : Picture
        Gives the design that a client has pinned, which the customer may have chosen.
    """
    Answer(page, picture)


class Answer:
    """The customer's answers to one design.

    Parameters
    ----------
    page : Host
    picture : Picture
    """

    def __init__(self, page: Host, picture: Picture) -> None:
        self._page = page
        self._picture = picture
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

    def answer_enter(self, client: Client, text: Value) -> Json:
        """Enter an answer in the design.

        Parameters
        ----------
        client : Client
        text : Value
            The answer as it came, with its line ends.
        """
        if not isinstance(text, str):
            raise Refused("answer_enter: text must be a text; paste the customer's answer.")
        pin = self._picture.view_of(client).pin
        return attempt(self._page.desk, lambda: self._page.desk.agree(text, date.today(), pin))
