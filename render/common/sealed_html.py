"""HTML files that hold all they need: the policy that forbids every request, and data as JSON.

The policy admits one style and one script, by their hashes (Content Security Policy Level 3, W3C).
"""

import base64
import hashlib
import json

__all__ = ["content_policy", "json_text"]


def content_policy(style: str, script: str = "", *, own_files: bool = False) -> str:
    """Policy of a page that admits this style, this script and pictures inside the page.

    Parameters
    ----------
    style, script : str
        Text of the page's style element and of its script element; empty for a page without one.
    own_files : bool
        Admit pictures and films from the place that the page comes from.
    """
    own = " 'self'" if own_files else ""
    return "; ".join(
        (
            "default-src 'none'",
            *((f"script-src {_hash(script)}",) if script else ()),
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


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
