"""The rod turning once about its axis, to be looped."""

from pathlib import Path

from render.common.progress import Progress
from render.common.tags import Tag
from render.output.capture import SETTING, Scene, scene_of
from render.output.film import SUFFIXES, Film, film_at
from render.output.size_limit import check_held, check_limit, fit, scaled, smaller
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import Pixels, Size
from scenes.building.build import Wrap

__all__ = ["save_turntable", "steps"]


def steps(frames: int) -> int:
    """Count the steps of progress that a turntable of so many frames takes."""
    return SETTING + frames


def save_turntable(
    wrap: Wrap,
    path: Path,
    film: Film,
    *,
    max_mb: float | None = None,
    capture: CaptureSettings = LIVE,
    progress: Progress | None = None,
) -> Film:
    """Turn a wrap once and write it as GIF, MP4, WebP or a folder of PNG pictures.

    Parameters
    ----------
    wrap : Wrap
        Built once; only the rod's turn differs from frame to frame.
    path : Path
    film : Film
        As asked for.
    max_mb : float, optional
        Most megabytes that a file may have: size and frames are lowered until it fits.
    capture : CaptureSettings
    progress : Progress, optional

    Returns
    -------
    Film
        What was made: as asked for, or what fits.

    Raises
    ------
    RequestProblem
        If it cannot be made or written.
    DrawingProblem
    """
    progress = progress or Progress.none()
    if max_mb is not None:
        check_limit(max_mb, path, SUFFIXES)
        check_held(film.frames, film.size)
    with (
        film_at(path, film, Tag.of(wrap.design, capture=capture.description)) as write,
        scene_of(wrap, film.size, progress, capture=capture, pictures=film.frames) as scene,
    ):
        turning = _Turning(scene, film, wrap.design.camera.turn, progress)
        if max_mb is not None:
            return fit(write, film, turning, max_mb, progress)
        write(turning.drawn)
        return film


class _Turning:
    """Frames of a wrap that turns; those that were scaled are kept, to be scaled again."""

    def __init__(self, scene: Scene, film: Film, start: float, progress: Progress) -> None:
        self._scene, self._film, self._start, self._progress = scene, film, start, progress
        self._kept: dict[int, Pixels] = {}

    def drawn(self, number: int) -> Pixels:
        """Draw a frame."""
        self._progress.say(f"frame {number + 1} of {self._film.frames}")
        return self._scene.picture(self._film.turn(number, self._start))

    def size(self, scale: float) -> Size:
        """Width and height with sides scaled so, pixels."""
        return smaller(self._film.size, scale)

    def picture(self, number: int, scale: float) -> Pixels:
        """Show a frame with sides scaled so."""
        if number not in self._kept:
            self._kept[number] = self.drawn(number)
        return scaled(self._kept[number], self.size(scale))
