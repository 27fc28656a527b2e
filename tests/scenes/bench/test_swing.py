"""Balance and swing of a rod with its wrap, against closed forms of rods and tubes."""

import math
from typing import Any

import pytest

from geometry.rod_mass import STANDARD_GRAVITY
from materials.shelf import Shelf
from scenes.bench.swing import swing_figures, wound_mass
from scenes.building.build import Plan
from scenes.customer.number import design_number
from scenes.design.document import Design, design_from, document_of
from scenes.figures.figures import Figure, Kind, Mark, sentence
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.files.companion_files import SHIPPED
from scenes.kinds.entries import Mass
from scenes.problems import DesignProblem
from scenes.quantities import Units

SHELF = Shelf.shipped()
GRAMS = 5.0
"""Weight of the wrap, of which a tenth is uncertain."""


def rod(fitted: list[dict[str, Any]] | None = None, **blank: float) -> Design:
    """An even blank of 20 mm, with a wrap from 318 to 454 mm."""
    document = document_of(samples.load("half-scale").without_variants())
    document["layers"] = [one for one in document["layers"] if one["kind"] == "cover"]
    document["blank"] = {
        "colour": "#14171b",
        "stations": [{"at": 80, "diameter": 20}, {"at": 650, "diameter": 20}],
        "fitted": fitted or [],
        **blank,
    }
    return design_from(document)


def figures(design: Design) -> dict[str, Figure]:
    plan = Plan(design, SHELF)
    wrap = Mass("wrap", GRAMS, GRAMS / 10, plan.middle, sentence("weighed"))
    made = swing_figures(design.blank, [wound_mass(plan, [wrap])], GRAMS / 10)
    return {figure.key: figure for figure in made}


def wrap_inertia(design: Design, pivot: float) -> float:
    """A thin even rod of the wrap's length and weight, by the parallel axes."""
    plan = Plan(design, SHELF)
    length = plan.wound_span[1] - plan.wound_span[0]
    return GRAMS * (length**2 / 12 + (plan.middle - pivot) ** 2)


def test_an_even_blank_swings_about_its_butt_by_hand() -> None:
    # 100 g over 2000 mm balances in its middle: m L² / 3 about the butt, whatever is assumed.
    design = rod(mass=100, balance=1000, length=2000)
    found = figures(design)
    inertia = 100 * 2000**2 / 3 + wrap_inertia(design, 0)
    moment = 100 * 1000 + GRAMS * Plan(design, SHELF).middle
    assert found["inertia"].value == pytest.approx(inertia)
    assert found["inertia"].bounds == pytest.approx((inertia, inertia))
    period = 2 * math.pi * math.sqrt(inertia / (moment * STANDARD_GRAVITY))
    assert found["period"].value == pytest.approx(period)
    bare = 2 * math.pi * math.sqrt(2 / 3 * 2000 / STANDARD_GRAVITY)
    assert found["period_change"].value == pytest.approx(period / bare - 1)
    # The wrap lies nearer the butt than the centre of oscillation, at 2 L / 3: it swings faster.
    assert found["period_change"].value < 0
    assert found["inertia_change"].value == pytest.approx(
        wrap_inertia(design, 0) / (100 * 2000**2 / 3)
    )
    assert Mark.ASSUMED in found["period"].marks


def test_a_blank_that_was_only_weighed_has_no_swing() -> None:
    found = figures(rod(mass=100, balance=800, reel_seat=250))
    assert set(found) == {"balance", "balance_change", "swing", "swing_change"}
    assert figures(rod()) == {}
    assert figures(rod(length=2000)) == {}


def test_bounds_hold_what_the_taper_may_be() -> None:
    found = figures(rod(mass=100, balance=800, length=2000, reel_seat=250))
    for key in ("inertia", "inertia_change", "period", "period_change"):
        least, most = found[key].bounds
        assert least < found[key].value < most
    assert "about the reel seat" in found["period"].name
    # The period is known to some hundredths of a second; that of the change shows no difference.
    written = FigureFormatter(Units.MM)
    assert " to " in written.figure(found["period"])
    assert written.figure(found["period_change"]).endswith(" %")


def test_a_tube_is_weighed_by_its_wall() -> None:
    # pi (10² - 9²) mm² of 1.5 g/cm3 over 2000 mm; m (L² / 12 + (R² + r²) / 4) about its middle.
    design = rod(length=2000, wall=1, density=1.5, reel_seat=300)
    found = figures(design)
    mass = math.pi * 19 * 2000 * 1.5e-3
    assert found["blank_mass"].value == pytest.approx(mass)
    assert found["blank_mass"].plus_minus == pytest.approx(0.05 * mass)
    assert found["balance"].value == pytest.approx(
        (mass * 1000 + GRAMS * Plan(design, SHELF).middle) / (mass + GRAMS)
    )
    inertia = mass * (2000**2 / 12 + (100 + 81) / 4 + 700**2)
    assert found["inertia"].value == pytest.approx(inertia + wrap_inertia(design, 300), rel=1e-9)
    assert Mark.ASSUMED in found["balance"].marks


def test_what_was_weighed_counts_before_what_is_computed() -> None:
    design = rod(mass=120, balance=900, length=2000, wall=1, density=1.5)
    found = figures(design)
    assert "blank_mass" not in found
    gyration = 2000**2 / 12 + (100 + 81) / 4
    inertia = 120 * (gyration + 900**2) + wrap_inertia(design, 0)
    assert found["inertia"].value == pytest.approx(inertia, rel=1e-9)


def test_a_thin_tip_is_solid() -> None:
    # A wall of 20 mm is more than the radius: a solid rod.
    found = figures(rod(length=2000, wall=20, density=1.5))
    assert found["blank_mass"].value == pytest.approx(math.pi * 100 * 2000 * 1.5e-3)


def test_grips_and_guides_count_where_they_are_weighed() -> None:
    grip = {"kind": "grip", "from": 100, "to": 300, "diameter": 28, "material": "cork"}
    guide = {"kind": "guide", "at": 600, "length": 30, "thread": "Heron Silver A"}
    weighed = rod([grip | {"mass": 30}, guide | {"mass": 4}], mass=100, balance=800, length=2000)
    bare = rod([grip, guide], mass=100, balance=800, length=2000)
    middle = Plan(bare, SHELF).middle
    moment = 80_000 + 30 * 200 + 4 * 600 + GRAMS * middle
    assert figures(weighed)["balance"].value == pytest.approx(moment / (134 + GRAMS))
    assert figures(bare)["balance"].value == pytest.approx(
        (80_000 + GRAMS * middle) / (100 + GRAMS)
    )
    # 30 g over 200 mm and 4 g over 30 mm.
    added = 30 * (200**2 + 200**2 / 12) + 4 * (600**2 + 30**2 / 12)
    difference = figures(weighed)["inertia"].value - figures(bare)["inertia"].value
    assert difference == pytest.approx(added)


def test_a_pivot_at_the_balance_point_has_no_period() -> None:
    found = figures(rod(mass=100, balance=800, length=2000, reel_seat=800.4))
    assert "inertia" in found
    assert "period" not in found


def test_nobody_sees_what_the_parts_weigh() -> None:
    grip = {"kind": "grip", "from": 100, "to": 300, "diameter": 28, "material": "cork"}
    numbers = {
        design_number(design, SHELF, SHIPPED)
        for design in (
            rod([grip]),
            rod([grip | {"mass": 30}], mass=100, balance=800, length=2000),
            rod([grip], length=2000, wall=1, density=1.5),
        )
    }
    assert len(numbers) == 1


def test_they_are_written_in_seconds_and_in_either_unit() -> None:
    metric, imperial = (FigureFormatter(units) for units in Units)
    assert metric.amount(1.6384, Kind.PERIOD) == "1.638 s"
    assert metric.amount(64.2e6, Kind.INERTIA) == "64.2 g·m²"
    # One ounce at one inch.
    assert imperial.amount(28.349523125 * 25.4**2, Kind.INERTIA) == "1 oz·in²"


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"wall": 1}, "blank", "wall is given without length and density; give all three"),
        ({"length": 2000, "density": 1.5}, "blank", "are given without wall"),
        ({"length": 600}, "blank.length", "before the last station, at 650 mm; give 650 mm or mo"),
        (
            {"length": 2000, "mass": 90, "balance": 1001},
            "blank.balance",
            "past the middle of a blank of 2000 mm; give 1000 mm or less",
        ),
        (
            {"length": 2000, "mass": 90, "balance": 2001, "wall": 1, "density": 1.5},
            "blank.balance",
            "beyond the tip of a blank of 2000 mm; give 2000 mm or less",
        ),
        (
            {"length": 2000, "wall": 1, "density": 1.5, "reel_seat": 2001},
            "blank.reel_seat",
            "beyond the tip of a blank of 2000 mm; give 2000 mm or less",
        ),
        ({"length": 2000, "wall": 0, "density": 1.5}, "blank.wall", "thickness of the wall"),
    ],
)
def test_a_mistake_gets_one_sentence(given: dict[str, float], field: str, words: str) -> None:
    with pytest.raises(DesignProblem) as caught:
        rod(**given)
    assert caught.value.field == field
    assert words in str(caught.value)
