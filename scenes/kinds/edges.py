"""Choice of the end or edge at which threads lie."""

from enum import StrEnum

__all__ = ["EdgeChoice"]


class EdgeChoice(StrEnum):
    """Which edge of the relief a trim lies along: lower is nearer the butt."""

    BOTH = "both"
    LOWER = "lower"
    UPPER = "upper"
