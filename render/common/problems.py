"""What goes wrong at this end: a request that cannot be met, a picture that was not drawn."""

from scenes.problems import DESIGN_REFUSALS

__all__ = ["REFUSALS", "DrawingProblem", "NearestOnly", "RequestProblem"]


class RequestProblem(ValueError):
    """A request that cannot be met; the message is one sentence: what, its value, what is right."""


REFUSALS = (*DESIGN_REFUSALS, RequestProblem)
"""What cannot be done as it is asked, of a design or of what is made from it: for `except`."""


class DrawingProblem(RuntimeError):
    """A picture that this machine could not draw, or write; the message is one sentence."""


class NearestOnly(Exception):
    """A wish that no design fulfils, after the nearest was given; the message is one sentence."""
