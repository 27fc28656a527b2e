"""State that guests receive: the keys that are named here, and no others.

The owner's browser receives all state. A guest receives the state of the picture, the comparison
and the cards. Files, paths, unsaved work, exports and money are for the owner only, and so are the
builder's own threads that the open design does not name. Rights and view are each client's own.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from render.page.server.roles import Right

__all__ = ["HIDDEN", "OF_CLIENT", "SHOWN", "TRIMMED", "for_guest", "own_for_guest", "rights_state"]

Json = dict[str, Any]

_FRAMEWORK = "trame__"
"""Prefix of the framework's own keys: templates, scripts, styles, the title. Clients cannot write
them."""

SHOWN = frozenset(
    {
        "desk_title",
        "form_kinds",
        "form_wraps",
        "guest_redo",
        "guest_undo",
        "palette_tried",
        "photo_paths",
        "photograph_most",
        "pic_grounds",
        "pic_light",
        "pic_lights",
        "pic_ring",
        "pic_views",
        "shelf_kinds",
        "side_fields",
        "side_kept",
        "side_unkept",
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
        "desk_redo": None,
        "desk_undo": None,
        "file_lost": [],
        "form_pending": [],
        "guests_edit": False,
        "page_shared": False,
        "palettes": {},
        "send_designs": [],
        "send_done": [],
        "send_forecast": "",
        "send_format": "",
        "send_full": "",
        "send_jobs": [],
        "send_kind": "",
        "send_offers": [],
        "send_open": False,
        "send_problem": "",
        "send_several": False,
        "send_shape": "",
        "send_signed": False,
        "send_size": "",
        "shelf_file": "",
        "wish": {},
    }
)
"""Keys that the page's templates use and guests do not receive, with the constant that they receive
instead."""


OF_CLIENT = frozenset(
    {
        "desk_units",
        "form_bench",
        "form_bounds",
        "form_cards",
        "form_figures",
        "form_pending",
        "form_profile",
        "form_revision",
        "form_warnings",
        "may_edit",
        "may_own",
        "page_status",
        "pic_epoch",
        "pic_look",
        "pic_mode",
        "pic_photo",
        "pic_scale",
        "pic_stage",
        "pic_filling",
        "pic_trouble",
        "pic_turn",
        "send_designs",
        "send_forecast",
        "send_format",
        "send_full",
        "send_kind",
        "send_problem",
        "send_several",
        "send_shape",
        "send_signed",
        "send_size",
        "side_differences",
        "side_labels",
        "side_open",
        "side_path",
        "side_pinned",
        "side_problem",
        "side_row",
        "side_values",
        "side_variant",
        "side_working",
    }
)
"""Keys with a value of its own for each client: its rights, its view, the cards in its units and
what it chooses to send. They are no state of the framework's, which is the same for all. Guests
receive those of them that are in `HIDDEN` or `TRIMMED` in that way."""


_MONEY_FIELDS = frozenset({"bench.rate", "bench.other_materials", "order.price"})


def _public_threads(threads: list[Json]) -> list[Json]:
    """Threads that came with Turnlight or that the design names, without prices and amounts."""
    return [
        {**thread, "price": 0, "spool": 0, "own": False}
        for thread in threads
        if not thread["private"]
    ]


def _cards_without_money(cards: list[Json]) -> list[Json]:
    """Cards without the fields that say what the builder's work and material cost."""
    return [_card_without_money(card) for card in cards]


def _card_without_money(card: Json) -> Json:
    fields = [field for field in card["fields"] if field["path"] not in _MONEY_FIELDS]
    if len(fields) == len(card["fields"]):
        return card
    # The summary lists the values of the fields.
    return {**card, "fields": fields, "summary": ""}


def _bench_without_money(bench: Json) -> Json:
    """Bench figures without amounts of money, and without warnings of the builder's own spools."""
    sections = [
        {**section, "figures": [figure for figure in section["figures"] if not figure["money"]]}
        for section in bench["sections"]
    ]
    warnings = [text for text in bench["warnings"] if text not in bench["private"]]
    return {**bench, "sections": sections, "warnings": warnings, "private": []}


def _variants_by_name(variants: list[Json]) -> list[Json]:
    """Variants without what they change, which may be threads of the builder's own."""
    return [
        {**variant, "words": [], "reason": variant["reason"] and "a value is out of place."}
        for variant in variants
    ]


TRIMMED: Mapping[str, Callable[[Any], Any]] = MappingProxyType(
    {
        "form_bench": _bench_without_money,
        "form_cards": _cards_without_money,
        "form_variants": _variants_by_name,
        "shelf_threads": _public_threads,
    }
)
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
    for key, trim in TRIMMED.items():
        if key in changes:
            visible[key] = trim(changes[key])
    return visible


def own_for_guest(own: Mapping[str, Any]) -> dict[str, Any]:
    """Reduce state with a value of its own for a client (`OF_CLIENT`) to what a guest may receive.

    Parameters
    ----------
    own : mapping
        Value by key.

    Returns
    -------
    dict
    """
    reduced = {}
    for key, value in own.items():
        if key in HIDDEN:
            reduced[key] = HIDDEN[key]
        else:
            reduced[key] = TRIMMED[key](value) if key in TRIMMED else value
    return reduced


def rights_state(rights: frozenset[Right]) -> dict[str, bool]:
    """State that tells a client's page which controls to offer; the rights are checked regardless.

    Parameters
    ----------
    rights : frozenset of Right
        Rights of the client.
    """
    return {"may_edit": Right.EDIT in rights, "may_own": Right.OWN in rights}
