"""The undo history: designs, their texts, and changes of the shelf, step by step."""

from dataclasses import dataclass, replace

from render.editor.shelf_edits import ShelfEdit
from scenes.design.differences import differences
from scenes.design.document import Design, document_of
from scenes.design.rod import at_wrap, put_back
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
        Seen from the wrap that is worked at.
    document : Design
        As it is written: the same rod with its first wrap first.
    description : str
        The change in words.
    gesture : str
        Identifier of the gesture; the changes of one gesture are one step. Empty for a single
        change.
    shelf : ShelfEdit, optional
        Change of the builder's own shelf.
    """

    design: Design
    document: Design
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
        self.steps = [Step(design, design)]
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

    def work_at(self, name: str, at: int | None = None) -> None:
        """Look at the rod from one of its wraps; edits are made on it from now on.

        Parameters
        ----------
        name : str
            Name of the wrap.
        at : int, optional
            Index of the step that is looked at so; the current one by default.

        Raises
        ------
        DesignProblem
            If there is no such wrap.
        """
        at = self.at if at is None else at
        step = self.steps[at]
        self.steps[at] = replace(step, design=at_wrap(step.document, name))

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
            Seen from the wrap that is worked at, as `now.design` is.
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
        document = put_back(now.document, now.design.wrap_name, design)
        same = shelf is None and document_of(document) == document_of(now.document)
        if same and not continued:
            return False
        before = self.steps[self.at - 1].design if continued else now.design
        at = self.at if continued else self.at + 1
        del self.steps[at:], self._texts[at:]
        # A finish that was shared is now that of this wrap alone.
        seen = at_wrap(document, design.wrap_name)
        described = description or _describe(before, design)
        self.steps.append(Step(seen, document, described, gesture, shelf))
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
            before, document = self._text(at - 1), document_of(self.steps[at].document)
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
