"""The quick bench: what the commands and their parts cost, in less than two minutes.

Times are processor seconds, so that other work on the machine changes them little; each is kept as
a multiple of a yardstick measured beside it and compared with the earlier runs on this machine.
"""

import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from functools import partial
from itertools import count
from pathlib import Path

import psutil
from rich.console import Console
from rich.table import Table

from geometry.grid import Detail
from geometry.kept import KEPT
from materials.shelf import Shelf
from render.live.live import LiveScene
from render.measure.costs.figures import Cost, cost_of_command
from render.measure.costs.history import Change, Run, changes, history_file, kept, read
from render.measure.surfaces.drape import drape_costs
from render.measure.surfaces.processor_time import cpu_seconds
from render.output.film import Film
from render.output.turntable import save_turntable
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import Design, with_changes
from scenes.files import samples
from scenes.stage.maps import surface_maps
from scenes.stage.stage import stage_for

__all__ = ["main", "sized_wrap", "table_of"]

_SAMPLE = "half-scale"
_LENGTH = 120.0
_FRAMES = 12
_FILM_WANTED = 2 * 20.0 * _FRAMES / 60
"""Of 60 frames in 20 s, with both cores of a machine busy, CPU s."""
_FILM = (960, 540)


def main() -> None:
    """Measure, print the table, and keep the figures with those of earlier runs."""
    console = Console()
    watch = _Others()
    costs: list[Cost] = []
    for part in (_start, _still, _layers, _pictures, _film):
        console.print(f"measuring: {part.__doc__}", style="dim", highlight=False)
        costs += part()
    others = watch.share()
    file = history_file()
    before = read(file)
    run = Run(
        datetime.now(UTC).isoformat(timespec="seconds"),
        round(others, 3),
        {cost.key: round(cost.ratio, 4) for cost in costs},
    )
    console.print(table_of(costs, changes(costs, before)))
    console.print(
        f"Other work took {others:.0%} of the processor meanwhile"
        + (": a quiet machine." if run.quiet else "; times are longer than on a quiet one."),
        highlight=False,
    )
    kept(file, [*before, run])
    console.print(f"Kept as run {len(before) + 1} in {file}", highlight=False, soft_wrap=True)


def table_of(costs: Sequence[Cost], changed: dict[str, Change]) -> Table:
    """Table of costs, one row for each.

    Parameters
    ----------
    costs : sequence of Cost
    changed : dict of str to Change
        By `Cost.key`.
    """
    table = Table(title="What Turnlight costs on this machine")
    for heading in ("what", "measured", "wanted", "", "to earlier runs"):
        table.add_column(heading)
    for cost in costs:
        wanted = "" if cost.wanted is None else f"{cost.wanted:g} {cost.unit}"
        mark = {None: "", True: "yes", False: "NO"}[cost.holds]
        change = changed.get(cost.key)
        said = ""
        if change is not None:
            said = f"{change.share:+.0%} (of {change.runs})" + (" WORSE" if change.worse else "")
        table.add_row(cost.what, _measured(cost), wanted, mark, said)
    return table


def _measured(cost: Cost) -> str:
    digits = 0 if cost.value >= 100 else 2
    return f"{cost.value:.{digits}f} {cost.unit}"


class _Others:
    """Watches how much of the processor is taken by work that is not the bench's."""

    def __init__(self) -> None:
        self._all, self._own = self._busy(), self._own_seconds()

    def share(self) -> float:
        """Share of the processor since the beginning, 0 to 1."""
        busy, idle = self._busy()
        busy, idle = busy - self._all[0], idle - self._all[1]
        own = self._own_seconds() - self._own
        return min(1.0, max(0.0, (busy - own) / max(busy + idle, 1e-9)))

    @staticmethod
    def _busy() -> tuple[float, float]:
        times = psutil.cpu_times()
        idle = times.idle + getattr(times, "iowait", 0.0)
        # Time of guests is part of that of users.
        guests = getattr(times, "guest", 0.0) + getattr(times, "guest_nice", 0.0)
        return sum(times) - idle - guests, idle

    @staticmethod
    def _own_seconds() -> float:
        return sum(os.times()[:4])


def sized_wrap(length: float) -> Design:
    """The sample half-scale with a wrap of another length.

    Parameters
    ----------
    length : float
        mm.
    """
    design = samples.load(_SAMPLE)
    middle = design.placement.middle
    measured = design.blank.measured()
    stations = [middle + share * length for share in (-1, -0.5, 0, 0.5, 1)]
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


def _plan(length: float) -> Plan:
    return Plan(sized_wrap(length), Shelf.shipped())


def _start() -> Iterator[Cost]:
    """Start: --version and check."""
    with tempfile.TemporaryDirectory() as state:

        def seconds(*words: str) -> float:
            return cost_of_command(words, state, 3)[0]

        # The first run of a new version compiles its modules.
        cost_of_command(["check", f"sample:{_SAMPLE}"], state, 1)
        yield Cost.in_seconds("version", "--version", partial(seconds, "--version"), 0.3)
        check = partial(seconds, "check", f"sample:{_SAMPLE}")
        yield Cost.in_seconds("check", f"check {_SAMPLE}", check, 1.0)


def _still() -> Iterator[Cost]:
    """A still of 1280 x 720, the first one and again."""
    peak = 0.0
    with tempfile.TemporaryDirectory() as state:
        words = ["still", f"sample:{_SAMPLE}", "--size", "1280x720", "-o", f"{state}/still.png"]

        def seconds(runs: int) -> float:
            nonlocal peak
            found, peak = cost_of_command(words, state, runs)
            return found

        yield Cost.in_seconds("still first", "still 1280 x 720, no light kept", partial(seconds, 1))
        yield Cost.in_seconds("still", "still 1280 x 720, again", partial(seconds, 2), 4.0)
    yield Cost("still memory", "its peak of memory", peak, "MB", 600, peak)


def _layers() -> Iterator[Cost]:
    """All layers and maps of a wrap."""
    for detail, wanted in ((Detail.DRAFT, None), (Detail.NORMAL, 0.4)):
        plan = _plan(_LENGTH)

        def lay(plan: Plan = plan, detail: Detail = detail) -> Wrap:
            KEPT.forget()
            return build(plan, detail)

        what = f"all layers, {_LENGTH:.0f} mm, {detail}"
        yield Cost.in_seconds(f"layers {detail}", what, partial(cpu_seconds, lay), wanted)
        (body,) = stage_for(lay(), 16 / 9).wraps
        make = partial(
            surface_maps, body.surface, body.beneath, body.outside, body.palette, body.row_width
        )
        what = f"maps of its surface, {detail}"
        yield Cost.in_seconds(f"maps {detail}", what, partial(cpu_seconds, make))
    measured = drape_costs(800, 1024, 3)
    drapes = [cost.qhull / (cost.walk or cost.sweeps) for cost in measured]
    key = "drape" if measured[0].walk else "drape by NumPy"
    what = f"drape against Qhull, the least of {len(drapes)} reliefs"
    least = min(drapes)
    yield Cost(key, what, least, "x", 15, least, more_is_better=True)

    def laid(length: float) -> Wrap:
        KEPT.forget()
        return build(_plan(length))

    short, long = (cpu_seconds(partial(laid, length), 2) for length in (60.0, 240.0))
    points = [_plan(length).grid(Detail.NORMAL).points for length in (60.0, 240.0)]
    growth = (long / points[1]) / (short / points[0])
    what = "a point of 240 mm against one of 60 mm"
    yield Cost("growth", what, growth, "x", 1.25, growth)


def _pictures() -> Iterator[Cost]:
    """Live frames at 1280 x 720."""
    for detail, supersample in ((Detail.DRAFT, 1), (Detail.NORMAL, 2)):
        stage = stage_for(build(_plan(_LENGTH), detail), 16 / 9)
        with LiveScene(stage, (1280, 720), supersample=supersample) as scene:
            scene.set_preview(detail is Detail.DRAFT)
            scene.picture(0.0)
            turns = count(1)

            def frame(scene: LiveScene = scene, turns: Iterator[int] = turns) -> object:
                return scene.picture(0.1 * next(turns))

            what = f"live frame 1280 x 720, {detail}, {supersample} x {supersample} samples"
            yield Cost.in_seconds(f"frame {detail}", what, partial(cpu_seconds, frame))


def _film() -> Iterator[Cost]:
    """A turntable GIF of 960 x 540, a fifth of its frames."""
    wrap = build(Plan(samples.load(_SAMPLE).without_variants(), Shelf.shipped()))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "turn.gif"
        film: Callable[[], object] = partial(save_turntable, wrap, path, Film(_FILM, _FRAMES))
        what = f"turntable GIF, {_FRAMES} frames, 960 x 540"
        yield Cost.in_seconds("film", what, partial(cpu_seconds, film, 1), _FILM_WANTED)
