"""Benches of changed samples, each worked out once."""

import json
from collections.abc import Callable, Mapping

import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.report import bench_report
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import with_changes
from scenes.figures.figures import BenchReport
from scenes.files import samples
from tests.kept import kept

Changes = Mapping[str, object]
CYLINDER: Changes = {
    "blank.stations": [{"at": 80, "diameter": 20}, {"at": 650, "diameter": 20}],
    "blank.fitted": [],
}


@kept
def _wrap(name: str, changes: str) -> Wrap:
    design = with_changes(samples.load(name).without_variants(), json.loads(changes))
    return build(Plan(design, Shelf.shipped()), Detail.DRAFT)


@kept
def _bench(name: str, changes: str) -> BenchReport:
    return bench_report(_wrap(name, changes))


@pytest.fixture(scope="session")
def wrapped() -> Callable[..., Wrap]:
    """Build a sample with some changes."""
    return lambda name, changes=None: _wrap(name, json.dumps(changes or {"finish.coats": 0}))


@pytest.fixture(scope="session")
def worked() -> Callable[..., BenchReport]:
    """Work out the bench of a sample with some changes; dry, unless they say otherwise."""
    return lambda name, changes=None: _bench(name, json.dumps(changes or {"finish.coats": 0}))


@pytest.fixture
def cylinder() -> Changes:
    """Changes that make the blank a 20 mm cylinder, with nothing on it."""
    return CYLINDER
