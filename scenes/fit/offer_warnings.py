"""Warnings that `check` gives of an offered design and not of the present one.

What can be told from the windings is found for every design that meets the wishes, so that those
without a new warning are offered first. What needs the wrap, such as air under the cover or thread
on a spool, is found for the designs that are offered, in about a second for each.
"""

import re
from collections.abc import Iterable, Iterator

from scenes.bench.report import bench_report, layer_warnings
from scenes.building.build import build_for_bench
from scenes.design.layers import kind_of
from scenes.figures.figures import Sentence
from scenes.figures.formatter import FigureFormatter
from scenes.fit.measures import Measured
from scenes.kinds.builder import as_cut
from scenes.problems import DESIGN_REFUSALS

__all__ = ["document_warnings", "early_warnings", "new_warnings"]

_REFUSED = "refused"
"""What the sentence is about where a design cannot be cut or built."""

Warned = Iterator[tuple[str, str]]
"""What each warning is about, and its sentence."""


def document_warnings(measured: Measured) -> Warned:
    """Warnings with which no design is offered, in milliseconds.

    Parameters
    ----------
    measured : Measured

    Yields
    ------
    (str, str)
        What the warning is about, and its sentence. The rest of a sentence changes with the
        numbers, so it does not tell whether a warning is new.
    """
    for warning in measured.design.warnings:
        yield warning.partition(":")[0], warning
    for builder in measured.builders:
        said = kind_of(builder.layer).numbers.warnings(builder)
        yield from ((f"{builder.path}: {key}", text) for key, text in _written(measured, said))


def early_warnings(measured: Measured) -> Warned:
    """Warnings that need no wrap to be laid, of the design as it is cut.

    Parameters
    ----------
    measured : Measured

    Yields
    ------
    (str, str)
        As `document_warnings`, and those of the layers at the bench.
    """
    yield from document_warnings(measured)
    try:
        yield from _written(measured, layer_warnings(as_cut(measured.plan)))
    except DESIGN_REFUSALS as problem:
        yield _REFUSED, str(problem)


def new_warnings(before: Measured, offered: Iterable[Measured]) -> Iterator[list[str]]:
    """List the warnings that `check` gives of offered designs and not of the present one.

    Parameters
    ----------
    before : Measured
        The present design.
    offered : iterable of Measured

    Yields
    ------
    list of str
        One sentence each; if the design cannot be built, why.
    """
    known: set[str] | None = None
    for after in offered:
        if after.design == before.design:
            yield []
            continue
        if known is None:
            known = {subject for subject, _ in _checked(before)}
        yield [text for subject, text in _checked(after) if subject not in known]


def _checked(measured: Measured) -> Warned:
    yield from document_warnings(measured)
    try:
        report = bench_report(build_for_bench(measured.plan, poured=False))
    except DESIGN_REFUSALS as problem:
        yield _REFUSED, str(problem)
        return
    yield from _written(measured, iter(report.warnings))


def _written(measured: Measured, sentences: Iterator[Sentence]) -> Warned:
    written = FigureFormatter(measured.design.units, measured.design.bench.currency)
    for sentence in sentences:
        # What it is about stands first. The numbers, and the advice behind the fact, may change.
        fact = sentence.words.partition("; ")[0]
        about = re.match(r"\{(\w+)\}", fact)
        name = sentence.amounts[about[1]] if about else ""
        name = name if isinstance(name, str) else ""
        yield f"{name} {re.sub(r'[0-9]+', '#', fact)}", written.sentence(sentence)
