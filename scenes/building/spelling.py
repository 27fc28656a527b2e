"""Patterns spelled out: the full lay sequence of a layer, to be edited by hand."""

from scenes.building.build import Plan
from scenes.problems import DesignProblem

__all__ = ["spelled_out"]


def spelled_out(plan: Plan) -> dict[str, object]:
    """Find the changes that write the lay sequence of every patterned layer in full.

    Every thread stays where it is.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    dict
        New value by path, for `scenes.design.document.with_changes`.

    Raises
    ------
    DesignProblem
        If no layer has a pattern.
    """
    changes: dict[str, object] = {
        f"{builder.path}.{field}": value
        for builder in plan.builders
        for field, value in builder.spelled_out().items()
    }
    if not changes:
        raise DesignProblem(
            "layers: no crossed pattern here is given in short, so there is no sequence to spell "
            "out; look at the sample open-diamonds."
        )
    return changes
