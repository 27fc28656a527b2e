"""Coats of finish: poured on a wrap one by one, measured and mixed."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from geometry.bodies.mesh import enclosed_volume
from geometry.touch import ridge_height, touch_threshold
from scenes.building.build import Wrap
from scenes.figures.trust import FILM_SHARE
from scenes.parts.bench import BenchSpec

__all__ = [
    "MOST_COATS",
    "PouredCoats",
    "division_share",
    "least_exact_mix",
    "mix_of",
    "pour_coats",
    "weighed",
]

MOST_COATS = 12
"""Most coats that are tried; nobody brushes on more."""

_PLAIN_WAVELENGTH = 1.0
"""Wavelength of ridges where there is no relief, mm (an assumption)."""

_ML = 1000.0


@dataclass(frozen=True, slots=True)
class PouredCoats:
    """The coats of a design, one after the other.

    Parameters
    ----------
    volumes : tuple of float
        Volume of each coat, mm³: the difference of closed meshes, and in the first what soaks in.
    air : float
        Air under the covers before finish is brushed on, mm³.
    soaked : float
        Finish that takes its place, mm³; it is part of the first coat.
    soaked_off : float
        Uncertainty of `soaked`, mm³.
    films : tuple of float
        Mean thickness of each coat over the area that it wets, mm.
    ridges : tuple of float
        Height of the ridges before any coat, and after each, mm.
    wavelength : float
        Distance from ridge to ridge, mm.
    smooth_after : int or None
        Number of coats after which a finger feels no ridges; None if more than `MOST_COATS`.
    """

    volumes: tuple[float, ...]
    air: float
    soaked: float
    soaked_off: float
    films: tuple[float, ...]
    ridges: tuple[float, ...]
    wavelength: float
    smooth_after: int | None

    @property
    def off(self) -> float:
        """Uncertainty of the volume of all coats, mm³."""
        return math.hypot(FILM_SHARE * (sum(self.volumes) - self.soaked), self.soaked_off)

    @property
    def coat_share(self) -> float:
        """Greatest relative uncertainty of the volume of a coat."""
        if not self.volumes:
            return FILM_SHARE
        first = self.volumes[0]
        off = math.hypot(FILM_SHARE * (first - self.soaked), self.soaked_off)
        return max(FILM_SHARE, off / first)


def pour_coats(wrap: Wrap, air: float, step: Callable[[str], None]) -> PouredCoats:
    """Pour and measure the coats of a design, then further ones until no ridge is felt.

    Parameters
    ----------
    wrap : Wrap
        Built at any detail.
    air : float
        Air under the covers, mm³.
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
    area = plan.blank.lateral_area(finish.start, finish.end)
    volumes: list[float] = []
    while len(volumes) < len(plan.coats) or (ridges[-1] > threshold and len(ridges) <= MOST_COATS):
        step(f"coat {len(ridges)}")
        surface = finish.poured(surface, coat)
        ridges.append(ridge_height(surface, plan.start, plan.end, wavelength))
        if len(volumes) < len(plan.coats):
            outside = enclosed_volume(surface)
            volumes.append(outside - filled)
            filled = outside
    smooth = next((count for count, left in enumerate(ridges) if left <= threshold), None)
    films = tuple(volume / area for volume in volumes)
    kept = tuple(ridges[: max(len(plan.coats), smooth or 0) + 1])
    bench = plan.design.bench
    soaked = bench.soak * air if volumes else 0.0
    # Nobody knows it before it is tried: a default may be none or twice as much.
    off = soaked if bench.invented("soak") else FILM_SHARE * soaked
    if volumes:
        volumes[0] += soaked
    return PouredCoats(tuple(volumes), air, soaked, off, films, kept, wavelength, smooth)


def mix_of(volume: float, bench: BenchSpec) -> tuple[float, float, float]:
    """Volumes to mix for a coat: in all, of resin and of hardener, mm³.

    The smaller part is rounded up to a division of a syringe.

    Parameters
    ----------
    volume : float
        Volume of the coat on the wrap, mm³.
    bench : BenchSpec
    """
    wanted = max(volume + bench.cup_loss * _ML, bench.least_mix * _ML)
    smaller = wanted / (1 + bench.mix_ratio) * min(1.0, bench.mix_ratio)
    # A syringe is read to its divisions; the smaller part sets the other.
    division = bench.syringe_division * _ML
    smaller = math.ceil(smaller / division - 1e-9) * division
    ratio = bench.mix_ratio
    resin, hardener = (smaller * ratio, smaller) if ratio >= 1 else (smaller, smaller / ratio)
    return resin + hardener, resin, hardener


def division_share(mixed: float, bench: BenchSpec) -> float:
    """Error of the mixing ratio where the smaller part is read to half a division, as a share.

    Parameters
    ----------
    mixed : float
        Volume of both parts together, mm³.
    bench : BenchSpec
    """
    smaller = mixed / (1 + bench.mix_ratio) * min(1.0, bench.mix_ratio)
    return bench.syringe_division * _ML / 2 / smaller if smaller else math.inf


def least_exact_mix(share: float, bench: BenchSpec) -> float:
    """Least volume of both parts together whose ratio is within a share of the right one, mm³.

    Parameters
    ----------
    share : float
        Relative error of the ratio that is allowed.
    bench : BenchSpec
    """
    division = bench.syringe_division * _ML
    smaller = math.ceil(0.5 / share - 1e-9) * division
    return smaller * (1 + bench.mix_ratio) / min(1.0, bench.mix_ratio)


def weighed(mix: tuple[float, float, float], bench: BenchSpec) -> tuple[float, float]:
    """Masses of resin and hardener of a mix, g.

    Parameters
    ----------
    mix : (float, float, float)
        As `mix_of` gives it, mm³.
    bench : BenchSpec
        Densities of both parts.
    """
    _, resin, hardener = mix
    return resin / _ML * bench.resin_density, hardener / _ML * bench.hardener_density
