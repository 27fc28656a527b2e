"""Marbling the other way: which pigment lies at a place, found by taking the place back.

`geometry.layers.marbling` carries the outlines of drops forward through all later steps. Here
places are carried backwards, from the last step to the first, by the inverse of each map.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.layers.marbling import Drop, Stroke

__all__ = ["backward", "covers", "pigment_at"]

Array = NDArray[np.float64]


def covers(drop: Drop, around: Array, along: Array, circumference: float) -> NDArray[np.bool_]:
    """Find which places a drop covers when it has just spread.

    Its outline is cosh(π·along/L) = exp(τ/2) cos(π·around/L), with τ = πA/L².
    """
    x, y = (around - drop.around) / circumference, (along - drop.along) / circumference
    tau = np.pi * drop.area / circumference**2
    return np.asarray(np.cosh(np.pi * y) < np.exp(tau / 2) * np.abs(np.cos(np.pi * x)))


def backward(
    step: Drop | Stroke, around: Array, along: Array, circumference: float
) -> tuple[Array, Array]:
    """Undo a step outside a new drop.

    A stroke keeps the distance from its path: the opposite stroke undoes it. A drop is the flow of
    a point source, whose stream lines the sink of the same strength runs back along.
    """
    if isinstance(step, Stroke):
        return replace(step, shift=-step.shift).forward(around, along, circumference)
    tau = -np.pi * step.area / circumference**2
    x = np.mod(around - step.around + circumference / 2, circumference) - circumference / 2
    y = along - step.along
    p = np.sin(np.pi * x / circumference) ** 2
    q = np.sinh(np.pi * y / circumference) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        q_new = np.maximum(q * (np.exp(tau) + (1 - p) / (p + q) * np.expm1(tau)), 0)
        p_new = np.clip(p * (np.exp(-tau) - (1 + q) / (p + q) * np.expm1(-tau)), 0, 1)
    turns = around - step.around - x
    scale = circumference / np.pi
    return (
        step.around + turns + np.copysign(scale * np.arcsin(np.sqrt(p_new)), x),
        step.along + np.copysign(scale * np.arcsinh(np.sqrt(q_new)), y),
    )


def pigment_at(
    around: ArrayLike, along: ArrayLike, circumference: float, steps: Sequence[Drop | Stroke]
) -> NDArray[np.intp]:
    """Find which pigment lies at places of the finished coat; 0 where no drop does."""
    u, v = np.broadcast_arrays(np.asarray(around, float), np.asarray(along, float))
    shape = u.shape
    left = np.arange(u.size)
    u, v = u.ravel().copy(), v.ravel().copy()
    found = np.zeros(u.size, dtype=np.intp)
    for step in reversed(steps):
        if isinstance(step, Drop):
            inside = covers(step, u, v, circumference)
            found[left[inside]] = step.pigment
            left, u, v = left[~inside], u[~inside], v[~inside]
        u, v = backward(step, u, v, circumference)
    return found.reshape(shape)
