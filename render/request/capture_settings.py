"""Capture settings: drawn live or path-traced, and a colour vision to simulate."""

from dataclasses import dataclass

from materials.vision import Deficiency
from render.common.problems import RequestProblem

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

    Raises
    ------
    RequestProblem
        If samples are given without a photo, or are too few or too many.
    """

    photo: bool = False
    samples: int | None = None
    vision: Deficiency | None = None

    def __post_init__(self) -> None:
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

    def check(self) -> None:
        """Check that this machine can make such pictures, before long work begins.

        Raises
        ------
        RequestProblem
            If the photo extra is not installed.
        """
        if self.photo:
            from render.pathtraced.engine import engine

            engine()

    @property
    def paths(self) -> int:
        """Paths per pixel of a photo."""
        from render.pathtraced.photo import SAMPLES

        return SAMPLES if self.samples is None else self.samples

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
