"""Photographs on the page: what each client sees, path-traced in place of its standing picture.

A client asks for one (`photo_take`), may end it with the paths that it has (`photo_stop`), and says
when it shows it no longer (`photo_end`). The state `pic_photo` of each client tells how far its own
has come, and the address of the newest picture. How long one will take is asked for before
(`photo_takes`), and known where such a one was taken to its end. A photograph is dropped as
soon as its client's view, or the design, changes.
"""

import math
import secrets
from dataclasses import dataclass, field, replace
from importlib.util import find_spec
from itertools import count
from time import monotonic
from typing import Any

from aiohttp import web

from geometry.grid import Detail
from render.common.durations import duration_text
from render.common.plain_name import plain_name
from render.page.photo.photo_messages import (
    PhotoPicture,
    PhotoProblem,
    PhotoRequest,
    PhotoStep,
)
from render.page.photo.photo_worker import run_photo_worker
from render.page.picture.client_view import MODES, ClientView
from render.page.picture.picture import Picture
from render.page.server.arguments import Finite, Place, Refused
from render.page.server.host import Host
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.workers.worker_process import Loss, WorkerProcess
from render.request.subject import Size, Subject
from render.timing.kept_times import KeptTimes
from render.timing.work import Work

__all__ = ["PATHS", "Photos", "attach"]

Json = dict[str, Any]

PATHS = 16, 64, 256
"""Paths through each pixel that the page offers."""

_MOST_PATHS = 1024

_STEP_LIMIT = 600.0
"""Seconds that one step of a photograph may take: the engines are tried, or the scene is set."""

_NONE: Json = {
    "number": 0,
    "name": "",
    "words": "",
    "share": 0.0,
    "working": False,
    "file": "",
}

_MISSING = (
    "Photographs need the path tracer, which is not installed here: python3 start.py installs it, "
    "on computers that there is one for."
)


@dataclass(slots=True)
class _Shot:
    """The photograph of a client.

    Parameters
    ----------
    view : ClientView
    epoch : int
        Of the view, when it was asked for.
    turn : float
        Of the view, rad.
    request : PhotoRequest
    work : Work
    takes : str
        How long it will take, in words.
    alone : bool
        Whether no other one was waited for.
    done : bool
        Whether it is finished, or has failed.
    state : dict
        What the client is told.
    name : str
        Part of the address of the newest picture.
    image : bytes
    """

    view: ClientView
    epoch: int
    turn: float
    request: PhotoRequest
    work: Work
    takes: str
    alone: bool
    done: bool = False
    begun: float = field(default_factory=monotonic)
    state: Json = field(default_factory=lambda: dict(_NONE))
    name: str = ""
    image: bytes = b""


def attach(page: Host, picture: Picture) -> "Photos":
    """Add photographs to the page.

    Parameters
    ----------
    page : Host
    picture : Picture
        Its views are photographed.
    """
    return Photos(page, picture)


class Photos:
    """The photographs of a page's clients.

    Parameters
    ----------
    page : Host
    picture : Picture
    """

    def __init__(self, page: Host, picture: Picture) -> None:
        self._page, self._picture = page, picture
        self._numbers = count(1)
        self._shots: dict[int, _Shot] = {}
        self._times = KeptTimes()
        self._worker = WorkerProcess(
            run_photo_worker,
            self._received,
            self._lost,
            newest=True,
            step_limit=_STEP_LIMIT,
            background=True,
        )
        page.state.photo_paths = list(PATHS)
        page.methods.declare("photo_takes", Right.LOOK, self._takes)
        page.methods.declare("photo_take", Right.LOOK, self._take)
        page.methods.declare("photo_stop", Right.LOOK, self._stop)
        page.methods.declare("photo_end", Right.LOOK, self._end)
        page.routes.declare("/photo/{name}", Right.LOOK, self._serve)
        page.sockets.add_own_state(lambda client: {"pic_photo": self._state_of(client)})
        picture.on_view(self._drop_stale)
        page.sockets.on_disconnect(lambda _: self._drop_stale())
        page.on_close(self._worker.close)

    @property
    def busy(self) -> bool:
        """Whether a photograph is being taken."""
        return any(not shot.done for shot in self._shots.values())

    # --- methods that a browser may call ------------------------------------------------------

    def _takes(self, client: Client, paths: Place) -> str:
        """Say how long a photograph of what a client sees will take."""
        _check(paths)
        view = self._picture.view_of(client)
        if self._hindrance(view) or view.size is None:
            return ""
        return self._times.forecast(_work_of(view.seen, view.size, paths)).short

    def _take(self, client: Client, turn: Finite, paths: Place) -> bool:
        """Photograph what a client sees, with the rod turned to an angle, degrees.

        Returns
        -------
        bool
            Whether it has been begun; otherwise a sentence says why not.
        """
        _check(paths)
        view = self._picture.view_of(client)
        self._forget(view)
        problem = self._hindrance(view)
        if problem or view.size is None:
            self._page.show_status(problem, client=client)
            return False
        view.turn_to(math.radians(turn % 360.0), moving=False, ahead=False)
        request = PhotoRequest(next(self._numbers), view.seen, view.size, paths)
        work = _work_of(request.subject, view.size, paths)
        takes = self._times.forecast(work).short
        shot = _Shot(view, view.epoch, view.turn, request, work, takes, not self.busy)
        self._shots[view.number] = shot
        words = f"Photograph: beginning. {takes}"
        self._tell(shot, number=request.number, working=True, words=words)
        self._changed()
        return True

    @staticmethod
    def _hindrance(view: ClientView) -> str:
        """Why a view cannot be photographed; empty if it can."""
        if find_spec("mitsuba") is None:
            return _MISSING
        if view.mode != MODES[0]:
            return "A photograph shows one design: end the comparison first."
        if view.size is None:
            return "The picture has no size yet; try once more."
        return ""

    def _stop(self, client: Client) -> None:
        """End the photograph of a client with the paths that it has."""
        shot = self._shots.get(self._picture.view_of(client).number)
        if shot is None or shot.done:
            return
        if not shot.image:
            self._end(client)
            return
        shot.request = replace(shot.request, stopped=True)
        self._tell(shot, words="Photograph: stopping")
        self._changed()

    def _end(self, client: Client) -> None:
        """Drop the photograph of a client, which shows the live picture again."""
        if self._forget(self._picture.view_of(client)):
            self._changed()

    async def _serve(self, request: web.Request) -> web.Response:
        """Answer with the newest picture of a photograph."""
        for shot in self._shots.values():
            if shot.name == request.match_info["name"]:
                kind = "image/png" if shot.image.startswith(b"\x89PNG") else "image/jpeg"
                kept = {"Cache-Control": "no-store"}
                return web.Response(body=shot.image, content_type=kind, headers=kept)
        # Asked for when it was still the newest: no fault, and none in the browser's list of them.
        return web.Response(status=204)

    # --- inside -----------------------------------------------------------------------------

    def _state_of(self, client: Client) -> Json:
        shot = self._shots.get(self._picture.view_of(client).number)
        return dict(_NONE) if shot is None else shot.state

    def _tell(self, shot: _Shot, **changes: Any) -> None:
        shot.state = {**shot.state, **changes}
        self._show(shot.view, shot.state)

    @staticmethod
    def _show(view: ClientView, state: Json) -> None:
        if view.client is not None:
            view.client.outgoing.state({"pic_photo": state})

    def _forget(self, view: ClientView) -> bool:
        """Drop the photograph of a view; return whether there was one."""
        shot = self._shots.pop(view.number, None)
        if shot is not None:
            self._show(view, dict(_NONE))
        return shot is not None

    def _drop_stale(self) -> None:
        """Drop the photographs of views that have changed, or whose page is closed."""
        stale = [
            shot.view
            for shot in self._shots.values()
            if shot.view.client is None
            or (shot.view.epoch, shot.view.turn) != (shot.epoch, shot.turn)
        ]
        for view in stale:
            self._forget(view)
        if stale:
            self._send_requests()

    def _changed(self) -> None:
        """Send what is wanted to the worker; the ring of live pictures waits for photographs."""
        self._send_requests()
        self._picture.resend_request()

    def _send_requests(self) -> None:
        wanted = sorted(
            (shot for shot in self._shots.values() if not shot.done),
            key=lambda shot: (not _is_owners(shot.view), shot.request.number),
        )
        if wanted or self._worker.running:
            self._worker.send(tuple(shot.request for shot in wanted))

    # --- messages of the worker ---------------------------------------------------------------

    def _received(self, message: PhotoStep | PhotoPicture | PhotoProblem) -> None:
        found = (one for one in self._shots.values() if one.request.number == message.number)
        shot = next(found, None)
        if shot is None or shot.done:
            return
        if isinstance(message, PhotoPicture):
            shot.name, shot.image = secrets.token_urlsafe(12), message.image
            shot.done = message.finished
            if shot.done and shot.alone and not shot.request.stopped:
                self._times.record(shot.work, monotonic() - shot.begun)
            self._tell(
                shot,
                name=shot.name,
                share=message.share,
                working=not message.finished,
                words=_words(message, shot.request.paths),
                file=f"{plain_name(self._page.desk.title) or 'wrap'}-photograph.png",
            )
        elif isinstance(message, PhotoProblem):
            self._page.show_status(message.sentence, client=shot.view.client)
            self._forget(shot.view)
            shot.done = True
        elif not shot.request.stopped:
            self._tell(shot, words=f"Photograph: {message.words}. {shot.takes}")
        if shot.done:
            self._changed()

    def _lost(self, loss: Loss, again: bool) -> None:
        """Drop the photographs that were being taken by a process that is lost."""
        then = "try once more" if again else "it has failed again and again: start Turnlight anew"
        for shot in [shot for shot in self._shots.values() if not shot.done]:
            sentence = f"The photograph could not be taken ({loss}); {then}."
            self._page.show_status(sentence, client=shot.view.client)
            self._forget(shot.view)
        self._picture.resend_request()


def _check(paths: int) -> None:
    if not 1 <= paths <= _MOST_PATHS:
        raise Refused(f"photo_take: paths must be 1 to {_MOST_PATHS}.")


def _work_of(subject: Subject, size: Size, paths: int) -> Work:
    points = subject.points_of_rod(Detail.NORMAL)
    return Work("photograph on the page", ".png", size=size, paths=paths, points=points)


def _is_owners(view: ClientView) -> bool:
    return view.client is not None and view.client.is_owner


def _words(message: PhotoPicture, wanted: int) -> str:
    """How far a photograph has come."""
    paths = f"{message.paths} of {wanted} paths"
    if not message.finished:
        return f"Photograph: {paths}, about {duration_text(message.left)} left"
    grain = "without its grain" if message.denoised else "with its grain"
    words = f"Photograph: {paths}, {grain}; {message.maker}"
    if message.memory_mb is not None:
        words += f", {message.memory_mb / 1000:.1f} GB of memory for a minute more"
    return words
