"""The spin page: one HTML file for a customer's phone, in which the rod turns under a finger."""

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image

from geometry.grid import Detail
from materials.colour import format_hex
from render.browser.model import Model, model_of
from render.common.files import check_suffix, replacing
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.tags import Tag
from render.output.capture import SETTING, scene_of
from render.output.compare import shared_camera
from render.output.film import Film, Picture
from render.output.size_limit import (
    check_held,
    check_limit,
    fit,
    scaled,
    smaller,
    writing_steps,
)
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import BUILDING, Pixels, Size, Subject
from render.spin.spin_html import PageContent, spin_html
from scenes.building.build import Plan
from scenes.customer.notes import customer_notes
from scenes.customer.number import design_number
from scenes.customer.reply import LETTERS, Scheme, reply_text
from scenes.design.document import Design
from scenes.stage.camera import Camera

__all__ = ["MAX_MB", "STANDING_IN", "SUFFIXES", "SpinPage", "save_spin_page", "steps"]

SUFFIXES = (".html",)

MAX_MB = 4.0
"""Size of a page for each of its designs; mail and messengers still accept twice that (common
practice, no source)."""

STANDING_IN = 12
"""Frames that stand in for the rod itself where a browser cannot draw it."""

_FRAMES_MB = 0.4
"""Room that is left for the smallest frames and the page's own text, beside a model."""

_LEAST_MODEL_MB = 0.3
"""Less than any model has: below it none is made."""

_LEAST_MB = 0.25
"""Smallest limit in which a useful turn fits; the page without pictures takes a tenth of it."""

_QUALITY = 84
"""WebP quality of a frame, chosen by eye so that scales and trims look as drawn."""

_ALONG = 0.5
"""Sine of the greatest angle between the rod and the picture plane at which the rod counts as
running across the picture."""

_ROOM = 2.2
"""Height that must be visible of a rod that runs across, in diameters of the blank: room for
grips."""

_BESIDE = 1.04
"""Length that a phone shows at first, in lengths of the wrap."""


@dataclass(frozen=True, slots=True)
class SpinPage:
    """What a spin page holds.

    Parameters
    ----------
    film : Film
        Size and number of frames of each design.
    modelled : bool
        Whether a browser can draw the rod itself.
    """

    film: Film
    modelled: bool


def steps(count: int, frames: int) -> int:
    """Number of progress steps of a page.

    Parameters
    ----------
    count : int
        Number of designs.
    frames : int
        Pictures in one turn.
    """
    return count * (2 * BUILDING + SETTING + frames) + writing_steps(frames)


def save_spin_page(
    subjects: Sequence[Subject],
    path: Path,
    film: Film,
    *,
    labels: Sequence[str] = (),
    max_mb: float | None = None,
    detail: Detail = Detail.NORMAL,
    capture: CaptureSettings = LIVE,
    progress: Progress | None = None,
) -> SpinPage:
    """Draw a turn of one design, or of a few to switch between, and write a page of it.

    The page needs only a browser: no network, no second file.

    Parameters
    ----------
    subjects : sequence of Subject
        The designs. Each is seen in its own light; all from the first one's turn, by the camera
        that takes in the longest wrap. `render.output.compare.Comparison` unifies them.
    path : Path
        The HTML file.
    film : Film
        Size and number of frames as requested, and the duration of one turn of the animation. Where
        the browser draws the rod itself, `STANDING_IN` frames at most.
    labels : sequence of str
        Distinguishing words of each design, if there are several.
    max_mb : float
        Size limit of the file, megabytes: frame size and number are lowered until it fits, and
        where the model does not fit there are frames alone. By default `MAX_MB` for each design.
    detail : Detail
    capture : CaptureSettings
    progress : Progress, optional

    Returns
    -------
    SpinPage
        What was made: as requested, or as much as fits.

    Raises
    ------
    RequestProblem
        If it cannot be made or written.
    DrawingProblem
    """
    progress = progress or Progress.none()
    max_mb = MAX_MB * len(subjects) if max_mb is None else max_mb
    _check(path, film, len(subjects), max_mb)
    plans = [subject.plan() for subject in subjects]
    camera = shared_camera(plans, film.size[0] / film.size[1])
    with replacing(path) as file:
        model = None
        if capture == LIVE:
            model = _model(subjects, camera, film.size, detail, max_mb, progress)
        if model is not None:
            film = replace(film, frames=min(film.frames, STANDING_IN))
        turns = _draw_turns(subjects, film, camera, detail, capture, progress)
        content = _content(plans, camera, labels, turns, capture)
        room = max_mb - (0 if model is None else model.size / 1e6)
        made = fit(_PageFile(file, content, model), film, turns, room, progress)
        return SpinPage(made, model is not None)


def _model(
    subjects: Sequence[Subject],
    camera: Camera,
    size: Size,
    detail: Detail,
    max_mb: float,
    progress: Progress,
) -> Model | None:
    """The model for the page; None where pictures alone are to fit into so few megabytes."""
    room = 1e6 * (max_mb - _FRAMES_MB)
    if room < _LEAST_MODEL_MB * 1e6:
        return None
    model = model_of(subjects, camera, size, detail, most_bytes=room, progress=progress)
    return model if model.size <= room else None


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
        Width and height of the frames, pixels.
    panels : list of list of (h, w, 3) uint8
        For each design, a picture for each frame.
    """

    size_drawn: Size
    panels: list[list[Pixels]]

    def size(self, scale: float) -> Size:
        """Width and height with sides scaled by `scale`, pixels."""
        return smaller(self.size_drawn, scale)

    def picture(self, number: int, scale: float) -> Pixels:
        """Frame `number` of all designs, (designs, height, width, 3) uint8, scaled by `scale`."""
        size = self.size(scale)
        return np.stack([scaled(panel[number], size) for panel in self.panels])


class _PageFile:
    """Writer of the page's file; each call overwrites the file and returns its size in bytes.

    The model, whose size does not change, is not counted.
    """

    def __init__(self, path: Path, content: PageContent, model: Model | None) -> None:
        self._path, self._content, self._model = path, content, model

    def __call__(self, picture: Picture, film: Film) -> int:
        by_frame = [[_packed(panel) for panel in picture(number)] for number in range(film.frames)]
        pictures = list(zip(*by_frame, strict=True))
        page = spin_html(self._content, film, pictures, self._model)
        size = self._path.write_bytes(page.encode("utf-8"))
        return size - (0 if self._model is None else self._model.size)


def _packed(pixels: Pixels) -> bytes:
    file = io.BytesIO()
    # Sharp conversion: thin threads keep their colour although chroma has half the resolution.
    Image.fromarray(pixels).save(
        file, format="WEBP", quality=_QUALITY, method=4, use_sharp_yuv=True
    )
    return file.getvalue()


def _draw_turns(
    subjects: Sequence[Subject],
    film: Film,
    camera: Camera,
    detail: Detail,
    capture: CaptureSettings,
    progress: Progress,
) -> _Turns:
    """Draw the turn of each design in the same place; only one wrap is in memory at a time."""
    count, start = len(subjects), subjects[0].design.camera.turn
    panels: list[list[Pixels]] = []
    wrap = subjects[0].build(detail, progress)
    with scene_of(
        wrap, film.size, progress, camera=camera, capture=capture, pictures=count * film.frames
    ) as scene:
        for place, subject in enumerate(subjects):
            if place:
                wrap = subject.build(detail, progress)
                scene.show(wrap, progress)
            panel = []
            for number in range(film.frames):
                which = f"design {LETTERS[place]}, " if count > 1 else ""
                progress.describe(f"{which}frame {number + 1} of {film.frames}")
                panel.append(scene.picture(film.turn(number, start)))
            panels.append(panel)
    return _Turns(film.size, panels)


def _content(
    plans: Sequence[Plan],
    camera: Camera,
    labels: Sequence[str],
    turns: _Turns,
    capture: CaptureSettings,
) -> PageContent:
    designs = [plan.design for plan in plans]
    several = len(designs) > 1
    if several and len(labels) != len(designs):
        raise RequestProblem(
            f"spin page: {len(labels)} labels for {len(designs)} designs; give one for each."
        )
    sine = abs(camera.position[0] - camera.target[0]) / camera.distance
    distance = camera.distance - plans[0].middle_radius
    radius = plans[0].middle_radius / distance / (2 * np.tan(camera.view_angle / 2))
    aspect = turns.size_drawn[0] / turns.size_drawn[1]
    wide = 2 * aspect * np.tan(camera.view_angle / 2) * camera.distance
    longest = max(plan.grid_span[1] - plan.grid_span[0] for plan in plans)
    return PageContent(
        tag=Tag.of(*designs, capture=capture.description),
        notes=_notes(designs),
        labels=tuple(labels) if several else (),
        start=designs[0].camera.turn,
        radius=radius,
        lies=sine < _ALONG,
        band=min(1.0, _ROOM * 2 * radius) if sine < _ALONG else 1.0,
        span=min(1.0, _BESIDE * longest / wide) if sine < _ALONG else 1.0,
        ground=_ground(turns.panels[0][0]),
        order=_order(designs[0]),
        replies=_replies(plans, labels if several else ()),
    )


def _order(design: Design) -> tuple[str, ...]:
    order = design.order
    customer = f"for {order.customer}" if order.customer else ""
    rod = f"rod {order.rod}" if order.rod else ""
    return tuple(filter(None, (order.builder, customer, rod)))


def _replies(plans: Sequence[Plan], labels: Sequence[str]) -> tuple[str, ...]:
    """The answers by which a customer chooses one of the designs."""
    replies = []
    for place, plan in enumerate(plans):
        number = design_number(plan.design, plan.shelf, plan.beside)
        named = (labels[place], number, LETTERS[place]) if labels else ("", number)
        replies.append(reply_text(Scheme(*named), plan.design))
    return tuple(replies)


def _notes(designs: Sequence[Design]) -> str:
    """Notes for the customer; of several designs with different ones, each under its letter."""
    notes = [customer_notes(design) for design in designs]
    if len(set(notes)) == 1:
        return notes[0]
    return "\n\n".join(f"{letter}: {text}" for letter, text in zip(LETTERS, notes, strict=False))


def _ground(picture: Pixels) -> str:
    """Mean colour of a picture's upper and lower edge, where there is no rod."""
    edges = np.concatenate((picture[0], picture[-1])) / 255
    return format_hex(edges.mean(axis=0))
