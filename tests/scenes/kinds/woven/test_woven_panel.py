"""Woven panels in a design: sizes by hand, picks counted by NumPy on the chart's own pixels."""

import io

import numpy as np
import pytest
from PIL import Image

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.report import bench_report
from scenes.building.build import Plan, build
from scenes.design.document import with_changes
from scenes.design.variants import variants
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.files.companion_files import SHIPPED, CompanionFiles
from scenes.kinds.woven.bench import LETTERS
from scenes.kinds.woven.builder import WovenBuilder
from scenes.problems import DesignProblem
from scenes.quantities import Units

THREAD, NYLON = 0.17, 0.169
"""mm, metallic thread and nylon of size A as the shipped shelf has them: picks of the vine are set
apart by its one metallic thread, its warp is nylon, as is the warp of the shoal."""


def pixels_of(name: str):
    with Image.open(io.BytesIO(SHIPPED.read(name, "x"))) as image:
        return np.asarray(image.convert("RGBA"))


def planned(name="vine-band", beside=SHIPPED, **changes):
    given = {key.replace("__", "."): value for key, value in changes.items()}
    design = samples.load(name).without_variants()
    return Plan(with_changes(design, given) if given else design, Shelf.shipped(), beside)


def woven_of(plan) -> WovenBuilder:
    return next(one for one in plan.builders if isinstance(one, WovenBuilder))


@pytest.fixture(scope="module")
def vine():
    plan = planned(woven__repeats=2)
    wrap = build(plan, Detail.NORMAL)
    return plan, wrap, bench_report(wrap)


def test_the_size_follows_from_the_thread(vine) -> None:
    """The vine is 42 by 60 pixels: 42 x 0.169 mm wide, 2 x 60 x 0.17 mm long."""
    plan, _, bench = vine
    builder = woven_of(plan)
    assert builder.panel_size.width == pytest.approx(42 * NYLON)
    assert builder.panel_size.length == pytest.approx(120 * THREAD)
    assert bench.figure("woven_width").value == pytest.approx(7.098)
    assert bench.figure("woven_length").value == pytest.approx(20.4)
    assert bench.figure("woven_warps").value == 42
    assert bench.figure("woven_rows").value == 120


def test_spread_threads_make_a_larger_panel() -> None:
    builder = woven_of(planned(woven__repeats=2, woven__spread=1.2))
    assert builder.panel_size.width == pytest.approx(42 * NYLON * 1.2)


def test_picks_by_colour_are_those_of_the_chart(vine) -> None:
    plan, _, bench = vine
    pixels = pixels_of("vine.png")
    table = bench.table("woven_colours")
    clear = pixels[..., 3] == 0
    assert table.column("crossings")[0] == clear.sum()
    by_thread = {one.thread: one.colour for one in woven_of(plan).layer.colours}
    for row in table.rows[1:]:
        colour = by_thread[row[1]]
        rgb = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
        mine = (pixels[..., :3] == rgb).all(axis=2) & ~clear
        assert row[3] == mine.sum()
        assert row[4] == mine.any(axis=1).sum()
        assert row[5] == 2 * mine.sum()
    assert sum(table.column("crossings")) == 42 * 60


def test_the_list_of_rows_is_the_chart_again(vine) -> None:
    """Read back letter by letter, from the butt up, it gives every pixel."""
    plan, _, bench = vine
    table = bench.table("woven_chart_rows")
    assert table.column("row") == tuple(range(1, 61))
    letters = dict(zip(bench.table("woven_colours").column("letter"), range(9), strict=False))
    back = []
    for words in reversed(table.column("crossings")):
        row = [letters[one[-1]] for one in words.split() for _ in range(int(one[:-1]))]
        back.append(row)
    assert np.array_equal(np.array(back), woven_of(plan).chart.top)
    clear = pixels_of("vine.png")[..., 3] == 0
    assert np.array_equal(np.array(back) == 0, clear)
    for words, picks in zip(table.column("crossings"), table.column("picks"), strict=True):
        assert picks == len({one[-1] for one in words.split()} - {LETTERS[0]})


def test_the_built_panel_has_as_much_of_each_colour_as_the_chart(vine) -> None:
    """Share of grid points of each thread within the panel against its share of the pixels."""
    plan, wrap, _ = vine
    builder, surface = woven_of(plan), wrap.surface
    s, t = builder.room.flat.coordinates(surface, slice(0, surface.z.size))
    inside = (np.abs(s) < builder.panel_size.length / 2) & (
        np.abs(t) < builder.panel_size.width / 2
    )
    names = [look.name for look in wrap.palette]
    seen = np.bincount(surface.material[inside], minlength=len(names)) / inside.sum()
    counts = np.array(builder.colour_counts()) / (42 * 60)
    for thread, share in zip((builder.warp, *builder.picks), counts, strict=True):
        assert seen[names.index(thread.name)] == pytest.approx(share, abs=0.01)


def test_thread_by_hand(vine) -> None:
    """42 warp threads of 20.4 mm; a pick of each colour crosses 7.098 mm in each of its rows.

    Weaving adds to both, by less than a fifth (pi² A² / 4 p² for each change).
    """
    plan, wrap, _ = vine
    builder = woven_of(plan)
    uses = {use.thread.name: use.length for use in builder._uses()[: 1 + len(builder.picks)]}
    assert 1.0 <= uses[builder.warp.name] / (42 * 20.4) < 1.2
    for thread, rows in zip(builder.picks, builder.rows_with(), strict=True):
        assert 1.0 <= uses[thread.name] / (2 * rows * 7.098) < 1.2
    assert wrap.threads()


def test_charts_repeat_along_the_band_as_often_as_they_fit() -> None:
    builder = woven_of(planned())
    start, end = builder._reach(builder.panel_size.length, builder.panel_size.width)
    more = builder._reach(builder.panel_size.length + 60 * THREAD, builder.panel_size.width)
    assert 304 <= start
    assert end <= 396
    assert more[0] < 304 or more[1] > 396


def test_a_closed_panel_meets_itself_at_two_pi() -> None:
    """The shoal has 9 charts of 40 threads round: turned by one, 40 degrees, it is the same."""
    plan = planned("shoal-panel")
    wrap = build(plan, Detail.NORMAL)
    builder, surface = woven_of(plan), wrap.surface
    # 9 x 40 x 0.169 mm against the way round on the cover, by hand.
    around = np.pi * (2 * float(plan.blank.radius(354.0)) + 2 * NYLON)
    assert builder.closing_spread == pytest.approx(around / 60.84, rel=1e-6)
    on = surface.between(340, 368)
    part = surface.material[on]
    nt = surface.theta.size
    # The grid has not nine times as many angles as a chart: a column may fall to its neighbour.
    turned = np.roll(part, round(nt / 9), axis=1)
    assert (part == turned).mean() > 0.9
    assert (part == np.roll(part, round(nt / 18), axis=1)).mean() < 0.7
    assert surface.tube[on].all()


@pytest.mark.parametrize("hand", ["right", "left"])
def test_the_panel_lies_between_the_trims(hand) -> None:
    plan = planned(relief__hand=hand)
    plan.prepare()
    builder = woven_of(plan)
    room = builder._room(*builder._reach(builder.panel_size.length, builder.panel_size.width))
    assert builder.panel_size.width + 2 * builder.edge_width < room


@pytest.mark.parametrize(
    ("name", "changes", "told"),
    [
        ("vine-band", {"woven__repeats": 40}, "woven: the panel is 2400 picks .*beyond the wrap"),
        ("vine-band", {"woven__side_by_side": 3}, "126 warp threads are .* and the band"),
        ("shoal-panel", {"woven__side_by_side": 7}, "does not make good; set side_by_side to 9"),
        (
            "shoal-panel",
            {"woven__closed": False, "woven__side_by_side": 12},
            "the way round the blank is",
        ),
    ],
)
def test_what_has_no_room_is_said(name, changes, told) -> None:
    with pytest.raises(DesignProblem, match=told):
        planned(name, **changes).prepare()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"woven.chart": "../vine.png"}, "woven.chart: .*is not a file beside the design"),
        ({"woven.colours": []}, "woven.colours"),
        ({"woven.colours.0.colour": "brown"}, "woven.colours.0.colour"),
        ({"woven.colours.0.colour": "#2F7D3B"}, "listed twice"),
        ({"woven.closed": True}, "cannot close round the blank"),
        ({"woven.spread": 0.5}, "woven.spread: 0.5 is not between 1 and 2"),
        ({"woven.warp": 3}, "woven.warp"),
    ],
)
def test_what_is_not_right_is_said(changes, told) -> None:
    with pytest.raises(DesignProblem, match=told):
        with_changes(samples.load("vine-band").without_variants(), changes)


@pytest.mark.parametrize("side", [401, 5000])
def test_a_chart_is_a_small_picture(tmp_path, side) -> None:
    Image.new("RGBA", (side, 2)).save(tmp_path / "vine.png")
    with pytest.raises(DesignProblem, match=f"is {side} by 2 pixels; give 400 a side at most"):
        planned(beside=CompanionFiles(tmp_path)).prepare()


def test_a_colour_without_a_thread_is_named(tmp_path) -> None:
    Image.new("RGB", (4, 4), (1, 2, 3)).save(tmp_path / "vine.png")
    with pytest.raises(DesignProblem, match=r'"vine.png" has "#010203", for which no thread'):
        planned(beside=CompanionFiles(tmp_path)).prepare()


def test_long_floats_and_unused_colours_are_warned_of(tmp_path) -> None:
    image = Image.new("RGB", (42, 6), "#2f7d3b")
    image.save(tmp_path / "vine.png")
    plan = planned(beside=CompanionFiles(tmp_path), woven__repeats=2)
    bench = bench_report(build(plan, Detail.DRAFT))
    told = [one.words.format(**one.amounts) for one in bench.warnings]
    assert any("a pick floats over" in one for one in told)
    assert any("#7a4a22 is not in the chart" in one for one in told)


@pytest.mark.parametrize("name", ["vine-band", "shoal-panel"])
def test_every_variant_shows_its_own_threads_as_often_as_its_chart(name) -> None:
    """Shares of grid points within the panel against the chart's pixels, counted here."""
    for _, made in variants(samples.load(name)):
        plan = Plan(made, Shelf.shipped(), SHIPPED)
        wrap = build(plan, Detail.DRAFT)
        builder, surface = woven_of(plan), wrap.surface
        layer = builder.layer
        pixels = pixels_of(layer.chart)
        clear = pixels[..., 3] == 0
        shares = {layer.warp: clear.mean()}
        for one in layer.colours:
            rgb = [int(one.colour[i : i + 2], 16) for i in (1, 3, 5)]
            mine = (pixels[..., :3] == rgb).all(axis=2) & ~clear
            shares[one.thread] = shares.get(one.thread, 0.0) + mine.mean()
        assert sum(shares.values()) == pytest.approx(1.0)
        s, t = builder.room.flat.coordinates(surface, slice(0, surface.z.size))
        inside = np.abs(s) < builder.panel_size.length / 2
        if not layer.closed:
            inside &= np.abs(t) < builder.panel_size.width / 2
        names = [look.name for look in wrap.palette]
        seen = np.bincount(surface.material[inside], minlength=len(names)) / inside.sum()
        for thread, share in shares.items():
            assert seen[names.index(thread)] == pytest.approx(share, abs=0.02), thread
        if layer.repeats is not None:
            picks = layer.repeats * len(pixels)
            assert builder.panel_size.length == pytest.approx(picks * builder.pick_diameter)


def test_a_panel_says_how_long_it_gets_where_picks_do_not_stack(vine) -> None:
    """Picks of a row counted on the chart's pixels: one for each thread of the row but the warp."""
    plan, _, bench = vine
    layer = woven_of(plan).layer
    thread_of = {entry.colour.lower(): entry.thread for entry in layer.colours}
    picks = []
    for row in pixels_of("vine.png"):
        colours = {"#{:02x}{:02x}{:02x}".format(*pixel[:3]) for pixel in row if pixel[3]}
        picks.append(len({thread_of[colour] for colour in colours} - {layer.warp}))
    assert max(picks) > 1
    longest = 2 * THREAD * sum(max(count, 1) for count in picks)
    figure = bench.figure("woven_length")
    assert figure.plus_minus is None
    assert figure.bounds == pytest.approx((0.95 * 20.4, 1.05 * longest))
    (told,) = [warning for warning in bench.warnings if "more than one pick" in warning.words]
    rows = sum(count > 1 for count in picks)
    assert told.amounts["rows"] == f"{rows} rows of the chart have"
    assert told.amounts["longest"].value == pytest.approx(longest)


def test_warp_is_loaded_for_the_longest_that_a_panel_may_get(vine) -> None:
    plan, _, bench = vine
    builder, table = woven_of(plan), bench.table("threads")
    keys = [column.key for column in table.columns]
    rows = [dict(zip(keys, row, strict=True)) for row in table.rows]
    warp = next(row for row in rows if (row["use"], row["thread"]) == ("woven", builder.warp.name))
    threads = pixels_of("vine.png").shape[1]
    assert warp["threads"] == warp["pieces"] == threads
    own = plan.design.bench
    pieces = threads * (builder.longest + 2 * own.thread_tail)
    # Besides, warp rises and falls over picks, by less than a tenth.
    assert 1 < warp["load"] / (pieces * (1 + own.waste)) < 1.1
    (load,) = (column for column in table.columns if column.key == "load")
    assert "if no picks lie on one another" in FigureFormatter(Units.MM).sentence(load.how)
