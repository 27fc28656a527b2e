"""New layers go with the design that they are added to."""

import dataclasses

import numpy as np
import pytest

from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import Design, with_changes
from scenes.design.layers import KINDS, LAYER_KINDS
from scenes.editing import layer_defaults
from scenes.files import samples
from scenes.files.companion_files import SHIPPED
from scenes.kinds.cover.model import CoverModel
from scenes.kinds.decal.model import Decal
from scenes.kinds.seam_trim.model import SeamTrimModel
from scenes.problems import DesignProblem

SHELF = Shelf.shipped()

BASES = {
    "plain": ("heron-plate", {"layers.0.margin": 4}),
    "in inches, short and without a relief": ("ringed-guide", {}),
    "without a cover": ("slow-beat", {}),
    "with everything": ("half-scale", {}),
}


@pytest.fixture(params=BASES)
def design(request) -> Design:
    name, changes = BASES[request.param]
    return with_changes(samples.load(name).without_variants(), changes)


def room(design: Design) -> tuple[float, float]:
    """What grips and guides leave of the blank round the wrap, read from the design itself."""
    middle = design.placement.middle
    spans = [one.span for one in design.blank.fitted]
    low = [b for _, b in spans if b < middle] + [design.blank.stations[0].at]
    high = [a for a, _ in spans if a > middle] + [design.blank.stations[-1].at]
    return max(low), min(high)


@pytest.mark.parametrize("kind", LAYER_KINDS)
def test_every_kind_can_be_added(design, kind):
    if kind == "seam trim" and design.relief is None:
        # No relief, no seam: there is nothing for one to lie along.
        with pytest.raises(DesignProblem, match="no edge to lie along here; give a relief"):
            layer_defaults.added(design, kind, SHELF, SHIPPED)
        return
    made = layer_defaults.added(design, kind, SHELF, SHIPPED)
    new = [one for one in made.layers if one not in design.layers]
    assert kind in {one.kind for one in new}
    assert {one.kind for one in new} <= {kind, "cover", *(one.kind for one in design.layers)}
    assert set(made.warnings) <= set(design.warnings)
    Plan(made, SHELF, SHIPPED).prepare()
    first, last = room(design)
    start, end = next(one for one in made.layers if one.kind == kind).extent(made.placement)
    assert first <= start < end <= last


def test_a_new_thread_is_seen_on_what_is_there():
    """CIEDE2000 above 2.3 is a just noticeable difference ([Mahy1994], for CIELAB)."""
    from materials.colour import linear_to_lab
    from materials.difference import delta_e_2000

    for name in ("half-scale", "ringed-guide", "shoal-panel"):
        design = samples.load(name).without_variants()
        ground = [one for one in design.layers if isinstance(one, CoverModel)][-1].thread
        made = layer_defaults.added(design, "rings", SHELF, SHIPPED)
        (ring,) = [one for one in made.layers if one.kind == "rings" and one not in design.layers]
        colours = [SHELF.thread(one).linear_rgb for one in (ground, ring.threads[0].thread)]
        lab = linear_to_lab(np.array(colours))
        assert delta_e_2000(lab[0], lab[1]) > 5


def test_a_new_trim_lies_beside_the_one_that_is_there():
    design = samples.load("half-scale").without_variants()
    made = layer_defaults.added(design, "seam trim", SHELF, SHIPPED)
    old, new = [one for one in made.layers if isinstance(one, SeamTrimModel)]
    # Ten threads of 0.17 mm side by side.
    assert new.offset == pytest.approx(old.offset + 10 * 0.17)


def test_letters_are_the_title_and_dark_on_light_thread():
    made = layer_defaults.added(
        samples.load("heron-plate").without_variants(), "decal", SHELF, SHIPPED
    )
    new = [one for one in made.layers if isinstance(one, Decal)][-1]
    assert new.text == "Heron plate"
    assert new.ink is not None
    assert int(new.ink[1:3], 16) < 64


def test_a_place_may_be_given():
    design = samples.load("heron-plate").without_variants()
    made = layer_defaults.added(design, "cover", SHELF, SHIPPED, at=0)
    assert made.layers[0].kind == "cover"
    assert made.layers[0].name == "cover 2"
    with pytest.raises(DesignProblem, match="99 is no position"):
        layer_defaults.added(design, "cover", SHELF, SHIPPED, at=99)


def test_a_kind_that_is_not_is_refused():
    with pytest.raises(DesignProblem, match="did you mean mesh strip"):
        layer_defaults.added(samples.load("half-scale"), "mesh stripe", SHELF, SHIPPED)


@pytest.mark.parametrize("kind", LAYER_KINDS)
def test_a_kind_without_a_word_or_a_sample_is_filled_from_its_fields(kind, monkeypatch):
    """What is made so is right in a plain design, or refused in one sentence."""
    design = samples.load("heron-plate").without_variants()
    mute = tuple(dataclasses.replace(one, defaults=None) for one in KINDS)
    monkeypatch.setattr(layer_defaults, "KINDS", mute)
    monkeypatch.setattr(samples, "names", tuple)
    if kind in ("mesh strip", "seam trim", "crossed pattern", "decal", "woven panel"):
        # What these must give hangs together, which no field says alone.
        with pytest.raises(DesignProblem, match=r"\.$"):
            layer_defaults.added(design, kind, SHELF, SHIPPED)
        return
    made = layer_defaults.added(design, kind, SHELF, SHIPPED)
    assert kind in {one.kind for one in made.layers}
