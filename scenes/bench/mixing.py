"""What to mix for each coat: both parts by the syringe, and by weight."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scenes.bench.coats import PouredCoats
from scenes.parts.bench import BenchSpec

__all__ = [
    "RATIO_SHARE",
    "Batch",
    "batches_of",
    "least_exact_mix",
    "mix_of",
    "ratio_error",
]

RATIO_SHARE = 0.03
"""Relative error of the mixing ratio that a finish is taken to bear (from memory)."""

_ML = 1000.0

_MORE_DIVISIONS = 10
"""Divisions by which the smaller part may grow until the other lies on a division as well."""

_EXACT = 0.002
"""Error of the ratio, as a share, that counts as none: far below what a syringe shows."""

_ORDINALS = (
    *("first", "second", "third", "fourth", "fifth", "sixth"),
    *("seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth"),
)
"""Names of the coats that a design may have."""

_SLACK = 1e-9
"""Relative slack of a volume that should lie on a division."""


@dataclass(frozen=True, slots=True)
class Batch:
    """The mix of one coat, or of following coats that take the same.

    Parameters
    ----------
    first, last : int
        Numbers of the coats, from 1.
    all_coats : bool
        Whether the design has no other coats.
    on_wrap, on_guides : float
        The most that one of these coats takes, mm³.
    off : float
        Uncertainty of it, mm³; the mix is larger by as much.
    needed : float
        Volume of both parts together before it is rounded to a syringe, mm³.
    resin, hardener : float
        Volumes on a division of the syringe, mm³.
    resin_mass, hardener_mass : float
        Masses of the parts of `needed`, rounded to a step of the scale, g.
    """

    first: int
    last: int
    all_coats: bool
    on_wrap: float
    on_guides: float
    off: float
    needed: float
    resin: float
    hardener: float
    resin_mass: float
    hardener_mass: float

    @property
    def mixed(self) -> float:
        """Volume of both parts together, mm³."""
        return self.resin + self.hardener

    @property
    def mixed_mass(self) -> float:
        """Mass of both parts together, g."""
        return self.resin_mass + self.hardener_mass

    @property
    def scale_step(self) -> float:
        """Step of the scale that weighs them, g."""
        return _scale_step(min(self.resin_mass, self.hardener_mass))

    @property
    def words(self) -> str:
        """Name of its coats: ``each coat``, ``the first coat``, ``the second to fifth coat``."""
        if self.all_coats:
            return "the coat" if self.first == self.last else "each coat"
        first, last = _ORDINALS[self.first - 1], _ORDINALS[self.last - 1]
        if first == last:
            return f"the {first} coat"
        return f"the {first} {'and' if self.last == self.first + 1 else 'to'} {last} coat"


def batches_of(poured: PouredCoats, bench: BenchSpec) -> tuple[Batch, ...]:
    """Work out the mix of each coat; following coats with the same mix are one batch.

    Parameters
    ----------
    poured : PouredCoats
    bench : BenchSpec
    """
    count = len(poured.volumes)
    takes = [(poured.volumes[n], poured.on_guides[n], poured.off_of(n)) for n in range(count)]
    mixes = [mix_of(sum(take), bench) for take in takes]
    batches = []
    first = 0
    for after in range(1, count + 1):
        if after < count and mixes[after] == mixes[first]:
            continue
        most = max(takes[first:after], key=sum)
        batches.append(_batch(first + 1, after, after - first == count, most, bench))
        first = after
    return tuple(batches)


def _batch(
    first: int,
    last: int,
    all_coats: bool,
    takes: tuple[float, float, float],
    bench: BenchSpec,
) -> Batch:
    on_wrap, on_guides, off = takes
    needed = _needed(sum(takes), bench)
    _, resin, hardener = _on_divisions(needed, bench)
    masses = _weighed(needed, bench)
    step = _scale_step(min(masses))
    resin_mass, hardener_mass = (round(round(mass / step) * step, 6) for mass in masses)
    return Batch(
        first,
        last,
        all_coats,
        on_wrap,
        on_guides,
        off,
        needed,
        resin,
        hardener,
        resin_mass,
        hardener_mass,
    )


def mix_of(volume: float, bench: BenchSpec) -> tuple[float, float, float]:
    """Volumes to measure for a coat: in all, of resin and of hardener, mm³.

    Both parts lie on a division of the syringe: the mix is the least above what is needed in which
    they do at the right ratio; where ten divisions of the smaller part do not reach one, that which
    misses the ratio least.

    Parameters
    ----------
    volume : float
        The most that the coat takes, mm³.
    bench : BenchSpec
    """
    return _on_divisions(_needed(volume, bench), bench)


def _needed(volume: float, bench: BenchSpec) -> float:
    """Volume of both parts together for a coat, mm³."""
    return max(volume + bench.cup_loss * _ML, bench.least_mix * _ML)


def _on_divisions(needed: float, bench: BenchSpec) -> tuple[float, float, float]:
    """Least mix, as in `mix_of`, that is as much as is needed, mm³."""
    division = bench.syringe_division * _ML
    smaller, larger = _divisions(needed / division, bench.mix_ratio)
    parts = round(smaller * division, 6), round(larger * division, 6)
    hardener, resin = parts if bench.mix_ratio >= 1 else parts[::-1]
    return resin + hardener, resin, hardener


def _divisions(needed: float, ratio: float) -> tuple[int, int]:
    """Divisions of the smaller part and of the larger for a mix of some divisions."""
    times = max(ratio, 1 / ratio)
    least = math.ceil(needed / (1 + times) * (1 - _SLACK))
    if least <= 0:
        return 0, 0
    found = []
    for smaller in range(least, least + _MORE_DIVISIONS + 1):
        larger = round(smaller * times)
        if smaller + larger < needed * (1 - _SLACK):
            continue
        error = abs(larger / smaller / times - 1)
        if error <= _EXACT:
            return smaller, larger
        found.append((error, smaller, larger))
    return min(found)[1:]


def ratio_error(batch: Batch, bench: BenchSpec) -> float:
    """Error of the mixing ratio by syringe, as a share.

    The smaller part is read to half a division; where both parts are on a division only beside the
    right ratio, that is added.

    Parameters
    ----------
    batch : Batch
    bench : BenchSpec
    """
    smaller = min(batch.resin, batch.hardener)
    if not smaller:
        return math.inf
    beside = abs(batch.resin / batch.hardener / bench.mix_ratio - 1)
    return bench.syringe_division * _ML / 2 / smaller + beside


def least_exact_mix(share: float, bench: BenchSpec) -> float:
    """Least volume of both parts together whose ratio is within a share of the right one, mm³.

    Parameters
    ----------
    share : float
        Relative error of the ratio that is allowed.
    bench : BenchSpec
    """
    division = bench.syringe_division * _ML
    smaller = math.ceil(0.5 / share - _SLACK)
    times = max(bench.mix_ratio, 1 / bench.mix_ratio)
    while True:
        mixed, resin, hardener = _on_divisions(smaller * (1 + times) * division, bench)
        beside = abs(resin / hardener / bench.mix_ratio - 1)
        if division / 2 / min(resin, hardener) + beside <= share * (1 + _SLACK):
            return mixed
        smaller += 1


def _scale_step(smaller: float) -> float:
    """Step of a scale, 0.01 g or finer, of which half is within `RATIO_SHARE` of a part, g."""
    if smaller <= 0:
        return 0.01
    return min(0.01, 10.0 ** math.floor(math.log10(2 * RATIO_SHARE * smaller * (1 + _SLACK))))


def _weighed(volume: float, bench: BenchSpec) -> Sequence[float]:
    """Masses of resin and hardener of a mix, g."""
    hardener = volume / (1 + bench.mix_ratio)
    return (
        hardener * bench.mix_ratio / _ML * bench.resin_density,
        hardener / _ML * bench.hardener_density,
    )
