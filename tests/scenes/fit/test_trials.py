"""Trial designs of a fit: what is kept of them."""

import gc

from materials.shelf import Shelf
from scenes.building.build import Wrap
from scenes.files import samples
from scenes.fit.measures import MEASURES, Measured
from scenes.fit.trials import Trials

SHELF = Shelf.shipped()
TURNS = MEASURES["turns"]


def alive(kind):
    gc.collect()
    return sum(isinstance(one, kind) for one in gc.get_objects())


def test_of_many_trials_their_values_are_kept_and_not_their_plans():
    trials = Trials(samples.load("half-scale").without_variants(), SHELF, {})
    before = alive(Measured)
    made = [trials.evaluate({"relief.angle": 40 + step / 100}) for step in range(60)]
    turns = [one.value(TURNS) for one in made]
    assert len(set(turns)) == len(made)
    assert alive(Measured) - before < 20
    assert [one.value(TURNS) for one in made] == turns


def test_a_measure_that_is_first_read_late_is_that_of_the_trial():
    trials = Trials(samples.load("half-scale").without_variants(), SHELF, {})
    first = trials.evaluate({"relief.angle": 41.5})
    for step in range(40):
        trials.evaluate({"relief.angle": 50 + step / 10})
    fresh = Measured(first.design, SHELF)
    assert first.design.layers[0].angle != trials.design.layers[0].angle
    assert first.value(TURNS) == TURNS.of(fresh)
    assert first.can_be_wound()


def test_a_weighed_wrap_is_not_kept():
    before = alive(Wrap)
    measured = Measured(samples.load("half-scale").without_variants(), SHELF)
    assert MEASURES["weight"].of(measured) > 0
    assert MEASURES["cover_thread"].of(measured) > 0
    assert alive(Wrap) == before
