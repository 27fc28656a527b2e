"""The one error that geometry raises."""

__all__ = ["GeometryError"]


class GeometryError(ValueError):
    """A shape that cannot be built.

    Geometry knows no file: whoever calls it knows which field of which part the quantity is
    (`scenes.problems.at_field`).

    Parameters
    ----------
    quantity : str
        Name of the parameter at fault.
    sentence : str
        Its value and what would be right, without the closing full stop.
    """

    def __init__(self, quantity: str, sentence: str) -> None:
        super().__init__(f"{quantity}: {sentence}")
        self.quantity = quantity
        self.sentence = sentence
