"""Sending: what can be made of the design, the expected size, and the export jobs.

Files are made in a folder of the page's own, from which the browser downloads them; the page writes
nowhere else. The newest files are kept there. A job whose process is lost has failed; the jobs that
wait behind it run in a new process.
"""

import time
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import quote
from weakref import WeakKeyDictionary

from aiohttp import web

from geometry.grid import Detail
from render.common.durations import duration_text, seconds_left
from render.common.file_size import megabytes
from render.common.plain_name import plain_name
from render.editor.pin import Pin
from render.page.picture.client_view import ClientView
from render.page.picture.picture import Picture
from render.page.send.export_options import (
    EXPORT_OPTIONS,
    PAPERS,
    SIZES,
    Preset,
    option_state,
)
from render.page.send.export_work import work_of
from render.page.send.made_files import MadeFile, MadeFiles
from render.page.send.order import Age, Choice, Order, origin_of
from render.page.send.sent_pin import keep_sent_pin
from render.page.server.arguments import Flag, Line, Place, Refused
from render.page.server.host import Host
from render.page.server.proof import Proof
from render.page.server.roles import Right
from render.page.server.sockets import Client
from render.page.workers.export_worker import (
    CancelJob,
    ExportJob,
    ExportKind,
    JobEnded,
    JobProgress,
    Thumbnail,
    run_export_worker,
)
from render.page.workers.worker_process import Loss, WorkerProcess
from render.request.shapes import Shape
from render.request.subject import Size, Subject
from render.timing.kept_times import Basis, KeptTimes
from scenes.design.field_words import in_words
from scenes.problems import DESIGN_REFUSALS, one_of, printable, shown

__all__ = ["Exports", "attach"]

Json = dict[str, Any]

_LIMITED = (".gif", ".mp4", ".webp", ".html")
"""Formats of files that are made to fit a size limit."""

_AS_IT_IS = (ExportKind.SHEET, ExportKind.ROD_SHEET, ExportKind.TEMPLATE, ExportKind.MESH)
"""Kinds of file that show the design whatever the view is of it."""

_STUCK = 8.0
"""Seconds after which the process of a cancelled job is ended."""

_STEP_LIMIT = 600.0
"""Seconds that one step of a job may take: the encoding of a film is one step."""

_BITS = {".png": 3.7, ".gif": 1.0, ".mp4": 0.27, ".webp": 0.39}
"""Bits for each pixel of a frame: the mean of three samples at 960 x 540 and 10 frames, which
differ by a quarter either way."""


@dataclass(slots=True)
class _Running:
    """The time of a job that is being made.

    Parameters
    ----------
    since : float
        When it was begun, by the monotonic clock, s.
    expected : float, optional
        Seconds that it will take in all, as far as is known.
    """

    since: float
    expected: float | None


def attach(page: Host, picture: Picture) -> "Exports":
    """Add sending to the page.

    Parameters
    ----------
    page : Host
    picture : Picture
        Pauses its ring while a job runs, and gives the view of exported pictures.
    """
    return Exports(page, picture)


class Exports:
    """Exports of one page: what each client chooses, the jobs, and the files that were made.

    Parameters
    ----------
    page : Host
    picture : Picture
        Pauses its ring while a job runs, and gives the view of exported pictures.
    """

    def __init__(self, page: Host, picture: Picture) -> None:
        self._page = page
        self._picture = picture
        self._state = page.state
        self._number = 0
        self._process = WorkerProcess(
            run_export_worker, self._received, self._lost, step_limit=_STEP_LIMIT
        )
        self._folder = page.folder / "sent"
        self._folder.mkdir(mode=0o700)
        self._made = MadeFiles()
        self._jobs: dict[int, ExportJob] = {}
        self._orders: dict[int, Order] = {}
        self._rows: dict[int, Any] = {}
        self._cancelled: dict[int, float] = {}
        self._times = KeptTimes()
        self._running: dict[int, _Running] = {}
        # A page that is opened anew goes on with its view, and so with its choice.
        self._choices: WeakKeyDictionary[ClientView, Choice] = WeakKeyDictionary()
        self._asked_by: dict[int, ClientView] = {}
        self._state.update(
            {
                "send_open": False,
                "send_offers": [option_state(option) for option in EXPORT_OPTIONS.values()],
                "send_jobs": [],
                "send_done": [],
            }
        )
        page.methods.declare("send_make", Right.OWN, self._make)
        page.methods.declare("send_make_again", Right.OWN, self._make_again)
        page.methods.declare("send_cancel", Right.OWN, self._cancel)
        page.methods.declare("send_choose", Right.OWN, self._choose)
        page.methods.declare("send_sign", Right.OWN, self._sign)
        page.methods.declare("send_dismiss", Right.OWN, self._dismiss)
        page.routes.declare("/sent/{place}/{name}", Right.OWN, self._answer, proof=Proof.ADDRESS)
        page.sockets.add_own_state(self._state_of)
        page.desk.on_change(self._show_forecasts)
        page.desk.on_change(self._list_made)
        page.on_tick(self._tick)
        page.on_close(self._process.close)

    @property
    def busy(self) -> bool:
        """Whether a job runs or waits."""
        return bool(self._jobs)

    # --- methods that a browser may call ------------------------------------------------------

    def _choose(
        self,
        client: Client,
        kind: Line,
        ending: Line,
        size: Line,
        shape: Line = Shape.WIDE.value,
    ) -> None:
        """Choose what to make; an unsuitable format, size or shape is replaced by a default."""
        kinds = [member.value for member in ExportKind if member in EXPORT_OPTIONS]
        if kind not in kinds:
            raise Refused(f"send_choose: {shown(kind)} cannot be sent; give {one_of(kinds)}.")
        option = EXPORT_OPTIONS[ExportKind(kind)]
        sizes = list(option.presets)
        middle = sizes[min(1, len(sizes) - 1)] if SIZES[0] in sizes else sizes[0]
        choice = self._choice_of(client)
        choice.kind = option.kind
        choice.ending = ending if ending in option.formats else option.formats[0]
        choice.size = size if size in sizes else middle
        choice.shape = shape if shape in option.shapes else Shape.WIDE.value
        self._show_choice(client)

    def _sign(self, client: Client, signed: Flag) -> None:
        """Choose whether pictures carry title, builder and mark."""
        self._choice_of(client).signed = signed
        self._show_choice(client)

    def _choice_of(self, client: Client) -> Choice:
        return self._choices.setdefault(self._picture.view_of(client), Choice())

    def _show_choice(self, client: Client) -> None:
        self._page.sockets.show_to(client, self._state_of(client))

    def _state_of(self, client: Client) -> Json:
        choice = self._choice_of(client)
        return {
            "send_kind": choice.kind.value,
            "send_format": choice.ending,
            "send_size": choice.size,
            "send_shape": choice.shape,
            "send_signed": choice.signed,
            "send_forecast": self._forecast(self._picture.view_of(client), choice),
            "send_problem": choice.problem,
        }

    def _make(self, client: Client) -> None:
        view = self._picture.view_of(client)
        self._order(client, self._choice_of(client), view.pin)

    def _make_again(self, client: Client, number: Place) -> None:
        """Make a file anew of the open design, in place of one of its earlier state."""
        order = self._made.order(number)
        if order is not None and order.origin.age(origin_of(self._page.desk)) is not Age.OTHER:
            self._order(client, order.choice, order.pin, replaces=number)

    def _order(self, client: Client, chosen: Choice, pin: Pin | None, *, replaces: int = 0) -> None:
        page = self._page
        option = EXPORT_OPTIONS[chosen.kind]
        view, choice = self._picture.view_of(client), self._choice_of(client)
        choice.problem, kept = "", ""
        if option.compares and pin is None:
            choice.problem = (
                "There is no A yet: press Compare, keep the design as A and change it first."
            )
        elif option.kind is ExportKind.SPIN_PAGE and pin is not None:
            try:
                kept = keep_sent_pin(page.desk, pin)
            except DESIGN_REFUSALS as problem:
                choice.problem = in_words(str(problem))
        self._show_choice(client)
        if choice.problem:
            return
        if kept:
            page.show_status(f"A is kept among the variants as {printable(kept)}.", client=client)
        subjects = [page.desk.subject]
        if pin is not None and (option.compares or option.kind is ExportKind.SPIN_PAGE):
            subjects = [pin.subject, *subjects]
        if option.kind in _AS_IT_IS:
            viewed = tuple(subjects)
        else:
            viewed = tuple(view.as_viewed(each) for each in subjects)
        number = self._next()
        name = _file_name(page.desk.title, option.kind, chosen.ending)
        self._orders[number] = Order(
            name, origin_of(page.desk), replace(chosen), pin=pin, replaces=replaces
        )
        job = _job(number, chosen, viewed, self._folder / f"{number}-{name}")
        self._begin(job, view)
        self._state.send_jobs = [
            *self._state.send_jobs,
            {"number": number, "what": name, "share": 0.0, "words": "waiting"},
        ]

    def _cancel(self, number: Place) -> None:
        """Cancel a job of the send dialog; jobs of a sweep are left alone."""
        if number not in self._rows:
            self.cancel(number)

    def cancel(self, number: int) -> None:
        """Cancel a job.

        Parameters
        ----------
        number : int
            Of the job.
        """
        if number not in self._jobs:
            return
        self._process.send(CancelJob(number))
        if number == next(iter(self._jobs)):
            self._cancelled[number] = time.monotonic()
            self._update(number, words="stopping")
        else:  # it waits behind another job, which continues
            self._ended(JobEnded(number, cancelled=True))

    def _dismiss(self, number: Place) -> None:
        """Delete a file that was made, and remove it from the list."""
        self._made.delete(number)
        self._list_made()

    def row(self, subjects: tuple[Any, ...], size: Size, arrived: Any) -> int:
        """Start a job that draws small pictures of a sweep.

        Parameters
        ----------
        subjects : tuple of Subject
            One for each picture.
        size : (int, int)
            Width and height of a picture, pixels.
        arrived : callable
            Called with each `Thumbnail`, and with the `JobEnded`.

        Returns
        -------
        int
            Number of the job.
        """
        number = self._next()
        path = self._folder / f"{number}.row"
        job = ExportJob(number, ExportKind.ROW, subjects, path, size=size, detail="draft")
        self._rows[number] = arrived
        self._begin(job)
        return number

    # --- inside -----------------------------------------------------------------------------

    def _next(self) -> int:
        self._number += 1
        return self._number

    def _begin(self, job: ExportJob, asked_by: ClientView | None = None) -> None:
        self._jobs[job.number] = job
        if asked_by is not None:
            self._asked_by[job.number] = asked_by
        self._process.send(job)
        self._picture.resend_request()

    def _received(self, message: JobProgress | Thumbnail | JobEnded) -> None:
        with self._state:
            if isinstance(message, JobProgress):
                self._progressed(message)
            elif isinstance(message, Thumbnail):
                if message.number in self._rows:
                    self._rows[message.number](message)
            else:
                self._ended(message)

    def _progressed(self, message: JobProgress) -> None:
        number = message.number
        job = self._jobs.get(number)
        if job is None or number in self._cancelled:
            return
        now = time.monotonic()
        running = self._running.get(number)
        if running is None:
            forecast = self._times.forecast(work_of(job))
            # An estimate is coarser than what follows from the share that is done.
            expected = forecast.seconds if forecast.basis is Basis.MEASURED else None
            running = _Running(now, expected)
            self._running[number] = running
        spent = now - running.since
        if message.left is not None:
            running.expected = spent + message.left
        left = seconds_left(spent, message.share, running.expected)
        words = [message.words] if message.words else []
        if left is not None:
            words.append(f"about {duration_text(left)} left")
        self._update(number, share=message.share, words=", ".join(words))

    def _ended(self, message: JobEnded) -> None:
        number = message.number
        job = self._jobs.pop(number, None)
        running = self._running.pop(number, None)
        self._cancelled.pop(number, None)
        asked_by = self._asked_by.pop(number, None)
        if job is None:
            return
        self._picture.resend_request()
        if number in self._rows:
            self._rows.pop(number)(message)
            return
        self._state.send_jobs = [job for job in self._state.send_jobs if job["number"] != number]
        order = self._orders.pop(number)
        name = order.name
        if message.cancelled:
            self._page.show_status(f"{name} was cancelled.")
        elif message.problem:
            self._fail(message.problem, asked_by)
        elif not job.path.is_file():
            reason = "was made and is gone again; is the temporary folder being cleared?"
            self._fail(f"{name} {reason}", asked_by)
        else:
            self._keep(job, order, message.notes)
            if running is not None:
                self._times.record(work_of(job), time.monotonic() - running.since)
                self._show_forecasts()

    def _keep(self, job: ExportJob, order: Order, notes: tuple[str, ...]) -> None:
        """Offer a file for download, in place of the one that it was asked for instead of."""
        size = job.path.stat().st_size
        self._made.keep(job.number, MadeFile(job.path, order, notes, size))
        self._made.delete(order.replaces)
        self._list_made()
        self._page.show_status(f"{order.name} is ready, {megabytes(size)}.")

    def _list_made(self) -> None:
        """Show the files that were made, and how each stands to the open design."""
        if self._made or self._state.send_done:
            made = self._made.state(origin_of(self._page.desk))
            with self._state:
                self._state.send_done = made

    def _fail(self, sentence: str, asked_by: ClientView | None) -> None:
        """Say why a file could not be made, also in the dialog of who asked for it."""
        if asked_by is not None:
            self._choices.setdefault(asked_by, Choice()).problem = sentence
            if asked_by.client is not None:
                self._show_choice(asked_by.client)
        self._page.show_status(sentence)

    def _update(self, number: int, **changed: Any) -> None:
        self._state.send_jobs = [
            {**job, **changed} if job["number"] == number else job for job in self._state.send_jobs
        ]

    def _lost(self, loss: Loss, again: bool) -> None:
        """Fail the running job of a lost process, and start the waiting jobs again."""
        jobs = list(self._jobs.values())
        with self._state:
            for place, job in enumerate(jobs):
                if job.number in self._cancelled:
                    self._ended(JobEnded(job.number, cancelled=True))
                elif place and again:
                    self._update(job.number, share=0.0, words="waiting")
                    self._process.send(job)
                else:
                    self._ended(JobEnded(job.number, self._loss_sentence(job, loss, again)))
        self._tidy()

    def _loss_sentence(self, job: ExportJob, loss: Loss, again: bool) -> str:
        order = self._orders.get(job.number)
        name = "The row of pictures" if order is None else order.name
        then = "try once more" if again else "it has failed again and again: start Turnlight anew"
        return f"{name} could not be made ({loss}); {then}."

    def _tidy(self) -> None:
        """Delete unfinished files of a lost process."""
        with suppress(OSError):
            for path in set(self._folder.iterdir()) - self._made.paths:
                path.unlink()

    def _tick(self) -> None:
        """End the process of a job that does not react to its cancellation."""
        now = time.monotonic()
        if any(now - since > _STUCK for since in self._cancelled.values()):
            self._process.close()
            self._lost(Loss.ENDED, again=True)

    async def _answer(self, request: web.Request) -> web.StreamResponse:
        """Serve a file that was made."""
        name = request.match_info["name"]
        path = self._made.at(request.match_info["place"], name)
        if path is None:
            raise web.HTTPNotFound
        return web.FileResponse(
            path,
            headers={
                "Content-Disposition": f"attachment; filename*=UTF-8''{quote(name)}",
                "Cache-Control": "no-store",
            },
        )

    def _show_forecasts(self) -> None:
        """Show each tab of the owner what the changed design will take."""
        for view, choice in self._choices.items():
            if view.client is not None and view.client.is_owner:
                forecast = {"send_forecast": self._forecast(view, choice)}
                self._page.sockets.show_to(view.client, forecast)

    def _forecast(self, view: ClientView, choice: Choice) -> str:
        """The expected size of what a client has chosen, and the time that it will take."""
        compared = view.pin is not None and choice.kind is ExportKind.SPIN_PAGE
        count = 2 if compared or EXPORT_OPTIONS[choice.kind].compares else 1
        job = _job(0, choice, (self._page.desk.subject,) * count, Path(f"wrap{choice.ending}"))
        try:
            took = self._times.forecast(work_of(job)).sentence
        except DESIGN_REFUSALS as problem:
            return in_words(str(problem))
        preset = EXPORT_OPTIONS[choice.kind].presets[choice.size]
        if choice.kind is ExportKind.MESH:
            size = self._mesh_size(choice.ending, Detail(preset.detail))
        else:
            size = self._picture_size(
                choice.ending, preset, EXPORT_OPTIONS[choice.kind].size(choice.size, choice.shape)
            )
        return f"{size}. {took}" if size else took

    def _mesh_size(self, ending: str, detail: Detail) -> str:
        """Describe the expected size of a mesh of the open design, or why it cannot be made."""
        from render.output.export import forecast

        try:
            triangles, size = forecast(self._page.desk.subject.plan(), detail, ending)
        except DESIGN_REFUSALS as problem:
            return in_words(str(problem))
        counted = f"{triangles / 1e6:.1f} million" if triangles > 1e6 else f"{triangles:,}"
        return f"{counted} triangles, about {megabytes(size)}"

    @staticmethod
    def _picture_size(ending: str, preset: Preset, pixels: Size | None) -> str:
        """Describe the expected size of pictures; empty where it is not known in advance."""
        bits = _BITS.get(ending)
        if pixels is None:
            return ""
        width, height = pixels
        if ending == ".html":
            stand_ins = f"{preset.frames} pictures to stand in for it"
            return f"The rod itself, and {stand_ins}; {preset.max_mb:g} MB at most"
        if bits is None:
            return ""
        frames = 1 if ending == ".png" else preset.frames
        size = bits / 8 * width * height * frames / 1e6
        text = f"{width} × {height}"
        if frames > 1:
            text += f", {frames} pictures"
        if ending != ".png" and preset.max_mb is not None and size >= preset.max_mb:
            text += f", made smaller where it must be to stay under {preset.max_mb:g} MB"
        else:
            text += f", about {size:.1f} MB" if size < 10 else f", about {size:.0f} MB"
        return text


def _job(number: int, choice: Choice, subjects: tuple[Subject, ...], path: Path) -> ExportJob:
    preset = EXPORT_OPTIONS[choice.kind].presets[choice.size]
    return ExportJob(
        number,
        choice.kind,
        subjects,
        path,
        size=EXPORT_OPTIONS[choice.kind].size(choice.size, choice.shape),
        frames=preset.frames,
        max_mb=preset.max_mb if choice.ending in _LIMITED else None,
        detail=preset.detail,
        paper=choice.size if choice.size in PAPERS else PAPERS[0],
        signed=choice.signed and EXPORT_OPTIONS[choice.kind].signed,
        resolution=preset.resolution,
    )


def _file_name(title: str, kind: ExportKind, ending: str) -> str:
    """File name for the customer, in plain letters, which every system accepts."""
    plain = plain_name(title) or "wrap"
    suffix = (
        "" if kind in (ExportKind.STILL, ExportKind.MESH) else f"-{kind.value.replace(' ', '-')}"
    )
    return f"{plain}{suffix}{ending}"
