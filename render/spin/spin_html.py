"""The spin page's text: one HTML file with its pictures, style and script inside.

Text from a design (title, notes, labels) is escaped in the HTML, and is JSON without any ``<`` in
the data block. The page's policy admits only this style and these scripts, and forbids every
request (`render.common.sealed_html`).
"""

import base64
import html
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from string import Template

import numpy as np

from render.browser.model import Model
from render.browser.scripts import drawing_script
from render.common.scheme_labels import name_and_differences
from render.common.sealed_html import json_text, sealed_page
from render.common.tags import Tag
from render.output.film import Film
from scenes.customer.reply import LETTERS, REMARK
from scenes.problems import one_of

__all__ = ["PageContent", "spin_html"]

TYPE = "image/webp"

_STEPS = 72
"""Steps of a turn by the keys where the rod itself is drawn: five degrees each."""

_SOLID = '    <canvas id="solid" aria-hidden="true"></canvas>'

_MOVE_LIGHT = (
    '<button type="button" id="move-light" aria-pressed="false" aria-label="Move the light" '
    'title="Move the light: drag, or arrow keys (L)"><svg viewBox="0 0 24 24" aria-hidden="true">'
    '<path d="M12 8.2a3.8 3.8 0 1 0 .01 0zM12 2v2.6M12 19.4V22M2 12h2.6M19.4 12H22M4.9 4.9l1.9 1.9'
    'M17.2 17.2l1.9 1.9M4.9 19.1l1.9-1.9M17.2 6.8l1.9-1.9"/></svg><span>Move the light</span>'
    '</button><button type="button" id="reset-light" disabled aria-label="Light back to where it '
    'was" title="Light back to where it was (Home, while it is moved)"><svg viewBox="0 0 24 24" '
    'aria-hidden="true"><path d="M5 4.5v5h5M5.6 9.5A7 7 0 1 1 5 13.5"/></svg></button>'
)

_FLAT = (
    '  <p id="flat" hidden>This browser cannot draw the rod itself; pictures of it stand in, a few '
    "for each turn.</p>"
)


@dataclass(frozen=True, slots=True)
class PageContent:
    """Text of a spin page, and geometry of the rod in its pictures.

    Parameters
    ----------
    tag : Tag
        Title, hash and capture settings.
    notes : str
        The builder's notes; empty for none.
    labels : tuple of str
        Distinguishing words of each design; empty if there is only one design.
    start : float
        Turn of the first frame, rad.
    radius : float
        Radius of the rod as a share of the pictures' height: the rod's surface follows a finger.
    lies : bool
        Whether the rod runs across the picture; on a portrait screen it is then shown upright.
    band : float
        Share of the pictures' height, around their middle, that must be visible; the rest is card.
    span : float
        Share of the pictures' width, around their middle, that the wrap takes: a phone shows it at
        first.
    ground : str
        Colour around the pictures, ``#rrggbb``.
    order : tuple of str
        Who has built the rod, for whom, and its number: as many of these as are known.
    replies : tuple of str
        For each design, the answer by which a customer chooses it
        (`scenes.customer.reply.reply_text`); empty for a page without answers.
    """

    tag: Tag
    notes: str
    labels: tuple[str, ...]
    start: float
    radius: float
    lies: bool
    band: float
    span: float
    ground: str
    order: tuple[str, ...] = ()
    replies: tuple[str, ...] = ()


def spin_html(
    content: PageContent,
    film: Film,
    pictures: Sequence[Sequence[bytes]],
    model: Model | None = None,
) -> str:
    """Compose the page.

    Parameters
    ----------
    content : PageContent
    film : Film
        Size and number of each design's frames.
    pictures : sequence of sequence of bytes
        For each design its frames, as WebP.
    model : Model, optional
        The designs themselves, to be drawn by the browser; its picture has the frames' shape.

    Returns
    -------
    str
        HTML with line feeds (LF) as line ends, to be written as UTF-8.
    """
    style, page = _asset("page.css"), _asset("page.html")
    failing, script = _asset("failing.js"), _script(model is not None, bool(content.replies))
    packed = [[base64.b64encode(frame).decode("ascii") for frame in turn] for turn in pictures]
    # The first frame is an image element, visible before the script runs, or if it must not run.
    first, packed[0][0] = packed[0][0], ""
    start = float(np.rad2deg(content.start)) % 360
    width, height = film.size
    title = html.escape(content.tag.title)
    angle = f"{start:.4g}°"
    body = Template(page).substitute(
        title=title,
        angle=angle,
        turn=f"{start:.4g}",
        first=f"data:{TYPE};base64,{first}",
        width=width,
        height=height,
        described=f"{title}, turned to {angle}",
        switch=_switch(content.labels),
        order=_order(content.order),
        answer=_answer(content),
        replies=_replies(content),
        notes=_notes(content.notes),
        capture=html.escape(f", {content.tag.capture}" if content.tag.capture else ""),
        turns=json_text(
            {
                "type": TYPE,
                "size": film.size,
                "frames": film.frames,
                "steps": _STEPS,
                "seconds": film.seconds,
                "start": start,
                "radius": round(content.radius, 5),
                "lies": content.lies,
                "band": round(content.band, 5),
                "span": round(content.span, 5),
                "ground": content.ground,
                "designs": packed,
            }
        ),
        failing=failing,
        model=_model(model),
        solid="" if model is None else _SOLID,
        flat="" if model is None else _FLAT,
        choices="" if model is None else _choices(model),
    )
    return sealed_page(
        content.tag.title, body, style, script, first=failing, design=content.tag.design
    )


@cache
def _script(drawn: bool, answered: bool) -> str:
    """The page's script; with the drawing of the rod itself and the answer, or without them."""
    answer = [_asset("answer.js")] if answered else []
    if not drawn:
        return "\n".join((_asset("page.js"), *answer))
    parts = (drawing_script(), _asset("moved_light.js"), _asset("page.js"))
    return "\n".join(('"use strict";', "(() => {", *parts, "})();", *answer))


def _model(model: Model | None) -> str:
    if model is None:
        return ""
    return f'<script type="application/json" id="model">{json_text(model.data)}</script>'


def _choices(model: Model) -> str:
    """Light and finish, for the rod itself."""
    lights = "".join(
        f"<option>{html.escape(light.capitalize())}</option>" for light in model.lights
    )
    finished = any(design["finished"] for design in model.data["designs"])
    return (
        '    <div class="tools" id="choices" hidden><label class="choice">'
        f'<span>Light</span><select id="light">{lights}</select></label>'
        f'<button type="button" id="finish" aria-pressed="{str(finished).lower()}">Finish</button>'
        f"{_MOVE_LIGHT}</div>"
    )


@lru_cache(maxsize=8)
def _asset(name: str) -> str:
    return resources.files("render.spin").joinpath(name).read_text(encoding="utf-8")


def _switch(labels: Sequence[str]) -> str:
    if not labels:
        return ""
    choices = "".join(
        f'<label title="{html.escape(label)}"><input type="radio" name="design" '
        f'aria-label="{letter}: {html.escape(label)}" '
        f'data-letter="{letter}"{" checked" if letter == LETTERS[0] else ""}>'
        f"<b>{letter}</b><span>{_parted(label)}</span></label>"
        for letter, label in zip(LETTERS, labels, strict=False)
    )
    return f"    <fieldset><legend>Design</legend>{choices}</fieldset>"


def _parted(label: str) -> str:
    """A label; a narrow screen shows its name alone."""
    name, differences = name_and_differences(label)
    more = f" <small>({html.escape(differences)})</small>" if differences else ""
    return html.escape(name) + more


def _notes(notes: str) -> str:
    """Notes as paragraphs, which empty lines separate; single line breaks are joined."""
    parts = [" ".join(part.split()) for part in re.split(r"\n\s*\n", notes)]
    text = "".join(f"<p>{html.escape(part)}</p>" for part in parts if part)
    heading = "<summary>About this design</summary>"
    return f'  <details id="notes">{heading}{text}</details>' if text else ""


def _order(parts: Sequence[str]) -> str:
    return f'  <p id="order">{html.escape(" · ".join(parts))}</p>' if parts else ""


def _answer(content: PageContent) -> str:
    """The form in which a customer chooses a design and gets a text to send back."""
    if not content.replies:
        return ""
    choices = "".join(
        f'<label><input type="radio" name="scheme" data-letter="{letter}">'
        f"<b>{letter}:</b> {html.escape(label)}</label>"
        for letter, label in zip(LETTERS, content.labels, strict=False)
    )
    schemes = f'<div id="schemes" role="radiogroup" aria-label="Design">{choices}</div>'
    unchosen = (
        '<p id="unchosen"><button type="button" id="choose-seen"></button>'
        f"<span>Choose {one_of(LETTERS[: len(content.labels)])}, and the text to copy appears."
        "</span></p>"
    )
    return (
        '  <details id="answer" hidden><summary>Choose and answer</summary>'
        f"{unchosen + schemes if choices else ''}"
        '<label class="long">Anything to add?<textarea id="remark" rows="2" maxlength="1000">'
        '</textarea></label><div id="ready" hidden><label class="long">Your answer, to send back '
        'as it is<textarea id="reply" rows="6" readonly></textarea></label><p class="tools">'
        '<button type="button" id="copy">Copy</button><a id="mail" href="mailto:">Write a mail</a>'
        '<button type="button" id="share" hidden>Send by…</button></p>'
        '<p id="copied" role="status"></p></div></details>'
    )


def _replies(content: PageContent) -> str:
    if not content.replies:
        return ""
    data = json_text({"replies": content.replies, "remark": REMARK, "title": content.tag.title})
    return f'<script type="application/json" id="replies">{data}</script>'
