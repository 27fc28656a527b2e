"""Capture settings: drawn live or path-traced, and a colour vision to simulate."""

from collections.abc import Callable
from dataclasses import dataclass

from materials.vision import Deficiency
from render.common.problems import RequestProblem
from render.pathtraced.engines import Engine

__all__ = ["LIVE", "CaptureSettings"]

_MOST_SAMPLES = 4096


@dataclass(frozen=True, slots=True)
class CaptureSettings:
    """How pictures are made.

    Parameters
    ----------
    photo : bool
        Path-trace the picture, which takes about a minute, instead of drawing it live.
    samples : int, optional
        Paths per pixel of a photo; by default enough to leave no visible noise.
    vision : Deficiency, optional
        Colour-vision deficiency to simulate.
    engine : Engine, optional
        What traces the paths of a photo; by default the fastest that works.

    Raises
    ------
    RequestProblem
        If samples or an engine are given without a photo, or samples are too few or too many.
    """

    photo: bool = False
    samples: int | None = None
    vision: Deficiency | None = None
    engine: Engine | None = None

    def __post_init__(self) -> None:
        if self.engine is not None and not self.photo:
            raise RequestProblem(
                f"engine: {self.engine} is for a photo; give --photo too, or leave --engine out."
            )
        if self.samples is None:
            return
        if not self.photo:
            raise RequestProblem(
                f"samples: {self.samples} is for a photo; give --photo too, or leave --samples out."
            )
        if not 1 <= self.samples <= _MOST_SAMPLES:
            raise RequestProblem(
                f"samples: {self.samples} is not between 1 and {_MOST_SAMPLES}; give the number of "
                "paths through each pixel, such as 64."
            )

    def prepare(self, note: Callable[[str], object] = lambda sentence: None) -> None:
        """Check that this machine can make such pictures, and choose what makes them.

        Parameters
        ----------
        note : callable
            Called with a sentence if the engines of photos are tried, which takes some seconds.

        Raises
        ------
        RequestProblem
            If the photo extra is not installed, or the engine does not work here.
        """
        if self.photo:
            from render.pathtraced.engine import select_engine

            select_engine(self.engine, note)

    @property
    def paths(self) -> int:
        """Paths per pixel of a photo."""
        from render.pathtraced.photo import SAMPLES

        return SAMPLES if self.samples is None else self.samples

    @property
    def maker(self) -> str:
        """What makes the photos of this process, such as ``photo: GPU``; else empty."""
        if not self.photo:
            return ""
        from render.pathtraced.engine import selected_engine

        return f"photo: {selected_engine().words}"

    @property
    def sight(self) -> str:
        """Simulated colour vision in two words; empty for normal vision."""
        return f"{self.vision.value} vision" if self.vision else ""

    @property
    def description(self) -> str:
        """Unusual settings in words; empty if there are none."""
        words = [f"path-traced, {self.paths} samples a pixel"] if self.photo else []
        words += [f"as seen with {self.sight}"] if self.vision else []
        return ", ".join(words)


LIVE = CaptureSettings()
"""Drawn live, with normal colour vision."""
