"""Sending: what can be made of the design, the expected size, and the export jobs.

Files are made in a folder of the page's own, from which the browser downloads them; the page writes
nowhere else. The newest files are kept there. A job whose process is lost has failed; the jobs that
wait behind it run in a new process.
"""

import time
from collections.abc import Collection, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import quote
from weakref import WeakKeyDictionary

from aiohttp import web

from render.common.durations import duration_text, seconds_left
from render.common.file_size import megabytes
from render.editor.pin import Pin
from render.page.picture.client_view import ClientView
from render.page.picture.picture import Picture
from render.page.send.export_options import EXPORT_OPTIONS, SIZES, option_state
from render.page.send.export_work import job_of, size_words, work_of
from render.page.send.file_names import file_name
from render.page.send.made_files import MadeFile, MadeFiles
from render.page.send.order import Age, Choice, Order, origin_of
from render.page.send.recent_variants import RecentVariants
from render.page.send.sent_designs import (
    OF_ROD,
    PINNED,
    SEVERAL,
    SentDesign,
    checked,
    chosen_keys,
    designs_to_send,
    full_words,
)
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

_AS_IT_IS = (ExportKind.SHEET, ExportKind.ROD_SHEET, ExportKind.TEMPLATE, ExportKind.MESH)
"""Kinds of file that show the design whatever the view is of it."""

_STUCK = 8.0
"""Seconds after which the process of a cancelled job is ended."""

_STEP_LIMIT = 600.0
"""Seconds that one step of a job may take: the encoding of a film is one step."""


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
        page.methods.declare("send_tick", Right.OWN, self._tick_design)
        page.methods.declare("send_pick", Right.OWN, self._pick_design)
        page.methods.declare("send_look", Right.OWN, self._look)
        page.methods.declare("send_dismiss", Right.OWN, self._dismiss)
        page.routes.declare("/sent/{place}/{name}", Right.OWN, self._answer, proof=Proof.ADDRESS)
        page.sockets.add_own_state(self._state_at_first)
        self._found: tuple[tuple[object, ...], list[SentDesign]] | None = None
        self._recent = RecentVariants(page.desk)
        page.desk.on_change(self._show_choices)
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

    def _tick_design(self, client: Client, key: Line, ticked: Flag) -> None:
        """Choose whether a design is to be in a file of several."""
        view = self._picture.view_of(client)
        if key in {one.key for one in self._listed(view, view.pin)}:
            self._choice_of(client).ticks[key] = ticked
        self._show_choice(client)

    def _pick_design(self, client: Client, key: Line) -> None:
        """Choose the design that a file of one is to be of."""
        self._choice_of(client).picked = key
        self._show_choice(client)

    def _look(self, client: Client, looking: Flag) -> None:
        """Note whether a client looks at its choice, which then follows the design."""
        choice = self._choice_of(client)
        choice.looking, choice.problem = looking, ""
        if looking:
            self._show_choice(client)

    def _choice_of(self, client: Client) -> Choice:
        return self._choices.setdefault(self._picture.view_of(client), Choice())

    def _state_at_first(self, client: Client) -> Json:
        """State of a page that is opened: the designs are listed when somebody looks at them."""
        choice = self._choice_of(client)
        return self._state_with(choice, [], ()) if not choice.looking else self._state_of(client)

    def _listed(self, view: ClientView, pin: Pin | None) -> list[SentDesign]:
        """The designs that a client can send; found anew when any of them may have changed."""
        desk = self._page.desk
        of = desk.document_number, desk.revision, pin, view.look["dry"]
        if self._found is None or self._found[0] != of:
            self._found = of, designs_to_send(desk, pin, view.as_viewed)
        return self._found[1]

    def _show_choice(self, client: Client) -> None:
        self._page.sockets.show_to(client, self._state_of(client))

    def _state_of(self, client: Client) -> Json:
        choice, view = self._choice_of(client), self._picture.view_of(client)
        listed = self._listed(view, view.pin)
        return self._state_with(choice, listed, chosen_keys(listed, choice, self._recent.names))

    def _state_with(
        self, choice: Choice, listed: Sequence[SentDesign], keys: Sequence[str]
    ) -> Json:
        possible = sum(one.can_be_in(choice.kind) for one in listed)
        several = choice.kind in SEVERAL
        return {
            "send_kind": choice.kind.value,
            "send_format": choice.ending,
            "send_size": choice.size,
            "send_shape": choice.shape,
            "send_signed": choice.signed,
            "send_designs": [
                one.state(choice.kind, keys)
                for one in listed
                if choice.kind in OF_ROD or not one.of_rod
            ],
            "send_several": several,
            "send_full": full_words(len(keys), possible) if several else "",
            "send_forecast": self._forecast(choice, _subjects(listed, keys)),
            "send_problem": choice.problem,
        }

    def _make(self, client: Client) -> None:
        view, choice = self._picture.view_of(client), self._choice_of(client)
        listed = self._listed(view, view.pin)
        keys = chosen_keys(listed, choice, self._recent.names)
        self._order(client, choice, view.pin, keys)

    def _make_again(self, client: Client, number: Place) -> None:
        """Make a file anew of the open design, in place of one of its earlier state."""
        order = self._made.order(number)
        if order is not None and order.age(origin_of(self._page.desk)) is not Age.OTHER:
            self._order(client, order.choice, order.pin, order.keys, replaces=number)

    def _order(
        self,
        client: Client,
        chosen: Choice,
        pin: Pin | None,
        keys: Sequence[str],
        *,
        replaces: int = 0,
    ) -> None:
        page = self._page
        view, choice = self._picture.view_of(client), self._choice_of(client)
        listed = self._listed(view, pin)
        there = [one.key for one in listed if one.can_be_in(chosen.kind) and one.key in keys]
        choice.problem, kept = "", ""
        try:
            checked(there, chosen.kind, listed)
            if pin is not None and PINNED in there and chosen.kind is ExportKind.SPIN_PAGE:
                kept = keep_sent_pin(page.desk, pin)
        except DESIGN_REFUSALS as problem:
            choice.problem = in_words(str(problem))
        self._show_choice(client)
        if choice.problem:
            return
        if kept:
            page.show_status(f"A is kept among the variants as {printable(kept)}.", client=client)
            listed = self._listed(view, pin)
        subjects = _subjects(listed, there)
        if chosen.kind not in _AS_IT_IS:
            subjects = tuple(view.as_viewed(each) for each in subjects)
        number = self._next()
        within = [one for one in listed if one.key in there]
        former = self._made.order(replaces)
        order = Order(
            former.name if former else self._free_name(chosen, within),
            origin_of(page.desk),
            replace(chosen, ticks=dict(chosen.ticks)),
            keys=tuple(there),
            designs=tuple(one.label for one in within) if len(listed) > 1 else (),
            names=tuple(one.name for one in within if one.name),
            pin=pin,
            replaces=replaces,
        )
        self._orders[number] = order
        self._begin(job_of(number, chosen, subjects, self._folder / f"{number}-{order.name}"), view)
        self._state.send_jobs = [
            *self._state.send_jobs,
            {"number": number, "what": order.name, "share": 0.0, "words": "waiting"},
        ]

    def _free_name(self, choice: Choice, within: Sequence[SentDesign]) -> str:
        """A name for a file that none has of those that can be saved or are being made."""
        taken = self._made.names | {order.name for order in self._orders.values()}
        title = self._page.desk.title
        return file_name(title, choice, [one.short for one in within], taken)

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
                self._show_choices()

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

    def _show_choices(self) -> None:
        """Show each tab of the owner that looks at its choice what has become of it."""
        self._recent.follow()
        for view, choice in self._choices.items():
            if choice.looking and view.client is not None and view.client.is_owner:
                self._show_choice(view.client)

    def _forecast(self, choice: Choice, subjects: tuple[Subject, ...]) -> str:
        """The expected size of what a client has chosen, and the time that it will take."""
        if not subjects:
            return ""
        job = job_of(0, choice, subjects, Path(f"wrap{choice.ending}"))
        try:
            took = self._times.forecast(work_of(job)).sentence
            size = size_words(choice, subjects)
        except DESIGN_REFUSALS as problem:
            return in_words(str(problem))
        return f"{size}. {took}" if size else took


def _subjects(listed: Sequence[SentDesign], keys: Collection[str]) -> tuple[Subject, ...]:
    return tuple(one.subject for one in listed if one.key in keys and one.subject is not None)
