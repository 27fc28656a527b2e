"""Photographs of enough paths that two halves of them look the same."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from materials.colour import linear_to_srgb
from render.measure.likeness import mean_flip
from render.measure.references.fingerprint import fingerprint
from render.measure.references.store import Making, Reference
from render.pathtraced.photo import PhotoScene
from render.request.subject import Pixels, Size
from scenes.light import tone
from scenes.stage.stage import Stage

__all__ = ["converged"]

Floats = NDArray[np.float32]


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
    the halves look the same. The reference is the mean of both, whose noise is half as large again.

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
                difference = mean_flip(*(_shown(half) for half in halves))
                if difference <= target or 2 * traced > most_paths:
                    break
                # As many paths again, and the mean of both.
                halves = [(half + _traced(scene, traced)) / 2 for half in halves]
                traced *= 2
            pictures.append(_shown((halves[0] + halves[1]) / 2))
            paths.append(2 * traced)
            differences.append(round(difference, 4))
            note(f"{name} at {np.rad2deg(turn):.0f}°: {2 * traced} paths, halves {difference:.4f}")
        words = scene.engine.words
    making = Making(fingerprint(stage), tuple(turns), tuple(paths), tuple(differences), words)
    return Reference(name, making, np.array(pictures))


def _traced(scene: PhotoScene, paths: int) -> Floats:
    scene.samples = paths
    return scene.radiance()


def _shown(radiance: Floats) -> Pixels:
    levels = 255 * linear_to_srgb(tone.display_light(radiance * tone.EXPOSURE))
    return np.rint(np.clip(levels, 0, 255)).astype(np.uint8)
