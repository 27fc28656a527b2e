"""The stage worker: a process that packs stages and lights for browsers that draw for themselves.

It draws nothing and loads no renderer. Only the newest request counts. After an edit it packs a
draft, then the lights that are wanted, then the full detail; while somebody holds a slider it stops
after drafts. The states that nobody looks at (dry, or under finish) follow last, so that they are
there when they are asked for.
"""

import logging
import signal
import time
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass

from geometry.grid import Detail
from render.common.problems import REFUSALS
from render.page.workers.heap import give_back_freed_memory
from render.page.workers.stage_packer import (
    DRY,
    FINISHED,
    LightPacker,
    LightSetting,
    Parcel,
    StagePacker,
    state_of,
)
from render.page.workers.worker_pipe import Pipe
from render.request.subject import Subject

__all__ = ["PackedLight", "PackedStage", "StageProblem", "StageRequest", "run_stage_worker"]

_SETTLING = 0.25
"""Seconds without another edit before the full detail is packed, which cannot be interrupted
between two layers."""

_RESTING = 1.0
"""The same before states are packed that nobody looks at."""

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
    number : int
        Number of the edit: it changes with `sides`.
    sides : dict of str to Subject
        Designs: "B" the open one, and "A" the pinned one, if there is one.
    dry : frozenset of bool
        Whether clients look at designs without finish, with it, or both.
    lights : dict of int to LightSetting
        By client, whose turn it is first coming first.
    held : bool
        Whether somebody holds a slider.
    complete : bool
        Whether the page has this edit in full detail, from a worker that has ended: no draft of it
        is sent.
    """

    number: int
    sides: Mapping[str, Subject]
    dry: frozenset[bool]
    lights: Mapping[int, LightSetting]
    held: bool = False
    complete: bool = False


@dataclass(frozen=True, slots=True)
class PackedStage:
    """A stage.

    Parameters
    ----------
    number : int
        Of the edit that it shows.
    parcel : Parcel
        Without bytes that the two stages before have too.
    names : frozenset of str
        Names of all its bytes.
    draft : bool
        Whether the full detail is to follow.
    """

    number: int
    parcel: Parcel
    names: frozenset[str]
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
    number : int
        Of the edit.
    sentence : str
    """

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


class _Stale(Exception):
    """Another request makes the work in hand useless."""


class StageWork:
    """The work of the process: one step after another, each for the newest request.

    Parameters
    ----------
    pipe : Pipe
    """

    def __init__(self, pipe: Pipe) -> None:
        self._pipe = pipe
        self._stages, self._lights = StagePacker(), LightPacker()
        self._sent: tuple[int, str] = (-1, "")
        self._names: tuple[frozenset[str], frozenset[str]] = frozenset(), frozenset()
        self._lit: dict[int, tuple[object, ...]] = {}
        self._number = -1
        self._unsent = False
        self._since = 0.0
        self._failed = False

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
        if request.number != self._number:
            self._number, self._since, self._failed = request.number, time.monotonic(), False
            self._unsent = True
        if self._failed:
            return False
        try:
            return self._step(request)
        except _Stale:
            return True
        except REFUSALS as problem:
            self._fail(request, str(problem))
        except (EOFError, BrokenPipeError, ConnectionResetError):
            raise
        except Exception as fault:
            # A new process would have the same fault with the same design.
            _LOG.error("The stage could not be packed.", exc_info=fault)
            self._stages = StagePacker()
            self._fail(request, _FAULT.format(type(fault).__name__))
        return False

    def _fail(self, request: StageRequest, sentence: str) -> None:
        self._failed = True
        self._pipe.send(StageProblem(request.number, sentence))

    def _step(self, request: StageRequest) -> bool:
        wanted = list(_wanted(request))
        for side, subject, state in wanted:
            if self._stages.detail_of(side, subject, state) is None:
                self._pack(request, side, subject, state, Detail.DRAFT)
                return True
        if self._send_stage(request, wanted):
            return True
        self._lit = {client: key for client, key in self._lit.items() if client in request.lights}
        for client, setting in request.lights.items():
            key = self._lights.key(request.sides, setting)
            if self._lit.get(client) != key:
                parcel = self._lights.light(request.sides, setting)
                self._lit[client] = key
                self._pipe.send(PackedLight(client, setting, parcel))
                return True
        if request.held:
            return False
        everything = [
            (side, subject, state)
            for side, subject in request.sides.items()
            for state in ((FINISHED, DRY) if subject.design.finish.coats else (DRY,))
        ]
        for entries, wait in ((wanted, _SETTLING), (everything, _RESTING)):
            for side, subject, state in entries:
                if not self._stages.is_confirmed(side, subject, state):
                    if self._is_unsettled(wait):
                        return True
                    self._pack(request, side, subject, state, Detail.NORMAL)
                    give_back_freed_memory()
                    return True
            if self._send_stage(request, wanted):
                return True
        return False

    def _is_unsettled(self, wait: float) -> bool:
        """Wait until the design has been the same for long enough; True if a request came first."""
        left = self._since + wait - time.monotonic()
        return left > 0 and self._pipe.poll(left)

    def _pack(
        self, request: StageRequest, side: str, subject: Subject, state: str, detail: Detail
    ) -> None:
        def step(_: str) -> None:
            # A draft is finished whatever comes, or a dragged slider would show nothing.
            if detail is not Detail.DRAFT and self._pipe.poll():
                raise _Stale

        self._stages.pack(side, subject, state, detail, step)
        self._unsent = True

    def _send_stage(self, request: StageRequest, wanted: list[tuple[str, Subject, str]]) -> bool:
        """Send the stage, if it is another than the last one sent."""
        if not self._unsent:
            return False
        self._unsent = False
        draft = any(
            self._stages.detail_of(side, subject, state) is Detail.DRAFT
            for side, subject, state in wanted
        )
        if draft and request.complete:
            return False
        parcel = self._stages.stage(request.sides)
        if self._sent == (request.number, parcel.name):
            return False
        names = frozenset(parcel.blobs)
        last, before = self._names
        known = last | before
        fresh = {name: data for name, data in parcel.blobs.items() if name not in known}
        self._pipe.send(PackedStage(request.number, Parcel(parcel.name, fresh), names, draft))
        self._sent, self._names = (request.number, parcel.name), (names, last)
        return True


def _wanted(request: StageRequest) -> Iterator[tuple[str, Subject, str]]:
    """What clients look at: the open design before the pinned one."""
    for side in sorted(request.sides, reverse=True):
        subject = request.sides[side]
        for state in sorted({state_of(subject, dry=dry) for dry in request.dry}, reverse=True):
            yield side, subject, state
