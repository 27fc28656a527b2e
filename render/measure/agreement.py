"""How well the live picture agrees with the photograph: `python -m render.measure.agreement`.

Both are drawn from one stage, so what differs is how light is followed. The lens is a pinhole
here, as the live camera is.
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
from render.pathtraced.photo import PhotoScene
from render.request.subject import Pixels, Size, Subject
from scenes.files import samples
from scenes.stage.stage import Stage, stage_for

__all__ = ["Agreement", "agreement", "main", "table_of"]

_SIZE = (480, 270)
_SAMPLES = 64
_TURNS = 5

_WANTED = 0.10
"""Mean FLIP that we aim for."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """Both pictures of a stage at one turn.

    Parameters
    ----------
    turn : float
        rad.
    flip : float
        Mean FLIP of the live picture against the photograph.
    itself : float or None
        Mean FLIP of two photographs, each of as many samples, against each other: what the
        photograph's own noise counts for. Read at the first turn alone, since it takes as long as
        everything else.
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
) -> Iterator[Agreement]:
    """Compare both pictures of a stage at several turns of the rod.

    Parameters
    ----------
    stage : Stage
    size : (int, int)
        Width and height of the pictures, pixels.
    turns : sequence of float, optional
        rad; by default five, evenly spread, the first as the design asks.
    samples : int
        Of the photographs.
    """
    if turns is None:
        turns = (stage.turn + 2 * np.pi * np.arange(_TURNS) / _TURNS).tolist()
    with LiveScene(stage, size) as scene:
        drawn = [scene.picture(turn) for turn in turns]
    with PhotoScene(stage, size, samples=samples, aperture=0) as camera:
        for number, (turn, live) in enumerate(zip(turns, drawn, strict=True)):
            photo = camera.picture(turn)
            # Every picture is traced from new random numbers.
            itself = None if number else mean_flip(photo, camera.picture(turn))
            yield Agreement(turn, mean_flip(photo, live), itself, live, photo)


def table_of(found: dict[str, list[Agreement]]) -> Table:
    """A table of mean FLIP, a row for each sample."""
    table = Table(title=f"Live picture against photograph: mean FLIP (wanted: {_WANTED:.2f})")
    table.add_column("sample")
    for one in next(iter(found.values()), []):
        table.add_column(f"{np.rad2deg(one.turn):.0f}°", justify="right")
    table.add_column("mean", justify="right")
    table.add_column("photo against itself", justify="right")
    table.add_column("")
    for name, each in found.items():
        mean = float(np.mean([one.flip for one in each]))
        itself = [f"{one.itself:.3f}" for one in each if one.itself is not None]
        mark = "yes" if mean <= _WANTED else "NO"
        numbers = (*(one.flip for one in each), mean)
        table.add_row(name, *(f"{number:.3f}" for number in numbers), ", ".join(itself), mark)
    return table


def main(names: Sequence[str] = ()) -> None:
    """Compare samples, all by default, and print the table."""
    quieten()
    console = Console()
    found = {}
    for name in names or samples.names():
        console.print(f"comparing: {name}", style="dim", highlight=False)
        subject = Subject(samples.load(name), Shelf.shipped())
        wrap = subject.build(Detail.NORMAL, Progress.none())
        found[name] = list(agreement(stage_for(wrap, _SIZE[0] / _SIZE[1])))
    console.print(table_of(found))


if __name__ == "__main__":
    main(sys.argv[1:])
