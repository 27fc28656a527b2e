"""The error that the materials raise when a person's input is wrong."""

__all__ = ["MaterialProblem"]


class MaterialProblem(ValueError):
    """One sentence for the person at the bench: the field, its value, what would be right."""
