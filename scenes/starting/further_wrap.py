"""The layers of a kind of wrap, laid on a rod that is there."""

from materials.shelf import Shelf
from scenes.design.document import Design
from scenes.parts.layer import LayerModel
from scenes.starting.first_design import FirstAnswers, first_design

__all__ = ["layers_of_kind"]


def layers_of_kind(
    design: Design, kind: str, start: float, end: float, shelf: Shelf
) -> tuple[LayerModel, ...]:
    """Fit the layers of a kind of wrap to a place on a rod, as a first design has them.

    Parameters
    ----------
    design : Design
        Its blank is laid on, in its units.
    kind : str
        Name of a `scenes.starting.wrap_kinds.WrapKind`.
    start, end : float
        Where the wrap begins and ends, mm.
    shelf : Shelf
        Where threads are looked up.

    Raises
    ------
    DesignProblem, GeometryError, MaterialProblem
        If there is no such kind, or it cannot be laid there.
    """
    unit = design.units.in_mm
    answers = FirstAnswers(
        title=design.title,
        units=design.units,
        readings=[(one.at / unit, one.diameter / unit) for one in design.blank.stations],
        start=start / unit,
        end=end / unit,
        wrap=kind,
    )
    return first_design(answers, shelf).layers
