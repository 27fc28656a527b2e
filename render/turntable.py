"""The rod turning once about its axis, to be looped."""

from pathlib import Path

from render.film import Film, film_at
from render.progress import Progress
from render.shoot import SETTING, scene_of
from render.subject import Pixels, Size
from render.tags import Tag
from scenes.build import Wrap

__all__ = ["save_turntable", "steps"]


def steps(frames: int) -> int:
    """Count the steps of progress that a turntable of so many frames takes."""
    return SETTING + frames


def save_turntable(
    wrap: Wrap,
    path: Path,
    *,
    size: Size,
    frames: int = 60,
    seconds: float = 6.0,
    progress: Progress | None = None,
) -> None:
    """Turn a wrap once and write it as GIF, MP4, WebP or a folder of PNG pictures.

    Parameters
    ----------
    wrap : Wrap
        Built once; only the rod's turn differs from frame to frame.
    path : Path
    size : (int, int)
        Width and height, pixels.
    frames : int
        Pictures in one turn.
    seconds : float
        For one turn.
    progress : Progress, optional

    Raises
    ------
    RequestProblem
        If it cannot be made or written.
    DrawingProblem
    """
    progress = progress or Progress.none()
    film = Film(size, frames, seconds)
    start = wrap.design.camera.turn
    with (
        film_at(path, film, Tag.of(wrap.design)) as write,
        scene_of(wrap, size, progress) as scene,
    ):

        def picture(number: int) -> Pixels:
            progress.say(f"frame {number + 1} of {frames}")
            pixels = scene.picture(film.turn(number, start))
            progress.advance()
            return pixels

        write(picture)
