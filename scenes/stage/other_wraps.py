"""The other wraps on the rod of a wrap, as bodies on its stage.

Editing a wrap leaves them as they are, so they are kept by everything that is seen of them.
"""

import hashlib
import json
from collections import OrderedDict
from threading import Lock
from typing import Any

from geometry.grid import Detail
from geometry.surface import Surface
from materials.appearance import Appearance
from materials.blank_looks import blank_appearance, is_lacquered
from materials.finish import FINISH
from materials.thread import Thread
from scenes.building.build import Plan, Wrap, build
from scenes.design.differences import canonical
from scenes.design.threads import layer_threads
from scenes.files.companion_files import layer_files
from scenes.kinds.builder import Palette
from scenes.parts.blank import BlankSpec
from scenes.stage.blank_pattern import dressed
from scenes.stage.bodies import WrapBody

__all__ = ["body_of", "other_bodies"]

_KEPT = 8
"""Most bodies kept: those of a rod with four wraps, at two details."""

_KEPT_DRESSED = 4
"""Most surfaces of wraps kept: draft and full detail of two designs."""

_Key = tuple[str, tuple[Thread, ...], tuple[bytes, ...], Detail]


def body_of(wrap: Wrap) -> WrapBody:
    """A wrap as a body on the stage.

    Parameters
    ----------
    wrap : Wrap
    """
    surface, palette = _kept_dressed.dressed(wrap)
    return WrapBody(
        surface,
        wrap.beneath,
        wrap.outside,
        palette,
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


class _KeptDressed:
    """Surfaces of wraps with the pattern of their blank, the least recently used first.

    Renderers know a body by the identity of its surface.
    """

    def __init__(self) -> None:
        self._kept: OrderedDict[int, tuple[Surface, Surface, tuple[Appearance, ...]]] = (
            OrderedDict()
        )
        self._lock = Lock()

    def dressed(self, wrap: Wrap) -> tuple[Surface, tuple[Appearance, ...]]:
        """Surface and palette of a wrap."""
        blank = wrap.design.blank
        if not is_lacquered(blank.finish):
            return wrap.surface, wrap.palette
        with self._lock:
            found = self._kept.get(id(wrap.surface))
            # Its own surface is kept with it, so no other can have its identity.
            if found is not None:
                self._kept.move_to_end(id(wrap.surface))
                return found[1:]
        palette = Palette()
        for look in wrap.palette:
            palette.index(look)
        bare = palette.index(blank_appearance(blank.colour, blank.finish))
        surface = dressed(wrap.surface, wrap.plan, palette, bare, wrap.plan.row_width)
        with self._lock:
            self._kept[id(wrap.surface)] = wrap.surface, surface, palette.looks()
            while len(self._kept) > _KEPT_DRESSED:
                self._kept.popitem(last=False)
        return surface, palette.looks()


_kept_dressed = _KeptDressed()


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
        blank.finish,
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
