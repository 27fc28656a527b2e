"""What was changed, step by step, so that it can be taken back: designs, texts, and the shelf."""

from dataclasses import dataclass

from render.editor.shelf_edits import ShelfEdit
from scenes.design.differences import differences
from scenes.design.document import Design, document_of
from scenes.files.text_edits import rewritten
from scenes.files.toml_writing import written
from scenes.problems import DesignProblem

__all__ = ["History", "Step", "Text"]

_MOST_STEPS = 500
"""Changes that can be taken back: a long evening's work."""

_ORDER = tuple(Design.model_fields)


@dataclass(frozen=True, slots=True)
class Step:
    """The document after one change.

    Parameters
    ----------
    design : Design
    told : str
        What the change was, in words.
    gesture : str
        Changes of one gesture are one step; empty for a change of its own.
    shelf : ShelfEdit, optional
        What the change changed on the builder's own shelf.
    """

    design: Design
    told: str = ""
    gesture: str = ""
    shelf: ShelfEdit | None = None


@dataclass(frozen=True, slots=True)
class Text:
    """A document as a file, and whether the builder's comments could be kept in it."""

    text: str
    kept: bool = True


class History:
    """The steps of one document, from how it was opened to the last that was taken back.

    Parameters
    ----------
    design : Design
    text : str
        Its file, comments and all.
    """

    def __init__(self, design: Design, text: str) -> None:
        self.steps = [Step(design)]
        self.at = 0
        self._texts: list[Text | None] = [Text(text)]

    @property
    def now(self) -> Step:
        """The step that the document is at."""
        return self.steps[self.at]

    @property
    def text(self) -> Text:
        """The document's text as it stands; worked out when it is first asked for."""
        return self._text(self.at)

    @text.setter
    def text(self, text: Text) -> None:
        self._texts[self.at] = text

    def put(
        self, design: Design, gesture: str = "", told: str = "", shelf: ShelfEdit | None = None
    ) -> bool:
        """Go on to a changed design; what was taken back is gone.

        Parameters
        ----------
        design : Design
        gesture : str
        told : str
            What the change is, in words; what differs, if not given.
        shelf : ShelfEdit, optional
            What it has changed on the builder's own shelf.

        Returns
        -------
        bool
            Whether anything has changed.
        """
        now = self.now
        going_on = bool(gesture) and now.gesture == gesture and self.at > 0
        if shelf is not None and shelf.before == shelf.after:
            shelf = None
        same = shelf is None and document_of(design) == document_of(now.design)
        if same and not going_on:
            return False
        before = self.steps[self.at - 1].design if going_on else now.design
        at = self.at if going_on else self.at + 1
        del self.steps[at:], self._texts[at:]
        self.steps.append(Step(design, told or _told(before, design), gesture, shelf))
        self._texts.append(None)
        self.at = at
        if len(self.steps) > _MOST_STEPS:
            self._text(1)
            del self.steps[0], self._texts[0]
            self.at -= 1
        return True

    def _text(self, at: int) -> Text:
        known = self._texts[at]
        if known is None:
            before, document = self._text(at - 1), document_of(self.steps[at].design)
            try:
                known = Text(rewritten(before.text, document, _ORDER), before.kept)
            except DesignProblem:
                known = Text(written(document), kept=False)
            self._texts[at] = known
        return known


def _told(before: Design, after: Design) -> str:
    """Say in a few words what a change was."""
    told = differences(before, after) or differences(after, before)
    if told:
        return ", ".join(told[:2])
    old, new = document_of(before), document_of(after)
    return ", ".join(key for key in {**old, **new} if old.get(key) != new.get(key)) or "layout"
