"""Sizes of files, in words."""

from pathlib import Path

__all__ = ["megabytes", "written_size"]

_MB = 1_000_000


def megabytes(count: int) -> str:
    """Bytes as megabytes in words, with at least two significant digits.

    Parameters
    ----------
    count : int
        Bytes.
    """
    return f"{count / _MB:.1f} MB" if count >= _MB else f"{count / _MB:.2g} MB"


def written_size(path: Path) -> str:
    """Size of a file, or of all files of a folder, in words.

    Parameters
    ----------
    path : Path
    """
    files = [path] if path.is_file() else list(path.iterdir())
    return megabytes(sum(file.stat().st_size for file in files))
