"""References as files: for each sample one picture of all turns, and what is known of it.

They are kept in the source tree for tests and measurements, and are not installed.
"""

import json
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from render.common.files import replacing
from render.measure.references.fingerprint import fingerprint
from render.request.subject import Pixels
from scenes.stage.stage import Stage

__all__ = ["FOLDER", "Making", "Reference", "outdated", "read", "write"]

FOLDER = Path(__file__).parent / "pictures"


@dataclass(frozen=True, slots=True)
class Making:
    """How a reference was made.

    Parameters
    ----------
    shown : str
        `fingerprint` of the stage.
    turns : tuple of float
        Turns of the rod, rad.
    paths : tuple of int
        Paths through each pixel of the rod, by turn; the card has a quarter of them.
    halves : tuple of float
        Mean FLIP of the picture of half the paths against that of the other half, by turn.
    engine : str
        What traced the paths.
    """

    shown: str
    turns: tuple[float, ...]
    paths: tuple[int, ...]
    halves: tuple[float, ...]
    engine: str


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """Converged photographs of a sample, without a lens's blur and not denoised.

    Parameters
    ----------
    name : str
        Of the sample.
    making : Making
    pictures : (turns, height, width, 3) uint8
        sRGB.
    """

    name: str
    making: Making
    pictures: Pixels


def write(reference: Reference, folder: Path = FOLDER) -> int:
    """Write a reference, and return its bytes.

    Parameters
    ----------
    reference : Reference
    folder : Path
        Made if it does not exist.

    Raises
    ------
    RequestProblem
        If a file cannot be written.
    """
    folder.mkdir(exist_ok=True)
    picture, notes = _paths(reference.name, folder)
    column = reference.pictures.reshape(-1, *reference.pictures.shape[2:])
    with replacing(picture) as whole:
        Image.fromarray(column).save(whole, format="WEBP", lossless=True, quality=100, method=6)
    with replacing(notes) as whole:
        text = json.dumps(asdict(reference.making), indent=1)
        whole.write_text(text + "\n", encoding="utf-8")
    return picture.stat().st_size + notes.stat().st_size


def read(name: str, folder: Path = FOLDER) -> Reference | None:
    """Read the reference of a sample; None if it has none.

    Parameters
    ----------
    name : str
    folder : Path

    Raises
    ------
    ValueError
        If the files do not fit together.
    """
    picture, notes = _paths(name, folder)
    if not picture.exists() or not notes.exists():
        return None
    found = json.loads(notes.read_text(encoding="utf-8"))
    lists = {field: tuple(found[field]) for field in ("turns", "paths", "halves")}
    making = Making(found["shown"], engine=found["engine"], **lists)
    with Image.open(picture) as image:
        column = np.asarray(image.convert("RGB"))
    count = len(making.turns)
    if count == 0 or column.shape[0] % count:
        raise ValueError(f"{picture.name} is not a column of {count} pictures")
    return Reference(name, making, column.reshape(count, -1, *column.shape[1:]))


def outdated(reference: Reference, stage: Stage) -> str | None:
    """Say that a sample is no longer what its reference shows; None if it is.

    Parameters
    ----------
    reference : Reference
    stage : Stage
        Of the sample, in a picture of the reference's proportions.
    """
    now = fingerprint(stage)
    if now == reference.making.shown:
        return None
    return (
        f"The reference of {reference.name} shows an earlier state of it ({reference.making.shown},"
        f" now {now}); make it anew with python -m render.measure.make_references {reference.name}."
    )


def _paths(name: str, folder: Path) -> tuple[Path, Path]:
    return folder / f"{name}.webp", folder / f"{name}.json"
