"""The sample designs."""

import re

import pytest

from materials.shelf import Shelf
from scenes.design.threads import check_threads
from scenes.design.variants import variants
from scenes.files import samples
from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.mesh_strip.model import MeshStripModel
from scenes.problems import DesignProblem
from scenes.quantities import Units


def test_there_are_at_least_five() -> None:
    assert {"half-scale", "cord-lattice", "two-start-band", "full-mesh", "graded-trim"} <= set(
        samples.names()
    )


@pytest.mark.parametrize("name", samples.names())
def test_a_sample_is_complete_and_good(name: str) -> None:
    design = samples.load(name)
    assert design.warnings == ()
    check_threads(design, Shelf.shipped())
    text = samples.text(name)
    assert "invented" in text.lower()
    assert text.count("#") >= 8
    for table in ("[blank]", "[[blank.fitted]]", "[placement]", "[finish]", "[light]", "[camera]"):
        assert table in text
    assert len(variants(design)) >= 3
    for _, made in variants(design):
        assert made.warnings == ()


@pytest.mark.parametrize("name", samples.names())
def test_a_sample_has_a_summary_of_one_line(name: str) -> None:
    assert 20 < len(samples.summary(name)) <= 100
    assert "\n" not in samples.summary(name)


def test_each_sample_is_of_another_kind() -> None:
    half, lattice, band, full, graded = (
        samples.load(name)
        for name in ("half-scale", "cord-lattice", "two-start-band", "full-mesh", "graded-trim")
    )
    assert isinstance(half.relief, MeshStripModel)
    assert half.relief.gap == 21.2
    assert isinstance(lattice.relief, CordLattice)
    assert isinstance(band.relief, MeshStripModel)
    assert (band.relief.starts, band.units) == (2, Units.IN)
    assert isinstance(full.relief, MeshStripModel)
    assert full.relief.covered_share == 1
    assert graded.trims[0].grade is not None
    summaries = {samples.summary(name) for name in samples.names()}
    assert len(summaries) == len(samples.names())


def test_an_unknown_sample() -> None:
    assert samples.text("half-scale.toml") == samples.text("half-scale")
    with pytest.raises(DesignProblem, match="did you mean half-scale"):
        samples.text("half-sclae")
    with pytest.raises(DesignProblem, match="is not a sample; give badge-panel, boat-rod, "):
        samples.load("../../etc/passwd")


@pytest.mark.parametrize("name", [name for name in samples.names() if name != "half-scale"])
def test_no_comment_beside_a_value_names_a_length_that_an_edit_makes_wrong(name: str) -> None:
    beside = re.findall(r"(?m)^[^#\n]*=[^#\n]*#(.*)$", samples.text(name))
    assert beside
    assert [words for words in beside if re.search(r"\d (mm|in)\b|\babout [\d.]+", words)] == []
