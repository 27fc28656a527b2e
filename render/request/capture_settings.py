"""The manner in which pictures are taken: drawn live or path-traced, and for whose eyes."""

from dataclasses import dataclass

from materials.vision import Deficiency
from render.common.problems import RequestProblem

__all__ = ["LIVE", "Manner"]

_MOST_SAMPLES = 4096


@dataclass(frozen=True, slots=True)
class Manner:
    """How pictures are taken.

    Parameters
    ----------
    photo : bool
        Path-traced, which takes a minute, instead of drawn live.
    samples : int, optional
        Paths through each pixel of a photo; if not given, as many as leave no visible noise.
    vision : Deficiency, optional
        Show what is seen with that colour-vision deficiency.

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
        """Check that pictures can be taken so on this machine, before long work begins.

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
        """Paths through each pixel of a photo."""
        from render.pathtraced.photo import SAMPLES

        return SAMPLES if self.samples is None else self.samples

    @property
    def sight(self) -> str:
        """Whose eyes it is for, in two words; empty for all eyes."""
        return f"{self.vision.value} vision" if self.vision else ""

    @property
    def told(self) -> str:
        """What sets these pictures apart from others of the same design; empty if nothing."""
        words = [f"path-traced, {self.paths} samples a pixel"] if self.photo else []
        words += [f"as seen with {self.sight}"] if self.vision else []
        return ", ".join(words)


LIVE = Manner()
"""Drawn live, for all eyes."""
