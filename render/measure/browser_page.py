"""What the page costs where the browser draws: `python -m render.measure.browser_page [FILE ...]`.

The frames of designs are timed in Chromium (the system's, or the one that ``TURNLIGHT_CHROMIUM``
names) at three sizes, with whatever renderer it finds. Then the first design is opened in the
program: times from an edit to its picture, and the program's use of the processor. With ``-o`` the
bench of the frames is written as one HTML file instead, for another machine: any browser shows its
table, and there

    chromium-headless-shell --no-sandbox --use-angle=vulkan --dump-dom bench.html

prints it.
"""

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import psutil
from cyclopts import App, CycloptsError, Parameter
from playwright.sync_api import Browser, Error, sync_playwright
from rich.console import Console

from render.browser.stage_json import Json
from render.cli.converters import Flag, Listed, Number
from render.common.error_reporting import run_reporting_errors
from render.common.files import check_suffix, replacing
from render.common.problems import DrawingProblem, RequestProblem
from render.common.progress import Progress
from render.measure.frame_bench import (
    SIZES,
    BenchSettings,
    bench_html,
    bench_model,
    frame_times,
    model_in,
)
from render.measure.page_speed import served
from render.measure.page_work import measure_work
from render.measure.timings import timing_table
from render.request.options import size_of, subject_of
from render.request.subject import Size, Subject

__all__ = ["app", "main"]

_DEMO = "sample:half-scale"
_PAGE = ".html"
_POLL = 500
"""Time between two looks at whether the bench has ended, ms."""

_LEAST_SECONDS, _MOST_SECONDS = 0.1, 600.0

app = App(
    name="python -m render.measure.browser_page",
    help="Measure what the page costs where the browser draws.",
    help_format="plaintext",
    version_flags=[],
    suppress_keyboard_interrupt=False,
    exit_on_error=False,
    print_error=False,
    result_action="return_none",
)


@app.default
def measure(
    *files: str,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    size: Listed = (),
    seconds: Number = 1.0,
    turned: Number = 20.0,
    angle: str | None = None,
    chromium: Annotated[Path | None, Parameter(name=["--chromium", "--headless-shell"])] = None,
    frames_only: Flag = False,
) -> None:
    """Time frames, edits and turns, and print the tables.

    Parameters
    ----------
    files : str
        Designs, or pages that turntable has made, whose frames are timed. By default a sample.
    output : Path, optional
        Write the bench of the frames as an HTML file, and measure nothing.
    size : tuple of str
        Sizes of the picture, such as 1920x1080; by default 720p, 1080p and 4K.
    seconds : float
        Time for each row of the table of frames.
    turned : float
        Seconds for which the rod is turned in the program's page.
    angle : str, optional
        What Chromium draws with, such as vulkan, gl or swiftshader.
    chromium : Path, optional
        Chromium, or its headless shell.
    frames_only : bool
        Do not open a design in the program.
    """
    for name, value in (("seconds", seconds), ("turned", turned)):
        # Written so that NaN is refused too.
        if not _LEAST_SECONDS <= value <= _MOST_SECONDS:
            raise RequestProblem(
                f"{name}: {value:g} is not between {_LEAST_SECONDS:g} and {_MOST_SECONDS:g} s."
            )
    files = files or (_DEMO,)
    sizes = tuple(size_of(one) for one in size) or SIZES
    if output is not None:
        check_suffix(output, (_PAGE,))
    console = Console()
    html = bench_html(_models(files, console), BenchSettings(sizes, seconds=seconds))
    if output is not None:
        with replacing(output) as whole:
            whole.write_text(html, encoding="utf-8", newline="\n")
        console.print(f"{output}: open it in a browser to measure there", highlight=False)
        return
    try:
        with _chromium(chromium, angle) as browser:
            _measure_frames(browser, html, console)
            design = next((file for file in files if not _is_page(file)), _DEMO)
            if not frames_only:
                _measure_work(browser, design, turned, console)
    except Error as error:
        raise DrawingProblem(f"Chromium: {error.message.splitlines()[0]}") from None


def main(arguments: Sequence[str]) -> int:
    """Run the command, and return its exit code (`render.common.error_reporting`).

    Parameters
    ----------
    arguments : sequence of str
        Words after the command's name.
    """
    return run_reporting_errors(lambda: _run(arguments))


def _run(arguments: Sequence[str]) -> None:
    try:
        app(list(arguments))
    except CycloptsError as error:
        error.verbose = False
        raise RequestProblem(str(error).strip()) from None


def _is_page(file: str) -> bool:
    return Path(file).suffix.casefold() == _PAGE


def _models(files: Sequence[str], console: Console) -> dict[str, Json]:
    """The models of all files, by their names."""
    models: dict[str, Json] = {}
    for file in files:
        name = Path(file.rpartition(":")[2]).stem
        if _is_page(file):
            models[name] = model_in(Path(file))
            continue
        console.print(f"packing: {name}", style="dim", highlight=False)
        given = subject_of(file)
        subject = Subject(given.design.without_variants(), given.shelf, given.beside)
        models[name] = bench_model(subject, Progress.none()).data
    return models


@contextmanager
def _chromium(path: Path | None, angle: str | None) -> Iterator[Browser]:
    """Open Chromium, drawing with what `angle` names."""
    found = path or os.environ.get("TURNLIGHT_CHROMIUM") or shutil.which("chromium")
    if found is None:
        raise RequestProblem("chromium: there is none here; install it, or give its path.")
    arguments = ["--no-sandbox", *([f"--use-angle={angle}"] if angle else [])]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(found), args=arguments)
        yield browser
        browser.close()


def _measure_frames(browser: Browser, html: str, console: Console) -> None:
    console.print("measuring: frames", style="dim", highlight=False)
    page = browser.new_page()
    errors: list[Error] = []
    page.on("pageerror", lambda error: errors.append(error))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.html"
        path.write_text(html, encoding="utf-8", newline="\n")
        page.goto(path.as_uri(), wait_until="commit")
        while not errors and page.get_attribute("html", "data-state") is None:
            page.wait_for_timeout(_POLL)
    if errors:
        raise errors[0]
    try:
        found = frame_times(page.content())
    except RuntimeError as error:
        raise DrawingProblem(str(error)) from None
    title = f"Frames, drawn by {found.renderer}; times until a pixel is read back"
    console.print(timing_table(title, found.rows))
    for memory in found.memory:
        console.print(
            f"{memory.model}, {_words(memory.size)}: graphics memory {_megabytes(memory.held)}, "
            f"at most {_megabytes(memory.most)}",
            highlight=False,
        )
    console.print(f"memory of all Chromium's processes: {_megabytes(_browser_memory())}")
    page.close()


def _measure_work(browser: Browser, file: str, seconds: float, console: Console) -> None:
    console.print("measuring: edits and turns", style="dim", highlight=False)
    with served(file) as program:
        work = measure_work(browser, program, seconds)
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    console.print(timing_table(f"Edits, drawn by {work.renderer}{load}", work.edits))
    for use in work.uses:
        console.print(
            f"{use.what}: {use.processor:.2f} s of the program's processor time in "
            f"{use.seconds:.1f} s; the browser drew {use.pictures} pictures",
            highlight=False,
        )


def _words(size: Size) -> str:
    return f"{size[0]} x {size[1]}"


def _megabytes(count: int) -> str:
    return f"{count / 1e6:.0f} MB"


def _browser_memory() -> int:
    """Bytes of the processes that Chromium has; memory that they share counts once where known."""
    total = 0
    for process in psutil.Process().children(recursive=True):
        try:
            if "chrom" in process.name().casefold() or "headless" in process.name().casefold():
                memory = process.memory_full_info()
                total += getattr(memory, "pss", memory.rss)
        except (psutil.NoSuchProcess, psutil.AccessDenied):
            continue  # it has just ended
    return total


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
