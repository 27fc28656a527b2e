"""Thread: what the builder winds, and shades between two threads."""

from dataclasses import dataclass, replace
from enum import StrEnum
from math import isclose, isfinite, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from materials.colour import (
    format_hex,
    lab_to_linear,
    linear_to_lab,
    linear_to_srgb,
    parse_hex,
    srgb_to_linear,
)
from materials.problems import MaterialProblem

__all__ = ["FIBRE_DENSITY_G_CM3", "PACKING", "Thread", "ThreadKind", "grade", "laid_diameter_mm"]


class ThreadKind(StrEnum):
    """What a thread is made of, in the words of the shelf file."""

    METALLIC = "metallic"
    """A dyed metallised film wound round a core."""
    NCP_NYLON = "NCP nylon"
    """Nylon dyed to keep its colour under finish."""
    NYLON = "nylon"
    """Plain nylon: darkens and turns translucent under finish."""


FIBRE_DENSITY_G_CM3 = {
    ThreadKind.METALLIC: 1.39,
    ThreadKind.NCP_NYLON: 1.14,
    ThreadKind.NYLON: 1.14,
}
"""Density of the fibre: nylon 1.14, polyester 1.39 g/cm3 ([MortonHearle], table 5.1). Metallised
film and its core are taken for polyester, an assumption."""

PACKING = 0.9
"""Share of a laid thread's section that is fibre, an assumption, as for the shipped shelf."""


@dataclass(frozen=True, slots=True)
class Thread:
    """One thread of the shelf.

    Parameters
    ----------
    name : str
        What the builder calls it.
    kind : ThreadKind
        What it is made of.
    size : str
        The trade's letter: 'A', 'D', ... It does not fix the diameter or the tex.
    colour : str
        sRGB, ``#rgb`` or ``#rrggbb``: the thread laid flat, dry, in neutral light. Kept as
        lower-case ``#rrggbb``.
    diameter_mm : float
        As laid.
    tex : float
        Linear density, g per km [ISO1144].
    spool_m : float
        Length on a new spool.
    price : float
        Of one spool, in the builder's currency; 0 when unknown.
    left_m : float, optional
        Length left on the builder's spool; a new spool's when not given.

    Raises
    ------
    MaterialProblem
        If a number is not finite and more than 0 (price: 0 or more), a word is empty, or the
        colour is not a hex colour.
    """

    name: str
    kind: ThreadKind
    size: str
    colour: str
    diameter_mm: float
    tex: float
    spool_m: float
    price: float
    left_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no thread can be, and settle the colour's spelling."""
        for word in ("name", "size"):
            if not getattr(self, word).strip():
                raise MaterialProblem(f"thread {word} is empty, but should be a word.")
        for number in ("diameter_mm", "tex", "spool_m"):
            value = getattr(self, number)
            if not (isfinite(value) and value > 0):
                raise MaterialProblem(
                    f'thread "{self.name}": {number} is {value}, '
                    "but should be finite and more than 0."
                )
        if not (isfinite(self.price) and self.price >= 0):
            raise MaterialProblem(
                f'thread "{self.name}": price is {self.price}, but should be finite and 0 or more.'
            )
        if self.left_m is not None and not (isfinite(self.left_m) and self.left_m >= 0):
            raise MaterialProblem(
                f'thread "{self.name}": left_m is {self.left_m}, '
                "but should be finite and 0 or more."
            )
        object.__setattr__(self, "colour", format_hex(parse_hex(self.colour)))

    @property
    def linear_rgb(self) -> NDArray[np.float64]:
        """The shelf colour as linear RGB, shape (3,), read-only."""
        rgb = srgb_to_linear(parse_hex(self.colour))
        rgb.flags.writeable = False
        return rgb

    @property
    def at_hand_m(self) -> float:
        """Length left on the builder's spool, m; a new spool's where it is unknown."""
        return self.spool_m if self.left_m is None else self.left_m

    def mass_g(self, length_m: float) -> float:
        """Weigh a length of thread: tex is g per km [ISO1144].

        Parameters
        ----------
        length_m : float
            m.

        Returns
        -------
        float
            g.
        """
        return self.tex * length_m / 1000


def laid_diameter_mm(tex: float, density_g_cm3: float, packing: float = 1.0) -> float:
    """Diameter of a round thread from its tex: d = 2 sqrt(T / (pi density packing)).

    Parameters
    ----------
    tex : float
        g per km.
    density_g_cm3 : float
        Density of the fibre, g/cm3: nylon 1.14, polyester 1.39 ([MortonHearle], table 5.1).
    packing : float
        Share of the cross-section that is fibre, 0 to 1; an assumption for any real thread.

    Returns
    -------
    float
        mm.
    """
    # tex is 1e-6 g/mm and g/cm3 is 1e-3 g/mm3
    return 2 * sqrt(tex * 1e-3 / (pi * density_g_cm3 * packing))


def grade(first: Thread, last: Thread, count: int) -> tuple[Thread, ...]:
    """Spread shades from one thread to another in even steps of CIELAB.

    Parameters
    ----------
    first, last : Thread
        The ends, both included; the shades take everything but name and colour from `first`.
    count : int
        How many shades, 1 or more; 1 gives `first` itself.

    Returns
    -------
    tuple of Thread, length `count`
        Named ``first → last 1/count`` and so on. A shade that sRGB cannot show is clipped to it.

    Raises
    ------
    MaterialProblem
        If `count` is less than 1, or the threads differ in diameter.
    """
    if count < 1:
        raise MaterialProblem(f"grade count is {count}, but should be 1 or more.")
    if not isclose(first.diameter_mm, last.diameter_mm):
        raise MaterialProblem(
            f'grade runs from "{first.name}" (size {first.size}, {first.diameter_mm:g} mm) to '
            f'"{last.name}" (size {last.size}, {last.diameter_mm:g} mm), '
            "but both should have the same diameter."
        )
    if count == 1:
        return (first,)
    start, end = linear_to_lab(first.linear_rgb), linear_to_lab(last.linear_rgb)
    steps = np.linspace(0, 1, count)[:, np.newaxis]
    shades = linear_to_srgb(lab_to_linear((1 - steps) * start + steps * end))
    return tuple(
        replace(first, name=f"{first.name} → {last.name} {i}/{count}", colour=format_hex(shade))
        for i, shade in enumerate(shades, start=1)
    )
