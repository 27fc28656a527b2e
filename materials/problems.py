"""The error that the materials raise when a person's input is wrong, and how values are shown."""

__all__ = ["LONGEST_SHOWN", "MaterialProblem", "printable"]

LONGEST_SHOWN = 60
"""A longer value is cut in a sentence: enough to recognise it by."""


class MaterialProblem(ValueError):
    """One sentence for the person at the bench: the field, its value, what would be right."""


def printable(text: str, longest: int = LONGEST_SHOWN) -> str:
    """Cut a text short and escape what would not print."""
    cut = text[:longest]
    plain = "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode("ascii")
        for letter in cut
    )
    return plain + ("…" if len(text) > len(cut) else "")
