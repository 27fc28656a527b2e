"""Colour schemes: which threads of a shelf a design might have in place of its own.

A scheme gives a thread to every role of a design. A role is all places in which the design names
one thread; the ground is that of its cover, or else of its first layer. For each thread that could
be the ground, and each template of hues (`scenes.palettes.harmony`), the other roles take, one
after the other, the thread that differs most from those chosen, among the threads

- whose hue lies in the template's sectors, or which have next to no colour;
- as thick as the thread that they replace, so that nothing moves on the blank.

What is left is kept where the contrast is enough: the ground against the blank and against every
other role, and the other roles among themselves, by CIEDE2000 [Sharma2005] on the colours of the
dry threads. Of each template the schemes with the most contrast come first.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, zip_longest

import numpy as np
from numpy.typing import NDArray

from materials.colour import linear_to_lab, parse_hex, srgb_to_linear
from materials.difference import delta_e_2000
from materials.shelf import Shelf
from materials.thread import Thread
from scenes.design.document import Design
from scenes.design.threads import thread_names
from scenes.palettes.harmony import NEUTRAL, TEMPLATES, Template, chroma, degrees_outside, hue
from scenes.parts.layer import WoundModel

__all__ = ["FROM_BLANK", "FROM_EACH_OTHER", "FROM_GROUND", "Role", "Scheme", "roles_of", "schemes"]

FROM_BLANK, FROM_GROUND, FROM_EACH_OTHER = 10.0, 20.0, 8.0
"""Least differences (CIEDE2000) of the ground from the blank, of the other roles from the ground,
and of these from each other: ten to twenty times the least that is seen side by side, so that a
trim a millimetre wide is seen at arm's length (common practice, no source)."""

_OWN = 6.0
"""Contrast by which a thread of the builder's own shelf goes before one of another."""

_COLOURED = 0.15
"""Contrast that a unit of chroma is worth: of two threads that differ alike, the more colourful."""

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Role:
    """All places in which a design names one thread.

    Parameters
    ----------
    thread : str
        The design's own.
    paths : tuple of str
    """

    thread: str
    paths: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scheme:
    """A thread for every role of a design.

    Parameters
    ----------
    name : str
        Of its ground and of what stands out from it most.
    rule : str
        Its harmony in words.
    threads : tuple of str
        Name of each role's thread, the ground first.
    changes : dict of str to str
        Threads by the path of the field.
    """

    name: str
    rule: str
    threads: tuple[str, ...]
    changes: Mapping[str, str]


def roles_of(design: Design) -> list[Role]:
    """List the roles of a design, the ground first, the others in bench order.

    Parameters
    ----------
    design : Design
    """
    paths: dict[str, list[str]] = {}
    for path, name in thread_names(design):
        paths.setdefault(name, []).append(path)
    covers = [layer for layer in design.layers if isinstance(layer, WoundModel)]
    grounds = {path for cover in covers for path, _ in _named_by(design, cover)}
    order = sorted(paths, key=lambda name: not grounds & set(paths[name]))
    return [Role(name, tuple(paths[name])) for name in order]


def schemes(
    design: Design, shelf: Shelf, own: Iterable[Thread] = (), most: int = 8
) -> list[Scheme]:
    """Find colour schemes for a design.

    Parameters
    ----------
    design : Design
    shelf : Shelf
        All threads that there are to choose from.
    own : iterable of Thread
        Those of the builder, which go before others.
    most : int
        Schemes at most.

    Returns
    -------
    list of Scheme
        Each with another ground; empty for a design of a single thread that no other could replace.

    Raises
    ------
    ShelfProblem
        If a thread of the design is not on the shelf.
    """
    roles = roles_of(design)
    if not roles:
        return []
    search = _Search(design, shelf, roles, frozenset(thread.name for thread in own))
    found = [sorted(search.of(template), key=lambda scored: -scored[0]) for template in TEMPLATES]
    chosen: list[Scheme] = []
    grounds: list[int] = []
    used: set[tuple[str, ...]] = {tuple(role.thread for role in roles)}
    # One of each template in turn, so that the row shows different rules.
    for scored in filter(None, chain.from_iterable(zip_longest(*found))):
        _, template, picked = scored
        names = tuple(search.threads[place].name for place in picked)
        alike = any(search.apart[picked[0], ground] < FROM_EACH_OTHER for ground in grounds)
        if alike or names in used or len(chosen) == most:
            continue
        used.add(names)
        grounds.append(picked[0])
        taken = [scheme.name for scheme in chosen]
        name = next(one for one in _names(search, picked) if one not in taken)
        changes = {
            path: thread for role, thread in zip(roles, names, strict=True) for path in role.paths
        }
        rule = template.name if len(roles) > 1 else "a thread by itself"
        chosen.append(Scheme(name, rule, names, changes))
    return chosen


class _Search:
    """The threads of a shelf, and what is computed of them once."""

    def __init__(
        self, design: Design, shelf: Shelf, roles: Sequence[Role], own: frozenset[str]
    ) -> None:
        self.threads = shelf.threads
        self.roles = roles
        lab = linear_to_lab(np.array([thread.linear_rgb for thread in self.threads]))
        blank = linear_to_lab(srgb_to_linear(parse_hex(design.blank.colour)))
        self.apart: Array = delta_e_2000(lab[:, None], lab[None, :])
        self.from_blank: Array = delta_e_2000(lab, blank)
        self.hue, self.chroma = hue(lab), chroma(lab)
        self.bonus: Array = _COLOURED * self.chroma + [
            _OWN * (thread.name in own) for thread in self.threads
        ]
        self.fitting = [
            [
                place
                for place, thread in enumerate(self.threads)
                if math.isclose(thread.diameter_mm, shelf.thread(role.thread).diameter_mm)
            ]
            for role in roles
        ]

    def of(self, template: Template) -> Iterator[tuple[float, Template, tuple[int, ...]]]:
        """Yield contrast, template and the threads' places on the shelf, for each ground."""
        for ground in self.fitting[0]:
            if self.from_blank[ground] < FROM_BLANK:
                continue
            for anchor in self._anchors(ground):
                picked = self._picked(template, ground, anchor)
                if picked is not None:
                    yield self._worth(picked), template, picked
                    break

    def _anchors(self, ground: int) -> Iterator[float]:
        """Hues by which the template is turned: the ground's, or any if it has next to none."""
        if self.chroma[ground] >= NEUTRAL:
            yield float(self.hue[ground])
            return
        others = {place for fitting in self.fitting[1:] for place in fitting}
        coloured = [place for place in others if self.chroma[place] >= NEUTRAL]
        for place in sorted(coloured, key=lambda place: -self.apart[ground, place]):
            yield float(self.hue[place])

    def _picked(self, template: Template, ground: int, anchor: float) -> tuple[int, ...] | None:
        """Choose a thread for every role; None where the contrast is not enough."""
        picked = [ground]
        # Every sector is to be seen, or it would be another template.
        lacking = set(range(1, len(template.sectors)))
        for fitting in self.fitting[1:]:
            best, most, seen = -1, -math.inf, -1
            for place in fitting:
                contrast = float(min(self.apart[place, other] for other in picked))
                if self.apart[place, ground] < FROM_GROUND or contrast < FROM_EACH_OTHER:
                    continue
                sector = 0
                if self.chroma[place] >= NEUTRAL:
                    outside = degrees_outside(template, anchor, float(self.hue[place]))
                    if 0.0 not in outside:
                        continue
                    sector = outside.index(0.0)
                elif lacking:
                    continue
                worth = contrast + float(self.bonus[place]) + 100 * (sector in lacking)
                if worth > most:
                    best, most, seen = place, worth, sector
            if best < 0:
                return None
            picked.append(best)
            lacking.discard(seen)
        return None if lacking and len(picked) > 1 else tuple(picked)

    def _worth(self, picked: tuple[int, ...]) -> float:
        others = picked[1:]
        contrast = min((float(self.apart[picked[0], other]) for other in others), default=0.0)
        return contrast + float(np.mean(self.bonus[list(picked)]))


def _names(search: _Search, picked: tuple[int, ...]) -> Iterator[str]:
    """Names for a scheme, from the first words of its threads' names; then numbered ones."""
    ground, *others = picked
    others.sort(key=lambda place: -search.apart[ground, place])
    first = _first_word(search.threads[ground])
    words = [word for place in others if (word := _first_word(search.threads[place])) != first]
    for word in words:
        yield f"{first} and {word}"
    if not words:
        yield first
    for number in range(2, len(search.threads) + 3):
        yield f"{first} {number}"


def _first_word(thread: Thread) -> str:
    return thread.name.split()[0][:24]


def _named_by(design: Design, layer: WoundModel) -> Iterator[tuple[str, str]]:
    path = design.path_of(layer)
    return ((of, name) for of, name in thread_names(design) if of.startswith(f"{path}."))
