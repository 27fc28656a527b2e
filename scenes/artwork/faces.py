"""Faces to set text in: those that ship with Turnlight, and those of the system."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path

from scenes.decoding import outlines
from scenes.decoding.cache import decoded
from scenes.decoding.errors import DecodingError
from scenes.decoding.process import Limits

__all__ = ["FONT_LIMITS", "Face", "face_with", "missing_in", "shipped_face"]

FONT_LIMITS = Limits(
    cpu_s=3.0, wall_s=12.0, memory=400_000_000, output=20 * outlines.MOST_POINTS + 100_000
)
"""Measured: 0.25 s of one core and 0.14 GB for a font of 25 MB with 65,000 glyphs."""

_MOST_FILE = 64_000_000
"""Largest font file of the system that is read, bytes."""

_MOST_TRIED = 300
"""Most font files of the system that are read to find a letter."""

_SEARCH_S = 10.0
"""Longest search, seconds."""

_SUFFIXES = (".ttf", ".otf", ".ttc", ".otc")

_REGULAR = 80
"""Weight of a regular face in Fontconfig."""


@dataclass(frozen=True, slots=True)
class Face:
    """A font.

    Parameters
    ----------
    data : bytes
        The font file.
    number : int
        Of a font in a collection.
    trusted : bool
        Whether it ships with Turnlight; others are read in a child process.
    """

    data: bytes
    number: int = 0
    trusted: bool = False


@lru_cache(maxsize=8)
def shipped_face(package: str, path: str) -> Face:
    """A face that comes with Turnlight or with a library that it depends on.

    Parameters
    ----------
    package, path : str
        Package and file in it.
    """
    return Face((resources.files(package) / path).read_bytes(), trusted=True)


@lru_cache(maxsize=512)
def missing_in(face: Face, text: str) -> str:
    """Letters of a text that a face lacks.

    Parameters
    ----------
    face : Face
    text : str

    Raises
    ------
    DecodingError
        If the face cannot be read.
    """
    if face.trusted:
        return outlines.missing_letters(face.data, text)
    header, _ = decoded(
        "missing_letters", face.data, {"text": text, "number": face.number}, FONT_LIMITS
    )
    found = header.get("letters")
    return found if isinstance(found, str) else text


@lru_cache(maxsize=256)
def face_with(letters: str) -> Face | None:
    """Find a face of the system that has some letters; None if there is none.

    Parameters
    ----------
    letters : str
    """
    end = time.monotonic() + _SEARCH_S
    for count, (path, number) in enumerate(_candidates(letters)):
        if count >= _MOST_TRIED or time.monotonic() > end:
            break
        try:
            if path.stat().st_size > _MOST_FILE:
                continue
            face = Face(path.read_bytes(), number)
            if not missing_in(face, letters):
                return face
        except (OSError, DecodingError):
            continue
    return None


def _candidates(letters: str) -> Iterator[tuple[Path, int]]:
    """Font files of the system that may have some letters, and the numbers of the fonts in them."""
    listed = _listed_by_fontconfig(letters)
    if listed is not None:
        yield from listed
        return
    files = [
        Path(folder, name)
        for root in _folders()
        for folder, _, names in os.walk(root)
        for name in names
        if name.lower().endswith(_SUFFIXES)
    ]
    yield from ((file, 0) for file in sorted(files, key=lambda file: _plainness(file.stem)))


def _plainness(name: str) -> tuple[bool, bool, str]:
    """Sort key: regular faces without serifs first."""
    low = name.lower()
    slanted = any(word in low for word in ("bold", "italic", "oblique", "mono", "light", "thin"))
    return slanted, "sans" not in low, low


def _listed_by_fontconfig(letters: str) -> list[tuple[Path, int]] | None:
    """Faces that Fontconfig knows with all of some letters; None where it is not installed."""
    wanted = " ".join(f"{ord(letter):x}" for letter in sorted(set(letters)))
    try:
        answer = subprocess.run(
            [
                "fc-list",
                "-f",
                "%{weight}\t%{slant}\t%{index}\t%{file}\n",
                f":charset={wanted}:outline=True",
            ],
            capture_output=True,
            text=True,
            timeout=_SEARCH_S,
            check=True,
        ).stdout
    except (OSError, subprocess.SubprocessError, UnicodeError):
        return None
    found = []
    for line in answer.splitlines():
        weight, slant, index, file = (line.split("\t", 3) + [""] * 4)[:4]
        if not (index.isdecimal() and file.lower().endswith(_SUFFIXES)):
            continue
        off = abs(int(weight) - _REGULAR) if weight.isdecimal() else 1000
        # Beyond 16 bits an index says which instance of a variable face it is.
        found.append(((slant != "0", off, *_plainness(Path(file).stem)), Path(file), int(index)))
    return [(path, index & 0xFFFF) for _, path, index in sorted(found)]


def _folders() -> list[Path]:
    """Usual folders of fonts, the user's own first."""
    home = Path.home()
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA", str(home / "AppData/Local"))
        own, common = (
            Path(local, "Microsoft/Windows/Fonts"),
            os.environ.get("WINDIR", r"C:\Windows"),
        )
        return [own, Path(common, "Fonts")]
    if sys.platform == "darwin":
        return [home / "Library/Fonts", Path("/Library/Fonts"), Path("/System/Library/Fonts")]
    data = os.environ.get("XDG_DATA_HOME") or str(home / ".local/share")
    shared = os.environ.get("XDG_DATA_DIRS") or "/usr/local/share:/usr/share"
    return [home / ".fonts", *(Path(one, "fonts") for one in (data, *shared.split(":")))]
