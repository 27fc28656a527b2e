"""Make the references of samples: `python -m render.measure.make_references [SAMPLES]`.

A reference that shows its sample as it is and has converged is kept. It is work for a GPU: on a
processor it takes many hours. `--again` makes all anew, `--most-paths N` ends earlier.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from geometry.grid import Detail
from materials.colour import linear_to_srgb
from materials.shelf import Shelf
from render.common.error_reporting import print_message, run_reporting_errors
from render.common.progress import Progress
from render.measure.likeness import mean_flip
from render.measure.references.files import FOLDER, Making, Reference, outdated, read, write
from render.measure.references.fingerprint import fingerprint
from render.pathtraced.engine import select_engine
from render.pathtraced.photo import PhotoScene
from render.request.subject import Pixels, Size, Subject
from scenes.files import samples
from scenes.light import tone
from scenes.stage.stage import Stage, stage_for

__all__ = ["converged", "main", "make_references"]

Floats = NDArray[np.float32]

_SIZE = (480, 270)

_TURNS = 5

_TARGET = 0.01
"""Mean FLIP of two halves of a reference."""

_MOST_BYTES = 12_000_000
"""Of all references together."""


def make_references(
    names: Sequence[str],
    folder: Path = FOLDER,
    *,
    size: Size = _SIZE,
    turns: int = _TURNS,
    detail: Detail = Detail.NORMAL,
    first_paths: int = 512,
    most_paths: int = 32768,
    again: bool = False,
) -> bool:
    """Make references where there are none, or none that are up to date, and print what was made.

    Parameters
    ----------
    names : sequence of str
        Samples.
    folder : Path
    size : (int, int)
        Width and height, pixels.
    turns : int
        Pictures of each sample, evenly spread from the turn of its design.
    detail : Detail
    first_paths, most_paths : int
        Paths through each pixel of a half, at first and at most.
    again : bool
        Make those too that are up to date.

    Returns
    -------
    bool
        Whether all have converged.
    """
    whole = True
    for name in names:
        subject = Subject(samples.load(name), Shelf.shipped())
        stage = stage_for(subject.build(detail, Progress.none()), size[0] / size[1])
        found = None if again else read(name, folder)
        if found is not None and outdated(found, stage) is None:
            if max(found.making.halves) <= _TARGET:
                print_message(f"{name} is up to date")
                continue
        at = (stage.turn + 2 * np.pi * np.arange(turns) / turns).tolist()
        made = converged(
            name,
            stage,
            size,
            at,
            first_paths=first_paths,
            most_paths=most_paths,
            target=_TARGET,
            note=print_message,
        )
        written = write(made, folder)
        converged_now = max(made.making.halves) <= _TARGET
        whole = whole and converged_now
        state = "converged" if converged_now else f"not converged to {_TARGET}"
        print_message(f"{name}: {state}, {written / 1000:.0f} kB")
    total = sum(path.stat().st_size for path in folder.glob("*")) if folder.exists() else 0
    print_message(f"All references: {total / 1e6:.1f} MB")
    if total > _MOST_BYTES:
        print_message(f"That is more than {_MOST_BYTES / 1e6:.0f} MB; give fewer turns")
    return whole


def converged(
    name: str,
    stage: Stage,
    size: Size,
    turns: Sequence[float],
    *,
    first_paths: int,
    most_paths: int,
    target: float,
    note: Callable[[str], object] = lambda sentence: None,
) -> Reference:
    """Make the reference of a sample.

    Both halves of a picture are traced with numbers of their own, and their paths are doubled until
    the halves look the same. The reference is the mean of both.

    Parameters
    ----------
    name : str
    stage : Stage
    size : (int, int)
        Width and height, pixels.
    turns : sequence of float
        Turns of the rod, rad.
    first_paths, most_paths : int
        Paths through each pixel of a half, at first and at most.
    target : float
        Mean FLIP of the halves that is enough.
    note : callable
        Called with a sentence for each turn.
    """
    pictures: list[Pixels] = []
    paths: list[int] = []
    differences: list[float] = []
    with PhotoScene(stage, size, samples=first_paths, aperture=0, denoise=False) as scene:
        for turn in turns:
            scene.turn_to(turn)
            halves = [_traced(scene, first_paths) for _ in range(2)]
            traced = first_paths
            while True:
                difference = mean_flip(*(_levels(half) for half in halves))
                if difference <= target or 2 * traced > most_paths:
                    break
                # As many paths again, and the mean of both.
                halves = [(half + _traced(scene, traced)) / np.float32(2) for half in halves]
                traced *= 2
            levels = _levels((halves[0] + halves[1]) / np.float32(2))
            pictures.append(np.rint(levels).astype(np.uint8))
            paths.append(2 * traced)
            differences.append(round(difference, 4))
            note(f"{name} at {np.rad2deg(turn):.0f}°: {2 * traced} paths, halves {difference:.4f}")
        words = scene.engine.words
    making = Making(fingerprint(stage), tuple(turns), tuple(paths), tuple(differences), words)
    return Reference(name, making, np.array(pictures))


def _traced(scene: PhotoScene, paths: int) -> Floats:
    scene.samples = paths
    return scene.radiance()


def _levels(radiance: Floats) -> Floats:
    """The picture on screen, 0 to 255, not rounded: FLIP sees a single level."""
    levels = 255 * linear_to_srgb(tone.display_light(radiance * tone.EXPOSURE))
    return np.clip(levels, 0, 255).astype(np.float32)


def main(arguments: Sequence[str]) -> int:
    """Make the references that the arguments name, by default of all samples.

    Parameters
    ----------
    arguments : sequence of str

    Returns
    -------
    int
        Exit code: 1 if some have not converged.
    """
    parser = argparse.ArgumentParser(prog="python -m render.measure.make_references")
    parser.add_argument("samples", nargs="*", metavar="SAMPLE", help="by default all")
    parser.add_argument("--again", action="store_true", help="also those that are up to date")
    parser.add_argument("--most-paths", type=int, default=32768, help="of a half of a picture")
    parser.add_argument("--turns", type=int, default=_TURNS, help="pictures of each sample")
    chosen = parser.parse_args(arguments)
    whole = False

    def work() -> None:
        nonlocal whole
        select_engine(note=print_message)
        whole = make_references(
            chosen.samples or samples.names(),
            turns=chosen.turns,
            most_paths=chosen.most_paths,
            again=chosen.again,
        )

    return run_reporting_errors(work) or int(not whole)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
