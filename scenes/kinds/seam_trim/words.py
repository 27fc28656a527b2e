"""Words of a label for seam trims."""

from scenes.kinds.edges import Edge
from scenes.kinds.seam_trim.model import Grade
from scenes.kinds.words import Say, owned, threads
from scenes.quantities import Marker, Units

__all__ = ["WORDS"]


def _edge(path: str, name: str, value: Edge, marker: Marker | None, units: Units) -> str:
    return f"{path} on both edges" if value is Edge.BOTH else f"{path} on the {value.value} edge"


def _grade(path: str, name: str, value: Grade, marker: Marker | None, units: Units) -> str:
    return f"{path}: {value.count} shades from {value.first} to {value.last}"


WORDS: dict[str, Say] = {"edge": _edge, "offset": owned, "threads": threads, "grade": _grade}
