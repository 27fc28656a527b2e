"""Files that ship with Turnlight: pictures, charts and fonts of the samples."""

from functools import cache, lru_cache
from importlib import resources

__all__ = ["is_shipped", "shipped_file", "shipped_names"]


@cache
def shipped_names() -> tuple[str, ...]:
    """Name the files of the samples, in alphabetical order."""
    files = (resources.files("scenes") / "samples").iterdir()
    names = (file.name for file in files if file.is_file() and not file.name.startswith("."))
    return tuple(sorted(name for name in names if not name.endswith((".toml", ".py"))))


@lru_cache(maxsize=16)
def shipped_file(name: str) -> bytes:
    """Read a shipped file.

    Parameters
    ----------
    name : str
        One of `shipped_names`.
    """
    return (resources.files("scenes") / "samples" / name).read_bytes()


def is_shipped(data: bytes) -> bool:
    """Tell whether a file has the same bytes as a shipped one, whatever its name.

    Parameters
    ----------
    data : bytes
    """
    return any(shipped_file(name) == data for name in shipped_names())
