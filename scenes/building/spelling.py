"""Crossed patterns spelled out: every step of their lay sequence, to change by hand."""

from scenes.building.build import Plan
from scenes.kinds.crossed.laying import CrossedLaying
from scenes.kinds.crossed.model import CrossedPattern
from scenes.problems import DesignProblem

__all__ = ["spelled_out"]


def spelled_out(plan: Plan) -> dict[str, object]:
    """Find the changes that write every pattern's lay sequence into its layer's `courses`.

    What is laid stays the same, thread for thread.

    Returns
    -------
    dict
        New value by path, for `scenes.design.document.with_changes`.

    Raises
    ------
    DesignProblem
        If there is no pattern to spell out.
    """
    changes: dict[str, object] = {}
    for laying in plan.layings:
        layer = laying.layer
        if not isinstance(layer, CrossedPattern) or layer.pattern is None:
            continue
        assert isinstance(laying, CrossedLaying)
        changes[f"{laying.path}.courses"] = [
            course.model_dump(mode="json", exclude_none=True) for course in laying.courses
        ]
        if laying.packed:
            changes[f"{laying.path}.packed"] = True
    if not changes:
        raise DesignProblem(
            "layers: no crossed pattern here is given in short, so there is no sequence to spell "
            "out; look at the sample open-diamonds."
        )
    return changes
