"""New mesh strips."""

from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings, under_cover

__all__ = ["defaults"]

_MESHES = (
    {"cell": 2.8, "yarn_width": 0.6, "yarn_height": 0.28, "angle": 45},
    {"cell": 1.4, "yarn_width": 0.35, "yarn_height": 0.18, "angle": 45},
)
"""Nine and eighteen yarns to the inch."""


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield strips of coarse and of fine mesh that cover half of the blank.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    yield from under_cover(surroundings, [{**mesh, "covered_share": 0.5} for mesh in _MESHES])
