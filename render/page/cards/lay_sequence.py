"""A pattern written out on its card, step by step, as ``turnlight sequence`` does."""

from typing import Any

from render.editor.desk import Desk
from scenes.building.build import Plan
from scenes.building.spelling import spelled_out
from scenes.problems import DesignProblem

__all__ = ["mark_patterns", "write_out"]

Json = dict[str, Any]


def mark_patterns(cards: list[Json], plan: Plan) -> None:
    """Mark the cards of layers whose lay sequence is given in short.

    Parameters
    ----------
    cards : list of dict
        Receive ``pattern``: whether their sequence can be written out.
    plan : Plan
        Of the same design.
    """
    short = {builder.path for builder in plan.builders if builder.spelled_out()}
    for card in cards:
        card["pattern"] = card["layer"] and card["path"] in short


def write_out(desk: Desk, path: str) -> list[str]:
    """Give a layer every step of its pattern, to be changed one by one.

    Every thread stays where it is.

    Parameters
    ----------
    desk : Desk
    path : str
        Path of the layer.

    Returns
    -------
    list of str
        Names of the variants that do not fit the design any more, and are set aside.

    Raises
    ------
    DesignProblem
        If the layer has no pattern.
    """
    before = desk.design.variants_set_aside
    changes = {
        field: value
        for field, value in spelled_out(desk.subject.plan()).items()
        if field.rpartition(".")[0] == path
    }
    if not changes:
        raise DesignProblem("this layer has no pattern in short that could be written out.")
    desk.changes(changes)
    return [name for name in desk.design.variants_set_aside if name not in before]
