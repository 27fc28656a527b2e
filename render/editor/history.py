"""The undo history: designs, their texts, and changes of the shelf, step by step."""

from dataclasses import dataclass

from render.editor.shelf_edits import ShelfEdit
from scenes.design.differences import differences
from scenes.design.document import Design, document_of
from scenes.files.text_edits import rewritten
from scenes.files.toml_writing import document_text
from scenes.problems import DesignProblem

__all__ = ["History", "Step", "Text"]

_MOST_STEPS = 500
"""Changes that can be undone."""

_ORDER = tuple(Design.model_fields)


@dataclass(frozen=True, slots=True)
class Step:
    """The document after one change.

    Parameters
    ----------
    design : Design
    description : str
        The change in words.
    gesture : str
        Identifier of the gesture; the changes of one gesture are one step. Empty for a single
        change.
    shelf : ShelfEdit, optional
        Change of the builder's own shelf.
    """

    design: Design
    description: str = ""
    gesture: str = ""
    shelf: ShelfEdit | None = None


@dataclass(frozen=True, slots=True)
class Text:
    """Text of a document as in a file.

    Parameters
    ----------
    text : str
    comments_kept : bool
        Whether the builder's comments could be preserved in it.
    """

    text: str
    comments_kept: bool = True


class History:
    """The steps of one document, from the opened state to the last step that was undone.

    Parameters
    ----------
    design : Design
    text : str
        Text of its file, with comments.
    """

    def __init__(self, design: Design, text: str) -> None:
        self.steps = [Step(design)]
        self.at = 0
        self._texts: list[Text | None] = [Text(text)]

    @property
    def now(self) -> Step:
        """The current step."""
        return self.steps[self.at]

    @property
    def text(self) -> Text:
        """The document's current text; computed at the first access."""
        return self._text(self.at)

    @text.setter
    def text(self, text: Text) -> None:
        """Replace the current text by the saved one.

        Parameters
        ----------
        text : Text
        """
        self._texts[self.at] = text

    def record(
        self,
        design: Design,
        gesture: str = "",
        description: str = "",
        shelf: ShelfEdit | None = None,
    ) -> bool:
        """Append a step; steps that were undone are discarded.

        Parameters
        ----------
        design : Design
        gesture : str
            Identifier of the gesture that the change belongs to; empty for a single change.
        description : str
            The change in words; by default the differences of the designs.
        shelf : ShelfEdit, optional
            Change of the builder's own shelf.

        Returns
        -------
        bool
            Whether anything has changed.
        """
        now = self.now
        continued = bool(gesture) and now.gesture == gesture and self.at > 0
        if shelf is not None and shelf.before == shelf.after:
            shelf = None
        same = shelf is None and document_of(design) == document_of(now.design)
        if same and not continued:
            return False
        before = self.steps[self.at - 1].design if continued else now.design
        at = self.at if continued else self.at + 1
        del self.steps[at:], self._texts[at:]
        self.steps.append(Step(design, description or _describe(before, design), gesture, shelf))
        self._texts.append(None)
        self.at = at
        if len(self.steps) > _MOST_STEPS:
            self._text(1)
            del self.steps[0], self._texts[0]
            self.at -= 1
        return True

    def _text(self, at: int) -> Text:
        text = self._texts[at]
        if text is None:
            before, document = self._text(at - 1), document_of(self.steps[at].design)
            try:
                text = Text(rewritten(before.text, document, _ORDER), before.comments_kept)
            except DesignProblem:
                text = Text(document_text(document), comments_kept=False)
            self._texts[at] = text
        return text


def _describe(before: Design, after: Design) -> str:
    """Describe a change in a few words."""
    changes = differences(before, after) or differences(after, before)
    if changes:
        return ", ".join(changes[:2])
    old, new = document_of(before), document_of(after)
    return ", ".join(key for key in {**old, **new} if old.get(key) != new.get(key)) or "layout"
