"""What the stage worker sends: drafts first, then all detail, and never again what is there."""

import json
from dataclasses import dataclass, field
from typing import Any

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from render.page.workers import stage_worker
from render.page.workers.stage_packer import DRY, FINISHED, LightSetting, StagePacker
from render.page.workers.stage_worker import (
    PackedLight,
    PackedStage,
    StageProblem,
    StageRequest,
    StageWork,
)
from render.request.subject import Subject
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.light.lights import LightKind
from scenes.parts.view import CameraSpec, LightSpec

SETTING = LightSetting(LightSpec(), CameraSpec(), 1.6)


def subject(**changes: object) -> Subject:
    design = samples.load("two-start-band").without_variants()
    changed = {path.replace("__", "."): value for path, value in changes.items()}
    return Subject(with_changes(design, changed), Shelf.shipped())


@dataclass
class Pipe:
    """Stands for the worker's end of its pipe; a test says which requests wait in it."""

    sent: list[Any] = field(default_factory=list)
    waiting: list[StageRequest] = field(default_factory=list)

    def recv(self) -> StageRequest:
        return self.waiting.pop(0)

    def poll(self, timeout: float = 0.0) -> bool:
        return bool(self.waiting)

    def send(self, obj: object) -> None:
        self.sent.append(obj)


class Receiver:
    """The worker's work, and what a page that receives its messages has."""

    def __init__(self) -> None:
        self.pipe = Pipe()
        self.work = StageWork(self.pipe)

    def done(self, request: StageRequest) -> list[Any]:
        """Work until nothing is left to do; give the messages."""
        before = len(self.pipe.sent)
        while self.work.advance(request):
            pass
        return self.pipe.sent[before:]


@pytest.fixture(autouse=True)
def no_settling(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stage_worker, "_SETTLING", 0.0)
    monkeypatch.setattr(stage_worker, "_RESTING", 0.0)


def request(number: int, one: Subject, **given: Any) -> StageRequest:
    return StageRequest(number, {"B": one}, **{"dry": frozenset({False}), "lights": {}, **given})


def told(message: PackedStage) -> dict[str, Any]:
    """What a stage says."""
    data: dict[str, Any] = json.loads(message.parcel.blobs[message.parcel.name])
    return data


def named(message: PackedStage, state: str = FINISHED) -> dict[str, str]:
    """Names of the bytes of the first wrap of a stage, by what they are."""
    data = told(message)
    wrap = data["designs"]["B"][state]["wraps"][0]
    maps = data["maps"][wrap["maps"]]
    found = {key: maps[key] for key in ("threads", "reach", "rows", "slopes", "outside")}
    return {**found, "radii": wrap["tube"]["radii"]}


def fresh(message: PackedStage) -> set[str]:
    """What of the first wrap was sent anew, and "stage" for the JSON itself."""
    kinds = {name: kind for kind, name in {**named(message), "stage": message.parcel.name}.items()}
    return {kinds.get(name, "other") for name in message.parcel.blobs}


def test_an_edit_is_sent_as_a_draft_then_in_full_and_a_light_between() -> None:
    receiver = Receiver()
    one = subject()
    messages = receiver.done(request(1, one, lights={7: SETTING}))
    assert [type(message) for message in messages] == [
        PackedStage, PackedLight, PackedStage, PackedStage,
    ]  # fmt: skip
    draft, light, full, with_dry = messages
    assert draft.draft
    assert not full.draft
    assert told(full)["designs"]["B"][DRY] is None
    assert not told(with_dry)["designs"]["B"][DRY]["draft"]
    # Dry and finished have one set of maps, but for the outside.
    dry, finished = named(with_dry, DRY), named(with_dry)
    assert {kind for kind in dry if dry[kind] != finished[kind]} == {"outside", "radii"}
    assert light.client == 7
    assert set(json.loads(light.parcel.blobs[light.parcel.name])) == {"B"}
    # Nothing is left to do, and nothing is sent twice.
    assert receiver.done(request(1, one, lights={7: SETTING})) == []


def test_an_edit_of_a_colour_sends_no_map() -> None:
    receiver = Receiver()
    receiver.done(request(1, subject(), lights={7: SETTING}))
    red = subject(cover__thread="Rowan Red A")
    messages = receiver.done(request(2, red, lights={7: SETTING}))
    # Full detail at once, and no word of the full build that confirms it.
    assert [fresh(message) for message in messages] == [{"stage"}, {"stage"}]
    assert not any(message.draft for message in messages)
    looks = [told(message)["designs"]["B"][FINISHED]["wraps"][0]["looks"] for message in messages]
    own = StagePacker()
    own.pack("B", red, FINISHED, Detail.NORMAL, lambda _: None)
    alone = own.stage({"B": red})
    data = json.loads(alone.blobs[alone.name])["designs"]["B"][FINISHED]["wraps"][0]
    assert looks[0] == looks[1] == data["looks"]


def test_an_edit_of_a_width_sends_the_maps_that_it_changes() -> None:
    receiver = Receiver()
    receiver.done(request(1, subject()))
    draft, full, _ = receiver.done(request(2, subject(relief__gap=0.6)))
    everything = {"threads", "reach", "rows", "slopes", "outside", "radii"}
    assert draft.draft
    assert not full.draft
    assert fresh(draft) == everything | {"stage"}
    assert fresh(full) == everything | {"stage"}
    # A thicker finish leaves the thread as it was.
    _, thicker, *_ = receiver.done(request(3, subject(relief__gap=0.6, finish__coats=3)))
    assert fresh(thicker) == {"outside", "radii", "stage"}


def test_while_a_slider_is_held_only_drafts_are_packed() -> None:
    receiver = Receiver()
    for number, gap in enumerate((0.5, 0.55, 0.6)):
        messages = receiver.done(request(number, subject(relief__gap=gap), held=True))
        assert [message.draft for message in messages] == [True]


def test_a_full_build_gives_way_to_the_next_edit() -> None:
    receiver = Receiver()
    receiver.done(request(1, subject(), held=True))
    receiver.pipe.waiting.append(request(2, subject(relief__gap=0.6)))
    assert receiver.work.advance(request(1, subject()))
    assert len(receiver.pipe.sent) == 1


def test_a_worker_that_starts_anew_sends_no_draft_of_what_the_page_has_in_full() -> None:
    messages = Receiver().done(request(1, subject(), complete=True))
    assert messages
    assert not any(message.draft for message in messages)


def test_a_light_is_packed_anew_only_if_it_changes() -> None:
    receiver = Receiver()
    one, held = subject(), {"held": True}
    receiver.done(request(1, one, lights={7: SETTING}, **held))
    low = LightSetting(LightSpec(kind=LightKind.LOW_SUN), CameraSpec(), 1.6)
    (light,) = receiver.done(request(1, one, lights={7: SETTING, 8: low}, **held))
    assert (light.client, light.setting) == (8, low)
    # Of another colour: the light on it is the same.
    red = subject(cover__thread="Rowan Red A")
    messages = receiver.done(request(2, red, lights={7: SETTING, 8: low}, **held))
    assert [type(message) for message in messages] == [PackedStage]


def test_a_design_that_cannot_be_wound_is_said_once() -> None:
    receiver = Receiver()
    bad = subject(cover__thread="of no shelf")
    messages = receiver.done(request(1, bad))
    assert [type(message) for message in messages] == [StageProblem]
