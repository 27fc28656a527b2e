"""What the stage worker sends: drafts first, then all detail, and never again what is there."""

import json
import time
from dataclasses import dataclass, field
from threading import Event
from typing import Any

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from render.page.workers import stage_worker
from render.page.workers.stage_packer import (
    DRY,
    FINISHED,
    LightPacker,
    LightSetting,
    StagePacker,
    sides_of,
)
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
from scenes.quantities import IN

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

    def poll(self, timeout: float = 0.0, *, progress: bool = True) -> bool:
        if timeout:
            time.sleep(timeout)
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
        return self.first(request, 1000)

    def first(self, request: StageRequest, count: int) -> list[Any]:
        """Work until so many messages are sent, or nothing is left to do; give them."""
        before = len(self.pipe.sent)
        while len(self.pipe.sent) < before + count and self.work.advance(request):
            pass
        return self.pipe.sent[before:]


@pytest.fixture(autouse=True)
def no_settling(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stage_worker, "_SETTLING", 0.0)
    monkeypatch.setattr(stage_worker, "_RESTING", 0.0)


def request(number: int, one: Subject, **given: Any) -> StageRequest:
    fields = {"stages": {"": number}, "dry": frozenset({False}), "lights": {}, **given}
    return StageRequest({"B": one, **fields.pop("pinned", {})}, **fields)


def told(message: PackedStage) -> dict[str, Any]:
    """What a stage says."""
    data: dict[str, Any] = json.loads(message.parcel.blobs[message.parcel.name])
    return data


def named(message: PackedStage, state: str = FINISHED) -> dict[str, str]:
    """Names of the bytes of the first wrap of a stage, by what they are."""
    data = told(message)
    wrap = data["designs"]["B"][state]["wraps"][0]
    maps = data["maps"][wrap["maps"]]
    kinds = ("threads", "reach", "rows", "places", "slopes", "outside", "thickness")
    found = {key: maps[key] for key in kinds}
    return {**found, "radii": wrap["tube"]["radii"]}


def fresh(message: PackedStage) -> set[str]:
    """What of the first wrap was sent anew, "points" of its lines, "stage" for the JSON itself."""
    points = told(message)["designs"]["B"]["pattern"]["points"]
    names = {**named(message), "points": points, "stage": message.parcel.name}
    kinds = {name: kind for kind, name in names.items()}
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
    assert {kind for kind in dry if dry[kind] != finished[kind]} == {
        "outside",
        "thickness",
        "radii",
    }
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
    everything = {"threads", "reach", "rows", "places", "slopes", "outside", "thickness", "radii"}
    assert draft.draft
    assert not full.draft
    # The lines on the blank are the same at every detail.
    assert fresh(draft) == everything | {"points", "stage"}
    assert fresh(full) == everything | {"stage"}
    # A thicker finish leaves the thread as it was.
    _, thicker, *_ = receiver.done(request(3, subject(relief__gap=0.6, finish__coats=3)))
    assert fresh(thicker) == {"outside", "thickness", "radii", "stage"}


def test_while_a_slider_is_held_only_drafts_are_packed() -> None:
    receiver = Receiver()
    for number, gap in enumerate((0.5, 0.55, 0.6)):
        messages = receiver.done(request(number, subject(relief__gap=gap), held=True))
        assert [message.draft for message in messages] == [True]


def test_a_draft_does_not_wait_for_the_full_build_before_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made, begun, released, built = StagePacker.made, Event(), Event(), []

    def slow(self: StagePacker, one: Subject, state: str, detail: Detail, step: Any) -> Any:
        if detail is Detail.NORMAL and not begun.is_set():
            begun.set()
            assert released.wait(60)
        result = made(self, one, state, detail, step)
        built.append((round(one.design.relief.gap / IN, 3), detail))
        return result

    monkeypatch.setattr(StagePacker, "made", slow)
    receiver = Receiver()
    first, second = request(1, subject(relief__gap=0.5)), request(2, subject(relief__gap=0.6))
    (draft,) = receiver.first(first, 1)
    assert draft.draft
    while not begun.is_set():
        assert receiver.work.advance(first)
    # The full build of the first design stands still, in the midst of a layer.
    (draft,) = receiver.first(second, 1)
    assert (draft.number, draft.draft) == (2, True)
    released.set()
    full, *_ = receiver.done(second)
    assert (full.number, full.draft) == (2, False)
    # It was given up before its next layer.
    assert (0.5, Detail.NORMAL) not in built
    assert (0.6, Detail.NORMAL) in built


def test_a_worker_that_starts_anew_sends_no_draft_of_what_the_page_has_in_full() -> None:
    messages = Receiver().done(request(1, subject(), complete=frozenset({""})))
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


def test_every_stage_gets_its_draft_before_any_gets_more() -> None:
    receiver = Receiver()
    one, other = subject(), subject(relief__gap=0.6)
    compared = LightSetting(LightSpec(), CameraSpec(), 1.6, pinned="A1")
    looked_at = {"lights": {7: SETTING, 8: compared}, "pinned": {"A1": one}}
    # Two drafts, two lights, and the full detail of one design after the other.
    receiver.first(request(1, one, stages={"": 1, "A1": 2}, **looked_at), 7)
    stages = receiver.first(request(3, other, stages={"": 3, "A1": 3}, **looked_at), 4)
    assert [(stage.pinned, stage.number, stage.draft) for stage in stages] == [
        ("", 3, True), ("A1", 3, True), ("", 3, False), ("A1", 3, False),
    ]  # fmt: skip
    # The pinned design is there in full from before, and costs neither time nor bytes.
    assert not told(stages[1])["designs"]["A"][FINISHED]["draft"]
    assert fresh(stages[1]) == {"stage"}
    assert set(told(stages[0])["designs"]) == {"B"}


def test_a_pin_is_packed_from_what_is_open_and_sends_nothing_to_others() -> None:
    receiver = Receiver()
    one = subject()
    _, before = receiver.first(request(1, one), 2)
    assert not before.draft
    compared = LightSetting(LightSpec(), CameraSpec(), 1.6, pinned="A1")
    pinned = request(1, one, stages={"": 1, "A1": 2}, pinned={"A1": one}, lights={8: compared})
    stage, light = receiver.first(pinned, 2)
    assert (stage.pinned, stage.draft, fresh(stage)) == ("A1", False, {"stage"})
    assert set(json.loads(light.parcel.blobs[light.parcel.name])) == {"A", "B"}
    # The page holds what either stage names, until nobody looks at it any more.
    assert stage.held == before.held | set(stage.parcel.blobs)
    (alone,) = receiver.first(request(3, one, stages={"": 3}), 1)
    assert stage.parcel.name not in alone.held
    assert before.parcel.name in alone.held


def test_a_pinned_design_that_cannot_be_wound_leaves_the_others_their_stage() -> None:
    receiver = Receiver()
    bad = {"A1": subject(cover__thread="of no shelf")}
    wanted = request(1, subject(), stages={"A1": 1, "": 2}, pinned=bad, held=True)
    problem, stage = receiver.done(wanted)
    assert (problem.pinned, problem.number) == ("A1", 1)
    assert isinstance(stage, PackedStage)
    assert (stage.pinned, stage.number) == ("", 2)


def test_highlights_are_held_alike_for_both_sides() -> None:
    def brightest(silver: bool, *, hold: bool) -> list[float]:
        setting = LightSetting(LightSpec(hold_highlights=hold), CameraSpec(), 1.6, 0, "A1")
        bright = Subject(
            with_changes(samples.load("half-scale"), {"cover.thread": "Heron Silver A"}),
            Shelf.shipped(),
        )
        designs = {"B": subject(), "A1": bright if silver else subject()}
        sides = sides_of(designs, "A1")
        parcel = LightPacker().light(sides, setting)
        found = json.loads(parcel.blobs[parcel.name])
        return [found[side]["maps"][0]["stops"][1] for side in ("A", "B")]

    plain, held = brightest(True, hold=False), brightest(True, hold=True)
    darker = [before - now for before, now in zip(plain, held, strict=True)]
    assert darker[0] > 0.5
    assert darker[1] == pytest.approx(darker[0], abs=0.01)
    assert brightest(False, hold=True) == brightest(False, hold=False)
