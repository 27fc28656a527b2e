"""Decals in a design: their size by ruler on what is built, their fit, and what is refused."""

import colour
import numpy as np
import pytest
from scipy.spatial import cKDTree

from geometry.grid import Detail
from materials.appearance import ink_appearance
from materials.shelf import Shelf
from scenes.bench.pattern import pattern_of
from scenes.bench.report import bench_report
from scenes.building.build import Plan, build
from scenes.design.document import design_from, document_of, with_changes
from scenes.design.variants import variants
from scenes.files import samples
from scenes.files.companion_files import SHIPPED
from scenes.kinds.decal.builder import DecalBuilder
from scenes.kinds.flat.runs import VISIBLE_ANGLE
from scenes.problems import DesignProblem
from tests.scenes.decoding.hostile import tall_letters


def planned(name="lettered-band", **changes):
    given = {key.replace("__", "."): value for key, value in changes.items()}
    design = samples.load(name).without_variants()
    return Plan(with_changes(design, given) if given else design, Shelf.shipped())


def test_a_font_of_absurd_proportions_is_refused_before_it_is_drawn() -> None:
    """Its A is 80 m high where capitals are 5 mm: it needed more memory than there is."""
    design = with_changes(
        samples.load("lettered-band").without_variants(),
        {
            "decal.text": "A",
            "decal.height": 5.0,
            "decal.runs": "along the blank",
            "decal.font": "own.ttf",
        },
    )
    plan = Plan(design, Shelf.shipped(), SHIPPED.with_file("own.ttf", tall_letters()))
    with pytest.raises(DesignProblem, match=r"by 80000(\.0+)? mm, too large to print") as caught:
        build(plan, Detail.DRAFT)
    assert caught.value.field == "decal.height"


def decal_of(plan) -> DecalBuilder:
    return next(one for one in plan.builders if isinstance(one, DecalBuilder))


def inked(wrap):
    """Where the built wrap shows whole ink."""
    whole = [look.name == "ink" for look in wrap.palette]
    return np.array(whole)[wrap.surface.material]


@pytest.mark.parametrize("hand", ["right", "left"])
def test_letters_measure_what_they_should_on_the_wrap(hand) -> None:
    """A capital I of 5 mm on the band: its length by ruler between its inked ends in space.

    DejaVu Sans has a plain upright I: a rectangle of the height of the capitals.
    """
    plan = planned(decal__text="I", decal__height=5.0, relief__hand=hand)
    wrap = build(plan, Detail.NORMAL)
    on = inked(wrap)
    station, column = np.nonzero(on)
    surface = wrap.surface
    r, theta = surface.radius[on], surface.theta[column]
    points = np.stack((r * np.cos(theta), r * np.sin(theta), surface.z[station]), axis=1)
    away = np.linalg.norm(points[:, None] - points[None, ::7], axis=2)
    # The diagonal of the letter, as a chord through the rod: 5 mm turn by less than 0.2 rad.
    wide = decal_of(plan).size[0]
    # Cells that are inked only in part, half a cell at each end, do not count as whole ink.
    assert away.max() == pytest.approx(np.hypot(5.0, wide), abs=3 * surface.step)
    cell = surface.step * 2 * np.pi * r.mean() / surface.theta.size
    assert on.sum() * cell == pytest.approx(5.0 * wide, rel=0.2)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_letters_read_along_the_climbing_band(hand) -> None:
    """An I and a full stop, from outside with the tip to the right: it comes last, and low."""
    plan = planned(decal__text="I.", decal__height=5.0, relief__hand=hand)
    wrap = build(plan, Detail.NORMAL)
    station, column = np.nonzero(inked(wrap))
    z = wrap.surface.z[station]
    up = -wrap.surface.theta[column] * float(wrap.surface.radius.mean())
    flat = np.stack((z, up), axis=1)
    winding = decal_of(plan).room.flat.winding
    angle = float(winding.angle_at(z.mean()))
    sign = winding.hand.sign
    run = np.array((np.cos(angle), -sign * np.sin(angle)))
    left = np.array((-run[1], run[0]))
    along, high = flat @ run, flat @ left
    stop = along > (along.min() + along.max()) / 2
    assert 0 < stop.sum() < (~stop).sum()
    assert high[stop].max() < high[~stop].mean()


def test_without_a_height_it_is_as_large_as_can_be_seen_at_once() -> None:
    builder = decal_of(planned())
    wide, high = builder.size
    room = builder.room
    turned = room.angle_round(wide, high)
    assert turned == pytest.approx(VISIBLE_ANGLE, rel=1e-4)
    # By hand: on a cylinder the run takes L sin(alpha) round, and its ends h cos(alpha) more.
    angle = float(room.flat.winding.angle_at(room.flat.at))
    radius = float(builder.plan.blank.radius(room.flat.at)) + 0.17
    by_hand = (wide * np.sin(angle) + high * np.cos(angle)) / radius
    assert turned == pytest.approx(by_hand, rel=0.01)


def test_the_margin_is_kept_towards_the_trims() -> None:
    """A short word fills the band: gap sin(alpha) less two trims of five threads and the margin."""
    plan = planned(decal__text="I", decal__margin=3.0)
    builder = decal_of(plan)
    strip = plan.relief
    gap = strip.layer.gap_on(plan.middle_radius) * np.sin(strip.layer.angle)
    trims = 2 * sum(thread.diameter_mm for thread in plan.builders[2].ordered_threads)
    # Raised by the cover's thread the run is a little steeper and the band wider.
    assert builder.height == pytest.approx(gap - trims - 6.0, abs=0.15)


def test_the_longest_text_fits_and_keeps_its_margin() -> None:
    plan = planned(decal__text="M" * 80, decal__runs="along the blank", decal__margin=4.0)
    builder = decal_of(plan)
    start, end = builder.room.flat.reach(*builder.size)
    assert (start, end) == (pytest.approx(304.0, abs=0.01), pytest.approx(396.0, abs=0.01))


def test_too_long_a_text_says_what_would_fit() -> None:
    plan = planned(decal__text="M" * 60, decal__height=9.0)
    with pytest.raises(DesignProblem, match=r"^decal.height: .* beyond the wrap; give .* or less"):
        plan.prepare()
    with pytest.raises(DesignProblem, match="with 40 mm of margin there is no room"):
        planned(decal__margin=40.0).prepare()


def warned(plan) -> str:
    bench = bench_report(build(plan, Detail.DRAFT))
    return " ".join(sentence.words.format(**sentence.amounts) for sentence in bench.warnings)


def test_warnings() -> None:
    quiet = warned(planned())
    assert "decal" not in quiet
    assert "thinner than the thread" in warned(planned(decal__height=0.6))
    assert "out of sight" in warned(planned(decal__height=7.0))
    assert "less than the margin" in warned(planned(decal__text="I", decal__height=15.0))


def test_strokes_thinner_than_a_thread() -> None:
    """The stem of an I is a plain rectangle: all of it is thinner than a thread, or none is.

    In DejaVu Sans the I is 0.135 of its height wide (its outline: 201 of 1493 units).
    """
    stem = 201 / 1493
    thread = 0.17
    thick = decal_of(planned(decal__text="I", decal__height=1.3 * thread / stem))
    thin = decal_of(planned(decal__text="I", decal__height=0.75 * thread / stem))
    assert thick.thin_share < 0.1
    assert thin.thin_share > 0.9


def test_a_decal_changes_no_shape_and_weighs_nothing() -> None:
    bare = samples.load("lettered-band").without_variants()
    without = bare.model_copy(update={"layers": bare.layers[:-1]})
    with_it, plain = (build(Plan(one, Shelf.shipped()), Detail.DRAFT) for one in (bare, without))
    assert np.array_equal(with_it.surface.radius, plain.surface.radius)
    assert with_it.threads() == plain.threads()


def test_clear_parts_of_a_picture_show_the_thread() -> None:
    plan = planned("heron-plate")
    wrap = build(plan, Detail.DRAFT)
    assert {"ink"} <= {look.name for look in wrap.palette}
    share = inked(wrap).sum() * wrap.surface.step * 2 * np.pi * 10.5 / wrap.surface.theta.size
    builder = decal_of(plan)
    opaque = (builder.pixels[..., 3] > 250).mean() * builder.size[0] * builder.size[1]
    # The line of letters is ink as well: some 12 mm².
    assert opaque * 0.75 < share < opaque * 1.1 + 15


def test_half_covered_places_are_half_ink() -> None:
    ink, under = ink_appearance((0.8, 0.6, 0.4), False), ink_appearance((0.2, 0.2, 0.0), False)
    assert ink.over(under, 1.0) is ink
    assert ink.over(under, 0.5).base_colour == pytest.approx((0.5, 0.4, 0.2))


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"decal.text": ""}, "decal.text: .*give a line of letters"),
        ({"decal.text": "x" * 81}, "81 characters"),
        ({"decal.height": 0}, "decal.height: 0 mm is not between"),
        ({"decal.ink": "gold"}, "decal.ink: .*is not a colour"),
        ({"decal.at": 900}, "decal.at: 900 mm is not in the wrap"),
        ({"decal.font": "font.exe"}, "decal.font: .*not a file beside the design"),
        ({"decal.runs": "up"}, "decal.runs: .*along the flat band"),
        ({"relief.covered_share": 1}, "decal.runs: .*the strip covers all of the blank"),
    ],
)
def test_what_is_not_right_is_said(changes, told) -> None:
    with pytest.raises(DesignProblem, match=told):
        with_changes(samples.load("lettered-band").without_variants(), changes)


def test_ink_is_for_letters_alone() -> None:
    design = samples.load("lettered-band").without_variants()
    made = with_changes(design, {"decal.picture": "heron.png"})
    # What was for the letters has gone with them.
    assert made.layers[-1].model_dump(exclude_none=True).keys() & {"text", "ink", "font"} == set()
    with pytest.raises(DesignProblem, match=r"decal.ink: it is for letters"):
        with_changes(made, {"decal.ink": "#26384a"})


def test_a_decal_needs_thread_under_it() -> None:
    design = samples.load("heron-plate").without_variants()
    alone = design.model_copy(update={"layers": design.layers[1:2]})
    with pytest.raises(DesignProblem, match="there is no thread under it; list a cover before it"):
        design_from(document_of(alone))


@pytest.mark.parametrize("name", ["lettered-band", "heron-plate"])
def test_every_variant_is_printed_over_its_whole_length_in_its_own_colour(name) -> None:
    """Colours against colour-science's decoding of sRGB."""
    for _, made in variants(samples.load(name)):
        plan = Plan(made, Shelf.shipped())
        wrap = build(plan, Detail.DRAFT)
        decals = [one for one in plan.builders if isinstance(one, DecalBuilder)]
        printed = np.array([look.printed for look in wrap.palette])[wrap.surface.material]
        z = wrap.surface.z[printed.any(axis=1)]
        ends = np.array([decal.room.flat.reach(*decal.size) for decal in decals])
        # The first and the last letter are round and the picture's edge is clear: up to 1 mm.
        assert -wrap.surface.step < z.min() - ends.min() < 1
        assert -wrap.surface.step < ends.max() - z.max() < 1
        whole = [wrap.palette[number] for number in np.unique(wrap.surface.material[printed])]
        for decal in decals:
            if decal.layer.ink is None:
                continue
            rgb = [int(decal.layer.ink[i : i + 2], 16) / 255 for i in (1, 3, 5)]
            linear = colour.RGB_COLOURSPACES["sRGB"].cctf_decoding(rgb)
            if decal.layer.foil:
                # What a dyed metal reflects under finish: less of it, and of the same hue.
                (foil,) = (look for look in whole if look.name == "foil")
                assert foil.metallic == 1
                assert np.argsort(foil.base_colour).tolist() == np.argsort(linear).tolist()
                assert (np.array(foil.base_colour) < linear).all()
            else:
                inks = [look.base_colour for look in whole if look.name == "ink"]
                assert np.abs(np.array(inks) - linear).max(axis=1).min() < 1e-6


def test_a_turned_picture_is_the_same_turned_by_half_a_turn() -> None:
    """Every inked place, mirrored at the picture's middle both ways, is inked in the other one."""
    design = samples.load("heron-plate").without_variants()
    alone = design.model_copy(update={"layers": design.layers[:-1]})
    places = []
    for turned in (False, True):
        plan = Plan(with_changes(alone, {"picture.turned": turned}), Shelf.shipped())
        wrap = build(plan, Detail.NORMAL)
        flat = decal_of(plan).room.flat
        on = inked(wrap)
        s, t = flat.coordinates(wrap.surface, slice(0, wrap.surface.z.size))
        places.append(np.stack((s[on], t[on]), axis=1))
    near = 1.5 * wrap.surface.step
    upright, turned = places
    tree = cKDTree(turned)
    assert (tree.query(-upright)[0] < near).mean() > 0.99
    assert (tree.query(upright)[0] < near).mean() < 0.8


def test_the_template_shows_edge_and_letters() -> None:
    plan = planned()
    lines = [line for line in pattern_of(plan).lines if line.pen.shows.startswith("decal")]
    contours = decal_of(plan).outline.contours
    assert len(lines) == 1 + len(contours)
    z = np.concatenate([line.points[:, 1] for line in lines])
    start, end = decal_of(plan).room.flat.reach(*decal_of(plan).size)
    assert z.min() == pytest.approx(start, abs=0.05)
    assert z.max() == pytest.approx(end, abs=0.05)
