"""Import of files into a design: each is checked, then written beside it under a safe name.

Neither the file nor its name is trusted. No existing file is replaced, and a file that is not of
the kind needed is not written.
"""

import os
import re
import unicodedata
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scenes.artwork.images import MOST_SIDE, read_image
from scenes.artwork.lettering import check_font
from scenes.artwork.shipped import shipped_names
from scenes.design.layers import kind_of, layer_path
from scenes.files.atomic import PlaceProblem, write_new
from scenes.files.companion_files import MOST_BYTES, SHIPPED, CompanionFiles
from scenes.files.device_names import is_device_name
from scenes.files.neighbours import neighbours
from scenes.parts.layer import LayerModel
from scenes.problems import DesignProblem, one_of, printable, shown
from scenes.quantities import FileName, marker_of

if TYPE_CHECKING:
    from materials.shelf import Shelf
    from scenes.design.document import Design

__all__ = [
    "Choice",
    "accepted_files",
    "changes_for",
    "checked_name",
    "choices",
    "file_marker",
    "free_name",
    "is_file_field",
    "too_large",
    "write_file",
]

_LONGEST_STEM = 60
_MOST_OF_A_NAME = 1000
_MOST_LISTED = 200

_PICTURE = ".png"


@dataclass(frozen=True, slots=True)
class Choice:
    """A file that a field may name, and whether it ships with Turnlight."""

    name: str
    shipped: bool


def file_marker(design: "Design", path: str) -> FileName:
    """Find what kind of file a field takes.

    Parameters
    ----------
    design : Design
    path : str
        Path of the field.

    Raises
    ------
    DesignProblem
        If there is no such field, or it takes no file.
    """
    layer, key = _layer_at(design, path)
    info = type(layer).model_fields.get(key) if layer is not None else None
    marker = marker_of(info) if info is not None else None
    if not isinstance(marker, FileName):
        raise DesignProblem(f"{shown(path)} is no field for a file.", field=path)
    return marker


def is_file_field(design: "Design", path: str) -> bool:
    """Return whether a field takes a file.

    Parameters
    ----------
    design : Design
    path : str
        Path of the field.
    """
    try:
        file_marker(design, path)
    except DesignProblem:
        return False
    return True


def choices(folder: Path | None, marker: FileName) -> list[Choice]:
    """List the files that a field may name: those beside the design, and shipped ones.

    Parameters
    ----------
    folder : Path or None
        Folder of the design file; None where it has none.
    marker : FileName
        What the field takes.
    """
    here = () if folder is None else neighbours(folder, marker.endings)
    own = [one.name for one in islice((p for p in here if _is_choice(p, marker)), _MOST_LISTED)]
    shipped = [one for one in shipped_names() if one.lower().endswith(marker.endings)]
    return [Choice(one, shipped=False) for one in own] + [
        Choice(one, shipped=True) for one in shipped if one not in own
    ]


def checked_name(data: bytes, name: str, field: str, marker: FileName) -> str:
    """Check an imported file, and give it a safe name.

    Parameters
    ----------
    data : bytes
        Content of the file.
    name : str
        Name as received: any text, perhaps with a path.
    field : str
        Path of the field that is to name it, for a refusal.
    marker : FileName
        What the field takes.

    Returns
    -------
    str
        A name without a folder, of characters that every system allows.

    Raises
    ------
    DesignProblem
        If it is too large, or not what the field takes.
    """
    last = unicodedata.normalize("NFC", name).replace("\\", "/").rpartition("/")[2]
    called = last or "the file"
    if len(data) > MOST_BYTES:
        raise too_large(called, field)
    if _PICTURE in marker.endings:
        read_image(data, called, field, MOST_SIDE)
    else:
        check_font(data, called, field)
    stem, dot, ending = last.rpartition(".")
    ending = (dot + ending).lower()
    if ending not in marker.endings:
        # The content is right, so a wrong ending is replaced.
        stem, ending = last, marker.endings[0]
    stem = re.sub(r"[^\w ()+-]", "-", stem).strip(" -_")[:_LONGEST_STEM].rstrip() or "file"
    if is_device_name(stem):
        stem = f"file {stem}"
    return stem + ending


def too_large(name: str, field: str) -> DesignProblem:
    """Make the refusal of a file that is too large.

    Parameters
    ----------
    name : str
        Name of the file.
    field : str
        Path of the field that is to name it.
    """
    return DesignProblem(
        f'{field}: "{printable(name)}" is larger than {MOST_BYTES // 1_000_000} MB; give a smaller '
        "one.",
        field=field,
    )


def free_name(folder: Path, name: str, data: bytes) -> tuple[str, bool]:
    """Find a free name for a file beside a design.

    Parameters
    ----------
    folder : Path
        Folder of the design file.
    name : str
        A safe name, from `checked_name`.
    data : bytes
        Content of the file.

    Returns
    -------
    name : str
        With a number if another file, beside the design or shipped, has the name.
    is_there : bool
        Whether a file of that name with the same content exists.

    Raises
    ------
    DesignProblem
        If every number is taken.
    """
    stem, ending = os.path.splitext(name)
    for number in range(1, _MOST_OF_A_NAME):
        candidate = name if number == 1 else f"{stem} {number}{ending}"
        if os.path.lexists(folder / candidate):
            if _holds(CompanionFiles(folder), candidate, data):
                return candidate, True
        elif candidate not in shipped_names():
            return candidate, False
        elif _holds(SHIPPED, candidate, data):
            return candidate, True
    raise DesignProblem(f'there are too many files called "{printable(name)}"; give another name.')


def write_file(folder: Path, name: str, data: bytes) -> None:
    """Write a new file, whole or not at all.

    Parameters
    ----------
    folder : Path
        Folder of the design file.
    name : str
        A safe name.
    data : bytes
        Content of the file.

    Raises
    ------
    DesignProblem
        If there is a file of that name by now, or it cannot be written.
    """
    try:
        is_put = write_new(folder / name, data)
    except PlaceProblem as problem:
        raise DesignProblem(f'"{printable(name)}" {problem}.') from None
    if not is_put:
        raise DesignProblem(f'another program has just put "{printable(name)}" there; try again.')


def changes_for(
    design: "Design", path: str, name: str, beside: CompanionFiles, shelf: "Shelf"
) -> dict[str, Any]:
    """List the changes that set a file field; some layers need other fields changed with it.

    Parameters
    ----------
    design : Design
    path : str
        Path of the field.
    name : str
        Name of the file.
    beside : CompanionFiles
        Where the file is looked up.
    shelf : Shelf

    Returns
    -------
    dict
        New value by path.

    Raises
    ------
    DesignProblem
        If there is no such file, or the layer cannot be made from it.
    """
    layer, key = _layer_at(design, path)
    changes: dict[str, Any] = {path: name}
    if layer is not None:
        also = kind_of(layer).changes_for_file(layer, key, name, path, beside, shelf)
        above = path.rpartition(".")[0]
        changes |= {f"{above}.{field}": value for field, value in also.items()}
    return changes


def _layer_at(design: "Design", path: str) -> tuple[LayerModel | None, str]:
    above, _, key = path.rpartition(".")
    by_path = {layer_path(design.layers, i): layer for i, layer in enumerate(design.layers)}
    return by_path.get(above), key


def _is_choice(path: Path, marker: FileName) -> bool:
    """Whether an ordinary file with the right ending can be named in a design file."""
    name = path.name
    if len(name) > marker.longest or not name.isprintable() or ":" in name or "\\" in name:
        return False
    return path.resolve().parent == path.parent.resolve()


def _holds(beside: CompanionFiles, name: str, data: bytes) -> bool:
    try:
        return beside.read(name, "file") == data
    except DesignProblem:
        return False


def accepted_files(marker: FileName) -> str:
    """Word what a field takes: "a picture (PNG), 20 MB at most".

    Parameters
    ----------
    marker : FileName
        What the field takes.
    """
    kinds = one_of(ending.removeprefix(".").upper() for ending in marker.endings)
    thing = "picture" if _PICTURE in marker.endings else "font"
    return f"a {thing} ({kinds}), {MOST_BYTES // 1_000_000} MB at most"
