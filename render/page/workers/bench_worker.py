"""The bench worker: a process that computes bench figures, which takes about a second."""

import signal
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from render.common.progress import Progress
from render.page.workers.worker_pipe import Pipe
from render.request.subject import Subject
from scenes.bench.report import bench_report
from scenes.design.field_words import in_words
from scenes.figures.figures import BenchReport, Figure, Kind, SectionKey
from scenes.figures.formatter import FigureFormatter
from scenes.problems import DESIGN_REFUSALS
from scenes.quantities import Units

__all__ = ["BenchFigures", "BenchRequest", "BenchTexts", "bench_figures", "run_bench_worker"]

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class BenchRequest:
    """A design whose bench figures are requested.

    Parameters
    ----------
    revision : int
        Of the document.
    subject : Subject
    units : tuple of Units
        Units in which lengths are written, each in texts of its own.
    """

    revision: int
    subject: Subject
    units: tuple[Units, ...]


@dataclass(frozen=True, slots=True)
class BenchTexts:
    """Bench figures as text, in one unit of length.

    Parameters
    ----------
    sections : list of dict
        ``title``, and ``figures``: ``name``, ``text``, ``how``, ``main``, and ``money``: whether it
        is an amount of money.
    threads : list of (str, str)
        Path of a layer, and the amount of one thread that it uses.
    warnings : list of str
    """

    sections: list[Json]
    threads: list[tuple[str, str]]
    warnings: list[str]


@dataclass(frozen=True, slots=True)
class BenchFigures:
    """Bench figures of a design.

    Parameters
    ----------
    revision : int
        Of the document.
    texts : dict of Units to BenchTexts
    """

    revision: int
    texts: Mapping[Units, BenchTexts]


def run_bench_worker(pipe: Pipe) -> None:
    """Answer each `BenchRequest` with `BenchFigures`, until the pipe is closed.

    Parameters
    ----------
    pipe : Pipe
    """
    # Ctrl-C is handled by the page's process, which closes the pipe.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(EOFError, OSError):
        while True:
            request = pipe.recv()
            try:
                pipe.send(bench_figures(request))
            except DESIGN_REFUSALS as problem:
                refused = BenchTexts([], [], [in_words(str(problem))])
                pipe.send(BenchFigures(request.revision, dict.fromkeys(request.units, refused)))


def bench_figures(request: BenchRequest) -> BenchFigures:
    """Build the wrap at draft detail and write its bench figures as text.

    Parameters
    ----------
    request : BenchRequest

    Raises
    ------
    DesignProblem, GeometryError, MaterialProblem
    """
    wrap = request.subject.build_for_bench(Progress.none())
    bench = bench_report(wrap)
    texts = {
        units: _texts(bench, FigureFormatter(units, bench.currency)) for units in request.units
    }
    return BenchFigures(request.revision, texts)


def _texts(bench: BenchReport, words: FigureFormatter) -> BenchTexts:
    sections = []
    for section in bench.sections:
        listed = [_figure(figure, words) for figure in section.figures]
        if listed:
            title = section.key.value[:1].upper() + section.key.value[1:]
            sections.append({"title": title, "figures": listed})
    warnings = [in_words(words.sentence(warning)) for warning in bench.warnings]
    return BenchTexts(sections, list(_threads(bench, words)), warnings)


def _figure(figure: Figure, words: FigureFormatter) -> Json:
    marks = "".join(f" ({mark.value})" for mark in figure.marks)
    return {
        "name": figure.name,
        "text": words.figure(figure),
        "how": in_words(words.sentence(figure.how)) + marks,
        "main": figure.main,
        "money": figure.kind is Kind.MONEY,
    }


def _threads(bench: BenchReport, words: FigureFormatter) -> Iterator[tuple[str, str]]:
    section = bench.section(SectionKey.THREADS)
    uses = section.table("threads") if section is not None else None
    spools = section.table("spools") if section is not None else None
    if uses is None:
        return
    enough = {}
    if spools is not None:
        enough = dict(zip(spools.column("thread"), spools.column("enough"), strict=True))
    units = {column.key: column.kind for column in uses.columns}
    columns = [uses.column(key) for key in ("use", "thread", "load", "mass")]
    for use, thread, load, mass in zip(*columns, strict=True):
        load_kind, mass_kind = units["load"], units["mass"]
        if not isinstance(load, float) or not isinstance(mass, float):
            continue
        assert load_kind is not None
        assert mass_kind is not None
        text = f"{thread}: {words.amount(load, load_kind)} with tails and waste"
        short = enough.get(thread) == "no"
        text += "; more than the spool holds." if short else f", {words.amount(mass, mass_kind)}."
        yield str(use), text
