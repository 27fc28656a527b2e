"""The other wraps on the rod of a wrap, as bodies on its stage.

Editing a wrap leaves them as they are, so they are kept by everything that is seen of them.
"""

import hashlib
import json
from collections import OrderedDict
from threading import Lock
from typing import Any

from geometry.grid import Detail
from materials.finish import FINISH
from materials.thread import Thread
from scenes.building.build import Plan, Wrap, build
from scenes.design.differences import canonical
from scenes.design.threads import layer_threads
from scenes.files.companion_files import layer_files
from scenes.parts.blank import BlankSpec
from scenes.stage.bodies import WrapBody

__all__ = ["body_of", "other_bodies"]

_KEPT = 8
"""Most bodies kept: those of a rod with four wraps, at two details."""

_Key = tuple[str, tuple[Thread, ...], tuple[bytes, ...], Detail]


def body_of(wrap: Wrap) -> WrapBody:
    """A wrap as a body on the stage.

    Parameters
    ----------
    wrap : Wrap
    """
    return WrapBody(
        wrap.surface,
        wrap.beneath,
        wrap.outside,
        wrap.palette,
        FINISH.ior,
        wrap.plan.row_width,
    )


def other_bodies(plan: Plan, detail: Detail) -> tuple[WrapBody, ...]:
    """Build the other wraps on a rod, or take what was kept of them.

    Parameters
    ----------
    plan : Plan
        Of the wrap that is worked at.
    detail : Detail

    Raises
    ------
    DesignProblem
        If a layer of one cannot be wound as described.
    GeometryError
        If one is too large for this detail.
    """
    return tuple(_kept.body(other, detail) for other in plan.others)


class _KeptBodies:
    """Bodies by what they are made of, the least recently used first."""

    def __init__(self) -> None:
        self._bodies: OrderedDict[_Key, WrapBody] = OrderedDict()
        self._lock = Lock()

    def body(self, plan: Plan, detail: Detail) -> WrapBody:
        """The body of a wrap at a detail."""
        key = _key(plan, detail)
        with self._lock:
            found = self._bodies.get(key)
            if found is not None:
                self._bodies.move_to_end(key)
                return found
        made = body_of(build(plan, detail))
        with self._lock:
            self._bodies[key] = made
            while len(self._bodies) > _KEPT:
                self._bodies.popitem(last=False)
        return made


_kept = _KeptBodies()


def _key(plan: Plan, detail: Detail) -> _Key:
    """Everything that a wrap is built from."""
    design = plan.design
    blank: BlankSpec = design.blank
    parts: list[Any] = [
        blank.colour,
        canonical(blank.stations),
        canonical(design.placement),
        [[layer.kind, canonical(layer)] for layer in design.layers],
        canonical(design.finish),
    ]
    own = design.model_copy(update={"wraps": (), "variants": ()})
    threads = tuple(plan.shelf.thread(name) for name in sorted(set(layer_threads(own))))
    files = tuple(
        hashlib.sha256(plan.beside.read(name, field)).digest() for field, name in layer_files(own)
    )
    return json.dumps(parts, sort_keys=True), threads, files, detail
