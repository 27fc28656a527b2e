"""Off-screen windows of the render worker, shared by the views that look at the same wrap."""

from collections.abc import Collection
from typing import TYPE_CHECKING

from geometry.grid import Detail
from render.page.workers.render_messages import FINE, PREVIEW
from render.request.subject import Pixels, Size, Subject
from scenes.building.build import Wrap
from scenes.design.document import Design
from scenes.parts.view import CameraSpec, LightSpec
from scenes.stage.camera import Camera
from scenes.stage.stage import stage_for

if TYPE_CHECKING:
    from render.live.live import LiveScene

__all__ = ["Window", "Windows", "shape_of"]

_MOST_WINDOWS = 3
"""Windows: two sides, or dry and finished, and one more. Each takes about 0.25 GB (half-scale
sample, 1280 x 720 pixels, VTK 9.7.2, software GL)."""


def shape_of(subject: Subject) -> Subject:
    """Reduce a subject to the parts that a wrap is built from.

    Parameters
    ----------
    subject : Subject
    """
    update = {"title": "-", "notes": "", "light": LightSpec(), "camera": CameraSpec()}
    return Subject(subject.design.model_copy(update=update), subject.shelf, subject.beside)


class Window:
    """One off-screen window and its content."""

    def __init__(self) -> None:
        self.shape: Subject | None = None
        self._scene: LiveScene | None = None
        self._wrap: Wrap | None = None
        self._design: Design | None = None
        self._size: Size | None = None
        self._settled = False

    def close(self) -> None:
        """Release the window."""
        if self._scene is not None:
            self._scene.close()

    def wrap_of(self, shape: Subject, *, draft: bool) -> Wrap | None:
        """Return the wrap in the window if it has this shape and enough detail, else None.

        Parameters
        ----------
        shape : Subject
        draft : bool
            Whether a draft is enough.
        """
        if self._wrap is None or self.shape != shape:
            return None
        return self._wrap if draft or self._wrap.detail is not Detail.DRAFT else None

    def shows(self, subject: Subject, size: Size, *, draft: bool) -> bool:
        """Return whether the window shows this subject, at this detail or a better one.

        Parameters
        ----------
        subject : Subject
        size : (int, int)
            Width and height, pixels.
        draft : bool
            Whether a draft is enough.
        """
        if self.wrap_of(shape_of(subject), draft=draft) is None:
            return False
        same = self._design == subject.design and self._size == size
        return same and (draft or self._settled)

    def show(
        self,
        wrap: Wrap,
        shape: Subject,
        subject: Subject,
        camera: Camera,
        size: Size,
        grade: str,
    ) -> None:
        """Put a wrap in the window, with the light of the subject's design.

        Parameters
        ----------
        wrap : Wrap
        shape : Subject
            That the wrap was built from.
        subject : Subject
        camera : Camera
        size : (int, int)
            Width and height, pixels.
        grade : str
        """
        from render.live.live import LiveScene

        design = subject.design
        self._settled = grade != PREVIEW
        scene, around = self._scene, None
        if scene and not self._settled and self._design and self._design.light == design.light:
            # Blurring a light outlasts a preview, so the card's part in it is updated later.
            around = scene.stage.surroundings
        stage = stage_for(wrap, size[0] / size[1], light=design.light, camera=camera, around=around)
        if scene is None:
            self._scene = scene = LiveScene(stage, size, supersample=1)
        else:
            scene.show_stage(stage, keep_light=False)
            scene.look_from(camera)
        self.shape, self._wrap, self._design, self._size = shape, wrap, design, size

    def picture(self, turn: float, size: Size, grade: str) -> Pixels:
        """Draw a picture.

        Parameters
        ----------
        turn : float
            Turn of the rod, rad.
        size : (int, int)
            Width and height of a plain picture, pixels.
        grade : str

        Returns
        -------
        (height, width, 3) uint8
            sRGB; of half the size for a preview.
        """
        scene = self._scene
        assert scene is not None
        if grade == PREVIEW:
            scene.resize((max(16, size[0] // 2), max(16, size[1] // 2)), 1)
        else:
            scene.resize(size, 2 if grade == FINE else 1)
        scene.set_preview(grade == PREVIEW)
        return scene.picture(turn)


class Windows:
    """All windows of the render worker."""

    def __init__(self) -> None:
        self._windows: list[Window] = []

    def close(self) -> None:
        """Release all of them."""
        while self._windows:
            self._windows.pop().close()

    def close_spare(self, shapes: Collection[Subject]) -> None:
        """Release windows beyond one for each wrap.

        Parameters
        ----------
        shapes : collection of Subject
            Of the wraps that are looked at, each once.
        """
        for window in list(self._windows):
            if len(self._windows) > max(1, len(shapes)) and window.shape not in shapes:
                self._windows.remove(window)
                window.close()

    def showing(self, shape: Subject) -> Window | None:
        """Return the window that shows the wrap of a shape; None if there is none.

        Parameters
        ----------
        shape : Subject
        """
        return next((window for window in self._windows if window.shape == shape), None)

    def window_for(self, shape: Subject, wanted: Collection[Subject]) -> Window:
        """Choose the window for a wrap: its own, one that nobody needs, a new one, or the oldest.

        Parameters
        ----------
        shape : Subject
        wanted : collection of Subject
            Shapes of all wraps that are looked at.
        """
        window = self.showing(shape) or next(
            (window for window in self._windows if window.shape not in wanted), None
        )
        if window is None and len(self._windows) >= _MOST_WINDOWS:
            window = self._windows[0]
        if window is None:
            window = Window()
        else:
            self._windows.remove(window)
        # The window that was used last is the last.
        self._windows.append(window)
        return window
