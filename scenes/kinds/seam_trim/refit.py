"""Seam trims on another blank."""

from collections.abc import Iterator

from scenes.kinds.refit import Changes, Refit, fewer_threads
from scenes.kinds.seam_trim.model import SeamTrimModel

__all__ = ["refits"]

_SHARES = (1.0, 0.75, 0.5, 0.25)

_SLIMMER = 0.8
"""Thickness of the blank over that of the sample below which slopes beside a relief are steeper."""

_TACKED = 1.0
"""Friction of a trim that is tacked down on such a slope."""


def refits(layer: SeamTrimModel, refit: Refit) -> Iterator[Changes]:
    """Yield trims as they are, or with fewer threads where the flat beside the relief is narrow.

    Parameters
    ----------
    layer : SeamTrimModel
    refit : Refit
    """
    slim = refit.thickness_ratio < _SLIMMER
    held = {"friction": max(layer.friction, _TACKED)} if slim else {}
    for share in _SHARES:
        if layer.grade is not None:
            count = max(2, round(share * layer.grade.count))
            ends = {"from": layer.grade.first, "to": layer.grade.last}
            yield {**held, "grade": {**ends, "count": count}}
        else:
            yield {**held, "threads": fewer_threads(layer.threads or (), share)}
