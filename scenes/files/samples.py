"""The sample designs: complete and commented, with invented names."""

from functools import cache
from importlib import resources

from scenes.design.document import Design
from scenes.files.storage import parse
from scenes.problems import DesignProblem, nearest, one_of, shown

__all__ = ["load", "names", "summary", "text"]


@cache
def names() -> tuple[str, ...]:
    """Name the samples, in alphabetical order."""
    folder = resources.files("scenes") / "samples"
    files = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in files if name.endswith(".toml")))


def text(name: str) -> str:
    """Read the text of a sample file with its comments.

    Parameters
    ----------
    name : str

    Raises
    ------
    DesignProblem
        If there is no sample of that name.
    """
    plain = name.removesuffix(".toml")
    if plain not in names():
        close = nearest(plain, names())
        hint = f"did you mean {close}?" if close else f"give {one_of(names())}."
        raise DesignProblem(f"{shown(name)} is not a sample; {hint}")
    file = resources.files("scenes") / "samples" / f"{plain}.toml"
    return file.read_text(encoding="utf-8")


def load(name: str) -> Design:
    """Read a sample as a design.

    Parameters
    ----------
    name : str

    Raises
    ------
    DesignProblem
        If there is no sample of that name.
    """
    return parse(text(name), name)


def summary(name: str) -> str:
    """Describe a sample in one line: the first line of its notes.

    Parameters
    ----------
    name : str
    """
    return load(name).notes.strip().partition("\n")[0]
