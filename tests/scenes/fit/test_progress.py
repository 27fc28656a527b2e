"""Progress of a fit: the stages of the search, and how much of each is done."""

import itertools

from materials.shelf import Shelf
from scenes.files import samples
from scenes.fit.measures import Measured
from scenes.fit.search import fit
from scenes.fit.wishes import read_request

SHELF = Shelf.shipped()


def test_every_stage_goes_from_nothing_done_towards_all_of_it():
    design = samples.load("half-scale")
    request = read_request(Measured(design.without_variants(), SHELF), ["cells_along=3"])
    seen = []
    found = fit(design, SHELF, request, free=["relief.angle"], step=seen.append)
    assert not found.met
    tried = [one.tried for one in seen]
    assert tried == sorted(tried)
    stages = {
        stage: list(of_stage) for stage, of_stage in itertools.groupby(seen, lambda one: one.stage)
    }
    assert list(stages) == list(range(max(stages) + 1))
    for stage, of_stage in stages.items():
        assert stage <= of_stage[-1].stages or not stage
        shares = [one.share for one in of_stage]
        assert shares == sorted(shares)
        assert shares[0] == 0
        assert shares[-1] <= 1
    nearest = next(one for one in stages.values() if one[0].words == "the nearest design")
    assert nearest[-1].share > 0.7
    assert stages[1][0].text() == "small changes (step 1 of at most 7)"
