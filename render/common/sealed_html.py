"""HTML files that hold all they need: their head, the policy that forbids every request, and JSON.

The policy admits one style and the scripts of the page, by their hashes (Content Security Policy
Level 3, W3C).
"""

import base64
import hashlib
import html
import json
from functools import lru_cache
from importlib import resources
from string import Template

from render.common.tags import SOFTWARE

__all__ = ["content_policy", "json_text", "sealed_page"]


def sealed_page(
    title: str,
    body: str,
    style: str,
    script: str = "",
    *,
    first: str = "",
    own_files: bool = False,
    design: str = "",
) -> str:
    """Compose a page for customers, in their colours (`sealed_page.css`).

    Parameters
    ----------
    title : str
        Plain text.
    body : str
        HTML inside the body element.
    style, script : str
        What is added to the common style, and the page's last script; empty for a page without.
    first : str
        A script that stands in `body`; empty for none.
    own_files : bool
        Admit pictures and films from the place that the page comes from.
    design : str
        Number of the design in the page's head, plain text.

    Returns
    -------
    str
        HTML with line feeds (LF) as line ends, to be written as UTF-8.
    """
    style = f"{_asset('sealed_page.css')}{style}"
    meta = f'<meta name="design" content="{html.escape(design)}">\n' if design else ""
    return Template(_asset("sealed_page.html")).substitute(
        policy=content_policy(style, *filter(None, (first, script)), own_files=own_files),
        software=SOFTWARE,
        meta=meta,
        title=html.escape(title),
        style=style,
        body=body,
        script=f"<script>{script}</script>\n" if script else "",
    )


def content_policy(style: str, *scripts: str, own_files: bool = False) -> str:
    """Policy of a page that admits this style, these scripts and pictures inside the page.

    Parameters
    ----------
    style : str
        Text of the page's style element.
    *scripts : str
        Text of each of its script elements.
    own_files : bool
        Admit pictures and films from the place that the page comes from.
    """
    own = " 'self'" if own_files else ""
    return "; ".join(
        (
            "default-src 'none'",
            *((f"script-src {' '.join(map(_hash, scripts))}",) if scripts else ()),
            f"style-src {_hash(style)}",
            f"img-src data:{own}",
            *((f"media-src{own}",) if own else ()),
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def json_text(value: object) -> str:
    """JSON that cannot end the script element around it (HTML, section 4.12.1.3).

    Parameters
    ----------
    value : object
    """
    return json.dumps(value, separators=(",", ":")).replace("<", "\\u003c")


@lru_cache(maxsize=2)
def _asset(name: str) -> str:
    return resources.files("render.common").joinpath(name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
