"""Pictures of a wrap on the stage, for stills, turntables and comparisons.

A `Scene` hides whether a picture is drawn live or path-traced.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol

from materials.vision import simulate
from render.common.durations import duration_text
from render.common.heap import give_back_freed_memory
from render.common.progress import Progress
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import Pixels, Size, check_size
from scenes.building.build import Plan, Wrap
from scenes.stage.camera import Camera
from scenes.stage.stage import Stage, camera_of, lighting, stage_for

if TYPE_CHECKING:
    from render.live.live import LiveScene

# VTK is imported where a picture is drawn live: a photo need not wait a second for it.

__all__ = ["SETTING", "Scene", "scene_of"]

SETTING = 1
"""Steps of progress of `scene_of`."""

_MOST_SAMPLES = 50_000_000
"""Maximum samples of one picture; a window with more takes over 1 GB."""


class Renderer(Protocol):
    """A renderer that takes pictures of a stage."""

    size: Size

    def show_stage(self, stage: Stage) -> None:
        """Replace the stage.

        Parameters
        ----------
        stage : Stage
        """

    def look_from(self, camera: Camera) -> None:
        """Set the camera.

        Parameters
        ----------
        camera : Camera
        """

    def turn_to(self, turn: float) -> None:
        """Turn the rod about its axis.

        Parameters
        ----------
        turn : float
            Angle, rad.
        """

    def resize(self, size: Size, samples: int, /) -> None:
        """Make later pictures of another size.

        Parameters
        ----------
        size : (int, int)
            Width and height, pixels.
        samples : int
            Paths through a pixel of a photo; of a live picture, samples along either side of it.
        """

    def picture(self, turn: float | None = None) -> Pixels:
        """Take a picture.

        Parameters
        ----------
        turn : float, optional
            Angle of the rod, rad; by default it stays as it is.
        """


class Scene:
    """A wrap on the stage, ready for pictures.

    Parameters
    ----------
    renderer : Renderer
    stage : Stage
    capture : CaptureSettings
    picture_progress : _PictureProgress
    check : callable
        Raises `DrawingProblem` if a picture failed.
    live : LiveScene, optional
        The renderer, if it draws live.
    """

    def __init__(
        self,
        renderer: Renderer,
        stage: Stage,
        capture: CaptureSettings,
        picture_progress: "_PictureProgress",
        check: Callable[[], None],
        live: "LiveScene | None" = None,
    ) -> None:
        self.stage = stage
        self._renderer = renderer
        self._capture = capture
        self._picture_progress = picture_progress
        self._check = check
        self._live = live
        self._shown_before: tuple[Size, int] | None = None

    def picture(self, turn: float | None = None) -> Pixels:
        """Take a picture, advancing the progress by one.

        Parameters
        ----------
        turn : float, optional
            Turn of the rod about its axis, rad; by default it stays as it is.

        Returns
        -------
        (height, width, 3) uint8
            sRGB.

        Raises
        ------
        DrawingProblem
        """
        self._show_again()
        return self._taken(turn)

    def _taken(self, turn: float | None) -> Pixels:
        pixels = self._renderer.picture(turn)
        self._check()
        self._picture_progress.finish()
        vision = self._capture.vision
        return pixels if vision is None else simulate(pixels, vision)

    @property
    def can_measure(self) -> bool:
        """Whether `measured` can be called: in a live scene."""
        return self._live is not None

    def measured(self, plan: Plan, camera: Camera, size: Size) -> tuple[Stage, Pixels]:
        """Take a picture for measurement of the wrap that is shown, advancing the progress by one.

        It has one sample a pixel, also at outlines, and the maps and meshes of the scene. The light
        and the card are those of the design in a picture of this shape. Later pictures are as if it
        had not been.

        Parameters
        ----------
        plan : Plan
            That of the wrap.
        camera : Camera
        size : (int, int)
            Width and height, pixels.

        Returns
        -------
        stage : Stage
            With the camera and the light of the picture.
        pixels : (height, width, 3) uint8
            sRGB.

        Raises
        ------
        RequestProblem
            If the size is too large or too small.
        DrawingProblem
        """
        live = self._live
        assert live is not None
        check_size(size)
        aspect = size[0] / size[1]
        lit = lighting(plan, plan.design.light, camera_of(plan, aspect), aspect)
        stage = self.stage.with_light(lit).with_camera(camera)
        if self._shown_before is None:
            self._shown_before = live.size, live.supersample
            give_back_freed_memory()
        live.resize(size, 1, outlines=False)
        _show(live, stage)
        return stage, self._taken(stage.turn)

    def picture_from(self, camera: Camera, size: Size) -> Pixels:
        """Take a picture from elsewhere in the same light, advancing the progress by one.

        Later pictures are taken from there too.

        Parameters
        ----------
        camera : Camera
        size : (int, int)
            Width and height, pixels.

        Raises
        ------
        RequestProblem
            If the size is too large or too small.
        DrawingProblem
        """
        check_size(size)
        self._show_again()
        if size != self._renderer.size:
            capture = self._capture
            self._renderer.resize(size, capture.paths if capture.photo else _supersample(size))
        self._renderer.look_from(camera)
        return self._taken(None)

    def _show_again(self) -> None:
        """Show the scene's own stage at its own size, after a measurement."""
        if self._shown_before is not None and self._live is not None:
            self._live.resize(*self._shown_before)
            _show(self._live, self.stage)
            self._shown_before = None

    def show(self, wrap: Wrap, progress: Progress, *, camera: Camera | None = None) -> None:
        """Replace the wrap, advancing `progress` by `SETTING`.

        Parameters
        ----------
        wrap : Wrap
        progress : Progress
        camera : Camera, optional
            By default the camera stays where it is.
        """
        progress.describe("light")
        self._show_again()
        width, height = self._renderer.size
        self.stage = stage_for(wrap, width / height).with_camera(camera or self.stage.camera)
        _show(self._renderer, self.stage)
        progress.advance()


def _show(renderer: Renderer, stage: Stage) -> None:
    renderer.show_stage(stage)
    renderer.look_from(stage.camera)
    renderer.turn_to(stage.turn)


def _supersample(size: Size) -> int:
    """Samples along either side of a pixel of a live picture for viewing."""
    return 2 if 4 * size[0] * size[1] <= _MOST_SAMPLES else 1


@contextmanager
def scene_of(
    wrap: Wrap,
    size: Size,
    progress: Progress,
    *,
    camera: Camera | None = None,
    capture: CaptureSettings = LIVE,
    pictures: int = 1,
    sharp: bool = True,
) -> Iterator[Scene]:
    """Put a wrap on the stage, advancing `progress` by `SETTING`.

    Parameters
    ----------
    wrap : Wrap
    size : (int, int)
        Width and height of the pictures, pixels.
    progress : Progress
        Before a photo, it notes how long the work will take.
    camera : Camera, optional
        Instead of the camera of the design.
    capture : CaptureSettings
    pictures : int
        Number of pictures that will be taken.
    sharp : bool
        Draw live pictures with more samples, for viewing. Measurements do not need it.

    Yields
    ------
    Scene

    Raises
    ------
    RequestProblem
        If the size is too large or too small, or the photo extra is not installed.
    DrawingProblem
    """
    check_size(size)
    progress.describe("light")
    width, height = size
    # Building leaves much of it between what is still in use.
    give_back_freed_memory()
    stage = stage_for(wrap, width / height)
    if camera is not None:
        stage = stage.with_camera(camera)
    picture_progress = _PictureProgress(progress)
    if capture.photo:
        from render.pathtraced.engine import selected_engine
        from render.pathtraced.engines import Engine
        from render.pathtraced.photo import PhotoScene

        with PhotoScene(stage, size, samples=capture.paths, step=picture_progress.step) as photo:
            if pictures > 1 or selected_engine() is not Engine.GPU:
                progress.describe("how long it takes")
                seconds = pictures * photo.estimate()
                progress.expect(seconds, _forecast(seconds, pictures, size, capture))
            else:  # the estimate would take as long as the picture
                progress.describe(capture.maker)
            progress.advance()
            yield Scene(photo, stage, capture, picture_progress, lambda: None)
        return
    from render.live.live import LiveScene
    from render.live.vtk_log import errors_caught, quieten

    quieten()
    supersample = _supersample(size) if sharp else 1
    with (
        errors_caught() as errors,
        LiveScene(stage, size, supersample=supersample, outlines=sharp) as live,
    ):
        give_back_freed_memory()
        progress.advance()
        yield Scene(live, stage, capture, picture_progress, errors.check, live)


class _PictureProgress:
    """Progress of a series of pictures: one step each, for any number of passes."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._done = 0.0

    def step(self, done: int, total: int) -> None:
        """Count `done` of `total` passes of the present picture."""
        self._progress.advance(done / total - self._done)
        self._done = done / total

    def finish(self) -> None:
        """Count the rest of the present picture."""
        self._progress.advance(1 - self._done)
        self._done = 0.0


def _forecast(seconds: float, pictures: int, size: Size, capture: CaptureSettings) -> str:
    what = "a photo" if pictures == 1 else f"{pictures} photos"
    return (
        f"About {duration_text(seconds)} for {what} of {size[0]}x{size[1]} at {capture.paths} "
        f"samples a pixel ({capture.maker})"
    )
