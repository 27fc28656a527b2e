"""New seam trims, and conversion between a list of threads and a grade."""

import math
from collections.abc import Iterator
from typing import Any

from scenes.kinds.defaults import NewLayer, Surroundings
from scenes.kinds.seam_trim.model import SeamTrimModel

__all__ = ["alternative_entry", "defaults"]


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield trims beside the outermost trim, or else at the edge.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    entry = {"threads": surroundings.thread_runs(2)}
    trims = [layer for layer in surroundings.design.layers if isinstance(layer, SeamTrimModel)]
    ends = [
        trim.offset + surroundings.total_width(trim.threads)
        for trim in trims
        if trim.threads is not None
    ]
    if ends:
        yield NewLayer({**entry, "offset": math.ceil(100 * max(ends)) / 100})
    yield from surroundings.usual_places(entry)


def alternative_entry(layer: SeamTrimModel, field: str) -> Any:
    """Give a grade that looks like the trim's threads, or threads that look like its grade.

    Parameters
    ----------
    layer : SeamTrimModel
    field : str
        The field that is to be given.

    Returns
    -------
    dict, list or None
        As in a file; None if there is no such value.
    """
    if field == "grade" and layer.threads:
        first, other = layer.threads[0].thread, layer.threads[-1].thread
        return {"from": first, "to": other, "count": max(layer.count, 2)}
    if field == "threads" and layer.grade is not None:
        half = max(layer.grade.count // 2, 1)
        return [
            {"thread": layer.grade.first, "count": half},
            {"thread": layer.grade.last, "count": max(layer.grade.count - half, 1)},
        ]
    return None
