"""What of a design shows on the rod."""

from scenes.design.document import Design
from scenes.parts.bench import BenchSpec
from scenes.parts.order import OrderSpec

__all__ = ["pictured"]

_UNSEEN = {"title": "-", "notes": "", "order": OrderSpec(), "agreed": (), "bench": BenchSpec()}
"""Fields that show nowhere on the rod, each with one value for all designs."""


def pictured(design: Design) -> Design:
    """Copy a design without what shows nowhere on the rod: those with equal copies look alike.

    Parameters
    ----------
    design : Design
    """
    return design.without_variants().model_copy(update=_UNSEEN)
