"""Names of files made of a design's title."""

import re

__all__ = ["plain_name"]

_LONGEST = 60
"""Characters."""


def plain_name(title: str) -> str:
    """Write a title with letters, digits and hyphens alone, which every system takes in a name.

    Parameters
    ----------
    title : str

    Returns
    -------
    str
        Without an ending; empty if nothing of the title is left.
    """
    return re.sub(r"[\W_]+", "-", title.casefold()).strip("-")[:_LONGEST].rstrip("-")
