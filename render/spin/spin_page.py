"""The spin page: one HTML file for a customer's phone, in which the rod turns under a finger."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from geometry.grid import Detail
from materials.colour import format_hex
from render.common.files import check_suffix, replacing
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.tags import Tag
from render.output.capture import SETTING, scene_of
from render.output.compare import shared_camera
from render.output.film import Film, Picture
from render.output.size_limit import check_held, check_limit, fit, scaled, smaller
from render.request.capture_settings import LIVE, Manner
from render.request.subject import BUILDING, Pixels, Size, Subject
from render.spin.spin_html import LETTERS, Shown, spin_html
from scenes.building.build import Plan
from scenes.stage.camera import Camera

__all__ = ["FRAMES", "MAX_MB", "SIZE", "SUFFIXES", "save_spin_page", "steps"]

SUFFIXES = (".html",)

SIZE: Size = (1600, 900)
FRAMES = 60
SECONDS = 6.0
MAX_MB = 6.0
"""What mail and messengers still pass on without a second thought (common practice, no source)."""

_LEAST_MB = 0.25
"""Below this no rod worth seeing fits: the page alone takes a tenth of it."""

_QUALITY = 84
"""Of a frame, as WebP: chosen by eye, where scales and trims look as drawn."""

_ALONG = 0.5
"""Sine of the greatest angle between the rod and the picture at which it still runs across."""

_ROOM = 2.2
"""Height to be seen of a rod that runs across, in thicknesses of the blank: grips fit in."""


def steps(count: int, frames: int = FRAMES) -> int:
    """Count the steps of progress of a page of `count` designs."""
    return count * (BUILDING + SETTING + frames)


def save_spin_page(
    subjects: Sequence[Subject],
    path: Path,
    *,
    labels: Sequence[str] = (),
    size: Size = SIZE,
    frames: int = FRAMES,
    seconds: float = SECONDS,
    max_mb: float = MAX_MB,
    detail: Detail = Detail.NORMAL,
    manner: Manner = LIVE,
    progress: Progress | None = None,
) -> Film:
    """Turn one design, or a few to switch between, and write a page for the customer.

    The page needs nothing but a browser: no network, no second file.

    Parameters
    ----------
    subjects : sequence of Subject
        Seen in their own light; from where the first turns by the camera that takes in the
        longest. `render.output.compare.Comparison` makes them alike.
    path : Path
        An HTML file.
    labels : sequence of str
        What sets each design apart, if there are several.
    size : (int, int)
        Of a frame, pixels.
    frames : int
        Pictures in one turn.
    seconds : float
        For one turn when it spins by itself.
    max_mb : float
        Most megabytes that the file may have: size and frames are lowered until it fits.
    detail : Detail
    manner : Manner
    progress : Progress, optional

    Returns
    -------
    Film
        What was made of each design: as asked for, or what fits.

    Raises
    ------
    RequestProblem
        If it cannot be made or written.
    DrawingProblem
    """
    progress = progress or Progress.none()
    film = Film(size, frames, seconds)
    _check(path, film, len(subjects), max_mb)
    plans = [subject.plan() for subject in subjects]
    camera = shared_camera(plans, size[0] / size[1])
    with replacing(path) as file:
        turns = _taken(subjects, film, camera, detail, manner, progress)
        shown = _shown(plans, camera, labels, turns, manner)
        return fit(_PageFile(file, shown), film, turns, max_mb, progress)


def _check(path: Path, film: Film, count: int, max_mb: float) -> None:
    check_suffix(path, SUFFIXES)
    check_limit(max_mb, path, SUFFIXES)
    if max_mb < _LEAST_MB:
        raise RequestProblem(
            f"max-mb: {max_mb:g} is too little for a page in which a rod turns; give {_LEAST_MB:g} "
            "or more."
        )
    if not 1 <= count <= len(LETTERS):
        raise RequestProblem(
            f"spin page: {count} designs are not between 1 and {len(LETTERS)}; give fewer, to "
            "switch between them with a thumb."
        )
    check_held(film.frames, film.size, count)


@dataclass(frozen=True, slots=True)
class _Turns:
    """Every frame of every design.

    Parameters
    ----------
    size_drawn : (int, int)
        pixels.
    panels : list of list of (h, w, 3) uint8
        For each design, a picture for each frame.
    """

    size_drawn: Size
    panels: list[list[Pixels]]

    def size(self, scale: float) -> Size:
        """Width and height with sides scaled so, pixels."""
        return smaller(self.size_drawn, scale)

    def picture(self, number: int, scale: float) -> Pixels:
        """Show a frame of all designs, (designs, height, width, 3), with sides scaled so."""
        size = self.size(scale)
        return np.stack([scaled(panel[number], size) for panel in self.panels])


class _PageFile:
    """A page in the making: call it to write it, over what was written before."""

    def __init__(self, path: Path, shown: Shown) -> None:
        self._path, self._shown = path, shown

    def __call__(self, picture: Picture, film: Film) -> int:
        by_frame = [[_packed(one) for one in picture(number)] for number in range(film.frames)]
        pictures = list(zip(*by_frame, strict=True))
        page = spin_html(self._shown, film, pictures)
        return self._path.write_bytes(page.encode("utf-8"))


def _packed(pixels: Pixels) -> bytes:
    file = io.BytesIO()
    # Sharp: a trim's thin threads keep their colour although colour has half the resolution.
    Image.fromarray(pixels).save(
        file, format="WEBP", quality=_QUALITY, method=4, use_sharp_yuv=True
    )
    return file.getvalue()


def _taken(
    subjects: Sequence[Subject],
    film: Film,
    camera: Camera,
    detail: Detail,
    manner: Manner,
    progress: Progress,
) -> _Turns:
    """Turn each design in the same place; one after the other, so that one is in memory."""
    count, start = len(subjects), subjects[0].design.camera.turn
    panels: list[list[Pixels]] = []
    wrap = subjects[0].build(detail, progress)
    with scene_of(
        wrap, film.size, progress, camera=camera, manner=manner, pictures=count * film.frames
    ) as scene:
        for place, subject in enumerate(subjects):
            if place:
                wrap = subject.build(detail, progress)
                scene.show(wrap, progress)
            panel = []
            for number in range(film.frames):
                which = f"design {LETTERS[place]}, " if count > 1 else ""
                progress.say(f"{which}frame {number + 1} of {film.frames}")
                panel.append(scene.picture(film.turn(number, start)))
            panels.append(panel)
    return _Turns(film.size, panels)


def _shown(
    plans: Sequence[Plan], camera: Camera, labels: Sequence[str], turns: _Turns, manner: Manner
) -> Shown:
    designs = [plan.design for plan in plans]
    several = len(designs) > 1
    if several and len(labels) != len(designs):
        raise RequestProblem(
            f"spin page: {len(labels)} labels for {len(designs)} designs; give one for each."
        )
    aside = abs(camera.position[0] - camera.target[0]) / camera.distance
    near = camera.distance - plans[0].middle_radius
    radius = plans[0].middle_radius / near / (2 * np.tan(camera.view_angle / 2))
    return Shown(
        tag=Tag.of(*designs, manner=manner.told),
        notes=designs[0].notes,
        labels=tuple(labels) if several else (),
        start=designs[0].camera.turn,
        radius=radius,
        lies=aside < _ALONG,
        band=min(1.0, _ROOM * 2 * radius) if aside < _ALONG else 1.0,
        ground=_ground(turns.panels[0][0]),
    )


def _ground(picture: Pixels) -> str:
    """Mean colour along a picture's upper and lower edge, where there is no rod."""
    edges = np.concatenate((picture[0], picture[-1])) / 255
    return format_hex(edges.mean(axis=0))
