"""Labels of designs side by side: a name, and what differs from the others in parentheses."""

__all__ = ["name_and_differences", "scheme_label"]


def scheme_label(name: str, differences: str) -> str:
    """Label a design.

    Parameters
    ----------
    name : str
        Empty if it has none.
    differences : str
        What differs from the others; empty if nothing does.
    """
    if not name or name.casefold() == differences.casefold():
        return differences
    return f"{name} ({differences})" if differences else name


def name_and_differences(label: str) -> tuple[str, str]:
    """Split a label into name and differences; a label without a name is all name.

    Parameters
    ----------
    label : str
        From `scheme_label`.
    """
    name, opening, rest = label.partition(" (")
    return (name, rest[:-1]) if opening and rest.endswith(")") else (label, "")
