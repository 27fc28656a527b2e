"""State that guests receive: the keys that are named here, and no others.

The owner's browser receives all state. A guest receives the state of the picture, the comparison
and the cards; files, paths, unsaved work and exports are for the owner only. Rights and view are
each client's own.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from render.page.server.roles import Right

__all__ = ["HIDDEN", "OF_CLIENT", "SHOWN", "for_guest", "rights_state"]

_FRAMEWORK = "trame__"
"""Prefix of the framework's own keys: templates, scripts, styles, the title. Clients cannot write
them."""

SHOWN = frozenset(
    {
        "desk_redo",
        "desk_title",
        "desk_undo",
        "desk_units",
        "form_bench",
        "form_bounds",
        "form_cards",
        "form_figures",
        "form_kinds",
        "form_profile",
        "form_revision",
        "form_variants",
        "form_warnings",
        "guest_status",
        "photograph_most",
        "pic_light",
        "pic_lights",
        "pic_ring",
        "pic_stage",
        "pic_views",
        "shelf_kinds",
        "side_differences",
        "side_fields",
        "side_labels",
        "side_name",
        "side_open",
        "side_path",
        "side_pinned",
        "side_problem",
        "side_row",
        "side_unkept",
        "side_values",
        "side_working",
    }
)
"""Keys that guests receive unchanged."""

HIDDEN: Mapping[str, Any] = MappingProxyType(
    {
        "beside_at": "",
        "desk_called": "",
        "desk_changed": False,
        "desk_disk": "same",
        "desk_path": "",
        "file_lost": [],
        "guests_edit": False,
        "page_status": "",
        "page_shared": False,
        "send_done": [],
        "send_forecast": "",
        "send_format": "",
        "send_jobs": [],
        "send_kind": "",
        "send_offers": [],
        "send_open": False,
        "send_problem": "",
        "send_size": "",
        "shelf_file": "",
    }
)
"""Keys that the page's templates use and guests do not receive, with the constant that they receive
instead."""


OF_CLIENT = frozenset(
    {
        "may_edit",
        "may_own",
        "pic_epoch",
        "pic_look",
        "pic_mode",
        "pic_scale",
        "pic_trouble",
        "pic_turn",
    }
)
"""Keys with a value of its own for each client: its rights and its view. They are no state of the
framework's, which is the same for all."""


def _without_prices(threads: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Threads to choose from, without prices and amounts."""
    return [{**thread, "price": 0, "spool": 0, "own": False} for thread in threads]


_TRIMMED: Mapping[str, Callable[[Any], Any]] = MappingProxyType({"shelf_threads": _without_prices})
"""Keys that guests receive reduced, and the function that reduces the value."""


def for_guest(changes: Mapping[str, Any]) -> dict[str, Any]:
    """Reduce changed state to what guests may receive.

    Parameters
    ----------
    changes : mapping
        New value by key.

    Returns
    -------
    dict
    """
    visible = {
        key: value for key, value in changes.items() if key in SHOWN or key.startswith(_FRAMEWORK)
    }
    for key, trim in _TRIMMED.items():
        if key in changes:
            visible[key] = trim(changes[key])
    return visible


def rights_state(rights: frozenset[Right]) -> dict[str, bool]:
    """State that tells a client's page which controls to offer; the rights are checked regardless.

    Parameters
    ----------
    rights : frozenset of Right
        Rights of the client.
    """
    return {"may_edit": Right.EDIT in rights, "may_own": Right.OWN in rights}
