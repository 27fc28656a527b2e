"""Coats of finish: poured on a wrap one by one, and measured."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from geometry.bodies.mesh import enclosed_volume
from geometry.touch import ridge_height, touch_threshold
from scenes.building.build import Wrap
from scenes.figures.trust import FILM_SHARE

__all__ = ["MOST_COATS", "FeetCoats", "PouredCoats", "pour_coats"]

MOST_COATS = 12
"""Most coats that are tried; nobody brushes on more."""

_PLAIN_WAVELENGTH = 1.0
"""Wavelength of ridges where there is no relief, mm (an assumption)."""


@dataclass(frozen=True, slots=True)
class FeetCoats:
    """Coats of finish on the bindings of all guides.

    Parameters
    ----------
    volumes : tuple of float
        Volume of each coat, without what soaks in, mm³.
    air : float
        Air under the bindings before finish is brushed on, mm³.
    """

    volumes: tuple[float, ...]
    air: float


@dataclass(frozen=True, slots=True)
class PouredCoats:
    """The coats of a design, one after the other.

    Parameters
    ----------
    volumes : tuple of float
        Volume of each coat, mm³: the difference of closed meshes, and in the first what soaks in.
    on_guides : tuple of float
        The same on the bindings of all guides, mm³.
    air : float
        Air under the covers before finish is brushed on, mm³.
    soaked, soaked_on_guides : float
        Finish that takes its place, mm³; it is part of the first coat.
    soak_share : float
        Relative uncertainty of both.
    films : tuple of float
        Mean thickness of each coat over the surface that it lies on, mm.
    ridges : tuple of float
        Height of the ridges before any coat, and after each, mm.
    wavelength : float
        Distance from ridge to ridge, mm.
    smooth_after : int or None
        Number of coats after which a finger feels no ridges; None if more than `MOST_COATS`.
    """

    volumes: tuple[float, ...]
    on_guides: tuple[float, ...]
    air: float
    soaked: float
    soaked_on_guides: float
    soak_share: float
    films: tuple[float, ...]
    ridges: tuple[float, ...]
    wavelength: float
    smooth_after: int | None

    @property
    def soaked_off(self) -> float:
        """Uncertainty of what soaks into the wrap, mm³."""
        return self.soak_share * self.soaked

    @property
    def off(self) -> float:
        """Uncertainty of the volume of all coats on the wrap, mm³."""
        return self._off(sum(self.volumes), self.soaked)

    @property
    def guides_off(self) -> float:
        """Uncertainty of the volume of all coats on the guides, mm³."""
        return self._off(sum(self.on_guides), self.soaked_on_guides)

    def off_of(self, number: int) -> float:
        """Uncertainty of one coat on wrap and guides; only the first has that of what soaks in.

        Parameters
        ----------
        number : int
            From 0.

        Returns
        -------
        float
            mm³.
        """
        soaked = 0.0 if number else self.soaked + self.soaked_on_guides
        return self._off(self.volumes[number] + self.on_guides[number], soaked)

    def _off(self, volume: float, soaked: float) -> float:
        return math.hypot(FILM_SHARE * (volume - soaked), self.soak_share * soaked)


def pour_coats(wrap: Wrap, air: float, feet: FeetCoats, step: Callable[[str], None]) -> PouredCoats:
    """Pour and measure the coats of a design, then further ones until no ridge is felt.

    Parameters
    ----------
    wrap : Wrap
        Built at any detail.
    air : float
        Air under the covers, mm³.
    feet : FeetCoats
        Finish on the guides of the same design.
    step : callable
        Called with a word before each coat; may raise to cancel.
    """
    plan = wrap.plan
    finish = plan.finish_layer()
    wavelength = plan.smallest_cell() or _PLAIN_WAVELENGTH
    threshold = touch_threshold(wavelength)
    coat = plan.coat
    surface = wrap.surface
    ridges = [ridge_height(surface, plan.start, plan.end, wavelength)]
    filled = enclosed_volume(surface) if plan.coats else 0.0
    stations = surface.between(finish.start, finish.end)
    length = finish.end - finish.start
    volumes: list[float] = []
    films: list[float] = []
    while len(volumes) < len(plan.coats) or (ridges[-1] > threshold and len(ridges) <= MOST_COATS):
        step(f"coat {len(ridges)}")
        square = float(np.square(surface.radius[stations]).mean())
        surface = finish.poured(surface, coat)
        ridges.append(ridge_height(surface, plan.start, plan.end, wavelength))
        if len(volumes) < len(plan.coats):
            outside = enclosed_volume(surface)
            volume, filled = outside - filled, outside
            volumes.append(volume)
            films.append(math.sqrt(square + volume / (math.pi * length)) - math.sqrt(square))
    smooth = next((count for count, left in enumerate(ridges) if left <= threshold), None)
    kept = tuple(ridges[: max(len(plan.coats), smooth or 0) + 1])
    bench = plan.design.bench
    soaked, on_feet = (bench.soak * under if volumes else 0.0 for under in (air, feet.air))
    on_guides = list(feet.volumes)
    if volumes:
        volumes[0] += soaked
        on_guides[0] += on_feet
    return PouredCoats(
        tuple(volumes),
        tuple(on_guides),
        air,
        soaked,
        on_feet,
        # Nobody knows it before it is tried: a default may be none or twice as much.
        1.0 if bench.invented("soak") else FILM_SHARE,
        tuple(films),
        kept,
        wavelength,
        smooth,
    )
