"""Layers spelled out: every step of a lay sequence that they give in short, to change by hand."""

from scenes.building.build import Plan
from scenes.problems import DesignProblem

__all__ = ["spelled_out"]


def spelled_out(plan: Plan) -> dict[str, object]:
    """Find the changes that write at length what layers give in short.

    What is laid stays the same, thread for thread.

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
        If there is nothing to spell out.
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
