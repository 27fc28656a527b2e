"""Errors of requests and of drawing."""

from scenes.problems import DESIGN_REFUSALS

__all__ = ["REFUSALS", "DrawingProblem", "NearestOnly", "RequestProblem"]


class RequestProblem(ValueError):
    """A request that cannot be met; the message is one sentence: field, value, what is right."""


REFUSALS = (*DESIGN_REFUSALS, RequestProblem)
"""All errors of a design or of a request that the user can correct, for `except`."""


class DrawingProblem(RuntimeError):
    """A picture could not be drawn or written on this machine; the message is one sentence."""


class NearestOnly(Exception):
    """No design meets the wishes, and the nearest was shown; the message is one sentence."""
