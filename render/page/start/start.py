"""New for my rod: the questions before a first design, answered in any order.

Answers may be unfinished for as long as the builder likes: they stay in the dialog, and each that
does not fit yet has its reason beside it.
"""

from typing import Any

from materials.shelf import Shelf
from render.common.plain_name import plain_name
from render.page.cards.summaries import summary_of
from render.page.files.files import Files, picture_of_sample
from render.page.server.arguments import Flag, Values
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.workers.background import run_in_background
from scenes.design.document import Design
from scenes.design.field_words import in_words
from scenes.problems import DESIGN_REFUSALS
from scenes.starting.answers import field_at_fault, open_problems, read_answers
from scenes.starting.first_design import first_design, first_text, remarks
from scenes.starting.wrap_kinds import WRAP_KINDS

__all__ = ["attach"]

Json = dict[str, Any]


def attach(page: Host, files: Files) -> None:
    """Add the questions to the page.

    Parameters
    ----------
    page : Host
    files : Files
        The file menu, which asks about unsaved changes.
    """
    Start(page, files)


class Start:
    """The questions before a first design.

    Parameters
    ----------
    page : Host
    files : Files
    """

    def __init__(self, page: Host, files: Files) -> None:
        self.page = page
        self.files = files
        for name in ("start_choices", "start_look", "start_make"):
            page.methods.declare(name, Right.OWN, getattr(self, name))

    @property
    def _shelf(self) -> Shelf:
        """The shelf of a design that has no file yet."""
        return self.page.desk.shelf_of_new

    def start_choices(self) -> Json:
        """List the kinds of wrap, with pictures and threads, and the threads of the shelf."""
        return {
            "wraps": [
                {
                    "name": kind.name,
                    "description": kind.description,
                    "picture": picture_of_sample(kind.sample),
                    "threads": list(kind.threads),
                }
                for kind in WRAP_KINDS
            ],
            "threads": [
                {
                    "name": thread.name,
                    "kind": thread.kind.value,
                    "size": thread.size,
                    "colour": thread.colour,
                }
                for thread in self._shelf.threads
            ],
        }

    async def start_look(self, answers: Values) -> Json:
        """Say which answers do not fit yet, and what the design would be.

        Parameters
        ----------
        answers : Values
            Text by question (`scenes.starting.answers.FIELDS`).

        Returns
        -------
        dict
            ``problems``: one sentence by question; ``facts``: a few words for each layer, empty
            while there are problems; ``remarks``: what would be otherwise than asked.
        """
        problems = open_problems(answers)
        answer: Json = {"problems": _sentences(problems), "facts": [], "remarks": []}
        if problems:
            return answer
        read, shelf = read_answers(answers), self._shelf
        try:
            design = await run_in_background(lambda: first_design(read, shelf))
        except DESIGN_REFUSALS as problem:
            answer["problems"] = _sentences(_by_question(problem))
            return answer
        return answer | {"facts": _facts(design), "remarks": remarks(read, design)}

    async def start_make(self, answers: Values, discard: Flag = False) -> Json:
        """Replace the document by a first design.

        Parameters
        ----------
        answers : Values
            Text by question.
        discard : Flag
            Discard unsaved changes without asking.

        Returns
        -------
        dict
            The answer to an edit, with ``problems`` as `start_look` has them.
        """
        try:
            read, shelf = read_answers(answers), self._shelf
            text = await run_in_background(lambda: first_text(read, shelf))
        except DESIGN_REFUSALS as problem:
            problems = open_problems(answers) or _by_question(problem)
            return {
                "problem": "Some answers do not fit yet.",
                "problems": _sentences(problems),
                "field": "",
                "ask": False,
                "revision": self.page.desk.revision,
            }
        desk = self.page.desk
        answer = self.files.replace_document(
            lambda: desk.open_text(text, plain_name(read.title) or "rod"),
            lambda: " ".join([f"{read.title} is laid out.", *remarks(read, desk.design)]),
            discard,
        )
        return {**answer, "problems": {}}


def _facts(design: Design) -> list[str]:
    """Describe each layer in a few words."""
    units = design.units
    described = [(layer.kind, summary_of(layer, units)) for layer in design.layers]
    return [f"{kind}: {words}" if words else kind for kind, words in described]


def _by_question(problem: ValueError) -> dict[str, str]:
    field = getattr(problem, "field", "")
    return {field_at_fault(field): str(problem).removeprefix(f"{field}: ")}


def _sentences(problems: dict[str, str]) -> dict[str, str]:
    return {field: in_words(words[:1].upper() + words[1:]) for field, words in problems.items()}
