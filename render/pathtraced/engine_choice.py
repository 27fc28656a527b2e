"""Which engine traces photos on this machine: the fastest that works, tried once and remembered.

Each engine is tried in a child process (`render.pathtraced.engine_trial`). What worked is kept in
the user's cache, together with the versions and files that it depends on: with a new driver,
library or version of Mitsuba it is tried again.
"""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from render.common.problems import RequestProblem
from render.pathtraced import engine_trial
from render.pathtraced.engines import (
    GPU_VARIABLE,
    LLVM_VARIABLE,
    Engine,
    cuda_driver,
    llvm_libraries,
)
from scenes.cache.whole_files import write_whole
from scenes.files.state_folder import cache_folder

__all__ = ["ENGINE_VARIABLE", "Choice", "choose_engine"]

ENGINE_VARIABLE = "TURNLIGHT_PHOTO_ENGINE"
"""Environment variable that names an engine, for every command that does not name one."""

_TIMEOUT = 180.0
"""Seconds after which a trial counts as failed. A GPU's first program takes up to a minute."""

_FILE = "photo-engine.json"

_MOST_KEPT = 7
"""Earlier choices that are kept: of other wishes, and of other environments of the same user."""


@dataclass(frozen=True, slots=True)
class Choice:
    """An engine that works.

    Parameters
    ----------
    engine : Engine
    library : Path, optional
        LLVM's library, for the engine that needs it.
    """

    engine: Engine
    library: Path | None = None


def choose_engine(
    wanted: Engine | None = None, note: Callable[[str], object] = lambda sentence: None
) -> Choice:
    """Find the fastest engine that works here, or check the one that is wanted.

    Parameters
    ----------
    wanted : Engine, optional
        By default that of `ENGINE_VARIABLE`, and without one the fastest.
    note : callable
        Called with a sentence before engines are tried, which takes some seconds.

    Raises
    ------
    RequestProblem
        If the engine that is wanted does not work here, or the variable names none.
    """
    if wanted is None and (named := os.environ.get(ENGINE_VARIABLE)):
        wanted = _named(named)
    if wanted is Engine.SCALAR:
        return Choice(wanted)
    engines = tuple(Engine) if wanted is None else (wanted,)
    candidates = [choice for engine in engines for choice in _candidates(engine)]
    key = _key(candidates)
    choice = _remembered(key, candidates)
    if choice is None:
        if len(candidates) > 1 or wanted is not None:
            note("Finding the fastest way to trace photos on this machine; this is done once")
        choice = next((one for one in candidates if _works(one)), None)
        if choice is None:
            raise RequestProblem(_refusal(engines[0]))
        _remember(key, choice)
    return choice


def _named(text: str) -> Engine:
    try:
        return Engine(text.strip().casefold())
    except ValueError:
        raise RequestProblem(
            f'{ENGINE_VARIABLE}: "{text}" is no engine; set it to {", ".join(Engine)}, or unset it '
            "for the fastest that works here."
        ) from None


def _candidates(engine: Engine) -> list[Choice]:
    if engine is Engine.LLVM:
        return [Choice(engine, library) for library in llvm_libraries()]
    if engine is Engine.GPU and cuda_driver() is None:
        return []
    return [Choice(engine)]


def _works(choice: Choice) -> bool:
    if choice.engine is Engine.SCALAR:
        return True
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    if choice.library is not None:
        environment[LLVM_VARIABLE] = str(choice.library)
    try:
        done = subprocess.run(
            [sys.executable, "-P", engine_trial.__file__, choice.engine.variant],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=environment,
            timeout=_TIMEOUT,
            check=False,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def _refusal(engine: Engine) -> str:
    if engine is Engine.GPU:
        return (
            "engine: gpu does not work here, because it needs an NVIDIA graphics processor with "
            "its driver; leave it out for the fastest engine that works."
        )
    return (
        "engine: llvm does not work here, because no library of LLVM 17 or newer was found that "
        "works (Debian: apt-get install libllvm19; Fedora: llvm-libs; macOS: brew install llvm); "
        "install it, or leave the engine out for the fastest one that works."
    )


# ---- What is remembered


def _key(candidates: list[Choice]) -> list[str]:
    """Versions and files that decide which engine works."""
    return [f"mitsuba {_version('mitsuba')}", f"drjit {_version('drjit')}", *_files(candidates)]


def _version(package: str) -> str:
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:  # a folder on the path, not installed by a package tool
        return "unknown"


def _files(candidates: list[Choice]) -> Iterator[str]:
    for choice in candidates:
        yield choice.engine.value
        path = cuda_driver() if choice.engine is Engine.GPU else choice.library
        if path is not None:
            with suppress(OSError):
                real = path.resolve(strict=True)
                state = real.stat()
                yield f"{real} {state.st_size} {state.st_mtime_ns}"
        if choice.engine is Engine.GPU:
            with suppress(OSError):
                yield Path("/proc/driver/nvidia/version").read_text(encoding="utf-8")
            yield os.environ.get(GPU_VARIABLE, "")


def _remembered(key: list[str], candidates: list[Choice]) -> Choice | None:
    try:
        content = (cache_folder() / _FILE).read_text(encoding="utf-8")
        kept = {json.dumps(entry["key"]): entry for entry in json.loads(content)}
        entry = kept[json.dumps(key)]
        library = entry["library"]
        choice = Choice(Engine(entry["engine"]), None if library is None else Path(library))
    except (OSError, RuntimeError, ValueError, KeyError, TypeError):
        return None
    return choice if choice in candidates else None


def _remember(key: list[str], choice: Choice) -> None:
    """Keep a choice beside earlier ones."""
    library = None if choice.library is None else str(choice.library)
    entry = {"key": key, "engine": choice.engine.value, "library": library}
    # Without a home or on a full disk the engines are tried again each time.
    with suppress(OSError, RuntimeError):
        path = cache_folder() / _FILE
        kept = []
        with suppress(OSError, ValueError, TypeError, KeyError):
            kept = [
                one for one in json.loads(path.read_text(encoding="utf-8")) if one["key"] != key
            ]
        write_whole(path, json.dumps([*kept[-_MOST_KEPT:], entry], indent=1).encode())
