"""The one error that geometry raises."""

__all__ = ["GeometryError"]


class GeometryError(ValueError):
    """A shape that cannot be built; the message is one sentence for the builder.

    Parameters
    ----------
    field : str
        The quantity at fault, in the words of the design document.
    message : str
        What it is and what would be right.
    """

    def __init__(self, field: str, message: str) -> None:
        super().__init__(f"{field}: {message}")
        self.field = field
