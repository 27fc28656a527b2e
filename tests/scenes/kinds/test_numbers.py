"""Derived numbers against hand arithmetic, closed forms and lines walked on the surface."""

from collections.abc import Mapping

import numpy as np
import pytest

from geometry.grid import Detail
from geometry.layers.trim import StripEdge
from materials.shelf import Shelf
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.files import samples
from scenes.kinds.cord_lattice.builder import LatticeBuilder
from scenes.kinds.cord_lattice.figures import lattice_numbers
from scenes.kinds.cover.builder import CoverBuilder
from scenes.kinds.mesh_strip.builder import StripBuilder
from scenes.kinds.mesh_strip.figures import StripNumbers, strip_numbers
from scenes.kinds.seam_trim.builder import TrimBuilder

CYLINDER = {
    "blank.stations": [{"at": 80, "diameter": 20}, {"at": 650, "diameter": 20}],
    "blank.fitted": [],
}


def changed(name: str, changes: Mapping[str, object]) -> Design:
    return with_changes(samples.load(name).without_variants(), changes)


def drafted(design: Design) -> Wrap:
    return build(Plan(design, Shelf.shipped()), Detail.DRAFT)


def covered(plan: Plan) -> float:
    """Thickness of the cover, mm."""
    assert isinstance(plan.cover, CoverBuilder)
    return plan.cover.thread.diameter_mm


def strip_of(name: str, changes: Mapping[str, object] | None = None) -> StripNumbers:
    plan = Plan(changed(name, changes or {"finish.coats": 0}), Shelf.shipped())
    assert isinstance(plan.relief, StripBuilder)
    return strip_numbers(plan.relief)


def test_a_strip_on_a_cylinder() -> None:
    # r 10, 45 degrees: p = 20 pi; w = (p - 20) sin 45; covered (p - 20) / p; 120 mm are 120 / p
    # turns, each p / cos 45 long. By hand.
    strip = strip_of("half-scale", {**CYLINDER, "relief.gap": 20})
    pitch = 20 * np.pi
    assert strip.pitch == pytest.approx(pitch)
    assert strip.width == pytest.approx((pitch - 20) / np.sqrt(2))
    assert strip.gap == 20
    assert strip.gaps == pytest.approx((20, 20))
    assert strip.covered_share == pytest.approx(1 - 20 / pitch)
    assert strip.turns == pytest.approx(120 / pitch, rel=1e-6)
    assert strip.length == pytest.approx(120 * np.sqrt(2), rel=1e-6)
    assert strip.angles == pytest.approx((np.pi / 4, np.pi / 4))
    assert strip.cells == pytest.approx((pitch - 20) / np.sqrt(2) / 2.822)


def test_half_coverage() -> None:
    # A 25 mm strip at 45 degrees covers about half of the blank where w = pi r / sqrt 2: common
    # practice, no source; design.md works it out for 19.3 mm.
    width = np.pi * 9.65 / np.sqrt(2)
    strip = strip_of(
        "half-scale",
        {
            "blank.stations": [{"at": 80, "diameter": 19.3}, {"at": 650, "diameter": 19.3}],
            "relief.strip_width": width,
        },
    )
    assert strip.covered_share == pytest.approx(0.5)
    assert strip.gap == pytest.approx(strip.pitch / 2)


def test_whole_cells_stand_on_both_sides() -> None:
    strip = strip_of("half-scale")
    below, above = strip.whole_cells
    assert below.cells < strip.cells < above.cells == below.cells + 1
    for whole in (below, above):
        # The design with that width has that gap.
        wound = strip_of("half-scale", {"relief.strip_width": whole.width})
        assert wound is not None
        assert wound.gap == pytest.approx(whole.gap)
        assert wound.cells == pytest.approx(whole.cells)


def test_a_width_of_whole_cells_is_its_own() -> None:
    strip = strip_of("half-scale", {"relief.strip_width": 9 * 2.822})
    assert [whole.cells for whole in strip.whole_cells] == [9]


def test_a_strip_that_would_overlap_is_not_offered() -> None:
    strip = strip_of("full-mesh")
    assert [whole.cells for whole in strip.whole_cells] == [int(strip.cells)]


def test_the_gap_of_a_fixed_angle_shrinks_with_the_blank() -> None:
    strip = strip_of("half-scale", {"relief.laid": "fixed angle"})
    blank = drafted(samples.load("half-scale")).plan.blank
    # At a fixed angle of 45 degrees the pitch is 2 pi r and the strip takes the same everywhere.
    narrows = 2 * np.pi * float(blank.radius(326) - blank.radius(446))
    assert strip.gaps[1] - strip.gaps[0] == pytest.approx(narrows, rel=1e-3)


def test_what_a_strip_does_by_itself() -> None:
    # Clairaut: r sin alpha is kept, so alpha grows towards the tip; where r changes slowly the gap
    # is that of a cylinder, 2 pi r / tan alpha - w / sin alpha (do Carmo, section 4-4).
    strip = strip_of("half-scale")
    plan = drafted(samples.load("half-scale")).plan
    assert strip.unsteered is not None
    first, last = strip.unsteered
    for gap, at in ((first, 326), (last, 446)):
        radius = float(plan.blank.radius(at))
        sine = float(plan.blank.radius(386)) * np.sin(np.pi / 4) / radius
        angle = np.arcsin(sine)
        cylinder = 2 * np.pi * radius / np.tan(angle) - strip.width / sine
        assert gap == pytest.approx(cylinder, abs=0.05)
    assert first > strip.gap > last
    assert strip_of("half-scale", {"relief.laid": "unsteered"}).gaps == pytest.approx(
        (last, first), abs=1e-3
    )


def test_on_a_cylinder_it_keeps_its_gap() -> None:
    strip = strip_of("half-scale", {**CYLINDER, "relief.gap": 20})
    assert strip.unsteered == pytest.approx((20, 20))


def test_a_strip_that_would_turn_back() -> None:
    # At 60 degrees it turns back where r falls below r0 sin 60 = 0.87 r0.
    cone = [{"at": 80, "diameter": 30}, {"at": 660, "diameter": 11}]
    strip = strip_of("full-mesh", {"blank.stations": cone, "blank.fitted": []})
    assert strip.unsteered is None


def test_a_constant_gap_is_told_as_a_ruler_reads_it() -> None:
    # On a strong taper the closed form at the place is off by the second order of the taper.
    cone = [{"at": 80, "diameter": 25}, {"at": 650, "diameter": 13.6}]
    strip = strip_of("half-scale", {"blank.stations": cone, "blank.fitted": []})
    assert strip.gaps == pytest.approx((21.2, 21.2), abs=0.005)


def test_a_lattice_on_a_cylinder() -> None:
    design = changed(
        "cord-lattice",
        {
            "blank.stations": [{"at": 80, "diameter": 20}, {"at": 650, "diameter": 20}],
            "relief.angle": 45,
            "relief.count": 10,
        },
    )
    plan = Plan(design, Shelf.shipped())
    assert isinstance(plan.relief, LatticeBuilder)
    lattice = lattice_numbers(plan.relief)
    assert (lattice.around, lattice.diamond, lattice.width) == (
        10,
        pytest.approx(2 * np.pi),
        pytest.approx(2 * np.pi),
    )
    assert lattice.length == pytest.approx(124 * np.sqrt(2), rel=1e-6)


def test_cover_over_a_bare_cylinder() -> None:
    design = changed("half-scale", CYLINDER)
    document = document_of(design)
    document["layers"] = [one for one in document["layers"] if one["kind"] == "cover"]
    wrap = drafted(design_from(document))
    (cover,) = wrap.threads()
    diameter = cover.thread.diameter_mm
    # Steiner: each turn is pi d longer than the section; by hand from design.md. The grid's section
    # is a polygon of 200 sides or more, short of the circle by pi²/6 n² at most.
    rows = round(136 / diameter)
    assert wrap.plan.cover is not None
    assert wrap.plan.cover.level_rows == rows
    exact = rows * np.hypot(20 * np.pi + np.pi * diameter, diameter)
    assert cover.length == pytest.approx(exact, rel=1e-4)
    assert cover.mass_g == pytest.approx(cover.thread.tex * exact * 1e-6, rel=1e-4)
    assert wrap.plan.relief is None


def test_a_trim_thread_is_a_helix() -> None:
    # reference.md, "Geodesics and winding": a helix of r 5 and p 10 is 32.969083 long a turn.
    thread = Shelf.shipped().thread("Sloe Black A")
    cover = Shelf.shipped().thread("Heron Silver A")
    half = thread.diameter_mm / 2
    bare = 5 - cover.diameter_mm - half
    design = changed(
        "half-scale",
        {
            "blank.stations": [{"at": 80, "diameter": 2 * bare}, {"at": 650, "diameter": 2 * bare}],
            "blank.fitted": [],
            "relief.angle": float(np.degrees(np.arctan(2 * np.pi * bare / 10))),
            "relief.gap": 4,
            "trim.threads": [{"thread": "Sloe Black A", "count": 1}],
        },
    )
    trims = drafted(design).threads()[1:]
    # 12 turns along each of two edges.
    assert sum(use.length for use in trims) == pytest.approx(2 * 12 * 32.969083, rel=1e-5)


@pytest.mark.parametrize("name", ["half-scale", "two-start-band", "graded-trim"])
def test_trim_lengths_are_those_of_the_threads_on_the_surface(name: str) -> None:
    """Walk along each thread, angle by angle, from where it starts to where it is cut."""
    wrap = drafted(samples.load(name).without_variants())
    plan, theta = wrap.plan, wrap.surface.theta
    trim = plan.design.trims[0]
    builder = next(one for one in plan.builders if isinstance(one, TrimBuilder))
    half = builder.ordered_threads[0].diameter_mm / 2
    for line in builder.lines:
        assert isinstance(line, StripEdge)
        z = line.run(wrap.surface, trim.offset + half).z
        radius = plan.blank.radius(z) + covered(plan) + half
        along = np.hypot(np.gradient(z, axis=1), np.gradient(radius, axis=1))
        steps = np.hypot(along, radius * (theta[1] - theta[0]))
        walked = float(steps[(z >= plan.start) & (z <= plan.end)].sum())
        told = builder.run_length(line, trim.offset + half, half)
        # A step more or less at each end of each run.
        most = 2 * line.winding.starts * steps.max()
        assert told == pytest.approx(walked, abs=most)
        assert most < 0.02 * told


def test_rings_close_round_the_blank() -> None:
    wrap = drafted(samples.load("cord-lattice").without_variants())
    plan = wrap.plan
    uses = wrap.threads()[1:]
    trims = [one for one in plan.builders if isinstance(one, TrimBuilder)]
    half = trims[0].ordered_threads[0].diameter_mm / 2
    lift = covered(plan) + half
    offset = plan.design.trims[0].offset
    ends = (plan.start - offset - half, plan.end + offset + half)
    circles = sum(2 * np.pi * (float(plan.blank.radius(at)) + lift) for at in ends)
    assert uses[0].length == pytest.approx(circles, rel=1e-6)
    assert len(uses) == sum(len(trim.ordered_threads) for trim in trims)


def test_draft_detail_will_do() -> None:
    plan = Plan(samples.load("half-scale").without_variants(), Shelf.shipped())
    draft, normal = (
        build(plan, detail).threads()[0].length for detail in (Detail.DRAFT, Detail.NORMAL)
    )
    # Rows are whole: some 800 of them, to which slopes seen more finely may add one, over a ridge
    # longer than their mean.
    assert draft == pytest.approx(normal, rel=1.1 / 800)
