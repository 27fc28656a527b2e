"""Trims in pictures whose colours are known, because the test painted them."""

from collections.abc import Callable
from dataclasses import replace

import colour
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad

from geometry.grid import Detail
from materials.appearance import thread_appearance
from materials.eye import bar_sensitivity
from materials.shelf import Shelf
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.legibility.legibility import VEIL, BandReport, legibility, reading_view
from scenes.stage.stage import Stage, stage_for

Paint = dict[str, tuple[int, int, int]]

BANDS = [
    {"thread": "Sloe Black A", "count": 2},
    {"thread": "Tarn Teal A", "count": 4},
    {"thread": "Heron Silver A", "count": 1},
]
COVER = "Peat Charcoal A"


def wrap_of(name: str = "half-scale", **changes: object) -> Wrap:
    """A short wrap with three bands of trim."""
    design = samples.load(name).without_variants()
    middle = design.placement.middle
    document = {
        "placement.from": middle - 18,
        "placement.to": middle + 18,
        "cover.thread": COVER,
        "trim.threads": BANDS,
    }
    design = with_changes(design, document | {k.replace("__", "."): v for k, v in changes.items()})
    return build(Plan(design, Shelf.shipped()), Detail.NORMAL)


@pytest.fixture(scope="module")
def wrap() -> Wrap:
    return wrap_of()


@pytest.fixture(scope="module")
def stage(wrap: Wrap) -> Stage:
    return stage_for(wrap, 2.0).with_camera(reading_view(wrap.plan)[0])


@pytest.fixture(scope="module")
def painted(wrap: Wrap, stage: Stage) -> Callable[..., NDArray[np.uint8]]:
    """Paints the wrap's picture thread by thread: every grid point is a brush of 3 x 3 pixels."""

    def paint(
        colours: Paint, *, restless: float = 0.0, width: int = 1500, turn: float = 0.0
    ) -> NDArray[np.uint8]:
        size = reading_view(wrap.plan, width)[1]
        surface, outside = wrap.surface, wrap.outside
        assert outside is not None
        points = np.stack(
            (
                outside.radius * np.cos(outside.theta),
                outside.radius * np.sin(outside.theta),
                np.broadcast_to(outside.z[:, None], outside.shape),
            ),
            axis=-1,
        )
        placing = stage.transform(turn)
        points = points @ placing[:3, :3].T + placing[:3, 3]
        place, depth = stage.camera.project(points, size)
        table = np.zeros((len(wrap.palette), 3))
        for index, look in enumerate(wrap.palette):
            table[index] = colours.get(look.name, (60, 60, 60))
        rng = np.random.default_rng(5)
        values = table[surface.material]
        values = values * np.exp(restless * rng.normal(size=surface.shape))[..., None]
        # Only what faces the eye, by the side of the axis that it lies on.
        near = depth < stage.camera.project(points.mean(axis=1), size)[1][:, None] - 2
        column, row = np.floor(place[near]).astype(int).T
        picture = np.full((size[1], size[0], 3), 25.0)
        for dy, dx in sorted(np.ndindex(3, 3), key=lambda at: -abs(at[0] - 1) - abs(at[1] - 1)):
            y, x = row + dy - 1, column + dx - 1
            inside = (y >= 0) & (y < size[1]) & (x >= 0) & (x < size[0])
            picture[y[inside], x[inside]] = values[near][inside]
        return np.rint(np.clip(picture, 0, 255)).astype(np.uint8)

    return paint


def linear(level: tuple[int, int, int]) -> NDArray[np.float64]:
    """By colour-science."""
    return np.asarray(colour.models.eotf_sRGB(np.array(level) / 255))


def shown(reports: list[BandReport]) -> list[tuple[str, str]]:
    return [(report.band, report.against) for report in reports]


CLEAR: Paint = {
    COVER: (70, 70, 70),
    "Sloe Black A": (150, 90, 60),
    "Tarn Teal A": (30, 110, 120),
    "Heron Silver A": (210, 210, 205),
}


def test_every_band_is_measured_against_what_it_touches(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    reports = legibility(wrap, stage, painted(CLEAR))
    black, teal, silver = (
        "the 2-thread Sloe Black A line",
        "the 4-thread Tarn Teal A band",
        "the 1-thread Heron Silver A line",
    )
    assert shown(reports) == [
        (black, "the cover on the relief"),
        (black, teal),
        (teal, silver),
        (silver, "the cover on the flat"),
    ]
    assert all(report.judged and report.sentence is None for report in reports)
    assert {report.trim for report in reports} == {"trim"}


def test_known_colours_come_back(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    pairs = [
        (COVER, "Sloe Black A"),
        ("Sloe Black A", "Tarn Teal A"),
        ("Tarn Teal A", "Heron Silver A"),
        ("Heron Silver A", COVER),
    ]
    reports = legibility(wrap, stage, painted(CLEAR))
    lights = {name: linear(level) for name, level in CLEAR.items()}
    labs = {
        name: colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array(level) / 255), (0.3127, 0.3290))
        for name, level in CLEAR.items()
    }
    grey = {name: float(light @ [0.2126, 0.7152, 0.0722]) for name, light in lights.items()}
    for report, (one, other) in zip(reports, pairs, strict=True):
        # A line of one thread is five pixels wide, two of them shared with its neighbours.
        expected = float(colour.delta_E(labs[one], labs[other], method="CIE 2000"))
        assert report.delta_e == pytest.approx(expected, rel=0.05)
        if COVER in (one, other):
            one, other = (other, one) if one == COVER else (one, other)
        veil = VEIL * np.mean(list(grey.values()))
        michelson = (grey[one] - grey[other]) / (grey[one] + grey[other] + 2 * veil)
        assert report.contrast == pytest.approx(michelson, abs=0.03)


def test_a_trim_of_the_covers_own_colour_disappears(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    colours = CLEAR | {"Sloe Black A": CLEAR[COVER]}
    reports = legibility(wrap, stage, painted(colours))
    assert reports[0].contrast == pytest.approx(0, abs=0.01)
    assert reports[0].sentence == (
        "The 2-thread Sloe Black A line disappears against the cover on the relief at arm's length."
    )
    assert [report.sentence for report in reports[1:]] == [None] * 3


def test_neighbours_of_one_colour_run_into_one(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    colours = CLEAR | {"Tarn Teal A": CLEAR["Sloe Black A"]}
    assert legibility(wrap, stage, painted(colours), distance=2500.0)[1].sentence == (
        "The 2-thread Sloe Black A line and the 4-thread Tarn Teal A band run into one from 2.5 m."
    )


def test_a_faint_line_is_hard_to_make_out_and_glitter_hides_it(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    faint = CLEAR | {"Sloe Black A": (78, 77, 76)}
    calm = legibility(wrap, stage, painted(faint))[0]
    assert 1 < calm.reserve < 3
    assert "is hard to make out against the cover on the relief" in (calm.sentence or "")
    clear = CLEAR | {"Sloe Black A": (120, 120, 120)}
    calm, restless = (
        legibility(wrap, stage, painted(clear, restless=unrest))[0] for unrest in (0.0, 0.5)
    )
    assert calm.sentence is None
    assert restless.needed > 2 * calm.needed


def test_colour_alone_is_seen_in_a_band_and_not_in_a_line(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    # A green and a red of one luminance: 0.2126 R + 0.7152 G + 0.0722 B, IEC 61966-2-1.
    green, red = (70, 103, 60), (150, 70, 62)
    same = [float(linear(level) @ [0.2126, 0.7152, 0.0722]) for level in (green, red)]
    assert same[0] == pytest.approx(same[1], rel=0.03)
    reports = legibility(wrap, stage, painted(CLEAR | {"Sloe Black A": green, "Tarn Teal A": red}))
    assert abs(reports[1].contrast) < 0.04
    near = reports[1].reserve
    far = legibility(
        wrap,
        stage,
        painted(CLEAR | {"Sloe Black A": green, "Tarn Teal A": red}),
        distance=6000.0,
    )[1].reserve
    # [Mullen1985]: from 6 m the line is 0.2 arc minutes wide, far beyond what colour shows.
    assert near > 3 > far


def test_both_ways_round_the_rod(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    turned = legibility(wrap, stage, painted(CLEAR, turn=2.2), 2.2)
    still = legibility(wrap, stage, painted(CLEAR))
    assert shown(turned) == shown(still)
    for one, other in zip(turned, still, strict=True):
        assert one.contrast == pytest.approx(other.contrast, abs=0.06)


def test_too_small_a_picture_gets_no_verdict(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    reports = legibility(wrap, stage, painted({}, width=200))
    assert not any(report.judged for report in reports)
    assert all(report.sentence is None for report in reports)
    away = stage.with_camera(replace(stage.camera, target=(0.0, 900.0, 0.0)))
    unseen = legibility(wrap, away, np.zeros((80, 160, 3), np.uint8))
    assert not any(report.judged for report in unseen)
    assert all(np.isnan(report.contrast) for report in unseen)


def test_a_wrap_without_trim_has_nothing_to_judge() -> None:
    design = samples.load("half-scale").without_variants()
    layers = tuple(layer for layer in design.layers if layer.kind != "seam trim")
    bare = build(Plan(design.model_copy(update={"layers": layers}), Shelf.shipped()), Detail.DRAFT)
    assert legibility(bare, stage_for(bare, 2.0), np.zeros((80, 160, 3), np.uint8)) == []


def test_shades_of_a_grade_are_one_band() -> None:
    made = build(
        Plan(samples.load("graded-trim").without_variants(), Shelf.shipped()), Detail.DRAFT
    )
    reports = legibility(made, stage_for(made, 2.0), np.zeros((600, 1200, 3), np.uint8))
    graded = [report.band for report in reports if report.trim == "shades"]
    assert graded == ["the 9-thread graded band"] * 2
    # A trim beside a trim is named by its thread.
    assert any(report.against == "the Sloe Black A" for report in reports)


def test_a_ring_of_trim_beside_a_lattice() -> None:
    made = build(
        Plan(samples.load("cord-lattice").without_variants(), Shelf.shipped()), Detail.DRAFT
    )
    camera, size = reading_view(made.plan)
    picture = np.zeros((size[1], size[0], 3), np.uint8)
    reports = legibility(made, stage_for(made, 2.0).with_camera(camera), picture)
    assert reports[0].against == "the cover on the relief"
    assert reports[-1].against == "the cover on the flat"
    assert all(report.judged for report in reports)
    # All is black, so all is lost.
    assert all(report.sentence for report in reports)


@pytest.mark.parametrize("name", samples.names())
def test_reading_view_holds_the_wrap_and_shows_its_threads(name: str) -> None:
    plan = Plan(samples.load(name).without_variants(), Shelf.shipped())
    camera, (width, height) = reading_view(plan)
    assert width == 2560
    ends = np.array(plan.wound_span) - plan.middle
    radius = float(plan.blank.radius(plan.wound_span[0]))
    around = np.linspace(0, 2 * np.pi, 90)
    corners = np.array([[x, radius * np.cos(t), radius * np.sin(t)] for x in ends for t in around])
    place, depth = camera.project(corners, (width, height))
    assert (depth > 0).all()
    assert (place >= 0).all()
    assert (place <= [width, height]).all()
    # Two pixels for the thinnest thread, so that every band is judged.
    across, _ = camera.project(
        np.array([[0, 0, radius], [plan.smallest_thread(), 0, radius]]), (width, height)
    )
    assert across[1, 0] - across[0, 0] > 2
    assert camera.distance == pytest.approx(640)


def test_veil_is_what_the_glare_equation_gives() -> None:
    # [CIE146], general disability glare equation at 40 years, integrated over a bright field
    # from 0.5° to 5° from the line of sight: L_veil / L.
    def glare(t: float) -> float:
        return 10 / t**3 + (5 / t**2 + 0.1 / t) * (1 + (40 / 62.5) ** 4) + 0.0025

    veil, _ = quad(lambda t: glare(t) * 2 * np.pi * t * np.radians(1) ** 2, 0.5, 5)
    assert veil == pytest.approx(0.06, abs=0.002)
    assert 0.7 * veil < VEIL < veil


def test_needed_contrast_of_an_even_band_is_the_bars(
    wrap: Wrap, stage: Stage, painted: Callable[..., NDArray[np.uint8]]
) -> None:
    report = legibility(wrap, stage, painted(CLEAR))[0]
    # Two threads of 0.17 mm at 640 mm.
    assert report.arc_minutes == pytest.approx(0.34 / 640 * 180 / np.pi * 60, rel=0.01)
    light = np.mean([float(linear(CLEAR[name]) @ [0.2126, 0.7152, 0.0722]) for name in CLEAR])
    even = 1 / bar_sensitivity(report.arc_minutes / 60, light * 500 / np.pi)
    assert even <= report.needed * 1.3


def test_palette_knows_every_band(wrap: Wrap) -> None:
    # What the measurement rests on: a band's thread is found on the surface by its appearance.
    for name in ("Sloe Black A", "Tarn Teal A", "Heron Silver A"):
        look = thread_appearance(wrap.plan.shelf.thread(name), True)
        assert (wrap.surface.material == wrap.palette.index(look)).any()
