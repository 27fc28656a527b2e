"""The path tracer, loaded only when a photograph is asked for."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any

from render.common.problems import RequestProblem
from render.pathtraced.engine_choice import choose_engine
from render.pathtraced.engines import LLVM_VARIABLE, Engine

__all__ = ["MISSING", "engine", "make_opaque", "one_thread", "select_engine", "selected_engine"]

MISSING = (
    "photo: path-traced pictures need the photo extra, which is not installed; install it with "
    'pip install "turnlight[photo]", or in the project folder pip install ".[photo]".'
)

_selected: Engine | None = None


def select_engine(
    wanted: Engine | None = None, note: Callable[[str], object] = lambda sentence: None
) -> Engine:
    """Load Mitsuba for an engine, in which the process makes photos from now on.

    Scenes that were made in another engine cannot be used any more.

    Parameters
    ----------
    wanted : Engine, optional
        By default the fastest that works here.
    note : callable
        Called with a sentence if engines are tried, which takes some seconds.

    Raises
    ------
    RequestProblem
        If the extra is not installed, or the engine that is wanted does not work here.
    """
    global _selected
    mitsuba = _mitsuba()
    choice = choose_engine(wanted, note)
    with _library_named(choice.library):
        mitsuba.set_variant(choice.engine.variant)
    mitsuba.set_log_level(mitsuba.LogLevel.Error)
    _selected = choice.engine
    return choice.engine


def selected_engine() -> Engine:
    """The engine of this process; the fastest that works here if none has been selected.

    Raises
    ------
    RequestProblem
        If the extra is not installed.
    """
    return select_engine() if _selected is None else _selected


def engine() -> Any:
    """Mitsuba, ready for the selected engine.

    Raises
    ------
    RequestProblem
        If the extra is not installed.
    """
    mitsuba = _mitsuba()
    variant = selected_engine().variant
    # Another part of the process may use Mitsuba too.
    if mitsuba.variant() != variant:
        mitsuba.set_variant(variant)
    return mitsuba


def _mitsuba() -> Any:
    try:
        return import_module("mitsuba")
    except ImportError as error:
        raise RequestProblem(MISSING) from error


@contextmanager
def _library_named(library: Path | None) -> Iterator[None]:
    """Name LLVM's library to Mitsuba, which reads it when it first selects an engine that needs it.

    Later programs of this process do not inherit it: they choose anew.
    """
    before = os.environ.get(LLVM_VARIABLE)
    if library is None or before is not None:
        yield
        return
    os.environ[LLVM_VARIABLE] = str(library)
    try:
        yield
        drjit = import_module("drjit")
        drjit.has_backend(drjit.JitBackend.LLVM)
    finally:
        del os.environ[LLVM_VARIABLE]


def make_opaque(*values: Any) -> None:
    """Turn numbers of Mitsuba into data of a compiled program.

    A program is compiled again for each new number that is part of it. Without arrays nothing is
    compiled.

    Parameters
    ----------
    values : Mitsuba's or Dr.Jit's types
    """
    if selected_engine().on_arrays:
        import_module("drjit").make_opaque(*values)


@contextmanager
def one_thread() -> Iterator[None]:
    """Let the tracer use a single thread within the context.

    Threads of its `aov` integrator wait for one another: two take three times as long as one.
    On arrays they do not.
    """
    if selected_engine().on_arrays:
        yield
        return
    threads = import_module("drjit")
    count = threads.thread_count()
    threads.set_thread_count(1)
    try:
        yield
    finally:
        threads.set_thread_count(count)
