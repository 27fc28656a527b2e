"""Files that come with Turnlight: pictures, charts and fonts of the samples."""

from functools import cache
from importlib import resources

__all__ = ["is_shipped", "shipped_file", "shipped_names"]


@cache
def shipped_names() -> tuple[str, ...]:
    """Name the files of the samples, in alphabetical order."""
    files = (resources.files("scenes") / "samples").iterdir()
    names = (file.name for file in files if file.is_file() and not file.name.startswith("."))
    return tuple(sorted(name for name in names if not name.endswith((".toml", ".py"))))


@cache
def shipped_file(name: str) -> bytes:
    """Read one of them."""
    return (resources.files("scenes") / "samples" / name).read_bytes()


def is_shipped(data: bytes) -> bool:
    """Whether a file is byte for byte one that comes with Turnlight, whatever its name."""
    return any(shipped_file(name) == data for name in shipped_names())
