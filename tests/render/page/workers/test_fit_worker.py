"""What the process of wishes answers: the command's search, in the words of the page."""

from typing import Any, cast

import pytest

from materials.shelf import Shelf
from render.page.workers import fit_worker
from render.page.workers.fit_worker import FitRequest, FitResult, FitStep, WishRequest
from render.request.subject import Subject
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.kinds.builder import BandBuilder
from scenes.kinds.mesh_strip.figures import strip_numbers
from scenes.quantities import Units

DESIGN = samples.load("half-scale").without_variants()
SUBJECT = Subject(DESIGN, Shelf.shipped())


class PageEnd:
    def __init__(self) -> None:
        self.sent: list[object] = []

    def send(self, message: object) -> None:
        self.sent.append(message)


def search(**given: Any) -> tuple[FitResult, list[object]]:
    pipe = PageEnd()
    request = FitRequest(4, SUBJECT, given.pop("units", Units.MM), **given)
    return fit_worker._result(request, cast(Any, pipe)), pipe.sent


def test_what_may_be_wished_is_said_in_the_units_of_the_page() -> None:
    found = fit_worker.choices_for(WishRequest(3, SUBJECT, Units.IN))
    assert (found.number, found.problem) == (3, "")
    by_name = {one["name"]: one for one in found.measures}
    # The design's gap is 21.2 mm.
    assert by_name["gap"]["now"] == "0.8346 in"
    assert by_name["gap"]["unit"] == "in"
    assert by_name["turns"]["counted"]
    assert "diamonds" not in by_name
    assert {"path": "relief.angle", "label": "Angle of the relief"} in found.fields
    # Before the wrap is built all are named, and what is read off it has no value yet.
    early = fit_worker.choices_for(WishRequest(3, SUBJECT, Units.IN), built=False)
    assert [one["name"] for one in early.measures] == [one["name"] for one in found.measures]
    without = [one["name"] for one in early.measures if not one["now"]]
    assert without == ["weight", "cover_thread"]
    assert (early.fields, early.problem) == (found.fields, "")


@pytest.mark.parametrize("units", list(Units))
def test_what_is_found_meets_the_wish_when_it_is_taken(
    units: Units, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fit_worker, "_STEP_PERIOD", 0.0)
    found, sent = search(wish=("turns=2",), free=("relief.angle",), units=units)
    assert found.heading == "Turns 2: 1 design."
    assert found.columns[0] == "turns"
    before, row = found.rows
    assert before["changes"] == {}
    assert row["cells"][0] == "2"
    (line,) = row["lines"]
    assert line.startswith("Angle of the relief: 45 degrees → ")
    taken = with_changes(DESIGN.model_copy(update={"units": units}), row["changes"])
    builder = next(
        one for one in Plan(taken, SUBJECT.shelf).builders if isinstance(one, BandBuilder)
    )
    assert strip_numbers(cast(Any, builder)).turns == pytest.approx(2, abs=5e-4)
    steps = [one for one in sent if isinstance(one, FitStep)]
    tried = [one.tried for one in steps]
    assert tried == sorted(tried)
    assert tried[-1] > 0
    assert steps[0].stage == "the present design"
    assert steps[-2].stage == "small changes (step 1 of at most 7)"
    shares = [one.share for one in steps]
    assert shares == sorted(shares)
    assert 0 < steps[-2].share < 1
    assert steps[-1].stage == "what check warns of in the designs found"
    assert steps[-1].share == 1
    assert found.seconds > 0
    # Where it is known how long such a search takes, the time left is said from the beginning.
    _, sent = search(wish=("turns=2",), free=("relief.angle",), units=units, expected=1000.0)
    lefts = [one.left for one in sent if isinstance(one, FitStep)]
    assert all(left is not None and 900 < left <= 1000 for left in lefts)


def test_an_offer_says_what_check_warns_of_then() -> None:
    # Without a gap the trim of the sample has no room.
    found, _ = search(wish=("gap=0",), free=("relief.gap",))
    before, row = found.rows
    assert before["warnings"] == []
    assert any("no thread fits here" in warning for warning in row["warnings"])
    assert not any("relief." in warning for warning in row["warnings"])


@pytest.mark.parametrize(
    ("wish", "sentence"),
    [
        ((), "There is no wish yet; say what it should come to."),
        (("turns=soon",), "Turns = "),
        (("turns=<5",), "Give the value alone"),
        (("relief.angle=400",), "Angle of the relief: "),
    ],
)
def test_a_wish_that_cannot_be_read_gets_one_sentence(wish: tuple[str, ...], sentence: str) -> None:
    found, _ = search(wish=wish)
    assert found.problem.startswith(sentence)
    assert found.rows == []


def test_what_is_not_to_be_had_is_said_with_the_nearest() -> None:
    found, _ = search(wish=("gap=60",), free=("relief.angle",))
    assert found.heading == "Nearest possible:"
    assert found.reason
    assert len(found.rows) == 2
