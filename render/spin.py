"""The window in which the rod turns.

The mouse turns the rod about its own axis, as one turns it in the hand: the light and the camera
stand still. While it moves the picture is drawn quickly; when it rests it is drawn finely.
"""

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyvista as pv
from vtkmodules.vtkInteractionStyle import vtkInteractorStyleUser

from geometry.grid import Detail
from materials.shelf import Shelf
from render.files import replacing
from render.live import LiveScene
from render.quiet import quieten
from render.tags import Tag, save_png
from scenes.build import Plan, Wrap, build
from scenes.camera import Camera
from scenes.document import Design
from scenes.lights import LightKind
from scenes.stage import Stage, stage_for
from scenes.variants import variants

__all__ = ["SpinWindow", "open_window"]

LEGEND = (
    "drag, left / right   turn the rod\n"
    "wheel, up / down     nearer, further\n"
    "space                spin, stop\n"
    "L                    next light\n"
    "V                    next variant\n"
    "S                    save this picture\n"
    "H                    hide or show this\n"
    "Q                    close"
)

_SPIN_SECONDS = 10.0
"""One turn of the steady spin: slow enough to follow a facet through its flash."""

_KEY_TURN = np.deg2rad(5.0)
_ZOOM_STEP = 1.12
_NEAREST, _FURTHEST = 0.12, 3.0
_REST_SECONDS = 0.35
_TICK_MS = 15
_SHARP_SAMPLES = 2
"""Across a pixel, as VTK's supersampling takes them."""


class SpinWindow:
    """A window on a design and its variants.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    pictures : Path
        Where `S` saves: the name without suffix that pictures begin with.
    size : (int, int)
        Width and height, pixels.
    detail : Detail
    plotter : pyvista.Plotter, optional
        Draw into this one; tests give an off-screen one.
    """

    def __init__(
        self,
        design: Design,
        shelf: Shelf,
        pictures: Path,
        *,
        size: tuple[int, int] = (1280, 720),
        detail: Detail = Detail.NORMAL,
        plotter: pv.Plotter | None = None,
    ) -> None:
        self.shelf = shelf
        self.pictures = pictures
        self.size = size
        self.detail = detail
        self.designs = variants(design)
        self.shown = 0
        self.light = list(LightKind).index(design.light.kind)
        self.turn = design.camera.turn
        self.zoom = 1.0
        self.spinning = False
        self._wraps: dict[int, Wrap] = {}
        self._moved = time.monotonic()
        self._drag: int | None = None
        self._sharp = False
        self.plotter = plotter or pv.Plotter(
            window_size=list(size), lighting="none", title=f"Turnlight: {design.title}"
        )
        self.scene = LiveScene(self._stage(), size, supersample=1, plotter=self.plotter)
        self._home = self.scene.stage.camera
        self._legend = self.plotter.add_text(
            LEGEND, position="lower_left", font_size=9, font="courier", color="#c8ccd2"
        )
        self._caption = self.plotter.add_text(
            "", position="upper_left", font_size=10, color="#e4e6ea"
        )
        self._say()

    def open(self) -> None:
        """Show the window until it is closed."""
        self.plotter.show(interactive_update=True, auto_close=False)
        self.bind()
        self._interactor.Start()
        self.plotter.close()

    def bind(self) -> None:
        """Take the window's mouse, wheel, keys and clock."""
        assert self.plotter.iren is not None
        interactor = self.plotter.iren.interactor
        style = vtkInteractorStyleUser()
        interactor.SetInteractorStyle(style)
        # PyVista's own keys would take V for a view of theirs, and more.
        self.plotter.iren.clear_key_event_callbacks()  # type: ignore[no-untyped-call]
        handlers: dict[str, Callable[[], None]] = {
            "LeftButtonPressEvent": self._press,
            "LeftButtonReleaseEvent": self._release,
            "MouseMoveEvent": self._move,
            "MouseWheelForwardEvent": lambda: self.nearer(1),
            "MouseWheelBackwardEvent": lambda: self.nearer(-1),
            "KeyPressEvent": lambda: self.key(interactor.GetKeySym() or ""),
            "CharEvent": lambda: None,
            "TimerEvent": self.tick,
        }
        for event, handler in handlers.items():
            style.AddObserver(event, lambda *_, handler=handler: handler())  # type: ignore[arg-type]
        self._style = style
        self._interactor = interactor
        interactor.CreateRepeatingTimer(_TICK_MS)

    def key(self, name: str) -> None:
        """Do what a key asks; `name` as X11 names it."""
        match name.lower():
            case "left":
                self.turn_by(-_KEY_TURN)
            case "right":
                self.turn_by(_KEY_TURN)
            case "up":
                self.nearer(1)
            case "down":
                self.nearer(-1)
            case "space":
                self.spinning = not self.spinning
                self._last = time.monotonic()
            case "l":
                self.light = (self.light + 1) % len(LightKind)
                self._restage()
            case "v":
                self.shown = (self.shown + 1) % len(self.designs)
                self._restage()
            case "s":
                self.save()
            case "h":
                self._legend.SetVisibility(not self._legend.GetVisibility())
                self._draw()
            case "q" | "escape":
                self._interactor.TerminateApp()

    def turn_by(self, angle: float) -> None:
        """Turn the rod by `angle` rad."""
        self.turn = float((self.turn + angle) % (2 * np.pi))
        self.scene.turn_to(self.turn)
        self._draw()

    def nearer(self, steps: int) -> None:
        """Move the camera in (or out, if negative) by so many steps of the wheel."""
        self.zoom = float(np.clip(self.zoom / _ZOOM_STEP**steps, _NEAREST, _FURTHEST))
        self.scene.look_from(_moved_in(self._home, self.zoom))
        self._draw()

    def tick(self) -> None:
        """Spin on, or sharpen the picture once nothing has moved for a moment."""
        now = time.monotonic()
        if self.spinning:
            passed, self._last = now - self._last, now
            self.turn_by(2 * np.pi * passed / _SPIN_SECONDS)
        elif not self._sharp and now - self._moved > _REST_SECONDS and self._drag is None:
            self._draw(hasty=False)

    def save(self) -> Path:
        """Save what is seen, finely drawn, beside the design; an older picture is kept."""
        stage = replace(self.scene.stage, camera=_moved_in(self._home, self.zoom), turn=self.turn)
        number = 1
        while (path := self.pictures.with_name(f"{self.pictures.name}-{number}.png")).exists():
            number += 1
        with replacing(path) as file, LiveScene(stage, self.size, supersample=2) as scene:
            save_png(scene.picture(), file, Tag.of(self.designs[self.shown][1]))
        self._say(f"saved {path.name}")
        return path

    def _stage(self) -> Stage:
        if self.shown not in self._wraps:
            plan = Plan(self.designs[self.shown][1], self.shelf)
            self._wraps[self.shown] = build(plan, self.detail)
        wrap = self._wraps[self.shown]
        light = wrap.design.light.model_copy(update={"kind": list(LightKind)[self.light]})
        return stage_for(wrap, self.size[0] / self.size[1], light=light)

    def _restage(self) -> None:
        self._say("working …")
        self.plotter.render()
        self.scene.show_stage(self._stage())
        self.scene.turn_to(self.turn)
        self._say()

    def _say(self, words: str = "") -> None:
        """Caption: variant, light, and what just happened."""
        name = self.designs[self.shown][0] if len(self.designs) > 1 else ""
        parts = [part for part in (name, list(LightKind)[self.light].value, words) if part]
        self._caption.SetText(2, "   ".join(parts))
        self._draw()

    def _draw(self, *, hasty: bool = True) -> None:
        self.scene.hasten(hasty, None if hasty else _SHARP_SAMPLES)
        self._sharp = not hasty
        if hasty:
            self._moved = time.monotonic()
            self.plotter.disable_anti_aliasing()
        else:
            self.plotter.enable_anti_aliasing("ssaa")
        self.plotter.render()

    def _press(self) -> None:
        self._drag = self._interactor.GetEventPosition()[1]
        self.spinning = False

    def _release(self) -> None:
        self._drag = None

    def _move(self) -> None:
        if self._drag is None:
            return
        y = self._interactor.GetEventPosition()[1]
        # The rod's front follows the hand: its radius on screen is about one radian.
        radius = self._rod_pixels()
        self.turn_by((self._drag - y) / radius)
        self._drag = y

    def _rod_pixels(self) -> float:
        """Radius of the rod on screen, pixels."""
        camera = _moved_in(self._home, self.zoom)
        half_height = camera.distance * np.tan(camera.view_angle / 2)
        wrap = self.scene.stage.wraps[0]
        return float(wrap.surface.radius.mean() / half_height * self.size[1] / 2)


def open_window(
    design: Design, shelf: Shelf, pictures: Path, *, size: tuple[int, int] = (1280, 720)
) -> None:
    """Open a window on a design and return when it is closed.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    pictures : Path
        What the names of saved pictures begin with.
    size : (int, int)
        pixels.
    """
    quieten()
    SpinWindow(design, shelf, pictures, size=size).open()


def _moved_in(camera: Camera, zoom: float) -> Camera:
    """The camera at `zoom` times its distance from what it looks at."""
    target = np.array(camera.target)
    x, y, z = (target + zoom * (np.array(camera.position) - target)).tolist()
    return replace(camera, position=(x, y, z))
