"""The version of the program that pictures depend on: the text of its own files."""

import hashlib
from functools import cache
from pathlib import Path

__all__ = ["program_version"]

_PACKAGES = ("geometry", "materials", "scenes", "render")
_SOURCES = {".css", ".glsl", ".html", ".js", ".py", ".toml"}
_DIGITS = 16


@cache
def program_version() -> str:
    """Hash of every source file of the program, the same on every machine that has the same ones.

    Samples are left out: a design brings its own content.

    Returns
    -------
    str
        Hexadecimal digits.
    """
    root = Path(__file__).resolve().parents[2]
    digest = hashlib.sha256()
    for package in _PACKAGES:
        files = sorted(
            (path.relative_to(root).as_posix(), path)
            for path in (root / package).rglob("*")
            if path.suffix in _SOURCES and "samples" not in path.parts and path.is_file()
        )
        for name, path in files:
            # Line ends differ by how the files were fetched.
            text = path.read_bytes().replace(b"\r\n", b"\n")
            digest.update(f"{name} {len(text)}\n".encode() + text)
    return digest.hexdigest()[:_DIGITS]
