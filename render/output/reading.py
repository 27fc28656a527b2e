"""Visibility of trims, measured in a picture: the contrast of each line to its neighbours.

The picture resolves every thread, in the light seen at arm's length
(`scenes.legibility.legibility.reading_view`). It is drawn live even if the builder's own picture is
path-traced.
"""

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from render.common.closing import Closing
from render.common.progress import Progress
from render.output.capture import SETTING, Scene, scene_of
from render.request.capture_settings import LIVE, CaptureSettings
from scenes.building.build import Plan, Wrap
from scenes.kinds.builder import EdgeBuilder
from scenes.legibility.legibility import ENOUGH_PIXELS, BandReport, legibility, reading_view
from scenes.stage.camera import Camera

if TYPE_CHECKING:
    from rich.console import JustifyMethod
    from rich.table import Table

__all__ = ["READING", "Reader", "Reports", "lost_trims", "read_trims", "readings_table"]

READING = SETTING + 1
"""Steps of progress of reading one wrap."""

_WIDTH_MARGIN = 1.25
"""Width of the thinnest thread in the picture, relative to the width needed to judge it."""

_MIN_WIDTH, _MAX_WIDTH = 640, 6000
"""Bounds of the picture's width, pixels."""

_COLUMNS: "dict[str, JustifyMethod]" = {
    "design": "left",
    "line": "left",
    "touches": "left",
    "ΔE00": "right",
    "contrast": "right",
}

_MAX_LABEL_WIDTH = 28
"""Maximum width of a label in the table, characters; longer ones are cut off."""

Reports = tuple[BandReport, ...]


class Reader(Closing):
    """Measures the trims of several wraps in pictures of one size.

    Parameters
    ----------
    plans : sequence of Plan
        Of all wraps that will be measured.
    capture : CaptureSettings, optional
        Only its colour vision is used.
    progress : Progress, optional
        Advanced by `READING` for each wrap.
    scene : Scene, optional
        A scene that shows each wrap when it is read, so that maps and meshes are made once. Not
        used if it is path-traced.
    """

    def __init__(
        self,
        plans: Sequence[Plan],
        *,
        capture: CaptureSettings = LIVE,
        progress: Progress | None = None,
        scene: Scene | None = None,
    ) -> None:
        self._capture = CaptureSettings(vision=capture.vision)
        self._progress = progress or Progress.none()
        trimmed = [plan for plan in plans if plan.design.trims]
        self._width = max(map(_width, trimmed), default=_MIN_WIDTH)
        heights = [reading_view(plan, self._width)[1][1] for plan in trimmed]
        self._height = max(heights, default=_MIN_WIDTH)
        self._open = ExitStack()
        self._scene: Scene | None = None
        self._shared = scene if scene is not None and scene.can_measure else None

    def close(self) -> None:
        """Close the scene."""
        self._open.close()

    def read(self, wrap: Wrap) -> Reports:
        """Measure every line of every trim against its neighbours, advancing by `READING`.

        Parameters
        ----------
        wrap : Wrap

        Raises
        ------
        DrawingProblem
        """
        if not wrap.design.trims:
            self._progress.advance(READING)
            return ()
        camera, size = self._camera(wrap.plan), (self._width, self._height)
        if self._shared is not None:
            self._progress.describe("trims")
            stage, picture = self._shared.measured(wrap.plan, camera, size)
            self._progress.advance(SETTING)
            return tuple(legibility(wrap, stage, picture))
        if self._scene is None:
            self._scene = self._open.enter_context(
                scene_of(
                    wrap, size, self._progress, camera=camera, capture=self._capture, sharp=False
                )
            )
        else:
            self._scene.show(wrap, self._progress, camera=camera)
        self._progress.describe("trims")
        picture = self._scene.picture(self._scene.stage.turn)
        return tuple(legibility(wrap, self._scene.stage, picture))

    def _camera(self, plan: Plan) -> Camera:
        """Reading view of a wrap, enlarged to the height that the thickest wrap needs."""
        camera, (_, height) = reading_view(plan, self._width)
        taller = self._height / height
        return replace(
            camera, view_angle=float(2 * np.arctan(taller * np.tan(camera.view_angle / 2)))
        )


def read_trims(
    wrap: Wrap,
    *,
    capture: CaptureSettings = LIVE,
    progress: Progress | None = None,
    scene: Scene | None = None,
) -> Reports:
    """Measure every line of every trim of one wrap, advancing `progress` by `READING`.

    Parameters
    ----------
    wrap : Wrap
    capture : CaptureSettings, optional
    progress : Progress, optional
    scene : Scene, optional
        A scene that shows the wrap, as for `Reader`.

    Raises
    ------
    DrawingProblem
    """
    with Reader([wrap.plan], capture=capture, progress=progress, scene=scene) as reader:
        return reader.read(wrap)


def lost_trims(reports: Sequence[BandReport]) -> list[str]:
    """Sentences about lines that will not be seen, or hardly.

    Parameters
    ----------
    reports : sequence of BandReport
    """
    return [report.sentence for report in reports if report.sentence]


def readings_table(
    labels: Sequence[str], readings: Sequence[Reports], capture: CaptureSettings = LIVE
) -> "Table":
    """Table of the measurements of several designs.

    Parameters
    ----------
    labels : sequence of str
    readings : sequence of tuple of BandReport
        One for each label.
    capture : CaptureSettings, optional
        Settings of the measurement, for the title.
    """
    from rich.table import Table

    seen = f"with {capture.sight}" if capture.sight else "in the picture"
    table = Table(
        title=f"Trims against what they touch, as seen {seen}",
        title_justify="left",
        title_style="",
        box=None,
        pad_edge=False,
    )
    for heading, justify in _COLUMNS.items():
        table.add_column(heading, justify=justify)
    table.columns[0].max_width = _MAX_LABEL_WIDTH
    table.columns[0].no_wrap = True
    for row in _rows(labels, readings):
        table.add_row(*row)
    return table


def _rows(labels: Sequence[str], readings: Sequence[Reports]) -> Iterator[tuple[str, ...]]:
    for label, reports in zip(labels, readings, strict=True):
        if not reports:
            yield label, "no trim", "", "", ""
        for number, report in enumerate(reports):
            figures = (
                (f"{report.delta_e:.1f}", f"{report.contrast:+.2f}")
                if report.judged
                else ("–", "–")
            )
            names = (name.removeprefix("the ") for name in (report.band, report.against))
            yield ("" if number else label, *names, *figures)


def _width(plan: Plan) -> int:
    """Picture width at which the thinnest thread of any trim can be judged, pixels."""
    trims = (builder for builder in plan.builders if isinstance(builder, EdgeBuilder))
    threads = [thread for trim in trims for thread in trim.ordered_threads]
    thinnest = min(thread.diameter_mm for thread in threads)
    first, last = plan.wound_span
    width = _WIDTH_MARGIN * ENOUGH_PIXELS * (last - first) / thinnest
    return int(np.clip(width, _MIN_WIDTH, _MAX_WIDTH))
