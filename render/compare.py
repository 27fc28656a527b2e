"""Designs one above the other, turning together, each labelled with what sets it apart."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Self

import numpy as np

from geometry.grid import Detail
from render.captions import caption, caption_height
from render.files import check_suffix, replacing
from render.film import Film, check_film, film_at
from render.problems import RequestProblem
from render.progress import Progress
from render.shoot import SETTING, scene_of
from render.subject import BUILDING, Pixels, Size, Subject, check_size
from render.tags import Tag, save_png
from scenes.build import Plan
from scenes.camera import Camera, camera_for
from scenes.document import View
from scenes.problems import shown
from scenes.variants import design_hash, labels

__all__ = ["SUFFIXES", "Comparison", "Layout", "save_comparison", "steps"]

SUFFIXES = (".png", ".gif", ".mp4")

WIDTH = 1280
"""Of a comparison whose size is not given, pixels."""

_USUAL = 16 / 9
"""Shape of a picture that the views are made for; a flatter one is cut from its middle."""

_LOWEST_PANEL = 48
_MOST_DESIGNS = 25
_MOST_HELD = 900_000_000
"""Bytes of the panels of all frames: they are held until every design has turned."""

_ROOM = 1.75
"""Height of a panel of the whole wrap, in thicknesses of the blank: a grip beside it fits in."""

_FLATTEST, _TALLEST = 0.15, 0.5
_HEIGHTS = {
    View.THREE_QUARTER: 0.36,
    View.CLOSE: 0.36,
    View.END_ON: 0.5,
    View.ARMS_LENGTH: 0.2,
}
"""Height of a panel as a share of its width, for the views that do not measure the wrap."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Designs that are seen in one light by one camera, and what sets each apart.

    Parameters
    ----------
    subjects : tuple of Subject
    labels : tuple of str
    notes : tuple of str
        What was made alike or left out, one sentence each.
    """

    subjects: tuple[Subject, ...]
    labels: tuple[str, ...]
    notes: tuple[str, ...]

    @classmethod
    def of(cls, subjects: Sequence[Subject]) -> Self:
        """Put designs side by side, in the light and before the camera of the first.

        Raises
        ------
        RequestProblem
            If there are too few, or too many, or they look the same.
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
            kept.append(Subject(alike, subject.shelf))
        if len(kept) < 2:
            raise RequestProblem(
                "compare: there are not two designs here that look different in one light and "
                "from one camera; give several files, or one with variants, or a --sweep such as "
                "relief.gap=14,20,26."
            )
        if len(kept) > _MOST_DESIGNS:
            raise RequestProblem(
                f"compare: {len(kept)} designs are more than {_MOST_DESIGNS}; give fewer, to tell "
                "them apart."
            )
        told = labels([subject.design for subject in kept])
        return cls(tuple(kept), tuple(told), tuple(dict.fromkeys(notes)))


@dataclass(frozen=True, slots=True)
class Layout:
    """Where pictures and captions stand.

    Parameters
    ----------
    count : int
        Designs.
    size : (int, int)
        Of the whole, pixels.
    panel : (int, int)
        Of each design's picture.
    camera : Camera
        Of every design's picture.
    """

    count: int
    size: Size
    panel: Size
    camera: Camera

    @classmethod
    def of(cls, comparison: Comparison, size: Size | None = None) -> Self:
        """Lay a comparison out.

        The camera is the one that takes in the longest wrap.

        Parameters
        ----------
        comparison : Comparison
        size : (int, int), optional
            Of the whole, pixels; if not given, as high as the designs need.

        Raises
        ------
        RequestProblem
            If there is no room for so many designs.
        """
        plans = [subject.plan() for subject in comparison.subjects]
        longest = max(plans, key=lambda plan: plan.cover_span[1] - plan.cover_span[0])
        view, count = longest.design.camera.view, len(plans)
        width = size[0] if size else WIDTH
        strip = caption_height(width)
        if size is None:
            height = 2 * round(width * _share(longest, view) / 2)
            size = (width, count * (height + strip))
        else:
            height = size[1] // count - strip
            if height < _LOWEST_PANEL:
                least = count * (_LOWEST_PANEL + strip)
                raise RequestProblem(
                    f"size: {size[0]}x{size[1]} has no room for {count} designs one above the "
                    f"other; give a height of {least} or more."
                )
        check_size(size)
        return cls(count, size, (width, height), _camera(longest, view, width / height))

    def sheet(self, pictures: Sequence[Pixels], captions: Sequence[Pixels]) -> Pixels:
        """Put pictures with their captions under them, one above the other."""
        rows = [part for pair in zip(pictures, captions, strict=True) for part in pair]
        spare = self.size[1] - sum(len(row) for row in rows)
        if spare:
            rows.append(np.repeat(captions[-1][-1:], spare, axis=0))
        return np.concatenate(rows)


def steps(count: int, frames: int = 1) -> int:
    """Count the steps of progress of a comparison of `count` designs."""
    return count * (BUILDING + SETTING + frames)


def save_comparison(
    comparison: Comparison,
    path: Path,
    *,
    size: Size | None = None,
    detail: Detail = Detail.NORMAL,
    frames: int = 60,
    seconds: float = 6.0,
    progress: Progress | None = None,
) -> Layout:
    """Take pictures of designs side by side and write them as one, still or turning.

    Parameters
    ----------
    comparison : Comparison
    path : Path
        A PNG, GIF or MP4 file.
    size : (int, int), optional
        Of the whole, pixels.
    detail : Detail
    frames : int
        Pictures in one turn, if it turns.
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
    suffix = check_suffix(path, SUFFIXES)
    layout = Layout.of(comparison, size)
    tag = Tag.of(*(subject.design for subject in comparison.subjects))
    captions = [
        caption(label, layout.size[0], beside=comparison.labels) for label in comparison.labels
    ]
    start = comparison.subjects[0].design.camera.turn
    if suffix == ".png":
        with replacing(path) as file:
            panels = _panels(comparison, layout, detail, [start], progress)
            save_png(layout.sheet([panel[0] for panel in panels], captions), file, tag)
        return layout
    film = Film(layout.size, frames, seconds)
    check_film(path, film)
    held = layout.count * frames * layout.panel[0] * layout.panel[1] * 3
    if held > _MOST_HELD:
        raise RequestProblem(
            f"frames: {frames} of {layout.count} designs at {layout.size[0]}x{layout.size[1]} are "
            f"more than fit in memory; give {frames * _MOST_HELD // held} or fewer, or a smaller "
            "size."
        )
    turns = [film.turn(number, start) for number in range(frames)]
    with film_at(path, film, tag) as write:
        panels = _panels(comparison, layout, detail, turns, progress)
        write(lambda number: layout.sheet([panel[number] for panel in panels], captions))
    return layout


def _panels(
    comparison: Comparison,
    layout: Layout,
    detail: Detail,
    turns: Sequence[float],
    progress: Progress,
) -> list[list[Pixels]]:
    """Turn each design in the same place; one after the other, so that one is in memory."""
    subjects = comparison.subjects
    panels: list[list[Pixels]] = []
    first = subjects[0].build(detail, progress)
    with scene_of(first, layout.panel, progress, camera=layout.camera) as scene:
        for number, subject in enumerate(subjects):
            if number:
                scene.show(subject.build(detail, progress), progress)
            taken = []
            for turn in turns:
                progress.say(f"design {number + 1} of {len(subjects)}")
                taken.append(scene.picture(turn))
                progress.advance()
            panels.append(taken)
    return panels


def _share(plan: Plan, view: View) -> float:
    """Height of a panel as a share of its width."""
    if view in _HEIGHTS:
        return _HEIGHTS[view]
    camera = camera_for(plan, view, _USUAL)
    across = 2 * camera.distance * np.tan(camera.view_angle / 2) * _USUAL
    return float(np.clip(_ROOM * 2 * plan.middle_radius / across, _FLATTEST, _TALLEST))


def _camera(plan: Plan, view: View, aspect: float) -> Camera:
    """The view's camera; for a flat panel the middle band of what it sees."""
    if aspect <= _USUAL:
        return camera_for(plan, view, aspect)
    camera = camera_for(plan, view, _USUAL)
    half = np.tan(camera.view_angle / 2) * _USUAL / aspect
    return replace(camera, view_angle=float(2 * np.arctan(half)))
