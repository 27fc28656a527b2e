"""Pages of a catalogue: HTML that shows results by their names, and runs no script.

Text from a design is escaped, and the pages' policy admits nothing but their own style, pictures
and films of the same site.
"""

import html
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from string import Template

from render.catalogue.site_folder import Card
from render.common.sealed_html import sealed_page
from render.request.subject import Size

__all__ = ["DesignPage", "VariantEntry", "design_html", "index_html"]


@dataclass(frozen=True, slots=True)
class VariantEntry:
    """What a page shows of a variant.

    Parameters
    ----------
    name : str
    words : str
        How it differs from the design.
    price : str
        Empty if there is none.
    picture : str
        Name of its small picture.
    spin : str
        Name of its spin page.
    """

    name: str
    words: str
    price: str
    picture: str
    spin: str


@dataclass(frozen=True, slots=True)
class DesignPage:
    """What the page of a design shows.

    Parameters
    ----------
    title, builder, price, notes : str
        Empty for none.
    size, small : (int, int)
        Width and height of the large and of the small picture, pixels.
    pictures : (str, str)
        Names of the large and of the small picture.
    film : str
        Name of the turntable; empty for none.
    film_size : (int, int)
        Its width and height, pixels.
    spin : str
        Name of the spin page.
    variants : tuple of VariantEntry
    figures : tuple of (str, tuple of str)
        Names and values of numbers.
    threads : tuple of (str, str)
        Names and colours, ``#rrggbb``.
    """

    title: str
    builder: str
    price: str
    notes: str
    size: Size
    small: Size
    pictures: tuple[str, str]
    film: str
    film_size: Size
    spin: str
    variants: tuple[VariantEntry, ...]
    figures: tuple[tuple[str, tuple[str, ...]], ...]
    threads: tuple[tuple[str, str], ...]


def design_html(page: DesignPage) -> str:
    """Compose the page of a design, to lie in a folder beside that of the results.

    Parameters
    ----------
    page : DesignPage
    """
    title = html.escape(page.title)
    lead = [
        f'  <p class="quiet">{html.escape(page.builder)}</p>' if page.builder else "",
        f'  <p class="price">{html.escape(page.price)}</p>' if page.price else "",
    ]
    threads = "".join(
        f'<li><svg viewBox="0 0 8 8" aria-hidden="true"><path fill="{html.escape(colour)}" '
        f'd="M0 0h8v8H0z"/></svg>{html.escape(name)}</li>'
        for name, colour in page.threads
    )
    body = Template(_asset("design.html")).substitute(
        title=title,
        lead="\n".join(filter(None, lead)),
        large=page.pictures[0],
        small=page.pictures[1],
        width=page.size[0],
        height=page.size[1],
        small_width=page.small[0],
        described=f"The wrap {title}",
        spin=page.spin,
        film=_film(page),
        variants=_variants(page),
        figures="".join(
            f"<dt>{html.escape(name)}</dt>"
            + "".join(f"<dd>{html.escape(value)}</dd>" for value in values)
            for name, values in page.figures
        ),
        threads=threads,
        notes=_notes(page.notes),
    )
    return sealed_page(page.title, body, _asset("catalogue.css"), own_files=True)


def index_html(title: str, cards: Sequence[Card]) -> str:
    """Compose the index.

    Parameters
    ----------
    title : str
    cards : sequence of Card
        In the order in which they are shown.
    """
    count = f"{len(cards)} designs" if len(cards) != 1 else "1 design"
    body = Template(_asset("index.html")).substitute(
        title=html.escape(title),
        count=count,
        cards="\n".join(
            f'    <li class="card"><img src="files/{card.picture}" width="{card.width}" '
            f'height="{card.height}" alt="" loading="lazy"><div class="words"><h2 class="title">'
            f'<a href="designs/{html.escape(card.name)}.html">{html.escape(card.title)}</a></h2>'
            f"{_line(card.line, 'quiet')}{_line(card.price, 'price')}</div></li>"
            for card in cards
        ),
    )
    return sealed_page(title, body, _asset("catalogue.css"), own_files=True)


def _line(text: str, kind: str) -> str:
    return f'<p class="{kind}">{html.escape(text)}</p>' if text else ""


def _film(page: DesignPage) -> str:
    if not page.film:
        return ""
    width, height = page.film_size
    return (
        '  <section aria-labelledby="turn"><h2 id="turn">One turn</h2><figure class="film">'
        f'<video controls loop muted playsinline preload="none" width="{width}" height="{height}" '
        f'poster="../files/{page.pictures[0]}" src="../files/{page.film}" '
        f'aria-label="{html.escape(page.title)}, one turn of the rod"></video></figure></section>'
    )


def _variants(page: DesignPage) -> str:
    if not page.variants:
        return ""
    width, height = page.small
    entries = "".join(
        f'<li class="card"><img src="../files/{entry.picture}" width="{width}" height="{height}" '
        f'alt="" loading="lazy"><div class="words"><h3 class="title"><a href="../files/'
        f'{entry.spin}">{html.escape(entry.name)}</a></h3>{_line(entry.words, "quiet")}'
        f"{_line(entry.price, 'price')}</div></li>"
        for entry in page.variants
    )
    return (
        '  <section aria-labelledby="variants"><h2 id="variants">Also as</h2>'
        f'<ul class="cards">{entries}</ul></section>'
    )


def _notes(notes: str) -> str:
    """Notes as paragraphs, which empty lines separate."""
    text = "".join(f"<p>{html.escape(part)}</p>" for part in _paragraphs(notes))
    heading = '<h2 id="notes">About this design</h2>'
    return (
        f'  <section class="notes" aria-labelledby="notes">{heading}{text}</section>'
        if text
        else ""
    )


def _paragraphs(text: str) -> Iterable[str]:
    parts = (" ".join(part.split()) for part in re.split(r"\n\s*\n", text))
    return (part for part in parts if part)


@lru_cache(maxsize=4)
def _asset(name: str) -> str:
    return resources.files("render.catalogue").joinpath(name).read_text(encoding="utf-8")
