"""Sending: what can be made of the design, how large it will be, and the making of it.

Files are made in a folder of the page's own, from which the browser takes them: the page writes
nowhere else. The newest are kept there; an errand whose process is lost has failed, and what waits
behind it is made by another.
"""

import re
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

from aiohttp import web

from geometry.grid import Detail
from render.output.size_limit import megabytes
from render.page.picture.picture import Picture
from render.page.server.arguments import Line, Place, Refused
from render.page.server.host import Host
from render.page.server.proof import Proof, is_same, unguessable
from render.page.server.roles import Right
from render.page.workers.export_worker import (
    Cancel,
    Ended,
    Errand,
    Kind,
    Step,
    Thumbnail,
    run_errands,
)
from render.page.workers.worker_process import Companion, Loss
from render.request.subject import Size
from scenes.problems import DESIGN_REFUSALS, one_of, shown

__all__ = ["OFFERS", "Office", "attach"]

Json = dict[str, Any]

_STUCK = 8.0
"""Seconds after which a cancelled errand's process is ended."""

_STEP_LIMIT = 600.0
"""Seconds that one step of an errand may take: a film's encoding is one step."""

_MOST_KEPT, _MOST_BYTES_KEPT = 12, 500_000_000
"""Files that are kept to be saved from the browser; the newest always is."""


@dataclass(frozen=True, slots=True)
class _Preset:
    """One size in which something can be sent.

    Parameters
    ----------
    size : (int, int), optional
        pixels.
    frames : int
    max_mb : float, optional
    detail : str
    """

    size: Size | None = None
    frames: int = 60
    max_mb: float | None = None
    detail: str = "normal"


@dataclass(frozen=True, slots=True)
class _Made:
    """A file that was made: the only ones that a browser is given.

    Parameters
    ----------
    path : Path
    name : str
        What it is called for the customer.
    size : int
        bytes.
    notes : tuple of str
        What else there is to say about it.
    place : str
        Part of its address that nobody can guess.
    """

    path: Path
    name: str
    size: int
    notes: tuple[str, ...]
    place: str = field(default_factory=unguessable)


_SIZES = ("message", "mail", "print")
_PAPERS = ("A4", "letter")


@dataclass(frozen=True, slots=True)
class _Offer:
    """Something that can be sent.

    Parameters
    ----------
    kind : Kind
    told : str
        One line about it.
    formats : tuple of str
        Endings of its file.
    presets : dict of str to _Preset
    compares : bool
        Whether it is of the pinned design too.
    """

    kind: Kind
    told: str
    formats: tuple[str, ...]
    presets: dict[str, _Preset]
    compares: bool = False


def _by_size(message: _Preset, mail: _Preset, large: _Preset) -> dict[str, _Preset]:
    return dict(zip(_SIZES, (message, mail, large), strict=True))


_PAPER = {paper: _Preset() for paper in _PAPERS}

OFFERS = {
    offer.kind: offer
    for offer in (
        _Offer(
            Kind.SPIN_PAGE,
            "One file in which the customer turns the rod with a finger, with no network",
            (".html",),
            _by_size(
                _Preset((800, 450), 40, 2.5),
                _Preset((1600, 900), 60, 6),
                _Preset((1920, 1080), 72, 16),
            ),
        ),
        _Offer(
            Kind.STILL,
            "One picture, as it is seen now",
            (".png",),
            _by_size(
                _Preset((1280, 720)), _Preset((1920, 1080)), _Preset((3840, 2160), detail="fine")
            ),
        ),
        _Offer(
            Kind.TURNTABLE,
            "The rod turning once, over and over",
            (".gif", ".mp4", ".webp"),
            _by_size(
                _Preset((640, 360), 40, 3),
                _Preset((960, 540), 60, 10),
                _Preset((1920, 1080), 60, 60),
            ),
        ),
        _Offer(
            Kind.COMPARISON,
            "The pinned design A and the present one B, one above the other",
            (".png", ".gif", ".mp4"),
            _by_size(
                _Preset((960, 640), 40, 3),
                _Preset((1280, 860), 60, 10),
                _Preset((1920, 1280), 60, 60),
            ),
            compares=True,
        ),
        _Offer(Kind.SHEET, "Pages to build from: marks, lengths, steps", (".pdf",), _PAPER),
        _Offer(Kind.TEMPLATE, "The wrap unrolled at its true size, to cut out", (".pdf",), _PAPER),
        _Offer(
            Kind.MESH,
            "The shape for other programs",
            (".glb", ".stl", ".ply"),
            {detail: _Preset(detail=detail) for detail in ("draft", "normal", "fine")},
        ),
    )
}
"""All that can be sent, by its kind."""

_BITS = {".png": 3.7, ".gif": 1.0, ".mp4": 0.27, ".webp": 0.39, ".html": 0.44}
"""Bits that a pixel of a frame takes, the mean of three samples at 960 x 540 and 10 frames; they
differ by a quarter either way. A page holds WebP as base64, four bytes for three."""


def attach(page: Host, picture: Picture) -> "Office":
    """Put the sending on the page."""
    return Office(page, picture)


class Office:
    """What a page sends.

    Parameters
    ----------
    page : Host
    picture : Picture
        Waits while something is made, and says how a design is looked at.
    """

    def __init__(self, page: Host, picture: Picture) -> None:
        self._page = page
        self._picture = picture
        self._state = page.state
        self._number = 0
        self._process = Companion(run_errands, self._received, self._lost, step_limit=_STEP_LIMIT)
        self._folder = page.folder / "sent"
        self._folder.mkdir(mode=0o700)
        self._made: dict[int, _Made] = {}
        self._errands: dict[int, Errand] = {}
        self._names: dict[int, str] = {}
        self._rows: dict[int, Any] = {}
        self._cancelled: dict[int, float] = {}
        self._chosen = Kind.SPIN_PAGE, ".html", "mail"
        self._state.update(
            {
                "send_open": False,
                "send_offers": [_told(offer) for offer in OFFERS.values()],
                "send_forecast": "",
                "send_jobs": [],
                "send_done": [],
                "send_problem": "",
            }
        )
        self._show_chosen()
        page.methods.declare("send_make", Right.OWN, self._make)
        page.methods.declare("send_cancel", Right.OWN, self._cancel)
        page.methods.declare("send_choose", Right.OWN, self._choose)
        page.methods.declare("send_dismiss", Right.OWN, self._dismiss)
        page.routes.declare("/sent/{place}/{name}", Right.OWN, self._answer, proof=Proof.ADDRESS)
        page.desk.on_change(self._forecast)
        page.on_tick(self._tick)
        page.on_close(self._process.close)

    @property
    def busy(self) -> bool:
        """Whether anything is being made."""
        return bool(self._errands)

    # --- what the page asks -----------------------------------------------------------------

    def _choose(self, kind: Line, ending: Line, size: Line) -> None:
        """Set what is to be made; what does not fit together is put right."""
        kinds = [one.value for one in Kind if one in OFFERS]
        if kind not in kinds:
            raise Refused(f"send_choose: {shown(kind)} cannot be sent; give {one_of(kinds)}.")
        offer = OFFERS[Kind(kind)]
        ending = ending if ending in offer.formats else offer.formats[0]
        sizes = list(offer.presets)
        middle = sizes[min(1, len(sizes) - 1)] if _SIZES[0] in sizes else sizes[0]
        self._chosen = offer.kind, ending, size if size in sizes else middle
        self._show_chosen()

    def _show_chosen(self) -> None:
        kind, ending, size = self._chosen
        self._state.update({"send_kind": kind.value, "send_format": ending, "send_size": size})
        self._forecast()

    def _make(self) -> None:
        page = self._page
        kind, ending, size = self._chosen
        offer = OFFERS[kind]
        preset = offer.presets[size]
        subject = page.desk.subject
        pinned = page.desk.pinned
        if offer.compares and pinned is None:
            self._state.send_problem = (
                "Nothing is pinned: press Compare, pin the design as A and change it first."
            )
            return
        self._state.send_problem = ""
        given = [subject]
        if pinned is not None and (offer.compares or offer.kind is Kind.SPIN_PAGE):
            given = [pinned, subject]
        if offer.kind in (Kind.SHEET, Kind.TEMPLATE, Kind.MESH):
            seen = tuple(given)
        else:
            seen = tuple(self._picture.seen(one) for one in given)
        number = self._next()
        moving = ending in (".gif", ".mp4", ".webp", ".html")
        name = self._names[number] = _file_name(page.desk.title, offer.kind, ending)
        errand = Errand(
            number,
            offer.kind,
            seen,
            self._folder / f"{number}-{name}",
            size=preset.size,
            frames=preset.frames,
            max_mb=preset.max_mb if moving else None,
            detail=preset.detail,
            paper=size if size in _PAPERS else _PAPERS[0],
        )
        self._begin(errand)
        self._state.send_jobs = [
            *self._state.send_jobs,
            {"number": number, "what": name, "share": 0.0, "words": "waiting"},
        ]

    def _cancel(self, number: Place) -> None:
        """Stop something that is sent; the rows of a comparison are not among them."""
        if number not in self._rows:
            self.cancel(number)

    def cancel(self, number: int) -> None:
        """Stop an errand."""
        if number not in self._errands:
            return
        self._process.send(Cancel(number))
        if number == next(iter(self._errands)):
            self._cancelled[number] = time.monotonic()
            self._update(number, words="stopping")
        else:  # it waits behind another, which goes on
            self._ended(Ended(number, cancelled=True))

    def _dismiss(self, number: Place) -> None:
        """Take a file that was made off the list, and away."""
        made = self._made.pop(number, None)
        if made is not None:
            made.path.unlink(missing_ok=True)
            self._list_made()

    def row(self, subjects: tuple[Any, ...], size: Size, arrived: Any) -> int:
        """Have small pictures of a sweep made; `arrived` is told of each, and at the end."""
        number = self._next()
        path = self._folder / f"{number}.row"
        errand = Errand(number, Kind.ROW, subjects, path, size=size, detail="draft")
        self._rows[number] = arrived
        self._begin(errand)
        return number

    # --- inside -----------------------------------------------------------------------------

    def _next(self) -> int:
        self._number += 1
        return self._number

    def _begin(self, errand: Errand) -> None:
        self._errands[errand.number] = errand
        self._process.send(errand)
        self._picture.want()

    def _received(self, message: Step | Thumbnail | Ended) -> None:
        with self._state:
            if isinstance(message, Step):
                if message.number not in self._cancelled:
                    self._update(message.number, share=message.share, words=message.words)
            elif isinstance(message, Thumbnail):
                if message.number in self._rows:
                    self._rows[message.number](message)
            else:
                self._ended(message)

    def _ended(self, message: Ended) -> None:
        number = message.number
        errand = self._errands.pop(number, None)
        self._cancelled.pop(number, None)
        if errand is None:
            return
        self._picture.want()
        if number in self._rows:
            self._rows.pop(number)(message)
            return
        self._state.send_jobs = [one for one in self._state.send_jobs if one["number"] != number]
        name = self._names[number]
        if message.cancelled:
            self._page.say(f"{name} was cancelled.")
        elif message.problem:
            self._fail(message.problem)
        else:
            self._keep(errand, name, message.notes)

    def _keep(self, errand: Errand, name: str, notes: tuple[str, ...]) -> None:
        """Offer a file that was made, and take the oldest away when there are too many."""
        try:
            size = errand.path.stat().st_size
        except OSError:
            self._fail(f"{name} was made and is gone again; is the temporary folder being cleared?")
            return
        self._made[errand.number] = _Made(errand.path, name, size, notes)
        while len(self._made) > 1 and (
            len(self._made) > _MOST_KEPT
            or sum(one.size for one in self._made.values()) > _MOST_BYTES_KEPT
        ):
            self._made.pop(next(iter(self._made))).path.unlink(missing_ok=True)
        self._list_made()
        self._page.say(f"{name} is ready, {megabytes(size)}.")

    def _list_made(self) -> None:
        self._state.send_done = [
            {
                "number": number,
                "name": one.name,
                "weight": megabytes(one.size),
                "url": f"sent/{one.place}/{quote(one.name)}",
                "notes": list(one.notes),
            }
            for number, one in reversed(self._made.items())
        ]

    def _fail(self, sentence: str) -> None:
        self._state.send_problem = sentence
        self._page.say(sentence)

    def _update(self, number: int, **changed: Any) -> None:
        self._state.send_jobs = [
            {**one, **changed} if one["number"] == number else one for one in self._state.send_jobs
        ]

    def _lost(self, loss: Loss, again: bool) -> None:
        """The process is lost: so is what it had in hand; the rest is begun anew."""
        errands = list(self._errands.values())
        with self._state:
            for place, errand in enumerate(errands):
                if errand.number in self._cancelled:
                    self._ended(Ended(errand.number, cancelled=True))
                elif place and again:
                    self._update(errand.number, share=0.0, words="waiting")
                    self._process.send(errand)
                else:
                    self._ended(Ended(errand.number, self._told_lost(errand, loss, again)))
        self._tidy()

    def _told_lost(self, errand: Errand, loss: Loss, again: bool) -> str:
        name = self._names.get(errand.number, "The row of pictures")
        then = "try once more" if again else "it has failed again and again: start Turnlight anew"
        return f"{name} could not be made ({loss}); {then}."

    def _tidy(self) -> None:
        """Take away what a lost process left half-made."""
        kept = {one.path for one in self._made.values()}
        with suppress(OSError):
            for path in set(self._folder.iterdir()) - kept:
                path.unlink()

    def _tick(self) -> None:
        """End what will not be cancelled."""
        now = time.monotonic()
        if any(now - since > _STUCK for since in self._cancelled.values()):
            self._process.close()
            self._lost(Loss.ENDED, again=True)

    async def _answer(self, request: web.Request) -> web.StreamResponse:
        """Give the browser a file that was made."""
        place = request.match_info["place"]
        made = next((one for one in self._made.values() if is_same(place, one.place)), None)
        if made is None or made.name != request.match_info["name"] or not made.path.is_file():
            raise web.HTTPNotFound
        return web.FileResponse(
            made.path,
            headers={
                "Content-Disposition": f"attachment; filename*=UTF-8''{quote(made.name)}",
                "Cache-Control": "no-store",
            },
        )

    def _forecast(self) -> None:
        """Say how large what is chosen will be."""
        kind, ending, size = self._chosen
        offer = OFFERS[kind]
        preset = offer.presets[size]
        with self._state:
            if offer.kind is Kind.MESH:
                self._state.send_forecast = self._mesh_size(ending, Detail(preset.detail))
            else:
                self._state.send_forecast = self._picture_size(ending, preset)

    def _mesh_size(self, ending: str, detail: Detail) -> str:
        """Say how large a mesh of the open design will be, or why there cannot be one."""
        from render.output.export import forecast

        try:
            grid = self._page.desk.subject.plan().grid(detail)
        except DESIGN_REFUSALS as problem:
            return str(problem)
        triangles, size = forecast(grid, ending)
        counted = f"{triangles / 1e6:.1f} million" if triangles > 1e6 else f"{triangles:,}"
        return f"{counted} triangles, about {megabytes(size)}"

    @staticmethod
    def _picture_size(ending: str, preset: _Preset) -> str:
        """Say how large pictures will be; nothing where their size is not known before."""
        bits = _BITS.get(ending)
        if bits is None or preset.size is None:
            return ""
        width, height = preset.size
        frames = 1 if ending == ".png" else preset.frames
        size = bits / 8 * width * height * frames / 1e6
        told = f"{width} × {height}"
        if frames > 1:
            told += f", {frames} pictures"
        if ending != ".png" and preset.max_mb is not None and size >= preset.max_mb:
            told += f", made smaller where it must be to stay under {preset.max_mb:g} MB"
        else:
            told += f", about {size:.1f} MB" if size < 10 else f", about {size:.0f} MB"
        return told


def _told(offer: _Offer) -> Json:
    return {
        "kind": offer.kind.value,
        "told": offer.told,
        "formats": list(offer.formats),
        "sizes": list(offer.presets),
        "compares": offer.compares,
    }


def _file_name(title: str, kind: Kind, ending: str) -> str:
    """Name a file for the customer: plain letters, so that no system stumbles."""
    plain = re.sub(r"[^\w-]+", "-", title.casefold()).strip("-_")[:60] or "wrap"
    suffix = "" if kind in (Kind.STILL, Kind.MESH) else f"-{kind.value.replace(' ', '-')}"
    return f"{plain}{suffix}{ending}"
