"""Lines of a design on the blank: the paper pattern before it is unrolled.

Each kind of layer draws itself (`scenes.kinds.kind.Kind.lines`); a layer without lines is listed as
undrawn. Paper bends one way only, so the blank is unrolled as the fewest straight cones that stay
within `PAPER_FIT_MM` of it; the template says how near.
"""

from dataclasses import dataclass

from scenes.building.build import Plan
from scenes.design.layers import kind_of
from scenes.kinds.lines import BlankLine, BlankMark, Pen

__all__ = ["Pattern", "pattern_of"]


@dataclass(frozen=True, slots=True)
class Pattern:
    """All lines of a design.

    Parameters
    ----------
    start, end : float
        Range of the pattern, mm from the butt.
    lines : tuple of BlankLine
    marks : tuple of BlankMark
        In order from the butt.
    undrawn : tuple of str
        Paths of the layers that have no lines to draw.
    """

    start: float
    end: float
    lines: tuple[BlankLine, ...]
    marks: tuple[BlankMark, ...]
    undrawn: tuple[str, ...]

    @property
    def pens(self) -> tuple[Pen, ...]:
        """The pens in use, those that draw the widest lines first."""
        used = dict.fromkeys(line.pen for line in self.lines)
        return tuple(sorted(used, key=lambda pen: -pen.full.width))


def pattern_of(plan: Plan) -> Pattern:
    """Draw every layer of a design on its blank, in bench order.

    Parameters
    ----------
    plan : Plan
    """
    lines: list[BlankLine] = []
    marks: list[BlankMark] = []
    undrawn: list[str] = []
    for builder in plan.builders:
        kind = kind_of(builder.layer)
        drawn = list(kind.lines(builder))
        lines += drawn
        marks += kind.marks(builder)
        if not drawn:
            undrawn.append(builder.path)
    marks.sort(key=lambda mark: mark.at)
    return Pattern(*plan.wound_span, tuple(lines), tuple(marks), tuple(undrawn))
