"""Comparisons: designs one above the other, turning together, labelled by their differences."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path
from typing import Self

import numpy as np

from geometry.grid import Detail
from render.common.files import check_suffix, replacing
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.scheme_labels import scheme_label
from render.common.tags import Tag, save_png
from render.output.captions import caption, caption_height, missing_letters
from render.output.capture import SETTING, scene_of
from render.output.film import Film, check_film, film_at
from render.output.reading import READING, Reader, Reports
from render.output.size_limit import (
    check_held,
    check_limit,
    fit,
    scaled,
    smaller,
    writing_steps,
)
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import BUILDING, Pixels, Size, Subject, check_size
from scenes.artwork.typesetting import missing_sentence
from scenes.building.build import Plan
from scenes.design.differences import BASE_LABEL, labels
from scenes.design.variants import design_hash
from scenes.parts.view import View
from scenes.problems import shown
from scenes.stage.camera import Camera, adjusted, camera_for
from scenes.stage.exposure import shared_light

__all__ = [
    "SUFFIXES",
    "Comparison",
    "ComparisonResult",
    "Layout",
    "save_comparison",
    "shared_camera",
    "steps",
]

MOVING = (".gif", ".mp4")
SUFFIXES = (".png", *MOVING)

WIDTH = 1280
"""Default width of a comparison, pixels."""

_VIEW_ASPECT = 16 / 9
"""Aspect ratio that the views are made for; a wider panel shows the middle band."""

_MIN_PANEL_HEIGHT = 48
_MAX_DESIGNS = 25

_HEIGHT_IN_DIAMETERS = 1.75
"""Height of a panel of the whole wrap, in diameters of the blank; a grip beside it fits in."""

_MIN_SHARE, _MAX_SHARE = 0.15, 0.5
_PANEL_SHARES = {
    View.THREE_QUARTER: 0.36,
    View.CLOSE: 0.36,
    View.ALONG_THE_ROD: 0.5,
    View.ARMS_LENGTH: 0.2,
}
"""Height of a panel as a share of its width, for views that do not depend on the wrap."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Designs in the same light and before the same camera, labelled by their differences.

    Parameters
    ----------
    subjects : tuple of Subject
    labels : tuple of str
    notes : tuple of str
        What was changed or left out, one sentence each.
    """

    subjects: tuple[Subject, ...]
    labels: tuple[str, ...]
    notes: tuple[str, ...]

    @classmethod
    def of(cls, subjects: Sequence[Subject]) -> Self:
        """Compare designs in the light and before the camera of the first.

        Parameters
        ----------
        subjects : sequence of Subject

        Raises
        ------
        RequestProblem
            If there are too few or too many designs, or all look the same.
        """
        first = subjects[0].design
        kept: list[Subject] = []
        notes: list[str] = []
        seen: dict[str, str] = {}
        for subject in subjects:
            design = subject.design.without_variants()
            alike = design.model_copy(update={"light": first.light, "camera": first.camera})
            if design.light != first.light:
                notes.append(f"All are in the light of the first, {first.light.kind.value}.")
            if design.camera != first.camera:
                notes.append(f"All are seen as the first, {first.camera.view.value}.")
            key = design_hash(alike.model_copy(update={"title": "", "notes": ""}))
            if key in seen:
                notes.append(
                    f"{shown(design.title)} is left out where it looks the same as one before it."
                )
                continue
            seen[key] = design.title
            kept.append(replace(subject, design=alike))
        if len(kept) < 2:
            raise RequestProblem(
                "compare: there are not two designs here that look different in one light and "
                "from one camera; give several files, or one with variants, or a --sweep such as "
                "relief.gap=14,20,26."
            )
        if len(kept) > _MAX_DESIGNS:
            raise RequestProblem(
                f"compare: {len(kept)} designs are more than {_MAX_DESIGNS}; give fewer, to tell "
                "them apart."
            )
        # One exposure for all: that of the brightest.
        light = shared_light(first.light, [subject.plan() for subject in kept])
        kept = [replace(one, design=one.design.model_copy(update={"light": light})) for one in kept]
        apart = labels([subject.design for subject in kept])
        names = [one.variant for one in kept]
        if not names[0] and all(names[1:]):
            names[0] = BASE_LABEL
        texts = [scheme_label(name, text) for name, text in zip(names, apart, strict=True)]
        return cls(tuple(kept), tuple(texts), tuple(dict.fromkeys(notes)))


@dataclass(frozen=True, slots=True)
class Layout:
    """Sizes of a comparison, and its camera.

    Parameters
    ----------
    count : int
        Number of designs.
    size : (int, int)
        Width and height of the whole picture, pixels.
    panel : (int, int)
        Width and height of each design's picture, pixels.
    camera : Camera
        For all designs.
    """

    count: int
    size: Size
    panel: Size
    camera: Camera

    @classmethod
    def of(cls, comparison: Comparison, size: Size | None = None) -> Self:
        """Lay out a comparison.

        The camera is that of the longest wrap.

        Parameters
        ----------
        comparison : Comparison
        size : (int, int), optional
            Width and height of the whole, pixels; by default as high as the designs need.

        Raises
        ------
        RequestProblem
            If the designs do not fit into `size`.
        """
        plans = [subject.plan() for subject in comparison.subjects]
        longest = _longest(plans)
        view, count = longest.design.camera.view, len(plans)
        width = size[0] if size else WIDTH
        strip = caption_height(width)
        if size is None:
            height = 2 * round(width * _panel_share(longest, view) / 2)
            size = (width, count * (height + strip))
        else:
            height = size[1] // count - strip
            if height < _MIN_PANEL_HEIGHT:
                least = count * (_MIN_PANEL_HEIGHT + strip)
                raise RequestProblem(
                    f"size: {size[0]}x{size[1]} has no room for {count} designs one above the "
                    f"other; give a height of {least} or more."
                )
        check_size(size)
        return cls(count, size, (width, height), shared_camera(plans, width / height))

    def sheet(self, pictures: Sequence[Pixels], captions: Sequence[Pixels]) -> Pixels:
        """Stack pictures with their captions below them.

        Parameters
        ----------
        pictures : sequence of (height, width, 3) uint8
            One for each design, of size `panel`.
        captions : sequence of (height, width, 3) uint8
            One for each design, of the same width.
        """
        rows = [part for pair in zip(pictures, captions, strict=True) for part in pair]
        spare = self.size[1] - sum(len(row) for row in rows)
        if spare:
            rows.append(np.repeat(captions[-1][-1:], spare, axis=0))
        return np.concatenate(rows)

    def scaled(self, scale: float) -> Self:
        """Scale the panels down; captions keep a readable size.

        Parameters
        ----------
        scale : float
            Factor of width and height; 1 or more changes nothing.
        """
        if scale >= 1:
            return self
        panel = smaller(self.panel, scale)
        height = self.count * (panel[1] + caption_height(panel[0]))
        return replace(self, size=(panel[0], height), panel=panel)


@dataclass(frozen=True, slots=True)
class ComparisonResult:
    """A comparison that was written.

    Parameters
    ----------
    layout : Layout
        As it was drawn.
    film : Film or None
        As it was written, if it turns: lowered to fit a limit, if one was given.
    readings : tuple of tuple of BandReport
        Measured trims of each design.
    """

    layout: Layout
    film: Film | None
    readings: tuple[Reports, ...]

    @property
    def size(self) -> Size:
        """Width and height of the written pictures, pixels."""
        return self.film.size if self.film else self.layout.size


def steps(count: int, frames: int = 1, *, limited: bool = False) -> int:
    """Number of steps of progress of `save_comparison`.

    Parameters
    ----------
    count : int
        Number of designs.
    frames : int, optional
        Pictures of each.
    limited : bool
        Whether the file has a maximum size.
    """
    drawing = count * (BUILDING + READING + SETTING + frames)
    return drawing + (writing_steps(frames) if limited else 0)


def save_comparison(
    comparison: Comparison,
    path: Path,
    *,
    size: Size | None = None,
    detail: Detail = Detail.NORMAL,
    frames: int = 60,
    seconds: float = 6.0,
    max_mb: float | None = None,
    capture: CaptureSettings = LIVE,
    progress: Progress | None = None,
) -> ComparisonResult:
    """Take pictures of several designs and write them as one picture or film.

    Parameters
    ----------
    comparison : Comparison
    path : Path
        A PNG, GIF or MP4 file.
    size : (int, int), optional
        Width and height of the whole, pixels.
    detail : Detail
    frames : int
        Pictures in one turn, for a film.
    seconds : float
        Duration of one turn, s.
    max_mb : float, optional
        Maximum size of a GIF or MP4, megabytes: dimensions and frames are lowered until it fits.
    capture : CaptureSettings
    progress : Progress, optional
        Advanced by `steps`.

    Returns
    -------
    ComparisonResult

    Raises
    ------
    RequestProblem
        If the comparison cannot be made or written.
    DrawingProblem
    """
    progress = progress or Progress.none()
    suffix = check_suffix(path, SUFFIXES)
    missing = missing_letters(comparison.labels)
    if missing:
        progress.note(missing_sentence(str(path), missing))
    if max_mb is not None:
        check_limit(max_mb, path, MOVING)
    layout = Layout.of(comparison, size)
    tag = Tag.of(*(subject.design for subject in comparison.subjects), capture=capture.description)
    take = partial(
        _take_frames, comparison, layout, detail=detail, capture=capture, progress=progress
    )
    start = comparison.subjects[0].design.camera.turn
    if suffix == ".png":
        with replacing(path) as file:
            sheets = take([start])
            save_png(sheets.picture(0), file, tag)
        return ComparisonResult(layout, None, sheets.readings)
    film = Film(layout.size, frames, seconds)
    check_film(path, film)
    check_held(frames, layout.panel, layout.count)
    turns = [film.turn(number, start) for number in range(frames)]
    with film_at(path, film, tag) as write:
        sheets = take(turns)
        if max_mb is not None:
            film = fit(write, film, sheets, max_mb, progress)
        else:
            write(sheets.picture)
    return ComparisonResult(layout, film, sheets.readings)


@dataclass(frozen=True, slots=True)
class _Sheets:
    """All frames of a comparison, laid out on request.

    Parameters
    ----------
    layout : Layout
    labels : tuple of str
    panels : list of list of (h, w, 3) uint8
        For each design, one picture for each frame.
    readings : tuple of tuple of BandReport
        The trims of each design.
    """

    layout: Layout
    labels: tuple[str, ...]
    panels: list[list[Pixels]]
    readings: tuple[Reports, ...]

    def size(self, scale: float) -> Size:
        """Width and height at a scale, pixels."""
        return self.layout.scaled(scale).size

    def picture(self, number: int, scale: float = 1.0) -> Pixels:
        """Lay out a frame at a scale."""
        layout = self.layout.scaled(scale)
        pictures = [scaled(panel[number], layout.panel) for panel in self.panels]
        return layout.sheet(pictures, _captions(self.labels, layout.size[0]))


@lru_cache(maxsize=4)
def _captions(labels: tuple[str, ...], width: int) -> list[Pixels]:
    return [caption(label, width, beside=labels) for label in labels]


def _take_frames(
    comparison: Comparison,
    layout: Layout,
    turns: Sequence[float],
    detail: Detail,
    capture: CaptureSettings,
    progress: Progress,
) -> _Sheets:
    """Take all frames of each design in turn, so that only one wrap is in memory."""
    subjects, labels = comparison.subjects, comparison.labels
    count = len(subjects)
    panels: list[list[Pixels]] = []
    readings: list[Reports] = []
    wrap = subjects[0].build(detail, progress)
    with (
        scene_of(
            wrap,
            layout.panel,
            progress,
            camera=layout.camera,
            capture=capture,
            pictures=count * len(turns),
        ) as scene,
        Reader(
            [subject.plan() for subject in subjects],
            capture=capture,
            progress=progress,
            scene=scene,
        ) as reader,
    ):
        for number, subject in enumerate(subjects):
            if number:
                wrap = subject.build(detail, progress)
                scene.show(wrap, progress)
            readings.append(reader.read(wrap))
            taken = []
            for turn in turns:
                progress.describe(f"design {number + 1} of {count}")
                taken.append(scene.picture(turn))
            panels.append(taken)
    if capture.sight:
        labels = tuple(f"{capture.sight}: {label}" for label in labels)
    return _Sheets(layout, labels, panels, tuple(readings))


def shared_camera(plans: Sequence[Plan], aspect: float) -> Camera:
    """The camera that shows all of the longest of some wraps.

    In a picture wider than 16:9 it shows the middle band of its view.

    Parameters
    ----------
    plans : sequence of Plan
    aspect : float
        Width of the picture over its height.
    """
    longest = _longest(plans)
    asked = longest.design.camera
    return adjusted(_camera(longest, asked.view, aspect), asked)


def _longest(plans: Sequence[Plan]) -> Plan:
    return max(plans, key=lambda plan: plan.wound_span[1] - plan.wound_span[0])


def _panel_share(plan: Plan, view: View) -> float:
    """Height of a panel as a share of its width, for a view of a wrap."""
    if view in _PANEL_SHARES:
        return _PANEL_SHARES[view]
    camera = camera_for(plan, view, _VIEW_ASPECT)
    across = 2 * camera.distance * np.tan(camera.view_angle / 2) * _VIEW_ASPECT
    return float(
        np.clip(_HEIGHT_IN_DIAMETERS * 2 * plan.middle_radius / across, _MIN_SHARE, _MAX_SHARE)
    )


def _camera(plan: Plan, view: View, aspect: float) -> Camera:
    """The camera of a view; in a wide panel it shows the middle band."""
    if aspect <= _VIEW_ASPECT:
        return camera_for(plan, view, aspect)
    camera = camera_for(plan, view, _VIEW_ASPECT)
    half = np.tan(camera.view_angle / 2) * _VIEW_ASPECT / aspect
    return replace(camera, view_angle=float(2 * np.arctan(half)))
