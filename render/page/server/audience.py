"""What guests are sent of the page's state: what is named here, and nothing else.

The owner's browser is sent everything. A guest is sent what the picture, the comparison and the
cards show; files, paths, unsaved work and what is being sent stay with the owner.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from render.page.server.roles import Right

__all__ = ["HIDDEN", "SHOWN", "for_guest", "of_rights"]

_FRAMEWORK = "trame__"
"""What the keys of the framework itself begin with: templates, scripts, styles, the title. Clients
cannot write them."""

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
        "pic_epoch",
        "pic_lights",
        "pic_look",
        "pic_mode",
        "pic_ring",
        "pic_scale",
        "pic_trouble",
        "pic_turn",
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
"""Keys that guests are sent as they are."""

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
"""Keys that the page names and guests are not sent, and what they are sent once in their place."""


def _without_prices(threads: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Threads to choose from, without what they cost and how much of them there is."""
    return [{**thread, "price": 0, "spool": 0, "own": False} for thread in threads]


_TRIMMED: Mapping[str, Callable[[Any], Any]] = MappingProxyType({"shelf_threads": _without_prices})
"""Keys of which guests are sent a part."""


def for_guest(changes: Mapping[str, Any]) -> dict[str, Any]:
    """Leave out of changed state what is not for guests.

    Parameters
    ----------
    changes : mapping
        New value by key.

    Returns
    -------
    dict
    """
    told = {
        key: value for key, value in changes.items() if key in SHOWN or key.startswith(_FRAMEWORK)
    }
    for key, trim in _TRIMMED.items():
        if key in changes:
            told[key] = trim(changes[key])
    return told


def of_rights(rights: frozenset[Right]) -> dict[str, bool]:
    """State of one client's own: what its page offers. What it may do is checked regardless."""
    return {"may_edit": Right.EDIT in rights, "may_own": Right.OWN in rights}
