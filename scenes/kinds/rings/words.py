"""Words of a label for rings."""

from scenes.kinds.edges import Edge
from scenes.kinds.words import Say, owned, threads
from scenes.quantities import Marker, Units

__all__ = ["WORDS"]


def _ends(path: str, name: str, value: Edge, marker: Marker | None, units: Units) -> str:
    return f"{path} at both ends" if value is Edge.BOTH else f"{path} at the {value.value} end"


def _inlaid(path: str, name: str, value: bool, marker: Marker | None, units: Units) -> str:
    return f"{path} inlaid" if value else f"{path} over the rows"


WORDS: dict[str, Say] = {"ends": _ends, "inset": owned, "threads": threads, "inlaid": _inlaid}
