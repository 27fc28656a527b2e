"""Sending: what can be made of the design, how large it will be, and the making of it.

Files are made in a folder of the page's own, from which the browser takes them: the page writes
nowhere else.
"""

import re
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from aiohttp import web

from geometry.errors import GeometryError
from geometry.grid import Detail
from render.fitting import megabytes
from render.page.companion import Companion
from render.page.errands import Cancel, Ended, Errand, Kind, Step, Thumbnail, run_errands
from render.subject import Size

if TYPE_CHECKING:
    from render.page.app import Page

__all__ = ["OFFERS", "Office", "furnish"]

Json = dict[str, Any]

_STUCK = 8.0
"""Seconds after which a cancelled errand's process is ended."""


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


def furnish(page: "Page") -> None:
    """Put the sending on the page."""
    page.office = Office(page)


class Office:
    """What a page sends.

    Parameters
    ----------
    page : Page
    """

    def __init__(self, page: "Page") -> None:
        self._page = page
        self._state = page.state
        self._number = 0
        self._process: Companion | None = None
        self._errands: dict[int, Errand] = {}
        self._names: dict[int, str] = {}
        self._rows: dict[int, Any] = {}
        self._cancelled: dict[int, float] = {}
        self._state.update(
            {
                "send_open": False,
                "send_offers": [_told(offer) for offer in OFFERS.values()],
                "send_kind": Kind.SPIN_PAGE.value,
                "send_format": ".html",
                "send_size": "mail",
                "send_forecast": "",
                "send_jobs": [],
                "send_done": [],
                "send_problem": "",
            }
        )
        self._forecast()
        page.server.trigger("send_make")(self._make)
        page.server.trigger("send_cancel")(self.cancel)
        page.server.trigger("send_choose")(self._choose)
        page.add_route("/sent/{number}/{name}", self._answer)
        page.desk.on_change(self._forecast)
        page.on_tick(self._tick)
        page.on_close(self._close)

    @property
    def busy(self) -> bool:
        """Whether anything is being made."""
        return bool(self._errands)

    # --- what the page asks -----------------------------------------------------------------

    def _choose(self, kind: str, ending: str, size: str) -> None:
        """Set what is to be made; what does not fit together is put right."""
        offer = OFFERS[Kind(kind)]
        self._state.send_kind = offer.kind.value
        self._state.send_format = ending if ending in offer.formats else offer.formats[0]
        sizes = list(offer.presets)
        middle = sizes[min(1, len(sizes) - 1)] if _SIZES[0] in sizes else sizes[0]
        self._state.send_size = size if size in sizes else middle
        self._forecast()

    def _make(self) -> None:
        page = self._page
        offer = OFFERS[Kind(self._state.send_kind)]
        ending, size = self._state.send_format, self._state.send_size
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
            seen = tuple(page.picture.seen(one) for one in given)
        number = self._next()
        moving = ending in (".gif", ".mp4", ".webp", ".html")
        errand = Errand(
            number,
            offer.kind,
            seen,
            page.folder / f"{number}{ending}",
            size=preset.size,
            frames=preset.frames,
            max_mb=preset.max_mb if moving else None,
            detail=preset.detail,
            paper=size if size in _PAPERS else _PAPERS[0],
        )
        self._names[number] = _file_name(page.desk.title, offer.kind, ending)
        self._begin(errand)
        self._state.send_jobs = [
            *self._state.send_jobs,
            {"number": number, "what": self._names[number], "share": 0.0, "words": "waiting"},
        ]

    def cancel(self, number: int) -> None:
        """Stop an errand."""
        if number in self._errands and self._process is not None:
            self._process.send(Cancel(number))
            self._cancelled[number] = time.monotonic()
            self._update(number, words="stopping")

    def row(self, subjects: tuple[Any, ...], size: Size, arrived: Any) -> int:
        """Have small pictures of a sweep made; `arrived` is told of each, and at the end."""
        number = self._next()
        path = self._page.folder / f"{number}.row"
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
        if self._process is None or not self._process.running:
            self._process = Companion(run_errands, self._received, self._lost)
            self._process.start()
        self._process.send(errand)
        self._page.picture.want()

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
        self._page.picture.want()
        if number in self._rows:
            self._rows.pop(number)(message)
            return
        self._state.send_jobs = [one for one in self._state.send_jobs if one["number"] != number]
        name = self._names[number]
        if message.cancelled:
            self._page.say(f"{name} was cancelled.")
        elif message.problem:
            self._state.send_problem = message.problem
            self._page.say(message.problem)
        else:
            weight = megabytes(errand.path.stat().st_size)
            made = {
                "number": number,
                "name": name,
                "weight": weight,
                "url": f"sent/{number}/{quote(name)}",
                "notes": list(message.notes),
            }
            self._state.send_done = [made, *self._state.send_done]
            self._page.say(f"{name} is ready, {weight}.")

    def _update(self, number: int, **changed: Any) -> None:
        self._state.send_jobs = [
            {**one, **changed} if one["number"] == number else one for one in self._state.send_jobs
        ]

    def _lost(self) -> None:
        """The process has ended by itself: what it had in hand is lost, the rest begins anew."""
        self._process = None
        with self._state:
            for number in list(self._errands):
                cancelled = number in self._cancelled
                problem = "" if cancelled else "It could not be made: its process ended."
                self._ended(Ended(number, problem, cancelled=cancelled))

    def _tick(self) -> None:
        """End what will not be cancelled."""
        now = time.monotonic()
        if any(now - since > _STUCK for since in self._cancelled.values()) and self._process:
            stuck, self._process = self._process, None
            stuck.close(now=True)
            self._lost()

    def _close(self) -> None:
        if self._process is not None:
            self._process.close(now=True)

    async def _answer(self, request: web.Request) -> web.StreamResponse:
        """Give the browser a file that was made."""
        made = {str(one["number"]): one for one in self._state.send_done}
        one = made.get(request.match_info["number"])
        if one is None:
            raise web.HTTPNotFound
        path: Path = self._page.folder / f"{one['number']}{Path(one['name']).suffix}"
        return web.FileResponse(
            path,
            headers={
                "Content-Disposition": f"attachment; filename*=UTF-8''{quote(one['name'])}",
                "Cache-Control": "no-store",
            },
        )

    def _forecast(self) -> None:
        """Say how large what is chosen will be."""
        offer = OFFERS[Kind(self._state.send_kind)]
        ending = self._state.send_format
        preset = offer.presets[self._state.send_size]
        with self._state:
            if offer.kind is Kind.MESH:
                self._state.send_forecast = self._mesh_size(ending, Detail(preset.detail))
            else:
                self._state.send_forecast = self._picture_size(ending, preset)

    def _mesh_size(self, ending: str, detail: Detail) -> str:
        """Say how large a mesh of the open design will be, or why there cannot be one."""
        from render.export import forecast

        try:
            grid = self._page.desk.subject.plan().grid(detail)
        except GeometryError as problem:
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
