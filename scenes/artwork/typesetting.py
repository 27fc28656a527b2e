"""Lines of text set in the first of some faces that has each letter.

Decals, the bench sheet, the template and captions are set here wherever letters join, carry
accents, run from right to left, or are missing in the usual face.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scenes.artwork.faces import FONT_LIMITS, Face, face_with, missing_in
from scenes.artwork.text_runs import TextRun, clusters_of, ordered, runs_of
from scenes.decoding import outlines
from scenes.decoding.cache import decoded
from scenes.decoding.errors import DecodingError, Reason
from scenes.problems import one_of, shown

__all__ = [
    "FacedRun",
    "Line",
    "SetRun",
    "missing_sentence",
    "outlines_of",
    "runs_by_face",
    "set_line",
]

Array = NDArray[np.float64]

_MOST_NAMED = 12
"""Most letters that a sentence names."""


@dataclass(frozen=True, slots=True)
class FacedRun:
    """Letters of one direction, one script and one face.

    Parameters
    ----------
    run : TextRun
    face : Face or None
        None if no face has the letters.
    """

    run: TextRun
    face: Face | None


@dataclass(frozen=True, slots=True, eq=False)
class SetRun:
    """Outlines of a run.

    Parameters
    ----------
    contours : tuple of (n, 2) float
        Closed, in em from the run's origin on the base line; x to the right, y up.
    advance : float
        Width, em.
    capital : float
        Height of a capital H, em; 0 if the face has none.
    """

    contours: tuple[Array, ...]
    advance: float
    capital: float


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line of text.

    Parameters
    ----------
    contours : tuple of (n, 2) float
        Closed, in em from the line's origin on the base line; x to the right, y up.
    advance : float
        Width, em.
    capital : float
        Height of a capital H of the first face, em; 0 if it is not used or has none.
    missing : str
        Letters that no face has; they are left out.
    """

    contours: tuple[Array, ...]
    advance: float
    capital: float
    missing: str


def runs_by_face(text: str, faces: Sequence[Face], direction: str | None = None) -> list[FacedRun]:
    """Divide a line into runs of one face, in the order in which they stand from left to right.

    Parameters
    ----------
    text : str
        Normalised.
    faces : sequence of Face
        Faces to take letters from, before those of the system.
    direction : str, optional
        Direction of the line, ``L`` or ``R``; by default that of its first letter that has one.

    Raises
    ------
    DecodingError
        If one of `faces` cannot be read.
    """
    chosen = _faces_of(text, faces)
    made: list[FacedRun] = []
    for run in ordered(runs_of(text, direction)):
        clusters = list(clusters_of(run.text))
        own = [chosen[cluster] for cluster in clusters]
        for index in range(1, len(own)):
            # Spaces are as wide as the font of their words has them.
            before = own[index - 1]
            if clusters[index].isspace() and before and not missing_in(before, clusters[index]):
                own[index] = before
        parts = []
        start = 0
        for face, group in itertools.groupby(own):
            end = start + len(list(group))
            parts.append(FacedRun(replace(run, text="".join(clusters[start:end])), face))
            start = end
        made += reversed(parts) if run.rtl else parts
    return made


def outlines_of(face: Face, runs: Sequence[TextRun]) -> list[SetRun]:
    """Shape some runs of one face.

    Parameters
    ----------
    face : Face
    runs : sequence of TextRun

    Raises
    ------
    DecodingError
        If the face cannot be read, or lacks a letter.
    """
    asked = [(run.text, run.rtl) for run in runs]
    if face.trusted:
        made = outlines.letters_of(face.data, asked)
        each = [[np.array(contour) for contour in contours] for contours in made.runs]
        advances, capital, unit = made.advances, made.capital, made.unit
    else:
        each, advances, capital, unit = _untrusted_outlines(face, asked)
    if not (np.isfinite([*advances, capital]).all() and np.isfinite(unit) and unit > 0):
        raise DecodingError(Reason.BROKEN)
    return [
        SetRun(tuple(contour / unit for contour in contours), advance / unit, capital / unit)
        for contours, advance in zip(each, advances, strict=True)
    ]


def set_line(
    text: str, faces: Sequence[Face], direction: str | None = None, *, fallback: bool = True
) -> Line:
    """Set a line of text.

    Parameters
    ----------
    text : str
        Normalised.
    faces : sequence of Face
    direction : str, optional
        As in `runs_by_face`.
    fallback : bool, optional
        Whether letters that the first face lacks are taken from others.

    Raises
    ------
    DecodingError
        If a face cannot be read, or lacks a letter where there is no fallback.
    """
    first = faces[0]
    if fallback:
        parts = runs_by_face(text, faces, direction)
    else:
        parts = [FacedRun(run, first) for run in ordered(runs_of(text, direction))]
    at, capital = 0.0, 0.0
    contours: list[Array] = []
    for part in parts:
        if part.face is None:
            continue
        (made,) = outlines_of(part.face, [part.run])
        contours += [np.add(contour, (at, 0.0)) for contour in made.contours]
        at += made.advance
        capital = made.capital if part.face is first else capital
    missing = "".join(part.run.text for part in parts if part.face is None)
    return Line(tuple(contours), at, capital, "".join(dict.fromkeys(missing)))


def missing_sentence(what: str, letters: str) -> str:
    """Say which letters could not be printed.

    Parameters
    ----------
    what : str
        What they were to be printed on.
    letters : str
    """
    named = one_of((shown(letter) for letter in letters[:_MOST_NAMED]), "and")
    more = f" and {len(letters) - _MOST_NAMED} more" if len(letters) > _MOST_NAMED else ""
    return (
        f"{what}: no font of this system has {named}{more}; an empty box is printed in place of "
        "each. Install a font that has them, or use other letters."
    )


def _untrusted_outlines(
    face: Face, runs: Sequence[tuple[str, bool]]
) -> tuple[list[list[Array]], list[float], float, float]:
    """Read outlines in a child process, and check what it answers."""
    arguments = {"runs": [list(run) for run in runs], "number": face.number}
    header, block = decoded("letters", face.data, arguments, FONT_LIMITS)
    many, capital, unit = (header.get(key) for key in ("contours", "capital", "unit"))
    if not (isinstance(many, int) and isinstance(capital, float) and isinstance(unit, float)):
        raise DecodingError(Reason.BROKEN)
    if many < 0 or many > len(block):
        raise DecodingError(Reason.BROKEN)
    head = 4 * (len(runs) + many)
    counts = np.frombuffer(block[: head - head % 4], np.uint32)[: len(runs) + many].astype(np.intp)
    of_runs, of_contours = counts[: len(runs)], counts[len(runs) :]
    rest = block[head:]
    whole = counts.size == len(runs) + many and of_runs.sum() == many
    if not whole or len(rest) != 8 * (len(runs) + 2 * int(of_contours.sum())):
        raise DecodingError(Reason.BROKEN)
    numbers = np.frombuffer(rest, np.float64)
    points = numbers[len(runs) :].reshape(-1, 2)
    if not np.isfinite(points).all():
        raise DecodingError(Reason.BROKEN)
    contours = np.split(points, np.cumsum(of_contours)[:-1]) if many else []
    ends = np.cumsum(of_runs)
    each = [contours[end - count : end] for count, end in zip(of_runs, ends, strict=True)]
    return each, numbers[: len(runs)].tolist(), capital, unit


def _faces_of(text: str, faces: Sequence[Face]) -> dict[str, Face | None]:
    """Choose the face of each cluster: the first that has its letters, else one of the system."""
    left = list(dict.fromkeys(clusters_of(text)))
    chosen: dict[str, Face | None] = {}
    for face in faces:
        lacking = set(missing_in(face, "".join(left)))
        chosen.update({cluster: face for cluster in left if not lacking.intersection(cluster)})
        left = [cluster for cluster in left if cluster not in chosen]
        if not left:
            return chosen
    together = face_with("".join(left))
    chosen.update({cluster: together or face_with(cluster) for cluster in left})
    return chosen
