"""The spin page's text: one HTML file that holds its pictures, style and script, and asks for none.

What comes from a design (title, notes, labels) goes in as text: escaped in the page, and as JSON
without a single ``<`` in the block of data. The page's policy lets only this style and this script
run, known by their hashes, and lets nothing be fetched (Content Security Policy Level 3, W3C).
"""

import base64
import hashlib
import html
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from string import Template

import numpy as np

from render.common.tags import SOFTWARE, Tag
from render.output.film import Film

__all__ = ["LETTERS", "Shown", "spin_html"]

LETTERS = "ABCD"
"""What designs that stand side by side are called by, on their buttons and keys."""

TYPE = "image/webp"


@dataclass(frozen=True, slots=True)
class Shown:
    """What a spin page says and how its pictures are taken to be.

    Parameters
    ----------
    tag : Tag
        Title, hash and manner.
    notes : str
        The builder's; empty for none.
    labels : tuple of str
        For each design what sets it apart; empty if there is one.
    start : float
        Turn of the first frame, rad.
    radius : float
        Of the rod in the pictures, as a share of their height: so much that the surface follows a
        finger.
    lies : bool
        The rod runs across the picture, so that it may stand upright on an upright screen.
    band : float
        Share of the pictures' height, about their middle, that is to be seen: the rest is card.
    ground : str
        Colour round the pictures, ``#rrggbb``.
    """

    tag: Tag
    notes: str
    labels: tuple[str, ...]
    start: float
    radius: float
    lies: bool
    band: float
    ground: str


def spin_html(shown: Shown, film: Film, pictures: Sequence[Sequence[bytes]]) -> str:
    """Write the page.

    Parameters
    ----------
    shown : Shown
    film : Film
        Of each design.
    pictures : sequence of sequence of bytes
        For each design its frames, as WebP.

    Returns
    -------
    str
        HTML, with line ends of one character, to be written as UTF-8.
    """
    style, script, page = (_asset(name) for name in ("page.css", "page.js", "page.html"))
    packed = [[base64.b64encode(frame).decode("ascii") for frame in one] for one in pictures]
    # The first stands in the page as a picture, to be seen before anything runs, or if nothing may.
    first, packed[0][0] = packed[0][0], ""
    start = float(np.rad2deg(shown.start)) % 360
    width, height = film.size
    title = html.escape(shown.tag.title)
    angle = f"{start:.4g}°"
    return Template(page).substitute(
        policy=_policy(style, script),
        software=SOFTWARE,
        design=html.escape(shown.tag.design),
        title=title,
        style=style,
        angle=angle,
        turn=f"{start:.4g}",
        first=f"data:{TYPE};base64,{first}",
        width=width,
        height=height,
        described=f"{title}, turned to {angle}",
        switch=_switch(shown.labels),
        notes=_notes(shown.notes),
        manner=html.escape(f", {shown.tag.manner}" if shown.tag.manner else ""),
        turns=_data(
            {
                "type": TYPE,
                "size": film.size,
                "frames": film.frames,
                "seconds": film.seconds,
                "start": start,
                "radius": round(shown.radius, 5),
                "lies": shown.lies,
                "band": round(shown.band, 5),
                "ground": shown.ground,
                "designs": packed,
            }
        ),
        script=script,
    )


@cache
def _asset(name: str) -> str:
    return resources.files("render.spin").joinpath(name).read_text(encoding="utf-8")


def _policy(style: str, script: str) -> str:
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {_hash(script)}",
            f"style-src {_hash(style)}",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def _data(value: object) -> str:
    """JSON in which nothing can end the script element that it stands in (HTML, 4.12.1.3)."""
    return json.dumps(value, separators=(",", ":")).replace("<", "\\u003c")


def _switch(labels: Sequence[str]) -> str:
    if not labels:
        return ""
    choices = "".join(
        f'<label title="{html.escape(label)}"><input type="radio" name="design" '
        f'data-letter="{letter}"{" checked" if letter == LETTERS[0] else ""}>'
        f"<b>{letter}</b><span>{html.escape(label)}</span></label>"
        for letter, label in zip(LETTERS, labels, strict=False)
    )
    return f"    <fieldset><legend>Design</legend>{choices}</fieldset>"


def _notes(notes: str) -> str:
    """Notes as paragraphs: lines broken for a file's width run on, empty lines part them."""
    parts = [" ".join(part.split()) for part in re.split(r"\n\s*\n", notes)]
    text = "".join(f"<p>{html.escape(part)}</p>" for part in parts if part)
    return f"  <details><summary>About this design</summary>{text}</details>" if text else ""
