"""Benchmarks of time, quality and memory: `python3 start.py bench`.

Everything is measured in one process on this machine. Times are the best of several runs. A figure
with a reference is given as a ratio to it, measured in the same process. The result is a printed
table; nothing here is a test.
"""

import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import count
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from geometry.grid import Detail
from geometry.kept import KEPT
from materials.shelf import Shelf
from render.common.progress import Progress
from render.common.tags import Tag
from render.live.live import LiveScene
from render.live.vtk_log import quieten
from render.measure import agreement, page_speed
from render.measure.costs import quick
from render.measure.likeness import gif_difference
from render.measure.steadiness import field_radiance, flicker, plain_cover
from render.measure.surfaces.drape import drape_costs
from render.measure.surfaces.lengths import LengthCost, length_cost
from render.output.capture import scene_of
from render.output.film import Film, film_at
from render.output.turntable import save_turntable
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import Design, with_changes
from scenes.files import samples
from scenes.light.lights import LightKind
from scenes.parts.layer import Role
from scenes.parts.view import LightSpec
from scenes.stage.stage import stage_for

__all__ = ["main"]

_WRAP_MM = 120.0
_GIF_FRAMES = 8
_ZOOM_TURNS = 6
_STEADY_LIGHTS = (LightKind.SOFT_BOXES, LightKind.WORKSHOP_LAMP)
"""The broadest light and the smallest."""

_GLINT_TURNS = 24
"""Glints of dry scales vary with the turn: the mean of fewer turns has not converged."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table.

    Parameters
    ----------
    what, measured, wanted : str
        Name, measured value and target.
    holds : bool or None
        Whether the target is met; None if there is none.
    """

    what: str
    measured: str
    wanted: str
    holds: bool | None


def main(arguments: Sequence[str] = ()) -> None:
    """Measure everything and print the tables.

    Parameters
    ----------
    arguments : sequence of str, optional
        ``quick`` for the costs alone, in less than two minutes.
    """
    quieten()
    quick.main()
    if list(arguments) == ["quick"]:
        return
    console = Console()
    rows: list[Row] = []
    for part in (_drape, _lengths, _frame, _turntable, _memory, _gif, _steady, _page):
        console.print(f"measuring: {part.__doc__}", style="dim", highlight=False)
        rows += part()
    table = Table(title="Turnlight, measured on this machine")
    for heading in ("what", "measured", "wanted", ""):
        table.add_column(heading)
    for row in rows:
        mark = "" if row.holds is None else "yes" if row.holds else "NO"
        table.add_row(row.what, row.measured, row.wanted, mark)
    console.print(table)
    agreement.main(trace=False)


def _best(work: Callable[[], object], runs: int = 5) -> float:
    """Shortest time of several runs, s."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def _sized(length: float) -> Design:
    """The sample half-scale with a wrap of `length` mm."""
    design = samples.load("half-scale")
    middle = design.placement.middle
    measured = design.blank.measured()
    stations = np.linspace(middle - length, middle + length, 5).tolist()
    return with_changes(
        design.without_variants(),
        {
            "placement.from": middle - length / 2,
            "placement.to": middle + length / 2,
            "blank.fitted": [],
            "blank.stations": [
                {"at": at, "diameter": 2 * float(measured.radius(at))} for at in stations
            ],
        },
    )


def _wrap(length: float = _WRAP_MM, detail: Detail = Detail.NORMAL) -> Wrap:
    KEPT.forget()
    return build(Plan(_sized(length), Shelf.shipped()), detail)


def _drape() -> list[Row]:
    """Drape of six reliefs against one Qhull call a station, 1600 x 1024."""
    rows = []
    for cost in drape_costs():
        ours = cost.sweeps if cost.walk is None else cost.walk
        ratio = cost.qhull / ours
        other = "not compiled" if cost.walk is None else f"NumPy alone {cost.sweeps * 1e3:.0f} ms"
        rows.append(
            Row(
                f"drape of {cost.relief}, 1600 x 1024, against Qhull a station",
                f"{ratio:.1f} x quicker ({ours * 1e3:.0f} against {cost.qhull * 1e3:.0f} CPU ms; "
                f"{other})",
                "15 x",
                ratio >= 15,
            )
        )
    return rows


def _lengths() -> list[Row]:
    """Layers, finish and maps at normal detail, from 120 to 1,000 mm."""
    rows = []
    first: LengthCost | None = None
    for length, runs in ((120.0, 5), (300.0, 2), (1000.0, 1)):
        cost = length_cost(length, runs)
        what = f"layers, finish and maps, {length:.0f} mm, normal"
        if cost is None:
            rows.append(Row(what, "refused as too large", "laid", False))
            continue
        rows.append(
            Row(
                f"{what} ({cost.points / 1e6:.1f} M points)",
                f"{cost.elapsed:.2f} s, {cost.processor:.2f} CPU s",
                "0.4 s" if first is None else "",
                cost.elapsed <= 0.4 if first is None else None,
            )
        )
        if first is not None:
            growth = cost.processor / cost.points * first.points / first.processor
            rows.append(
                Row(
                    f"{what}: processor time of a point, to that at 120 mm",
                    f"{growth:.2f} x",
                    "1.25 x",
                    growth <= 1.25,
                )
            )
            rows.append(
                Row(
                    f"{what}: memory",
                    f"{cost.peak / 1024**3:.2f} GB, {cost.peak / cost.points:.0f} bytes a point",
                    "1.5 GB",
                    cost.peak <= 1.5 * 1024**3,
                )
            )
        first = first or cost
    return rows


def _frame() -> list[Row]:
    """One live frame at 1280 x 720."""
    rows = []
    for detail, supersample, wanted in (
        (Detail.DRAFT, 1, 0.25),
        (Detail.NORMAL, 2, None),
    ):
        stage = stage_for(_wrap(detail=detail), 16 / 9)
        with LiveScene(stage, (1280, 720), supersample=supersample) as scene:
            scene.set_preview(detail is Detail.DRAFT)
            scene.picture(0.0)
            seconds = _best(partial(_one_frame, scene, count()), 6)
        rows.append(
            Row(
                f"live frame 1280 x 720, {detail}, {supersample} x {supersample} samples",
                f"{seconds:.2f} s",
                f"{wanted} s" if wanted else "",
                None if wanted is None else seconds <= wanted,
            )
        )
    return rows


def _one_frame(scene: LiveScene, number: Iterator[int]) -> None:
    scene.picture(0.1 * next(number))


def _turntable() -> list[Row]:
    """60-frame turntable GIF at 960 x 540."""
    design = samples.load("half-scale").without_variants()
    calls: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "turn.gif"

        def whole() -> None:
            wrap = build(Plan(design, Shelf.shipped()), step=calls.append)
            save_turntable(wrap, path, Film((960, 540)))

        seconds = _best(whole, 1)
        megabytes = path.stat().st_size / 1e6
    built = calls.count(Role.COVER)
    return [
        Row(
            "turntable GIF, 60 frames, 960 x 540",
            f"{seconds:.0f} s, {megabytes:.1f} MB, wrap built {built} x",
            "60 s, built 1 x",
            seconds <= 60 and built == 1,
        )
    ]


def _page() -> list[Row]:
    """The page in a browser: a slider, a drag, a full ring."""
    found = page_speed.measure()
    if found is None:
        return [Row("the page", "no Chromium here: install it or set TURNLIGHT_CHROMIUM", "", None)]
    loaded = f"load {found.load:.1f}"
    rows = [
        ("slider to new picture, draft", found.slider_draft, 0.25),
        ("slider to new picture, normal", found.slider_normal, None),
        ("drag, a picture, draft", found.drag_draft, 0.12),
        ("a whole turn kept in the browser", found.ring_fill, None),
    ]
    return [
        *(
            Row(
                f"page: {what}",
                f"{seconds * 1e3:.0f} ms" if seconds < 10 else f"{seconds:.0f} s",
                f"{wanted * 1e3:.0f} ms" if wanted else loaded,
                None if wanted is None else seconds <= wanted,
            )
            for what, seconds, wanted in rows
        ),
        Row(
            "page: drag with the ring full",
            f"{found.ring_rate:.0f} pictures a second",
            "50",
            found.ring_rate >= 50,
        ),
    ]


def _gif() -> list[Row]:
    """GIF frames against the stills that they are made of."""
    rows = []
    for name in ("half-scale", "full-mesh"):
        wrap = build(Plan(samples.load(name).without_variants(), Shelf.shipped()))
        film = Film((960, 540), _GIF_FRAMES, 1.0)
        with scene_of(wrap, film.size, Progress.none()) as scene:
            stills = [scene.picture(film.turn(number)) for number in range(film.frames)]
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "turn.gif"
            with film_at(path, film, Tag.of(wrap.design)) as write:
                write(stills.__getitem__)
            flip = gif_difference(path, stills)
        rows.append(
            Row(f"GIF of {name}, mean FLIP to its stills", f"{flip:.3f}", "0.05", flip <= 0.05)
        )
    return rows


def _steady() -> list[Row]:
    """Rows of thread when zooming and turning."""
    rows = []
    zoom = (27.0 / 2.0 ** np.arange(5)).tolist()
    for coats, word in ((0, "dry"), (2, "finished")):
        scales = with_changes(samples.load("half-scale"), {"finish.coats": coats})
        wraps = (
            ("plain cover", plain_cover("Heron Silver A", coats), _ZOOM_TURNS),
            (
                "scales",
                build(Plan(scales.without_variants(), Shelf.shipped())),
                _ZOOM_TURNS if coats else _GLINT_TURNS,
            ),
        )
        for name, wrap, turns in wraps:
            for light in _STEADY_LIGHTS:
                stage = stage_for(wrap, 16 / 9, light=LightSpec(kind=light))
                bright = field_radiance(stage, zoom, turns=turns)
                what = f"{name}, {word}, {light.value}"
                rows.append(_drift(f"brightness over a 16 x zoom, {what}", bright))
    design = samples.load("half-scale").without_variants()
    stage = stage_for(build(Plan(design, Shelf.shipped())), 16 / 9)
    for scale, preview in ((3.5, False), (14.0, False), (14.0, True)):
        ratio = flicker(stage, scale, supersample=1 if preview else 2, preview=preview).ratio
        what = "while moved, flicker" if preview else "flicker"
        rows.append(
            Row(
                f"{what} at 1/8 pixel turns, {scale:g} pixels a mm, to 64 samples a pixel",
                f"{ratio:.2f} x",
                "1.5 x",
                ratio <= 1.5,
            )
        )
    return rows


def _drift(what: str, bright: NDArray[np.float64]) -> Row:
    drift = float(np.ptp(bright) / bright.mean())
    return Row(what, f"{drift:.1%}", "3 %", drift <= 0.03)


def _memory() -> list[Row]:
    """Peak memory of everything above, at normal detail."""
    unit = 1 if sys.platform == "darwin" else 1024
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1024**3
    return [Row("peak memory of this process", f"{peak:.2f} GB", "1.5 GB", peak < 1.5)]


if __name__ == "__main__":
    main(sys.argv[1:])
