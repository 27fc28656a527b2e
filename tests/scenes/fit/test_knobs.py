"""How far a fit may change a field: what builders use, beyond which it goes only when asked."""

import pytest

from materials.shelf import Shelf
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.fit.knobs import knobs_for, switches_for
from scenes.fit.measures import MEASURES, Measured
from scenes.fit.search import fit
from scenes.fit.trials import Trials
from scenes.fit.wishes import read_request

SHELF = Shelf.shipped()
WEIGHT, LENGTH = MEASURES["weight"], MEASURES["wrap_length"]
ENDS = ("placement.from", "placement.to")


def bounds(design, measure, *free, unusual=False, **how):
    """Bounds of the ends of a wrap, by path."""
    measured = Measured(design.without_variants(), SHELF)
    knobs = knobs_for(measured, [measure], free, (), unusual=unusual, **how)
    return {knob.path: (knob.low, knob.high) for knob in knobs if knob.path in ENDS}


def film(measured):
    """A weight that needs no wrap: the finish alone, as a film on the blank."""
    finish = measured.design.finish
    return finish.coats * finish.coat_thickness * measured.design.placement.length / 30


@pytest.fixture
def light(monkeypatch):
    """Weights that take no time."""
    monkeypatch.setattr(Measured, "mass", property(film))


def test_an_end_moves_by_half_of_the_wraps_length():
    # The wrap runs from 326 to 446 mm.
    design = samples.load("half-scale")
    assert bounds(design, WEIGHT) == {"placement.to": (386, 506)}
    assert bounds(design, WEIGHT, "placement.from") == {"placement.from": (266, 386)}
    assert bounds(design, WEIGHT, *ENDS) == {
        "placement.from": (296, 356),
        "placement.to": (416, 476),
    }


def test_where_one_end_is_set_the_other_is_moved_from_there():
    found = bounds(samples.load("half-scale"), WEIGHT, settings={"placement.from": 480})
    assert found == {"placement.to": (446, 660)}  # the present end, to one and a half of 120 mm


def test_a_length_that_is_wished_may_be_any_that_builders_wind():
    design = samples.load("half-scale")
    expected = {"placement.to": (326 + 10, 326 + 600)}
    assert bounds(design, LENGTH) == expected
    assert bounds(design, WEIGHT, unusual=True) == expected
    bare = with_changes(samples.load("cord-lattice").without_variants(), {"blank.fitted": []})
    found = fit(bare, SHELF, read_request(Measured(bare, SHELF), ["wrap_length=250"]))
    assert found.met
    assert found.solutions[0].changes == {"placement.to": 506}


def test_an_end_within_a_guide_goes_no_deeper():
    guide = {"kind": "guide", "at": 465, "length": 30, "thread": "Heron Silver A"}
    design = samples.load("half-scale")
    design = with_changes(design, {"blank.fitted": [guide]})
    assert any("reaches into the wrap" in warning for warning in design.warnings)
    for unusual in (False, True):
        assert bounds(design, WEIGHT, unusual=unusual)["placement.to"][1] == 446


@pytest.mark.usefixtures("light")
def test_the_nearest_to_an_absurd_weight_is_still_a_wrap():
    design = samples.load("half-scale")
    for asked in ({"at_most": ["weight=0.001"]}, {"at_least": ["weight=500"]}):
        measured = Measured(design.without_variants(), SHELF)
        found = fit(design, SHELF, read_request(measured, **asked), free=["placement.to"])
        assert not found.met
        assert 60 <= found.solutions[0].design.placement.length <= 180


def test_a_number_far_from_usual_only_where_it_is_wished_for_itself():
    measured = Measured(samples.load("cord-lattice").without_variants(), SHELF)

    def most(name, *, unusual=False):
        of = [MEASURES[name]]
        switches = switches_for(measured, SHELF, of, (), (), unusual=unusual)
        return max(switch.value for switch in switches if switch.path == "relief.count")

    assert most("weight") == 16
    assert most("weight", unusual=True) == 60
    assert most("diamonds_round") == 60


def test_a_wrap_many_times_as_large_is_not_built_to_be_weighed(monkeypatch):
    # Cords of a tenth of a millimetre need 27 times the points of those in the sample, and 2 GB.
    design = samples.load("cord-lattice").without_variants()
    monkeypatch.setattr(Measured, "mass", property(lambda _: pytest.fail("it is built")))
    thin = Trials(design, SHELF, {}).evaluate({"relief.cord_diameter": 0.1})
    assert thin.valid
    assert thin.value(WEIGHT) is None
    monkeypatch.setattr(Measured, "mass", property(film))
    assert Trials(design, SHELF, {}).evaluate({"relief.cord_diameter": 0.5}).value(WEIGHT) > 0
    # Of a design that the builder set so, that is the present size.
    asked = Trials(design, SHELF, {"relief.cord_diameter": 0.1})
    assert asked.evaluate({}).value(WEIGHT) > 0
