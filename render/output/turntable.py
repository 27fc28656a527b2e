"""Turntables: films of the rod turning once about its axis."""

from pathlib import Path

from render.common.progress import Progress
from render.common.tags import Tag
from render.output.capture import SETTING, Scene, scene_of
from render.output.film import SUFFIXES, Film, film_at
from render.output.signature import PlacedSignature, Signature
from render.output.size_limit import (
    check_held,
    check_limit,
    fit,
    scaled,
    smaller,
    writing_steps,
)
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import Pixels, Size
from scenes.building.build import Wrap

__all__ = ["save_turntable", "steps"]


def steps(frames: int, *, limited: bool = False) -> int:
    """Number of steps of progress of `save_turntable`.

    Parameters
    ----------
    frames : int
        Number of frames.
    limited : bool
        Whether the file has a maximum size.
    """
    return SETTING + frames + (writing_steps(frames) if limited else 0)


def save_turntable(
    wrap: Wrap,
    path: Path,
    film: Film,
    *,
    max_mb: float | None = None,
    capture: CaptureSettings = LIVE,
    signature: Signature | None = None,
    progress: Progress | None = None,
) -> Film:
    """Write one turn of a wrap as GIF, MP4, WebP or a folder of PNG pictures.

    Parameters
    ----------
    wrap : Wrap
        Only the turn of the rod differs from frame to frame.
    path : Path
    film : Film
        The requested film.
    max_mb : float, optional
        Maximum size of the file, megabytes: dimensions and frames are lowered until it fits.
    capture : CaptureSettings
    signature : Signature, optional
        Put on every frame.
    progress : Progress, optional
        Advanced by `steps`.

    Returns
    -------
    Film
        The film that was written.

    Raises
    ------
    RequestProblem
        If the film cannot be made or written.
    DrawingProblem
    """
    progress = progress or Progress.none()
    if signature is not None:
        signature.note_missing(path, progress)
    if max_mb is not None:
        check_limit(max_mb, path, SUFFIXES)
        check_held(film.frames, film.size)
    with (
        film_at(path, film, Tag.of(wrap.design, capture=capture.description)) as write,
        scene_of(wrap, film.size, progress, capture=capture, pictures=film.frames) as scene,
    ):
        turning = _Turning(scene, film, wrap.design.camera.turn, progress, signature)
        if max_mb is not None:
            return fit(write, film, turning, max_mb, progress)
        write(turning.draw)
        return film


class _Turning:
    """Frames of a turning wrap; a frame that was scaled is kept for further scales."""

    def __init__(
        self,
        scene: Scene,
        film: Film,
        start: float,
        progress: Progress,
        signature: Signature | None = None,
    ) -> None:
        self._scene, self._film, self._start, self._progress = scene, film, start, progress
        self._signature = signature
        self._placed: PlacedSignature | None = None
        self._full_size: dict[int, Pixels] = {}
        self._drawn = 0

    def draw(self, number: int) -> Pixels:
        """Draw a frame."""
        # Counted as they are drawn: a smaller film draws every third first, and the others later.
        self._drawn += 1
        self._progress.describe(f"frame {self._drawn} of {self._film.frames}")
        pixels = self._scene.picture(self._film.turn(number, self._start))
        if self._signature is None:
            return pixels
        # In all frames it stands where the first one has room for it.
        self._placed = self._placed or self._signature.placed(pixels)
        return self._placed.on(pixels)

    def size(self, scale: float) -> Size:
        """Width and height at a scale, pixels."""
        return smaller(self._film.size, scale)

    def picture(self, number: int, scale: float) -> Pixels:
        """Picture of a frame at a scale."""
        if number not in self._full_size:
            self._full_size[number] = self.draw(number)
        return scaled(self._full_size[number], self.size(scale))
