"""The stage worker: a process that packs stages and lights for browsers that draw for themselves.

It draws nothing and loads no renderer. Only the newest request counts. There is a stage for each
design that clients have pinned as A beside the open one, and one of the open design alone. After an
edit every stage gets its draft, then come the lights that are wanted, then the full detail; while
somebody holds a slider the worker stops after drafts. The states that nobody looks at (dry, or
under finish) follow last, so that they are there when they are asked for. Full detail is built in a
thread of its own, and a draft is packed beside it.
"""

import logging
import signal
import time
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass

from geometry.grid import Detail
from render.common.heap import give_back_freed_memory
from render.common.problems import REFUSALS
from render.page.workers.full_build import FullBuild
from render.page.workers.parcels import Parcel
from render.page.workers.stage_packer import (
    DRY,
    FINISHED,
    OPEN,
    LightPacker,
    LightSetting,
    StagePacker,
    sides_of,
    state_of,
)
from render.page.workers.worker_pipe import Pipe
from render.request.subject import Subject

__all__ = ["PackedLight", "PackedStage", "StageProblem", "StageRequest", "run_stage_worker"]

_SETTLING = 0.25
"""Seconds without another edit before the full detail is packed: a layer of it cannot be
interrupted."""

_RESTING = 1.0
"""The same before states are packed that nobody looks at."""

_GLANCE = 0.01
"""Seconds between two looks at a build and at the pipe."""

_FAULT = (
    "This design cannot be packed for the browser, by a fault of Turnlight itself ({}). Your work "
    "is kept; change the design to try once more. The terminal tells more."
)

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class StageRequest:
    """What is wanted at present.

    Parameters
    ----------
    designs : dict of str to Subject
        By name: `OPEN`, and those that clients have pinned.
    stages : dict of str to int
        By the name of the pinned design, empty for the open one alone: the number of the edit,
        which changes with the stage's designs. Whose turn it is first comes first.
    dry : frozenset of bool
        Whether clients look at designs without finish, with it, or both.
    lights : dict of int to LightSetting
        By client, whose turn it is first coming first.
    held : bool
        Whether somebody holds a slider.
    complete : frozenset of str
        Stages of which the page has this edit in full detail, from a worker that has ended: no
        draft of it is sent.
    """

    designs: Mapping[str, Subject]
    stages: Mapping[str, int]
    dry: frozenset[bool]
    lights: Mapping[int, LightSetting]
    held: bool = False
    complete: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class PackedStage:
    """A stage.

    Parameters
    ----------
    pinned : str
        Name of the pinned design in it; empty for the open one alone.
    number : int
        Of the edit that it shows.
    parcel : Parcel
        Without bytes that the page holds already.
    held : frozenset of str
        Names of all bytes that the page is to hold from now on: those of the last two stages with
        each pinned design.
    draft : bool
        Whether the full detail is to follow.
    """

    pinned: str
    number: int
    parcel: Parcel
    held: frozenset[str]
    draft: bool


@dataclass(frozen=True, slots=True)
class PackedLight:
    """The light of a client.

    Parameters
    ----------
    client : int
    setting : LightSetting
    parcel : Parcel
    """

    client: int
    setting: LightSetting
    parcel: Parcel


@dataclass(frozen=True, slots=True)
class StageProblem:
    """Reason why there is no stage.

    Parameters
    ----------
    pinned : str
        Name of the pinned design in it; empty for the open one alone.
    number : int
        Of the edit.
    sentence : str
    """

    pinned: str
    number: int
    sentence: str


def run_stage_worker(pipe: Pipe) -> None:
    """Pack what is requested through a pipe, until it is closed.

    Parameters
    ----------
    pipe : Pipe
        Receives `StageRequest`, and sends `PackedStage`, `PackedLight` and `StageProblem`.
    """
    # Ctrl-C is handled by the page's process, which closes the pipe.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(EOFError, BrokenPipeError, ConnectionResetError):
        StageWork(pipe).run()


class StageWork:
    """The work of the process: one step after another, each for the newest request.

    Parameters
    ----------
    pipe : Pipe
    """

    def __init__(self, pipe: Pipe) -> None:
        self._pipe = pipe
        self._stages, self._lights = StagePacker(), LightPacker()
        self._request: StageRequest | None = None
        # All by the name of the pinned design.
        self._sent: dict[str, tuple[int, str]] = {}
        self._names: dict[str, tuple[frozenset[str], frozenset[str]]] = {}
        self._numbers: Mapping[str, int] = {}
        self._unsent: set[str] = set()
        self._failed: set[str] = set()
        self._at_work = ""
        self._lit: dict[int, tuple[object, ...]] = {}
        self._since = 0.0
        self._build: FullBuild | None = None

    def run(self) -> None:
        """Work until the pipe is closed."""
        request: StageRequest = self._pipe.recv()
        while True:
            busy = self.advance(request)
            if busy and not self._pipe.poll():
                continue
            request = self._pipe.recv()
            while self._pipe.poll():
                request = self._pipe.recv()

    def advance(self, request: StageRequest) -> bool:
        """Take one step; return False if there is nothing to do.

        Parameters
        ----------
        request : StageRequest
        """
        if request is not self._request:
            self._take(request)
        try:
            return self._step(request)
        except REFUSALS as problem:
            self._fail(request, str(problem))
        except (EOFError, BrokenPipeError, ConnectionResetError):
            raise
        except Exception as fault:
            # A new process would have the same fault with the same design.
            _LOG.error("The stage could not be packed.", exc_info=fault)
            self._stages = StagePacker()
            self._fail(request, _FAULT.format(type(fault).__name__))
        return True

    def _take(self, request: StageRequest) -> None:
        """Note which stages of a new request are new, and drop what it no longer asks for."""
        before, self._request, self._numbers = self._numbers, request, request.stages
        changed = {key for key, number in request.stages.items() if before.get(key) != number}
        if changed:
            self._since = time.monotonic()
        if self._build is not None and not any(
            self._build.is_of(name, subject, state)
            for key in request.stages
            for name, subject, state in _everything(request, key)
        ):
            self._build.abandon()
        self._failed = (self._failed - changed) & request.stages.keys()
        self._unsent = (self._unsent | changed) & request.stages.keys()
        self._sent = {key: self._sent[key] for key in self._sent if key in request.stages}
        self._names = {key: self._names[key] for key in self._names if key in request.stages}
        self._lit = {client: self._lit[client] for client in self._lit if client in request.lights}
        self._stages.keep_only(request.designs)

    def _fail(self, request: StageRequest, sentence: str) -> None:
        self._failed.add(self._at_work)
        number = request.stages[self._at_work]
        self._pipe.send(StageProblem(self._at_work, number, sentence))

    def _step(self, request: StageRequest) -> bool:
        stages = [key for key in request.stages if key not in self._failed]
        for key in stages:
            self._at_work = key
            for name, subject, state in _wanted(request, key):
                if self._stages.detail_of(name, subject, state) is None:
                    # A draft is finished whatever comes, or a dragged slider would show nothing.
                    self._stages.pack(name, subject, state, Detail.DRAFT, lambda _: None)
                    self._note_packed(name)
                    return True
            if self._send_stage(request):
                return True
        for client, setting in request.lights.items():
            self._at_work = setting.pinned
            if self._at_work in stages and self._light(request, client, setting):
                return True
        if request.held:
            return False
        for entries_of, wait in ((_wanted, _SETTLING), (_everything, _RESTING)):
            for key in stages:
                self._at_work = key
                for name, subject, state in entries_of(request, key):
                    if not self._stages.is_confirmed(name, subject, state):
                        if not self._is_unsettled(wait):
                            self._pack_full(name, subject, state)
                        return True
                if self._send_stage(request):
                    return True
        return False

    def _light(self, request: StageRequest, client: int, setting: LightSetting) -> bool:
        """Send a client its light, if it is another than the last one sent."""
        sides = sides_of(request.designs, setting.pinned)
        key = self._lights.key(sides, setting)
        if self._lit.get(client) == key:
            return False
        parcel = self._lights.light(sides, setting)
        self._lit[client] = key
        self._pipe.send(PackedLight(client, setting, parcel))
        return True

    def _is_unsettled(self, wait: float) -> bool:
        """Wait until the design has been the same for long enough; True if a request came first."""
        left = self._since + wait - time.monotonic()
        return left > 0 and self._pipe.poll(left)

    def _pack_full(self, name: str, subject: Subject, state: str) -> None:
        """Begin to build in full, or look after the build, or pack what it has made."""
        if self._stages.take_twin(name, subject, state, Detail.NORMAL):
            self._note_packed(name)
            return
        build = self._build
        if build is None:
            self._build = FullBuild(self._stages, name, subject, state, self._pipe.poll)
        elif not build.done:
            if not build.is_of(name, subject, state):
                build.abandon()
            self._pipe.poll(_GLANCE, progress=False)
        else:
            self._build = None
            if build.is_of(name, subject, state):
                self._stages.put(name, state, build.result())
                self._note_packed(name)
                give_back_freed_memory()

    def _note_packed(self, name: str) -> None:
        self._unsent |= {key for key in self._numbers if name in (OPEN, key)}

    def _send_stage(self, request: StageRequest) -> bool:
        """Send the stage in hand, if it is another than the last one sent."""
        key = self._at_work
        if key not in self._unsent:
            return False
        self._unsent.discard(key)
        draft = any(
            self._stages.detail_of(name, subject, state) is Detail.DRAFT
            for name, subject, state in _wanted(request, key)
        )
        if draft and key in request.complete:
            return False
        parcel = self._stages.stage(request.designs, key)
        sent = request.stages[key], parcel.name
        if self._sent.get(key) == sent:
            return False
        known = self._held()
        self._sent[key] = sent
        self._names[key] = frozenset(parcel.blobs), self._names.get(key, (frozenset(),))[0]
        fresh = {name: data for name, data in parcel.blobs.items() if name not in known}
        self._pipe.send(PackedStage(key, sent[0], Parcel(parcel.name, fresh), self._held(), draft))
        return True

    def _held(self) -> frozenset[str]:
        """Names of the bytes that the page holds."""
        return frozenset().union(*(names for pair in self._names.values() for names in pair))


def _wanted(request: StageRequest, pinned: str) -> Iterator[tuple[str, Subject, str]]:
    """What clients look at in a stage: the open design before the pinned one."""
    for name in filter(None, (OPEN, pinned)):
        subject = request.designs[name]
        for state in sorted({state_of(subject, dry=dry) for dry in request.dry}, reverse=True):
            yield name, subject, state


def _everything(request: StageRequest, pinned: str) -> Iterator[tuple[str, Subject, str]]:
    """The designs of a stage in all their states."""
    for name in filter(None, (OPEN, pinned)):
        subject = request.designs[name]
        for state in (FINISHED, DRY) if subject.design.finish.coats else (DRY,):
            yield name, subject, state
