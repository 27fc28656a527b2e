"""Agreement of the live and the path-traced picture: `python -m render.measure.agreement`.

Both are drawn from the same stage, so they differ only in the light transport. The path-traced
picture has a pinhole lens here, like the live one. It is the sample's reference where there is one
that is up to date (`render.measure.make_references`); without one it is traced now, with noise.
"""

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from rich.console import Console
from rich.table import Table

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.progress import Progress
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from render.measure.likeness import mean_flip
from render.measure.references.files import Reference, outdated, read
from render.pathtraced.photo import PhotoScene
from render.request.subject import Pixels, Size, Subject
from scenes.files import samples
from scenes.stage.stage import Stage, stage_for

__all__ = ["Agreement", "agreement", "main", "table_of"]

_SIZE = (480, 270)
_SAMPLES = 64
_TURNS = 5

_TARGET = 0.10
"""Target of the mean FLIP."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """The two pictures of a stage at one turn, and their difference.

    Parameters
    ----------
    turn : float
        Turn of the rod, rad.
    flip : float
        Mean FLIP of the live against the path-traced picture.
    itself : float or None
        Mean FLIP of two path-traced pictures of equal samples against each other: the part of
        their noise. Without a reference it is measured at the first turn only, since it takes as
        long as all the rest.
    live, photo : (height, width, 3) uint8
        sRGB.
    """

    turn: float
    flip: float
    itself: float | None
    live: Pixels
    photo: Pixels


def agreement(
    stage: Stage,
    size: Size = _SIZE,
    *,
    turns: Sequence[float] | None = None,
    samples: int = _SAMPLES,
    reference: Reference | None = None,
) -> Iterator[Agreement]:
    """Compare both pictures of a stage at several turns of the rod.

    Parameters
    ----------
    stage : Stage
    size : (int, int)
        Width and height of the pictures, pixels.
    turns : sequence of float, optional
        Turns of the rod, rad; by default five, evenly spread, from that of the design.
    samples : int
        Paths per pixel of the path-traced pictures.
    reference : Reference, optional
        Path-traced pictures of the stage in this size, at turns of their own, that are there.

    Yields
    ------
    Agreement
        One for each turn.
    """
    if reference is not None:
        turns = reference.making.turns
    if turns is None:
        turns = (stage.turn + 2 * np.pi * np.arange(_TURNS) / _TURNS).tolist()
    with LiveScene(stage, size) as scene:
        live_pictures = [scene.picture(turn) for turn in turns]
    if reference is not None:
        known = zip(turns, live_pictures, reference.pictures, reference.making.halves, strict=True)
        for turn, live, photo, halves in known:
            yield Agreement(turn, mean_flip(photo, live), halves, live, photo)
        return
    with PhotoScene(stage, size, samples=samples, aperture=0) as path_tracer:
        for number, (turn, live) in enumerate(zip(turns, live_pictures, strict=True)):
            photo = path_tracer.picture(turn)
            # Each picture is traced with new random numbers.
            itself = None if number else mean_flip(photo, path_tracer.picture(turn))
            yield Agreement(turn, mean_flip(photo, live), itself, live, photo)


def table_of(found: dict[str, list[Agreement]]) -> Table:
    """Table of mean FLIP, one row for each sample.

    Parameters
    ----------
    found : dict of str to list of Agreement
        By sample; all at the same turns.
    """
    table = Table(title=f"Live picture against photograph: mean FLIP (wanted: {_TARGET:.2f})")
    table.add_column("sample")
    for comparison in next(iter(found.values()), []):
        table.add_column(f"{np.rad2deg(comparison.turn):.0f}°", justify="right")
    table.add_column("mean", justify="right")
    table.add_column("photo against itself", justify="right")
    table.add_column("")
    for name, comparisons in found.items():
        mean = float(np.mean([comparison.flip for comparison in comparisons]))
        itself = [
            f"{comparison.itself:.3f}"
            for comparison in comparisons
            if comparison.itself is not None
        ]
        mark = "yes" if mean <= _TARGET else "NO"
        numbers = (*(comparison.flip for comparison in comparisons), mean)
        table.add_row(name, *(f"{number:.3f}" for number in numbers), ", ".join(itself), mark)
    return table


def main(names: Sequence[str] = (), *, trace: bool = True) -> None:
    """Compare the pictures of samples, and print the table.

    Parameters
    ----------
    names : sequence of str, optional
        Samples; by default all.
    trace : bool
        Trace pictures of samples without a reference that is up to date; else leave them out.
    """
    quieten()
    console = Console()
    found = {}
    for name in names or samples.names():
        console.print(f"comparing: {name}", style="dim", highlight=False)
        subject = Subject(samples.load(name), Shelf.shipped())
        wrap = subject.build(Detail.NORMAL, Progress.none())
        stage = stage_for(wrap, _SIZE[0] / _SIZE[1])
        reference = read(name)
        if reference is not None and (sentence := outdated(reference, stage)):
            console.print(sentence, highlight=False)
            reference = None
        if reference is None and not trace:
            console.print(f"{name} has no reference that is up to date.", highlight=False)
            continue
        found[name] = list(agreement(stage, reference=reference))
    console.print(table_of(found))


if __name__ == "__main__":
    main(sys.argv[1:])
