"""A stage packed for browsers that draw for themselves: named bytes, made anew only where needed.

After an edit a draft is packed first, then the full detail. Bytes are named by what is in them
before they are compressed, so what an edit leaves as it was costs neither time nor a transfer. An
edit of colours alone leaves the draft's maps as they were: then the full maps of before are taken
with the draft's new colours at once, and the full build afterwards confirms them.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from geometry.grid import Detail
from render.browser.pattern_json import pattern_json
from render.browser.stage_json import (
    Json,
    body_json,
    bounded,
    light_json,
    looks_json,
    maps_json,
    wrap_json,
)
from render.page.workers.parcels import Blobs, Encoder, Parcel
from render.request.subject import Subject
from scenes.building.build import Plan, build
from scenes.customer.number import dry as without_finish
from scenes.packing.maps import packed
from scenes.packing.meshes import packed_mesh
from scenes.parts.view import CameraSpec, LightSpec, View
from scenes.stage.bodies import PlainBody, WrapBody
from scenes.stage.camera import Camera, adjusted, framing_of
from scenes.stage.exposure import shared_light
from scenes.stage.fittings import fittings
from scenes.stage.outline import Outline, rod_outline
from scenes.stage.stage import wraps_of

__all__ = [
    "DRY",
    "FINISHED",
    "OPEN",
    "LightPacker",
    "LightSetting",
    "PackedDesign",
    "StagePacker",
    "sides_of",
    "state_of",
]

FINISHED, DRY = "finished", "dry"
"""States of a design, as the JSON of a stage names them."""

OPEN = "B"
"""Name of the open design, which is side B of every stage."""

_DRAFT_STRIDE = 2
"""Every other point of a draft: enough for what is replaced within a second."""

_MOST_BODIES = 32
"""Packed bodies of blanks and guides that are kept."""

Step = Callable[[str], None]

_Key = tuple[str, str]
"""Name and state of a design."""

_Value = TypeVar("_Value")

_Rod = tuple[float, Outline]


@dataclass(frozen=True, slots=True)
class LightSetting:
    """What a client's light depends on beside the designs.

    Parameters
    ----------
    light : LightSpec
    camera : CameraSpec
        The card behind the rod ends just outside the picture of this camera.
    aspect : float
        Width over height of the picture.
    missed : int
        A number that changes when a light has to be sent again.
    pinned : str
        Name of the design that the client has pinned; empty for none.
    """

    light: LightSpec
    camera: CameraSpec
    aspect: float
    missed: int = 0
    pinned: str = ""


def state_of(subject: Subject, *, dry: bool) -> str:
    """State in which a design is shown: one without finish is always dry.

    Parameters
    ----------
    subject : Subject
    dry : bool
        Whether it is to be shown without its finish.
    """
    return DRY if dry or not subject.design.finish.coats else FINISHED


def sides_of(designs: Mapping[str, Subject], pinned: str) -> dict[str, Subject]:
    """Designs of a stage, by side.

    Parameters
    ----------
    designs : dict of str to Subject
        By name: `OPEN`, and those that clients have pinned.
    pinned : str
        Name of the design that is side A; empty for none.
    """
    sides = {"B": designs[OPEN]}
    return {**sides, "A": designs[pinned]} if pinned else sides


@dataclass(frozen=True, slots=True)
class _Wrap:
    """One wrap of a design in one state, packed.

    Parameters
    ----------
    maps, wrap, looks : dict
        For the JSON.
    """

    maps: Json
    wrap: Json
    looks: Json

    def with_looks(self, looks: Json) -> "_Wrap":
        return replace(self, looks=looks)


@dataclass(frozen=True, slots=True)
class _Pattern:
    """Lines of a design on the blank, unrolled.

    Parameters
    ----------
    json : dict
    blobs : dict of str to bytes
        What it names.
    """

    json: Json
    blobs: Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class PackedDesign:
    """The wraps of a design in one state.

    Parameters
    ----------
    subject : Subject
    detail : Detail
    wraps : tuple of _Wrap
    confirmed : bool
        False for full maps of the design before, with colours of a draft.
    blobs : dict of str to bytes
        What the wraps name.
    pattern : _Pattern
    """

    subject: Subject
    detail: Detail
    wraps: tuple[_Wrap, ...]
    confirmed: bool
    blobs: Mapping[str, bytes]
    pattern: _Pattern


class StagePacker:
    """Packs the stages of a page, each from what is left of the one before.

    Designs have names: `OPEN`, and one for each design that a client has pinned.
    """

    def __init__(self) -> None:
        self._encoder = Encoder()
        self._packed: dict[_Key, PackedDesign] = {}
        self._drafts: dict[_Key, PackedDesign] = {}
        self._full: dict[_Key, tuple[PackedDesign, PackedDesign]] = {}
        self._bodies: list[tuple[PlainBody, Json, Mapping[str, bytes]]] = []

    def keep_only(self, names: Collection[str]) -> None:
        """Drop the designs that no client looks at any more.

        Parameters
        ----------
        names : collection of str
            Of the others.
        """
        gone = {key for key in self._packed if key[0] not in names}
        for key in gone:
            del self._packed[key]
            self._drafts.pop(key, None)
            self._full.pop(key, None)

    def detail_of(self, name: str, subject: Subject, state: str) -> Detail | None:
        """Detail at which a design is packed in a state; None if it is not.

        Parameters
        ----------
        name : str
            Of the design.
        subject : Subject
        state : str
            "finished" or "dry".
        """
        found = self._packed.get((name, state))
        return found.detail if found is not None and found.subject == subject else None

    def is_confirmed(self, name: str, subject: Subject, state: str) -> bool:
        """Tell whether a design is packed from its own full build.

        Parameters
        ----------
        name, state : str
        subject : Subject
        """
        found = self._packed.get((name, state))
        return (
            found is not None
            and found.subject == subject
            and found.detail is not Detail.DRAFT
            and found.confirmed
        )

    def pack(self, name: str, subject: Subject, state: str, detail: Detail, step: Step) -> None:
        """Build and pack a design in one state.

        Parameters
        ----------
        name, state : str
        subject : Subject
        detail : Detail
            Draft or normal.
        step : callable
            Called with a word before each layer; may raise to cancel.

        Raises
        ------
        DesignProblem
        GeometryError
        """
        if not self.take_twin(name, subject, state, detail):
            self.put(name, state, self.made(subject, state, detail, step))

    def take_twin(self, name: str, subject: Subject, state: str, detail: Detail) -> bool:
        """Take over what is packed of the same design under another name; False if there is none.

        Parameters
        ----------
        name, state : str
        subject : Subject
        detail : Detail
        """
        key = name, state
        twin = self._twin(key, subject, detail)
        if twin is None:
            return False
        _copy(self._packed, twin, key)
        _copy(self._drafts, twin, key)
        _copy(self._full, twin, key)
        return True

    def put(self, name: str, state: str, made: PackedDesign) -> None:
        """Keep a packed design in one state.

        Parameters
        ----------
        name, state : str
        made : PackedDesign
        """
        key = name, state
        if made.detail is Detail.DRAFT:
            self._drafts[key] = made
            self._packed[key] = self._recoloured(key, made) or made
            return
        self._packed[key] = made
        draft = self._drafts.get(key)
        if draft is not None and draft.subject == made.subject:
            self._full[key] = draft, made

    def _twin(self, key: _Key, subject: Subject, detail: Detail) -> _Key | None:
        """Key of the same design under another name: it has been pinned, or opened again."""
        for other, found in self._packed.items():
            if other == key or other[1] != key[1] or found.subject != subject:
                continue
            if detail is Detail.DRAFT or (found.confirmed and found.detail is not Detail.DRAFT):
                return other
        return None

    def _recoloured(self, key: _Key, draft: PackedDesign) -> PackedDesign | None:
        """Full maps of before with a draft's colours, if the edit has changed colours alone."""
        before = self._full.get(key)
        if before is None:
            return None
        old_draft, full = before
        same = len(draft.wraps) == len(old_draft.wraps) == len(full.wraps) and all(
            now.maps == then.maps
            and now.wrap == then.wrap
            and now.looks["count"] == then.looks["count"]
            # The draft has met every look that the full build has met.
            and then.looks == fine.looks
            for now, then, fine in zip(draft.wraps, old_draft.wraps, full.wraps, strict=True)
        )
        if not same:
            return None
        wraps = tuple(
            fine.with_looks(now.looks) for now, fine in zip(draft.wraps, full.wraps, strict=True)
        )
        return PackedDesign(draft.subject, full.detail, wraps, False, full.blobs, draft.pattern)

    def made(self, subject: Subject, state: str, detail: Detail, step: Step) -> PackedDesign:
        """Build a design in one state, to be `put`; it may run in another thread.

        Parameters
        ----------
        subject : Subject
        state : str
        detail : Detail
        step : callable
            As for `pack`.

        Raises
        ------
        DesignProblem
        GeometryError
        """
        plan = _in_state(subject, state).plan()
        draft = detail is Detail.DRAFT
        stride = _DRAFT_STRIDE if draft else 1
        wrap = build(plan, detail, step, stride=stride)
        wraps = []
        blobs = Blobs(self._encoder, stored=draft)
        for body in wraps_of(wrap):
            step("maps")
            wraps.append(_packed_wrap(bounded(body), blobs))
        # The plan has its windings by now, which are most of the work. The lines are the same at
        # every detail, and so are their bytes.
        lines = Blobs(self._encoder)
        pattern = _Pattern(pattern_json(plan, lines), lines.used)
        return PackedDesign(subject, detail, tuple(wraps), True, blobs.used, pattern)

    def stage(self, designs: Mapping[str, Subject], pinned: str = "") -> Parcel:
        """The stage as it is packed at present.

        Parameters
        ----------
        designs : dict of str to Subject
            By name.
        pinned : str
            Name of the design that is side A; empty for none.
        """
        maps: list[Json] = []
        blobs = Blobs(self._encoder)
        sides = sides_of(designs, pinned)
        names = {"A": pinned, "B": OPEN}
        data = {
            "maps": maps,
            "designs": {
                side: self._design_json(names[side], subject, maps, blobs)
                for side, subject in sides.items()
            },
            "framings": _framings_json(_longest([subject.plan() for subject in sides.values()])),
            "unit": designs[OPEN].design.units.in_mm,
        }
        return blobs.parcel(data)

    def _design_json(self, name: str, subject: Subject, maps: list[Json], blobs: Blobs) -> Json:
        plan = subject.plan()
        states: Json = {FINISHED: None, DRY: None}
        pattern: Json | None = None
        for state in states:
            found = self._packed.get((name, state))
            if found is None or found.subject != subject:
                continue
            blobs.used |= {**found.blobs, **found.pattern.blobs}
            pattern = found.pattern.json
            wraps = []
            for wrap in found.wraps:
                if wrap.maps not in maps:
                    maps.append(wrap.maps)
                wraps.append({"maps": maps.index(wrap.maps), "looks": wrap.looks, **wrap.wrap})
            states[state] = {"wraps": wraps, "draft": found.detail is Detail.DRAFT}
        return {
            "middle": plan.middle,
            "radius": plan.middle_radius,
            "coated": bool(subject.design.finish.coats),
            "pattern": pattern,
            **states,
            "bodies": self._bodies_json(plan, blobs),
        }

    def _bodies_json(self, plan: Plan, blobs: Blobs) -> list[Json]:
        listed = []
        for body in fittings(plan):
            found = next((entry for entry in self._bodies if entry[0] is body), None)
            if found is None:
                made = Blobs(self._encoder)
                found = body, body_json(packed_mesh(body), made), made.used
            # What was used last is the last.
            self._bodies = [*(entry for entry in self._bodies if entry is not found), found]
            blobs.used |= found[2]
            listed.append(found[1])
        del self._bodies[:-_MOST_BODIES]
        return listed


class LightPacker:
    """Packs lights; the last ones are kept."""

    def __init__(self) -> None:
        self._encoder = Encoder()

    def key(self, sides: Mapping[str, Subject], setting: LightSetting) -> tuple[object, ...]:
        """What a light depends on: settings with the same key have the same light.

        Parameters
        ----------
        sides : dict of str to Subject
        setting : LightSetting
        """
        plans = {side: subject.plan() for side, subject in sides.items()}
        rods = tuple(sorted((side, _rod(plan)) for side, plan in plans.items()))
        light = shared_light(setting.light, plans.values())
        return light, _camera(plans, setting), setting.aspect, rods, setting.missed

    def light(self, sides: Mapping[str, Subject], setting: LightSetting) -> Parcel:
        """The light on each of the compared designs.

        Parameters
        ----------
        sides : dict of str to Subject
        setting : LightSetting
        """
        plans = {side: subject.plan() for side, subject in sides.items()}
        light, camera = shared_light(setting.light, plans.values()), _camera(plans, setting)
        blobs = Blobs(self._encoder)
        lights: dict[_Rod, Json] = {}
        found: Json = {}
        for side, plan in plans.items():
            rod = _rod(plan)
            if rod not in lights:
                lights[rod] = light_json(plan, light, camera, setting.aspect, blobs)
            found[side] = lights[rod]
        return blobs.parcel(found)


def _rod(plan: Plan) -> _Rod:
    """What the light takes from a design: the radius in the middle, mm, and the outline."""
    return plan.middle_radius, rod_outline(plan)


def _copy(packed: dict[_Key, _Value], source: _Key, target: _Key) -> None:
    if source in packed:
        packed[target] = packed[source]
    else:
        packed.pop(target, None)


def _packed_wrap(body: WrapBody, blobs: Blobs) -> _Wrap:
    maps, (looks,) = packed([body])
    return _Wrap(maps_json(maps, blobs), wrap_json(body, blobs), looks_json(looks))


def _in_state(subject: Subject, state: str) -> Subject:
    design = subject.design
    if state == FINISHED or not design.finish.coats:
        return subject
    return replace(subject, design=without_finish(design))


def _longest(plans: Iterable[Plan]) -> Plan:
    """The plan of the longest wrap: the camera of all sides takes it in."""
    return max(plans, key=lambda plan: plan.grid_span[1] - plan.grid_span[0])


def _camera(plans: Mapping[str, Plan], setting: LightSetting) -> Camera:
    framing = framing_of(_longest(plans.values()), setting.camera.view)
    return adjusted(framing.camera(setting.aspect), setting.camera)


def _framings_json(plan: Plan) -> Json:
    found = {}
    for view in View:
        framing = framing_of(plan, view)
        found[view.value] = {
            "azimuth": framing.azimuth,
            "elevation": framing.elevation,
            "angle": framing.view_angle,
            "wide": framing.wide,
            "nearer": framing.nearer,
            "least": framing.least,
            "target": framing.target,
        }
    return found
