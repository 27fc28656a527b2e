"""Pieces of thread that a crossed pattern is laid from: cut after each pass, or carried on."""

import math
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from geometry.layers.crossed import Pass
from scenes.kinds.crossed.builder import CrossedBuilder
from scenes.kinds.crossed.model import ThreadEnds

__all__ = ["Piece", "pieces_of"]

_SLACK = 1e-9
"""Angle by which a thread may fall short of the place where it is led back, rad."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of thread, cut at both its ends.

    Parameters
    ----------
    thread : str
        Name of the thread.
    passes : int
        How often it is led from end to end.
    end_turns : float
        Turns round the blank at the ends of the wrap, whole and part, in all.
    end_length : float
        Length of thread in these turns, mm.
    """

    thread: str
    passes: int
    end_turns: float = 0.0
    end_length: float = 0.0


def pieces_of(builder: CrossedBuilder) -> tuple[Piece, ...]:
    """List the pieces in the order in which they are laid.

    A carried piece begins at the butt end, goes up with one pass and back with the next. Between
    two passes it goes round the blank by `end_turns` and on to where the next pass begins: onwards
    where the next pass has the other hand, which the blank turns the same way for; else the shorter
    way, since it turns back.

    Parameters
    ----------
    builder : CrossedBuilder
    """
    laid = [
        (course.thread, thread)
        for course, part in zip(builder.courses, builder.sequence(), strict=True)
        for thread in part
    ]
    if builder.layer.thread_ends is ThreadEnds.CUT:
        return tuple(Piece(name, 1) for name, _ in laid)
    return tuple(
        _carried(builder, name, [thread for _, thread in same])
        for name, same in groupby(laid, lambda entry: entry[0])
    )


def _carried(builder: CrossedBuilder, name: str, passes: list[Pass]) -> Piece:
    start, end = builder.span
    turns = length = 0.0
    for number, (arriving, leaving) in enumerate(pairwise(passes)):
        upward = number % 2 == 0
        at = end if upward else start
        way = _angle(builder, leaving, at) - _angle(builder, arriving, at)
        if leaving.hand is arriving.hand:
            way = abs(math.remainder(way, 2 * math.pi))
        else:
            turning = arriving.hand.sign if upward else -arriving.hand.sign
            way = max((turning * way + _SLACK) % (2 * math.pi) - _SLACK, 0.0)
        here = builder.layer.end_turns + way / (2 * math.pi)
        turns += here
        length += here * 2 * math.pi * (_radius(builder, at) + arriving.diameter / 2)
    return Piece(name, len(passes), turns, length)


def _angle(builder: CrossedBuilder, thread: Pass, at: float) -> float:
    """Where round the blank a thread is at one end, rad."""
    winding = next(winding for winding in builder.windings if winding.hand is thread.hand)
    middle = at - thread.across / float(np.sin(winding.angle_at(at)))
    around = thread.hand.sign * float(winding.phase_at(middle))
    return around + thread.start * 2 * math.pi / winding.starts


def _radius(builder: CrossedBuilder, at: float) -> float:
    """Radius of the blank with the covers under the pattern, mm."""
    return float(builder.plan.blank.radius(at)) + builder.cover_thickness
