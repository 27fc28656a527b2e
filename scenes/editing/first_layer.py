"""The first layer of a design file that has none yet, and so is no valid design."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from materials.shelf import Shelf
from materials.toml_text import TextProblem, named, parse_toml
from scenes.design.document import Design, design_from
from scenes.design.layers import KINDS
from scenes.editing import layer_defaults
from scenes.editing.list_edits import removed
from scenes.files import storage
from scenes.files.companion_files import CompanionFiles
from scenes.parts.layer import WoundModel
from scenes.problems import DesignProblem

__all__ = ["text_with_first_layer"]

_COVER = next(kind.name for kind in KINDS if issubclass(kind.model, WoundModel))


def text_with_first_layer(text: str, kind: str, path: Path) -> str | None:
    """Add the first layer to the text of a design file.

    A relief comes with a cover over it, since none may stay bare.

    Parameters
    ----------
    text : str
        Text of the file.
    kind : str
        Kind of layer.
    path : Path
        The file: its shelf and its pictures are beside it.

    Returns
    -------
    str or None
        None if the file has a layer, or is no table at all; then it is read as any design.

    Raises
    ------
    DesignProblem
        If the rest of the design is not valid, or the kind cannot be the first layer.
    """
    name = named(path)
    try:
        document = parse_toml(text, storage.DESIGN_TEXT, name)
    except TextProblem:
        return None
    if document.get("layers", []) != []:
        return None
    try:
        made = _with_layer(document, kind, path)
    except DesignProblem as problem:
        raise DesignProblem(f"{name}: {problem}", field=problem.field) from None
    return storage.text_of(made, text)


def _with_layer(document: Mapping[str, Any], kind: str, path: Path) -> Design:
    """Add the layer beside a cover, and take the cover away again where it is not needed."""
    held = _with_cover(document)
    if kind == _COVER:
        return held
    shelf = storage.shelf_for(held, path)
    made = layer_defaults.added(held, kind, shelf, CompanionFiles.of(path))
    if len(made.layers) > 2:
        return made
    spare = next(index for index, layer in enumerate(made.layers) if layer.kind == _COVER)
    try:
        return removed(made, f"layers.{spare}")
    except DesignProblem:
        return made


def _with_cover(document: Mapping[str, Any]) -> Design:
    """Wind the first thread of the shelf, with the usual margin if the blank is long enough."""
    cover = {"kind": _COVER, "thread": Shelf.shipped().threads[0].name}
    try:
        return design_from({**document, "layers": [cover]})
    except DesignProblem:
        return design_from({**document, "layers": [{**cover, "margin": 0}]})
