"""Make the references of samples: `python -m render.measure.references [SAMPLES]`.

A reference that shows its sample as it is and has converged is kept. On a GPU all take some
minutes, on a processor a day. `--again` makes them anew, `--most-paths N` ends earlier.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.error_reporting import print_message, run_reporting_errors
from render.common.progress import Progress
from render.measure.references.converging import converged
from render.measure.references.store import FOLDER, outdated, read, write
from render.pathtraced.engine import select_engine
from render.request.subject import Subject
from scenes.files import samples
from scenes.stage.stage import stage_for

__all__ = ["main", "make_references"]

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
    size: tuple[int, int] = _SIZE,
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
    parser = argparse.ArgumentParser(prog="python -m render.measure.references")
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
