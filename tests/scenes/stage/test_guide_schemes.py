"""Schemes by which guides are bound: scaled to each foot, laid, counted, written and refused."""

from typing import Any

import numpy as np
import pytest

from geometry.bodies.guide import GuideSizes, guide_frame
from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.guides import guides_entries
from scenes.building.build import Plan
from scenes.customer.number import design_number
from scenes.design.differences import differences
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.threads import thread_names
from scenes.editing.list_edits import inserted
from scenes.files import samples
from scenes.files.companion_files import SHIPPED
from scenes.files.storage import parse, text_of
from scenes.problems import DesignProblem
from scenes.stage.feet import foot_amounts, foot_plans, wound_feet
from scenes.stage.fittings import fittings

SHELF = Shelf.shipped()
BASE = samples.text("ringed-grip-wrap").split("[[variants]]")[0]
"""A wrap of 326 to 378 mm on a blank measured from 200 to 590 mm."""

RODS = """
# My guides.
[[blank.fitted]]
kind = "guide"
at = 430
length = 40
scheme = "running"

[[blank.fitted]]
kind = "guide"
at = 490
length = 20
scheme = "running"  # as the one below

[[blank.fitted]]
kind = "guide"
at = 540
length = 20
feet = 1
ring = 10
scheme = "running"

# From the stripper up.
[[blank.guide_schemes]]
name = "running"
thread = "Deepwater Navy A"
underwrap = "Sandbar Gold A"
for_length = 40
inset = 0.8
rings = [ { thread = "Gorse Gold A", count = 4 } ]
band = [ { thread = "Chalk Down A", count = 5 } ]
trim = [ { thread = "Gorse Gold A", count = 1 } ]
"""


_MANY = {"thread": "Gorse Gold A", "count": 60}


def rod(**changes: Any) -> Design:
    """Three guides bound by one scheme, with some fields changed by path."""
    design = parse(BASE + RODS)
    return with_changes(design, changes) if changes else design


def test_turns_are_scaled_to_the_length_of_each_foot() -> None:
    blank = rod().blank
    bound = [blank.binding_of(foot) for _, foot in blank.guides]
    # By hand: a foot half as long has half the turns (5 / 2 = 2.5 is rounded to even, 1 stays); a
    # foot with one end of 20 mm is as long as each end of one of 40 mm.
    assert [[run.count for run in one.rings] for one in bound] == [[4], [2], [4]]
    assert [[run.count for run in one.band] for one in bound] == [[5], [2], [5]]
    assert [[run.count for run in one.trim] for one in bound] == [[1], [1], [1]]
    assert [one.inset for one in bound] == pytest.approx([0.8, 0.4, 0.8])
    unscaled = rod(**{"blank.guide_schemes": [{"name": "running", "thread": "Chalk Down A",
        "rings": [{"thread": "Gorse Gold A", "count": 4}]}]}).blank  # fmt: skip
    assert [unscaled.binding_of(foot).rings[0].count for _, foot in unscaled.guides] == [4, 4, 4]


def test_a_guide_is_free_to_differ() -> None:
    blank = rod(**{
        "blank.fitted.3.thread": "Hawthorn Red A",
        "blank.fitted.3.band": [],
    }).blank  # fmt: skip
    *_, (_, foot) = blank.guides
    bound = blank.binding_of(foot)
    assert (bound.thread, bound.band) == ("Hawthorn Red A", ())
    assert bound.underwrap == "Sandbar Gold A"
    assert bound.rings[0].count == 4


def test_a_scheme_is_the_same_as_what_it_says_written_at_each_guide() -> None:
    design = rod()
    plain = document_of(design.model_copy(update={"blank": design.blank.written_out()}))
    assert "guide_schemes" not in plain["blank"]
    written = design_from(plain)
    one, other = Plan(design, SHELF), Plan(written, SHELF)
    for a, b in zip(wound_feet(one, Detail.DRAFT), wound_feet(other, Detail.DRAFT), strict=True):
        np.testing.assert_array_equal(a.surface.radius, b.surface.radius)
        np.testing.assert_array_equal(a.surface.material, b.surface.material)
    assert guides_entries(one).entries.threads == guides_entries(other).entries.threads
    assert design_number(design, SHELF, SHIPPED) == design_number(written, SHELF, SHIPPED)


def test_rings_band_and_trim_lie_where_they_are_given() -> None:
    plan = Plan(rod(), SHELF)
    first, _, single = foot_plans(plan)
    bodies = wound_feet(plan, Detail.NORMAL)
    gold, chalk = (SHELF.thread(f"{name} A").diameter_mm for name in ("Gorse Gold", "Chalk Down"))

    def rows(number: int, name: str) -> list[tuple[float, float]]:
        """Where a thread lies along the underside, opposite the guide, mm."""
        surface = bodies[number].surface
        names = [look.name for look in bodies[number].palette]
        under = surface.theta.size // 4
        there = surface.material[:, under] == names.index(name)
        edges = np.flatnonzero(np.diff(there.astype(int)))
        return [(surface.z[a], surface.z[b]) for a, b in edges.reshape(-1, 2)]

    for number, (start, end), is_lower in (
        (0, first.wraps[0], True),
        (0, first.wraps[1], False),
        (2, single.wraps[0], False),
    ):
        middle = (start + end) / 2
        (band,) = [one for one in rows(number, "Chalk Down A") if start < one[0] < end]
        assert np.mean(band) == pytest.approx(middle, abs=0.15)
        assert band[1] - band[0] == pytest.approx(5 * chalk, abs=0.12)
        found = [one for one in rows(number, "Gorse Gold A") if start - 0.1 < one[0] < end + 0.1]
        assert len(found) == 2
        ring, trim = found if is_lower else found[::-1]
        outer = ring[0] - start if is_lower else end - ring[1]
        assert outer == pytest.approx(0.8, abs=0.12)
        assert ring[1] - ring[0] == pytest.approx(4 * gold, abs=0.12)
        inner = end - trim[1] if is_lower else trim[0] - start
        assert inner == pytest.approx(0, abs=0.12)
    assert len(single.wraps) == 1


def test_a_single_foot_stands_on_one_end() -> None:
    plan = Plan(rod(), SHELF)
    *_, single = foot_plans(plan)
    body = wound_feet(plan, Detail.NORMAL)[-1]
    bare = body.beneath.radius[:, 0] - plan.blank.radius(body.beneath.z)
    under = SHELF.thread("Sandbar Gold A").diameter_mm
    on_foot = body.beneath.z[bare > under + 0.05]
    # Its foot lies from 530 to 550 mm: the frame stands near its start, and thread beyond.
    assert on_foot.min() == pytest.approx(530, abs=0.5)
    assert on_foot.max() == pytest.approx(550, abs=1.5)
    assert single.frame_at < 534
    assert single.wraps[0][0] > single.frame_at
    frames = [part.mesh for part in fittings(plan) if part.name == "guide"]
    assert frames[-1].points[:, 2].mean() < 540


@pytest.mark.parametrize("ring", [6.0, 16.0, 40.0])
def test_a_ring_has_the_diameter_that_is_given(ring: float) -> None:
    sizes = GuideSizes.of(30, 5, ring=ring)
    frame = guide_frame(500, 5, sizes)
    # Measured on the mesh: its widest place is the ring, from outside to outside.
    assert np.ptp(frame.points[:, 1]) == pytest.approx(ring, rel=0.01)


def test_thread_of_all_guides_is_counted() -> None:
    once = {"kind": "guide", "at": 430, "length": 20, "scheme": "running"}
    one = rod(**{"blank.fitted": [once]})
    three = rod(**{"blank.fitted": [{**once, "at": at} for at in (430, 470, 510)]})
    # On a blank that tapers by 3 %, three guides take three times the thread of one, within that.
    totals = []
    for design in (one, three):
        needs = guides_entries(Plan(design, SHELF)).entries.threads
        length: dict[str, float] = {}
        for need in needs:
            length[need.thread.name] = length.get(need.thread.name, 0.0) + need.length
        totals.append(length)
        assert set(length) == {name for path, name in thread_names(design) if "schemes" in path}
        assert sum(need.pieces for need in needs) % len(design.blank.guides) == 0
    for name, length in totals[0].items():
        assert totals[1][name] == pytest.approx(3 * length, rel=0.05)
    # A turn of the trim is one of a taut thread about blank, underwrap and foot: longer than a
    # circle about the blank and the underwrap, shorter than one about the foot's height.
    plan = Plan(one, SHELF)
    (foot,) = foot_amounts(plan)
    radius = float(plan.blank.radius(430)) + SHELF.thread("Sandbar Gold A").diameter_mm
    assert 4 * np.pi * radius < foot.threads[-1].length
    assert foot.threads[-1].length < 4 * np.pi * (radius + foot.placed.sizes.height + 0.3)


def test_files_keep_their_text_and_their_comments() -> None:
    text = BASE + RODS
    assert text_of(parse(text), text) == text
    thread = with_changes(parse(text), {"blank.guide_schemes.0.thread": "Hawthorn Red A"})
    assert text_of(thread, text) == text.replace("Deepwater Navy A", "Hawthorn Red A")
    entry = {"name": "tip", "thread": "Gorse Gold A"}
    added = text_of(inserted(parse(text), "blank.guide_schemes", entry), text)
    assert added.startswith(text.rstrip()[:-40])
    assert '[[blank.guide_schemes]]\nname = "tip"\nthread = "Gorse Gold A"\n' in added
    assert "# From the stripper up." in added
    first = text_of(inserted(parse(BASE), "blank.guide_schemes", entry), BASE)
    assert '[[blank.guide_schemes]]\nname = "tip"' in first
    assert parse(first).blank.guide_schemes[0].name == "tip"
    said = differences(parse(text), thread)
    assert len(said) == 1
    assert said[0].endswith("Hawthorn Red A")


def test_a_scheme_that_no_guide_uses_is_warned_of() -> None:
    design = inserted(rod(), "blank.guide_schemes", {"name": "tip", "thread": "Gorse Gold A"})
    (said,) = [text for text in design.warnings if "scheme" in text]
    assert said.startswith('blank.guide_schemes.1: no guide is bound by "tip"; give one scheme')


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"blank.fitted.2.scheme": "runing"}, "blank.fitted.2.scheme", 'mean "running"?'),
        ({"blank.fitted.2.scheme": "x"}, "blank.fitted.2.scheme", 'give "running"'),
        ({"blank.guide_schemes": []}, "blank.fitted.1.scheme", r"has no schemes of guides"),
        ({"blank.fitted.1.feet": 3}, "blank.fitted.1.feet", "not between 1 and 2"),
        ({"blank.fitted.1.ring": 0}, "blank.fitted.1.ring", "between 2 and 80 mm"),
        (
            {"blank.guide_schemes": [{"name": name, "thread": "Gorse Gold A"} for name in "aA"]},
            "blank.guide_schemes.1.name",
            "is used twice",
        ),
        (
            {"blank.fitted": [{"kind": "guide", "at": 430, "length": 20}]},
            "blank.fitted.0",
            "thread is missing; give the name of a thread on the shelf, or a scheme",
        ),
        (
            {
                "blank.fitted": [{"kind": "guide", "at": 430, "length": 2, "scheme": "running"}]
                * 500
            },
            "blank.fitted",
            "500 entries are more than 24",
        ),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(
    changes: dict[str, Any], field: str, said: str
) -> None:
    with pytest.raises(DesignProblem, match=said) as caught:
        rod(**changes)
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"blank.fitted.1.width": 18}, "blank.fitted.1.width", "is wider than the blank there"),
        (
            {"blank.guide_schemes.0.rings": [_MANY, _MANY]},
            "blank.fitted.1.scheme",
            "rings that end",
        ),
        (
            {"blank.guide_schemes.0.band": [_MANY, _MANY]},
            "blank.fitted.1.scheme",
            "rings, band and",
        ),
        (
            {"blank.fitted.2.trim": [{"thread": "Gorse Gold A", "count": 50}]},
            "blank.fitted.2.trim",
            "rings, band and trim need",
        ),
    ],
)
def test_what_has_no_room_on_a_foot_is_refused(
    changes: dict[str, Any], field: str, said: str
) -> None:
    with pytest.raises(DesignProblem, match=said) as caught:
        Plan(rod(**changes), SHELF).check_feet()
    assert caught.value.field == field
