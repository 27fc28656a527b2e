"""Colour schemes, held against colour-science, which shares no code with them."""

import colour
import numpy as np
import pytest

from materials.shelf import Shelf
from scenes.design.document import with_changes
from scenes.design.threads import check_threads, thread_names
from scenes.files import samples
from scenes.files.storage import parse
from scenes.palettes.harmony import NEUTRAL, TEMPLATES, degrees_outside
from scenes.palettes.schemes import (
    FROM_BLANK,
    FROM_EACH_OTHER,
    FROM_GROUND,
    Scheme,
    roles_of,
    schemes,
)
from tests.scenes.design.test_rod import FURTHER
from tests.scenes.stage.test_guide_schemes import BASE, RODS

SHELF = Shelf.shipped()
ROUNDING = 0.05  # of the matrix that sRGB is defined by, in CIEDE2000


def lab(text: str) -> np.ndarray:
    rgb = np.array([int(text[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    found: np.ndarray = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(rgb))
    return found


def apart(one: str, other: str) -> float:
    return float(colour.delta_E(lab(one), lab(other), method="CIE 2000"))


def colours(scheme: Scheme) -> list[str]:
    return [SHELF.thread(name).colour for name in scheme.threads]


@pytest.mark.parametrize("name", ["half-scale", "filled-chevrons", "open-diamonds", "vine-band"])
def test_schemes_are_seen_to_differ_and_move_nothing(name: str) -> None:
    design = samples.load(name)
    found = schemes(design, SHELF)
    assert len(found) == 8
    assert len({scheme.name for scheme in found}) == 8
    assert len({scheme.rule for scheme in found}) >= 5
    for scheme in found:
        ground, *others = colours(scheme)
        assert apart(ground, design.blank.colour) >= FROM_BLANK - ROUNDING
        assert all(apart(ground, other) >= FROM_GROUND - ROUNDING for other in others)
        for place, one in enumerate(others):
            assert all(apart(one, other) >= FROM_EACH_OTHER - ROUNDING for other in others[:place])
        made = with_changes(design, scheme.changes)
        check_threads(made, SHELF)
        # What was one thread is one thread still, and as thick.
        pairs = {
            (before, now)
            for (_, before), (_, now) in zip(thread_names(design), thread_names(made), strict=True)
        }
        assert len(pairs) == len(roles_of(design))
        for before, now in pairs:
            assert SHELF.thread(now).diameter_mm == SHELF.thread(before).diameter_mm


def test_hues_lie_in_the_sectors_of_the_rule() -> None:
    found = schemes(samples.load("filled-chevrons"), SHELF)
    rules = {template.name: template for template in TEMPLATES}
    checked = 0
    for scheme in found:
        values = np.array([lab(text) for text in colours(scheme)])
        hues = np.degrees(np.arctan2(values[:, 2], values[:, 1]))
        coloured = np.hypot(values[:, 1], values[:, 2]) > NEUTRAL + 0.1
        if not coloured[0]:
            continue
        checked += 1
        outside = [
            degrees_outside(rules[scheme.rule], float(hues[0]), float(hue))
            for hue in hues[coloured]
        ]
        assert all(min(sectors) < 0.2 for sectors in outside), scheme
        # Every sector has a thread, or it would be another rule.
        assert all(min(sector) < 0.2 for sector in zip(*outside, strict=True)), scheme
    assert checked >= 5


def test_sectors_are_those_of_the_source() -> None:
    # [CohenOr2006], figure 2: parts of the circle by type, here I, V, Y, i, L twice, X.
    widths = [sorted(width / 360 for _, width in one.sectors) for one in TEMPLATES]
    assert widths == [
        pytest.approx(parts)
        for parts in (
            [0.05, 0.05],
            [0.26],
            [0.05, 0.26],
            [0.05],
            [0.05, 0.22],
            [0.05, 0.22],
            [0.26, 0.26],
        )
    ]
    opposite = TEMPLATES[0]
    assert degrees_outside(opposite, 170.0, -170.0) == pytest.approx([11.0, 151.0])


def test_threads_of_ones_own_go_first() -> None:
    design = samples.load("full-mesh")
    own = [SHELF.thread(name) for name in ("Rowan Red A", "Tarn Teal A")]
    assert roles_of(design)[0].thread == design.cover.thread

    def uses(found: list[Scheme]) -> int:
        return sum(thread.name in scheme.threads for scheme in found for thread in own)

    assert uses(schemes(design, SHELF, own)) > uses(schemes(design, SHELF))


def test_a_design_without_threads_and_a_shelf_without_others_have_none() -> None:
    assert schemes(samples.load("marbled-panel"), SHELF) == []
    design = samples.load("full-mesh")
    only = Shelf(SHELF.thread(role.thread) for role in roles_of(design))
    assert schemes(design, only) == []
    assert schemes(samples.load("heron-plate"), SHELF)[0].rule == "a thread by itself"


def test_a_scheme_reaches_every_wrap_and_the_guides() -> None:
    rod = parse(BASE + RODS + FURTHER)
    named = {path for path, _ in thread_names(rod)}
    assert "wraps.0.layers.0.thread" in named
    assert "blank.guide_schemes.0.thread" in named
    found = schemes(rod, SHELF)
    assert found
    for scheme in found:
        assert set(scheme.changes) == named
        made = with_changes(rod, scheme.changes)
        # One thread of two wraps is one thread still.
        assert made.blank.guide_schemes[0].thread == made.wraps[0].layers[0].thread
