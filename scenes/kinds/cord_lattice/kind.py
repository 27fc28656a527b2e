"""Registry entry of cord lattices."""

from scenes.kinds.cord_lattice.bench import entries
from scenes.kinds.cord_lattice.builder import LatticeBuilder
from scenes.kinds.cord_lattice.defaults import defaults
from scenes.kinds.cord_lattice.lines import lines, marks
from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.cord_lattice.numbers import NUMBERS
from scenes.kinds.cord_lattice.refit import refits
from scenes.kinds.cord_lattice.summary import summary
from scenes.kinds.cord_lattice.words import WORDS
from scenes.kinds.kind import Kind

__all__ = ["KIND"]

KIND = Kind(
    model=CordLattice,
    builder=LatticeBuilder,
    summary=summary,
    entries=entries,
    lines=lines,
    marks=marks,
    words=WORDS,
    defaults=defaults,
    numbers=NUMBERS,
    refits=refits,
)
