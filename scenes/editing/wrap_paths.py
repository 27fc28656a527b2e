"""Paths of variants into the other wraps of a rod, followed when wraps are removed or moved.

A variant belongs to a wrap, and ``wraps.0`` in its paths is a position among the others as they are
seen from that wrap: the design's own first wrap stands in the place of the variant's.
"""

from collections.abc import Mapping
from typing import Any

from scenes.design import paths

__all__ = ["with_paths_followed"]

_FIRST = "first wrap"
"""Name of the design's own wrap where its file gives none."""

_NAMELESS: Mapping[str, str] = {}


def with_paths_followed(
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    renamed: Mapping[str, str] = _NAMELESS,
) -> dict[str, Any]:
    """Rewrite the paths of variants so that they lead to the same wraps as before.

    A path into a wrap that is there no more names it (``wraps.butt wrap.placement.from``): its
    variant is set aside, with the name as the reason, and not led to another wrap.

    Parameters
    ----------
    before, after : dict
        The document before and after wraps were removed, moved or renamed.
    renamed : dict, optional
        New name by former name.

    Returns
    -------
    dict
        `after`, with its variants rewritten.
    """
    made = dict(after)

    def rewritten(owner: Mapping[str, Any], name: str) -> Any:
        former = next((old for old, new in renamed.items() if new == name), name)
        then = _seen_from(before, former)
        now = _seen_from(after, name)
        return [
            {**variant, "changes": _followed(variant["changes"], then, now, renamed)}
            for variant in owner["variants"]
        ]

    if "variants" in made:
        made["variants"] = rewritten(made, made.get("wrap_name", _FIRST))
    if "wraps" in made:
        made["wraps"] = [
            {**wrap, "variants": rewritten(wrap, wrap["name"])} if "variants" in wrap else wrap
            for wrap in made["wraps"]
        ]
    return made


def _seen_from(document: Mapping[str, Any], name: str) -> list[str]:
    """Names of the other wraps, by their positions as seen from a wrap."""
    first = document.get("wrap_name", _FIRST)
    names = [wrap["name"] for wrap in document.get("wraps", [])]
    return [first if other == name else other for other in names]


def _followed(
    changes: Mapping[str, Any], then: list[str], now: list[str], renamed: Mapping[str, str]
) -> dict[str, Any]:
    """Rewrite the paths of one variant."""
    kept: dict[str, Any] = {}
    for path, value in paths.flattened(changes):
        table, _, rest = path.partition(".")
        step, dot, below = rest.partition(".")
        if table != "wraps" or not step:
            kept[path] = value
            continue
        at = int(step) if step.isascii() and step.isdecimal() else -1
        former = then[at] if 0 <= at < len(then) else step
        name = renamed.get(former, former)
        # A name that was given stays a name.
        to = str(now.index(name)) if at >= 0 and name in now else name
        kept[f"wraps.{to}{dot}{below}"] = value
    return dict(changes) if kept == dict(paths.flattened(changes)) else kept
