"""Warnings that an offered design brings: said with it, and a reason to offer it last."""

import pytest

from materials.shelf import Shelf
from scenes.bench.report import bench_report
from scenes.building.build import build_for_bench
from scenes.design.document import with_changes
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.fit import search
from scenes.fit.measures import Measured
from scenes.fit.offer_warnings import early_warnings, new_warnings
from scenes.fit.search import fit
from scenes.fit.wishes import read_request

SHELF = Shelf.shipped()


def measured(name, **changes):
    """A sample with some values changed, by path with two underscores for its full stop."""
    named = {path.replace("__", "."): value for path, value in changes.items()}
    return Measured(with_changes(samples.load(name).without_variants(), named), SHELF)


def bench_warnings(one):
    """Warnings of the bench report, read without the code of the fit."""
    written = FigureFormatter(one.design.units)
    report = bench_report(build_for_bench(one.plan))
    return {written.sentence(warning) for warning in report.warnings}


def test_what_is_new_is_in_the_bench_report_of_the_one_and_not_of_the_other():
    before = measured("two-start-band")
    after = measured("two-start-band", relief__gap=0, finish__coats=5)
    (told,) = new_warnings(before, [after])
    assert any("no thread fits here" in warning for warning in told)
    assert set(told) <= bench_warnings(after) - bench_warnings(before)


def test_a_warning_with_other_numbers_is_not_new():
    before, after = measured("half-scale"), measured("half-scale", relief__gap=20)
    air = [
        next(text for text in bench_warnings(one) if "bubbles" in text) for one in (before, after)
    ]
    assert air[0] != air[1]
    assert list(new_warnings(before, [after, before])) == [[], []]


def test_what_needs_no_wrap_is_told_without_one(monkeypatch):
    monkeypatch.setattr(
        "scenes.fit.offer_warnings.build_for_bench", lambda *_, **__: pytest.fail("it is laid")
    )
    closed = measured("half-scale", relief__gap=0)
    assert any("no thread fits here" in text for _, text in early_warnings(closed))


def test_offers_without_a_new_warning_come_first(monkeypatch):
    design = samples.load("cord-lattice")
    request = read_request(Measured(design.without_variants(), SHELF), ["meet"])
    usual = [set(one.changes) for one in fit(design, SHELF, request).solutions]
    assert usual[0] == {"relief.angle"}

    def warnings(one):
        relief = one.design.relief
        if relief.angle != design.relief.angle and relief.count == design.relief.count:
            yield "relief: it is too steep", "relief: it is too steep."

    monkeypatch.setattr(search, "early_warnings", warnings)
    warned = [set(one.changes) == {"relief.angle"} for one in fit(design, SHELF, request).solutions]
    assert warned == sorted(warned)
    assert not warned[0]
