"""The path tracer, loaded only when a photograph is asked for."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib import import_module
from typing import Any

from render.common.problems import RequestProblem

__all__ = ["MISSING", "engine", "one_thread"]

MISSING = (
    "photo: path-traced pictures need the photo extra, which is not installed; install it with "
    'pip install "turnlight[photo]", or in the project folder pip install ".[photo]".'
)

_VARIANT = "scalar_rgb"


@cache
def engine() -> Any:
    """Load Mitsuba, select its variant and silence its log.

    Raises
    ------
    RequestProblem
        If the extra is not installed.
    """
    try:
        mitsuba = import_module("mitsuba")
    except ImportError as error:
        raise RequestProblem(MISSING) from error
    mitsuba.set_variant(_VARIANT)
    mitsuba.set_log_level(mitsuba.LogLevel.Error)
    return mitsuba


@contextmanager
def one_thread() -> Iterator[None]:
    """Let the tracer use a single thread within the context.

    Threads of its `aov` integrator wait for one another: two take three times as long as one.
    """
    engine()
    threads = import_module("drjit")
    count = threads.thread_count()
    threads.set_thread_count(1)
    try:
        yield
    finally:
        threads.set_thread_count(count)
