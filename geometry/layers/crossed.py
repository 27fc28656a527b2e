"""Crossed patterns: threads led up the blank as right- and left-hand helices, one over another.

The pattern is what comes out when each thread lies on top of those laid before it, so the threads
are laid one after another, in the order of the sequence.

The middle of a bundle is tabulated once at every column that it passes, and each thread of it is
the same run moved across. First every thread is laid on the plane through the crests below it,
place by place, and painted over what it covers. Then each is stretched (`geometry.layers.taut`): it
spans what it can, and is held down where a later one crosses. So heights do not creep up from
thread to thread.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.layers.taut import taut
from geometry.surface import Surface
from geometry.winding import Hand, Winding

__all__ = ["PRESSED", "CrossedPattern", "LaidPattern", "Pass", "marks"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

PRESSED = 0.25
"""Share of a diameter that two threads lose where they cross under tension and are burnished (from
memory; [Peirce1937] takes woven yarns flattened by about as much)."""

_INSIDE = 1 - 1e-4
"""Furthest from its crest that a thread's own number is read, as a share of its half width:
float32 would take the edge of one thread for its neighbour."""

_FROM = -1 + 1e-3
"""Place across a thread, in half widths, from which it counts as a layer, so that the place between
two that touch has a single layer."""

_SHARED = 1e-9
"""Share of its width by which a thread reaches beyond its edge, so that no place falls between two
that touch."""


@dataclass(frozen=True, slots=True)
class Pass:
    """One thread led from one end of the pattern to the other.

    Parameters
    ----------
    start : int
        Number of its bundle, 0 at the guide line and on round the blank.
    hand : Hand
        Which way it climbs.
    across : float
        From the middle of its bundle to its own, across the run and towards the tip, mm.
    diameter : float
        Diameter of the thread, mm.
    material : int
        Palette index.
    """

    start: int
    hand: Hand
    across: float
    diameter: float
    material: int


@dataclass(frozen=True, slots=True)
class LaidPattern:
    """A crossed pattern on its blank.

    Parameters
    ----------
    surface : Surface
        With the pattern on it.
    beneath : Surface
        Radius and material of what lies directly under the outermost thread.
    layers : (nz, nt) int16
        Threads of the pattern on one another at each place.
    lengths : tuple of float
        Length of each pass along its centre line, in the order of the sequence, mm.
    """

    surface: Surface
    beneath: Surface
    layers: NDArray[np.int16]
    lengths: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class CrossedPattern:
    """A lay sequence on a blank.

    First every thread is laid on what lies under it, so that each place knows the threads on it
    and the last of them. Then each is stretched (`geometry.layers.taut`): it spans what it can, but
    where a later one crosses it is held down, so a thread stands on the blank and on as many
    threads as it crosses there, no more.

    Parameters
    ----------
    right, left : Winding
        The middles of the bundles, as many starts each as there are crosses round the blank.
    sequence : tuple of tuple of Pass
        Threads of one inner tuple lie side by side and are laid together; none crosses another.
    start, end : float
        Where the threads are cut, mm.
    packed : float or None
        Width of a bundle, mm, whose threads are spread or pushed together along the taper so that
        it meets its neighbours all the way; None if threads lie side by side as they are.
    """

    right: Winding
    left: Winding
    sequence: tuple[tuple[Pass, ...], ...]
    start: float
    end: float
    packed: float | None = None

    def apply(self, surface: Surface) -> Surface:
        """Lay the pattern on a surface.

        Parameters
        ----------
        surface : Surface
            What the layer is laid on.

        Returns
        -------
        Surface
            With the pattern on it.
        """
        return self.lay(surface).surface

    def lay(self, surface: Surface, step: Callable[[int], None] = lambda _: None) -> LaidPattern:
        """Lay the pattern, one part of the sequence after another.

        Parameters
        ----------
        surface : Surface
            What the pattern is laid on.
        step : callable
            Called with a number before each part of the sequence is laid, and again before it is
            stretched; may raise to cancel.
        """
        work = _Work(surface, self.start, self.end)
        bundles = {(thread.start, thread.hand) for part in self.sequence for thread in part}
        runs = {(start, hand): self._run(surface, start, hand) for start, hand in bundles}
        laid: list[_Group] = []
        count = 0
        for number, part in enumerate(self.sequence):
            step(number)
            for threads in _alike(part):
                group = _Group(runs[threads[0].start, threads[0].hand], tuple(threads), count)
                work.lay(group)
                laid.append(group)
                count += len(threads)
        lengths: list[float] = []
        for number, group in enumerate(laid):
            step(number)
            lengths += work.stretch(group)
        return work.laid(tuple(lengths))

    def _run(self, surface: Surface, start: int, hand: Hand) -> "_Run":
        """The middle of one bundle, a place at every column of the grid that it passes."""
        winding = self.right if hand is Hand.RIGHT else self.left
        nt = surface.theta.size
        turn = 2 * np.pi / nt
        # Threads beside the middle reach further along the blank than it does.
        threads = (thread for part in self.sequence for thread in part)
        wide = max(abs(thread.across) + thread.diameter for thread in threads)
        reach = 2 * wide / float(np.sin(winding.angle).min())
        first, last = winding.phase_at(np.array([self.start - reach, self.end + reach]))
        # phase = sign (theta - theta of the axis), at whole columns.
        zero = hand.sign * start * 2 * np.pi / winding.starts
        number = np.arange(np.floor((first + zero) / turn), np.ceil((last + zero) / turn) + 1)
        phase = number * turn - zero
        z = winding.z_at(phase)
        angle = winding.angle_at(z)
        sine = np.sin(angle)
        spread = np.ones_like(z)
        if self.packed is not None:
            step = 2 * np.pi / winding.starts
            between = winding.z_at(phase + step / 2) - winding.z_at(phase - step / 2)
            spread = between * sine / self.packed
        column = (hand.sign * number.astype(np.intp)) % nt
        lay = hand.sign * (np.pi / 2 - angle)
        return _Run(z, column, sine, spread, lay, winding.length_at(z))


@dataclass(frozen=True, slots=True)
class _Run:
    """The middle of a bundle at every column that it passes, in the order of the run; all (m,).

    `spread` is the width that a thread takes in the bundle, in its diameters.
    """

    z: Array
    column: Index
    sine: Array
    spread: Array
    lay: Array
    along: Array


@dataclass(frozen=True, slots=True)
class _Group:
    """Threads of one diameter side by side in one bundle, the first the `number`-th of all."""

    run: _Run
    threads: tuple[Pass, ...]
    number: int

    @property
    def half(self) -> float:
        """Half their diameter, mm."""
        return self.threads[0].diameter / 2

    @property
    def z(self) -> Array:
        """Where their middles are, (k, m) mm."""
        across = np.array([thread.across for thread in self.threads])
        return self.run.z + across[:, None] * (self.run.spread / self.run.sine)


class _Work:
    """The surface while threads are laid on it."""

    def __init__(self, surface: Surface, start: float, end: float) -> None:
        self._base, self._start, self._end = surface, start, end
        self._radius, self._material = surface.radius.copy(), surface.material.copy()
        self._lay, self._row = surface.lay.copy(), surface.row.copy()
        self._along = surface.along.copy()
        self._under_radius = surface.radius.copy()
        self._under_material = surface.material.copy()
        self._layers = np.zeros(surface.shape, np.int16)
        self._top = np.full(surface.shape, -1, np.int32)
        # The plane through the crests of the threads laid so far, less what crossing presses out.
        self._crests = np.full(surface.shape, -np.inf)
        self._rest: dict[float, Array] = {}
        self._grounds: dict[int, Array] = {}

    def laid(self, lengths: tuple[float, ...]) -> LaidPattern:
        """Give the surfaces as they are now."""
        surface = self._base.with_arrays(
            radius=self._radius,
            material=self._material,
            lay=self._lay,
            row=self._row,
            along=self._along,
            tube=self._base.tube | (self._top >= 0),
        )
        beneath = self._base.with_arrays(radius=self._under_radius, material=self._under_material)
        return LaidPattern(surface, beneath, self._layers, lengths)

    def lay(self, group: "_Group") -> None:
        """Lay threads side by side on everything laid before."""
        surface, half = self._base, group.half
        nearest, column = self._places(group)
        ground = self._crests[nearest, column] + half
        np.maximum(ground, self._resting(half)[nearest, column], out=ground)
        self._grounds[group.number] = ground
        thread, along, at, off = self._under(group)
        # Place by place: beside the bundle that this thread crosses the next one presses it down.
        rest = np.maximum(self._crests[at], self._resting(half)[at] - half)
        self._under_radius[at] = np.maximum(self._crests[at], surface.radius[at])
        self._under_material[at] = self._material[at]
        self._crests[at] = rest + 2 * half * (1 - PRESSED)
        self._top[at] = group.number + thread
        materials = np.array([laid.material for laid in group.threads], np.int16)
        self._material[at] = materials[thread]
        self._lay[at] = group.run.lay[along]
        self._row[at] = group.number + thread + 0.5 + np.clip(off, -_INSIDE, _INSIDE) / 2
        self._along[at] = group.run.along[along]
        core = off > _FROM
        self._layers[at[0][core], at[1][core]] += 1

    def stretch(self, group: "_Group") -> list[float]:
        """Stretch threads that are laid, shape what shows of them, and give their lengths, mm."""
        turn = 2 * np.pi / self._base.theta.size
        nearest, column = self._places(group)
        number = group.number + np.arange(len(group.threads))
        held = self._top[nearest, column] > number[:, None]
        path = taut(self._grounds.pop(group.number), turn, held)
        thread, along, at, off = self._under(group)
        seen = self._top[at] == number[thread]
        thread, along, off, at = thread[seen], along[seen], off[seen], (at[0][seen], at[1][seen])
        high = path[thread, along] + group.half * np.sqrt(np.maximum(1 - off * off, 0))
        # Where the middle has left a bundle its side may still lie on it.
        self._radius[at] = np.maximum(high, self._under_radius[at])
        on = (group.z >= self._start) & (group.z <= self._end)
        return _lengths(group.z, path, on, turn)

    def _places(self, group: "_Group") -> tuple[Index, Index]:
        """Station and column of the grid nearest to each place along each thread, (k, m)."""
        surface = self._base
        nearest = np.rint((group.z - surface.z[0]) / surface.step).astype(np.intp)
        np.clip(nearest, 0, surface.z.size - 1, out=nearest)
        return nearest, np.broadcast_to(group.run.column, nearest.shape)

    def _under(self, group: "_Group") -> tuple[Index, Index, tuple[Index, Index], Array]:
        """Every place under each thread.

        Returns
        -------
        thread, along : (p,) int
            Which thread, and how far along it.
        at : tuple of (p,) int
            Station and column.
        off : (p,) float
            How far from the crest, in half widths.
        """
        surface, run = self._base, group.run
        wide = group.half * run.spread
        reach = int(np.ceil(float((wide / run.sine).max()) / surface.step))
        station = self._places(group)[0][..., None] + np.arange(-reach, reach + 1)
        z = surface.z[0] + station * surface.step
        off = (z - group.z[..., None]) * (run.sine / wide)[:, None]
        inside = np.abs(off) <= 1 + _SHARED
        inside &= (station >= 0) & (station < surface.z.size)
        slack = 1e-9 * surface.step
        inside &= (z >= self._start - slack) & (z <= self._end + slack)
        thread, along, _ = np.nonzero(inside)
        return thread, along, (station[inside], run.column[along]), off[inside]

    def _resting(self, half: float) -> Array:
        """Where the middle of a thread comes to rest on what was there before the pattern, mm.

        That of a ball let down on it: a thread's own round, whichever way it runs.
        """
        if half not in self._rest:
            surface = self._base
            nz, nt = surface.shape
            width = float(surface.radius.mean()) * 2 * np.pi / nt
            rows, columns = (int(half / size) for size in (surface.step, width))
            around = np.pad(surface.radius, ((0, 0), (columns, columns)), mode="wrap")
            around = np.pad(around, ((rows, rows), (0, 0)), mode="edge")
            rest = np.full(surface.shape, -np.inf)
            for i, j in np.ndindex(2 * rows + 1, 2 * columns + 1):
                away = (i - rows) * surface.step, (j - columns) * width
                high = half * half - away[0] ** 2 - away[1] ** 2
                if high >= 0:
                    np.maximum(rest, around[i : i + nz, j : j + nt] + np.sqrt(high), out=rest)
            self._rest[half] = rest
        return self._rest[half]


def _alike(part: tuple[Pass, ...]) -> Iterator[list[Pass]]:
    """Threads that can be laid at once: of one bundle and one diameter, in their order."""
    group: list[Pass] = []
    for thread in part:
        if group and (thread.start, thread.hand, thread.diameter) != (
            group[0].start,
            group[0].hand,
            group[0].diameter,
        ):
            yield group
            group = []
        group.append(thread)
    if group:
        yield group


def _lengths(z: Array, radius: Array, on: NDArray[np.bool_], turn: float) -> list[float]:
    """Length of each thread where it is `on` the blank, mm."""
    around = (radius[:, 1:] + radius[:, :-1]) / 2 * turn
    steps = np.hypot(np.hypot(np.diff(z, axis=1), np.diff(radius, axis=1)), around)
    both = on[:, 1:] & on[:, :-1]
    return [float(length) for length in (steps * both).sum(axis=1)]


def marks(right: Winding, axis: int, start: float, end: float, start_angle: float = 0.0) -> Array:
    """Find where the middles of the bundles cross on an axis.

    Right- and left-hand bundles that meet on the guide line at the winding's origin meet again on
    2 n axes round the blank, n the number of starts: on axis m at the angle pi m / n wherever the
    winding has turned through pi (m + 2 k) / n, for every whole k.

    Parameters
    ----------
    right : Winding
        The right-hand bundles; the left-hand ones mirror them.
    axis : int
        0 where the windings begin.
    start, end : float
        Only marks between these are given, mm.
    start_angle : float
        Angle of axis 0 from the guide line, as the winding was made, rad.

    Returns
    -------
    (k,) float
        Distances from the butt, increasing, mm.
    """
    step = 2 * np.pi / right.starts
    first, last = right.phase_at(np.array([start, end]))
    offset = axis % 2 * step / 2 + start_angle
    number = np.arange(np.ceil((first - offset) / step - 1e-9), (last - offset) / step + 1e-9)
    return right.z_at(number * step + offset)
