"""The builder's own shelf for a new design: the one that is open goes with it."""

from pathlib import Path

from materials.shelf import Shelf, ShelfProblem
from render.editor.history import History
from scenes.files import storage

__all__ = ["naming_shelf"]


def naming_shelf(text: str, name: str | None, folder: Path | None) -> str:
    """Have a new design name a shelf, unless it names one already or there is none.

    Parameters
    ----------
    text : str
        Text of the design, with comments.
    name : str or None
        File name of the shelf; None for no shelf.
    folder : Path or None
        Folder of the shelf.

    Raises
    ------
    DesignProblem
        If the text is no design.
    """
    if name is None or folder is None:
        return text
    design = storage.parse(text)
    if design.shelf is not None:
        return text
    try:
        Shelf.load(folder / name)
    except ShelfProblem:
        return text  # it has been removed or spoilt since: the new design begins without it
    history = History(design, text)
    history.record(design.model_copy(update={"shelf": name}))
    return history.text.text
