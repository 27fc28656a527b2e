"""The path-traced picture against scenes whose light is known in advance."""

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import flip_evaluator
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from geometry.bodies.mesh import Mesh
from geometry.grid import Grid
from geometry.surface import Surface
from materials.appearance import Appearance
from materials.colour import linear_to_srgb
from render.common.problems import RequestProblem
from render.live.live import LiveScene
from render.pathtraced import denoise, engine
from render.pathtraced.engines import Engine
from render.pathtraced.photo import PhotoScene
from scenes.building.build import Wrap
from scenes.light.lights import directions
from scenes.light.tone import EXPOSURE, display_light
from scenes.stage.backdrop import Backdrop
from scenes.stage.bodies import PlainBody, WrapBody
from scenes.stage.camera import Camera
from scenes.stage.stage import Stage, stage_for

pytestmark = pytest.mark.render

Floats = NDArray[np.float32]
_RADIUS = 10.0
_IOR = 1.53


@pytest.fixture
def empty(sample_wrap: Callable[[str], Wrap]) -> Stage:
    """Give a stage with nothing on it, in even light of radiance 1, its card far out of sight."""
    stage = stage_for(sample_wrap("half-scale"), 1.0)
    points = np.zeros((2, 2, 3), np.float32)
    points[:, 1, 0], points[1, :, 2], points[..., 1] = 1, 1, -5000
    card = Backdrop(points, points[0, :, 0], np.ones((2, 2, 3), np.float32), (0.0, 0.0, 0.0))
    camera = Camera((0.0, 0.0, 500.0), (0.0, 0.0, 0.0), (0.0, 1.0, 0.0), np.deg2rad(5))
    return lit(
        replace(stage, wraps=(), bodies=(), backdrop=card, camera=camera, turn=0.0),
        np.ones((32, 64, 3), np.float32),
    )


def lit(stage: Stage, light: Floats) -> Stage:
    return replace(stage, light=light, surroundings=light)


def ball(place: tuple[float, float, float], radius: float, look: Appearance) -> PlainBody:
    """Make a ball, `place` being in the geometry's frame."""
    polar, azimuth = np.linspace(0, np.pi, 61), np.linspace(0, 2 * np.pi, 121)
    sine = np.sin(polar)[:, None]
    out = np.stack(
        (sine * np.cos(azimuth), sine * np.sin(azimuth), np.cos(polar)[:, None] + 0 * azimuth),
        axis=-1,
    )
    index = np.arange(out[..., 0].size, dtype=np.int32).reshape(61, 121)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, :-1], index[1:, 1:]
    faces = np.stack((a, c, d, a, d, b), axis=-1).reshape(-1, 3)
    normals = out.reshape(-1, 3).astype(np.float32)
    points = (np.array(place) + radius * normals).astype(np.float32)
    flat = np.zeros(len(points), np.float32)
    mesh = Mesh(
        points,
        normals,
        normals,
        np.zeros((len(points), 2), np.float32),
        faces,
        flat.astype(np.int16),
        flat,
        flat,
    )
    return PlainBody("ball", mesh, look, np.ones_like(points))


def smooth_wrap(look: Appearance, middle: float, film: float) -> WrapBody:
    """Make a plain cylinder under `film` mm of finish; its row is so wide that it has none."""
    grid = Grid.even(middle - 30, middle + 30, 17, 192)
    shape = (grid.z.size, grid.theta.size)
    zero = np.zeros(shape, np.float32)
    surface = Surface(
        grid.z,
        grid.theta,
        np.full(shape, _RADIUS),
        np.zeros(shape, np.int16),
        zero,
        zero + 0.5,
        zero,
        np.zeros(shape, np.bool_),
    )
    outside = surface.with_arrays(radius=surface.radius + film) if film else None
    return WrapBody(surface, surface, outside, (look,), _IOR, 5.0)


def middle_of(picture: Floats, share: float = 0.1) -> float:
    """Mean of the middle of a picture."""
    height, width = picture.shape[:2]
    y, x = int(height * share / 2), int(width * share / 2)
    return float(picture[height // 2 - y : height // 2 + y, width // 2 - x : width // 2 + x].mean())


# ---- Furnaces


def test_body_colour_comes_back_through_the_finish(empty: Stage) -> None:
    # In even light the body's share and the finish's own shine add up: F0 + (1 - F0) R, F0 of 1.53
    # by Fresnel's formula, R as seen from under the finish (Lekner & Dorf 1988, eq. 3). That is for
    # flat finish: on a rod a thick film lets more out, so this one is thin.
    look = Appearance("body", (0.18, 0.18, 0.18))
    near = replace(empty.camera, view_angle=np.deg2rad(0.5))
    stage = replace(empty, wraps=(smooth_wrap(look, empty.middle, 0.05),), camera=near)
    with PhotoScene(stage, (16, 16), samples=2048, aperture=0, denoise=False) as scene:
        seen = scene.radiance().mean()
    shine = ((_IOR - 1) / (_IOR + 1)) ** 2
    assert seen == pytest.approx(shine + (1 - shine) * 0.18, abs=0.004)


@pytest.mark.parametrize("film", [0.0, 0.02, 0.5])
def test_perfect_mirror_keeps_all_light(empty: Stage, film: float) -> None:
    # White furnace (Heitz 2014): smooth as it is, the mirror loses next to nothing to masking.
    look = Appearance(
        "mirror", (1.0, 1.0, 1.0), metallic=1.0, roughness_along=0.2, roughness_across=0.2
    )
    stage = replace(empty, wraps=(smooth_wrap(look, empty.middle, film),))
    with PhotoScene(stage, (32, 32), samples=64, aperture=0, denoise=False) as scene:
        picture = scene.radiance()
    assert 0.98 < middle_of(picture, 0.3) < 1.005
    # Single pixels may pass 1: paths that are ended by lot leave others 1 / 0.95 brighter.
    assert picture.max() < 1.1


def test_card_sends_back_its_albedo(empty: Stage) -> None:
    # Lambert: radiance = albedo / pi times irradiance, and even light of 1 has the irradiance pi.
    points = np.zeros((2, 2, 3), np.float32)
    points[:, 0, 0], points[:, 1, 0] = -50, 50
    points[0, :, 1:], points[1, :, 1:] = (-50, -100), (50, -100)
    card = Backdrop(points, points[0, :, 0], np.ones((2, 2, 3), np.float32), (0.18, 0.18, 0.18))
    with PhotoScene(
        replace(empty, backdrop=card), (16, 16), samples=64, aperture=0, denoise=False
    ) as scene:
        assert middle_of(scene.radiance(), 0.9) == pytest.approx(0.18, abs=0.002)


# ---- Which way things are


def three_lamps() -> Floats:
    toward = directions(64)
    light: Floats = (toward > 0.85).astype(np.float32)
    return light


@pytest.mark.parametrize("kind", ["photo", "live"])
@pytest.mark.parametrize("turn", [0.0, 1.0])
def test_mirror_ball_shows_each_lamp_where_it_stands(empty: Stage, kind: str, turn: float) -> None:
    # A mirror shows a lamp where its normal halves the angle between lamp and eye: a red lamp at
    # the tip, a green one above and a blue one behind the camera.
    look = Appearance(
        "mirror", (1.0, 1.0, 1.0), metallic=1.0, roughness_along=0.1, roughness_across=0.1
    )
    stage = lit(empty, three_lamps())
    stage = replace(stage, bodies=(ball((0, 0, stage.middle), _RADIUS, look),))
    size = (64, 64)
    if kind == "live":
        with LiveScene(stage, size) as live:
            picture = live.picture(turn).astype(float)
    else:
        with PhotoScene(stage, size, samples=16, aperture=0, denoise=False) as scene:
            scene.picture(0.5)  # light and card move when the rod turns
            picture = scene.picture(turn).astype(float)
    reach = _RADIUS / np.sqrt(2) * 64 / (2 * 500 * np.tan(stage.camera.view_angle / 2))
    assert colour_at(picture, reach, 0) == "red"
    assert colour_at(picture, 0, reach) == "green"
    assert colour_at(picture, 0, 0) == "blue"
    assert colour_at(picture, -reach, 0) == "dark"
    assert colour_at(picture, 0, -reach) == "dark"


def colour_at(picture: NDArray[np.float64], right: float, up: float) -> str:
    x, y = round(32 + right), round(32 - up)
    patch = picture[y - 2 : y + 2, x - 2 : x + 2].mean(axis=(0, 1))
    names = ("red", "green", "blue")
    return names[int(patch.argmax())] if patch.max() > 60 else "dark"


@pytest.mark.parametrize("turn", [0.0, 2.0])
def test_things_stand_where_the_camera_projects_them(empty: Stage, turn: float) -> None:
    place = np.array((8.0, 6.0, empty.middle + 12.0, 1.0))
    black = Appearance("black", (0.0, 0.0, 0.0), roughness_along=1.0, roughness_across=1.0)
    camera = Camera((90.0, 160.0, 460.0), (0.0, 0.0, 0.0), (0.0, 1.0, 0.0), np.deg2rad(6))
    spot = ball((8.0, 6.0, empty.middle + 12.0), 4.0, black)
    stage = replace(empty, bodies=(spot,), camera=camera)
    size = (96, 72)
    expected, _ = camera.project((stage.transform(turn) @ place)[:3], size)
    with PhotoScene(stage, size, samples=16, aperture=0, denoise=False) as scene:
        photo = scene.radiance(turn).mean(axis=2) < 0.5
    with LiveScene(stage, size) as live:
        drawn = live.picture(turn).mean(axis=2) < 128
    for seen in (photo, drawn):
        y, x = np.nonzero(seen)
        centre = (x.mean() + 0.5, y.mean() + 0.5)
        assert centre == pytest.approx(expected.tolist(), abs=0.5)
    assert not (photo & ~binary_dilation(drawn)).any()
    assert not (drawn & ~binary_dilation(photo)).any()


def test_lens_is_sharp_at_its_focus_only(empty: Stage) -> None:
    # A point d behind the focus f is spread over 2 a d / (f + d) of the plane in focus (thin lens,
    # similar triangles): from the second ball that is 5.4 mm, 10 pixels.
    black = Appearance("black", (0.0, 0.0, 0.0), roughness_along=1.0, roughness_across=1.0)
    near = ball((0.0, 0.0, empty.middle), 4.0, black)
    # The stage's x is the geometry's z, and its z the geometry's y.
    far = ball((0.0, -60.0, empty.middle + 16.0), 4.0, black)
    stage = replace(empty, bodies=(near, far))
    with PhotoScene(stage, (80, 80), samples=64, aperture=0.05, denoise=False) as scene:
        row = scene.radiance()[40].mean(axis=1)
    edge = np.abs(np.diff(row))
    sharp, blurred = edge[:54].max(), edge[58:].max()
    assert sharp > 0.5
    assert 0.03 < blurred < 0.25


# ---- Every engine


@pytest.fixture
def selected() -> Iterator[Callable[[Engine], None]]:
    """Select an engine; afterwards the one before is selected again."""
    before = engine.selected_engine()

    def select(wanted: Engine) -> None:
        try:
            engine.select_engine(wanted)
        except RequestProblem as problem:
            pytest.skip(str(problem))  # in CI, where start.py brings LLVM, that is a failure

    yield select
    engine.select_engine(before)


def lit_from_above(stage: Stage) -> Stage:
    light = 0.5 + 0.15 * directions(64)[..., 1:2].astype(np.float32)
    return lit(stage, np.repeat(light, 3, axis=2) * np.array((1.0, 0.9, 0.8), np.float32))


def test_every_engine_makes_the_same_picture(
    empty: Stage, selected: Callable[[Engine], None]
) -> None:
    # Finish over metal over a dry end, a ball, a card and a lens; turned after a first picture.
    metal = Appearance(
        "gold", (0.9, 0.6, 0.2), metallic=1.0, roughness_along=0.3, roughness_across=0.3
    )
    red = Appearance("red", (0.6, 0.1, 0.1), roughness_along=0.6, roughness_across=0.6)
    stand_in = smooth_wrap(metal, empty.middle, 0.5)
    points = np.zeros((2, 2, 3), np.float32)
    points[:, 0, 0], points[:, 1, 0] = -80, 80
    points[0, :, 1:], points[1, :, 1:] = (-30, 60), (20, -80)
    card = Backdrop(points, points[0, :, 0], np.ones((2, 2, 3), np.float32), (0.4, 0.4, 0.4))
    stage = replace(
        lit_from_above(empty),
        wraps=(stand_in,),
        bodies=(ball((8.0, 12.0, empty.middle + 12.0), 6.0, red),),
        backdrop=card,
    )
    pictures = []
    for kind in (Engine.SCALAR, Engine.LLVM):
        selected(kind)
        with PhotoScene(stage, (128, 72), samples=144, denoise=False) as scene:
            scene._prepared()  # so that light and card move
            light = scene.radiance(0.3)
        # Means of 8 x 16 pixels have 18432 paths, so that little noise is left.
        blocks = light.reshape(9, 8, 8, 16, 3).mean(axis=(1, 3))
        pictures.append(linear_to_srgb(display_light(blocks * EXPOSURE)).astype(np.float32))
    _, difference, _ = flip_evaluator.evaluate(*pictures, "LDR")
    assert difference < 0.01


# ---- Working with it


def test_every_pass_is_reported(empty: Stage) -> None:
    look = Appearance("body", (0.5, 0.5, 0.5))
    stage = replace(empty, wraps=(smooth_wrap(look, empty.middle, 0.5),))
    told = []
    with PhotoScene(
        stage, (24, 16), samples=10, step=lambda done, total: told.append((done, total))
    ) as scene:
        assert scene.passes() == 3
        seconds = scene.estimate()
        assert told == []
        picture = scene.picture()
    assert told == [(1, 3), (2, 3), (3, 3)]
    assert 0 < seconds < 60
    assert picture.shape == (16, 24, 3)
    assert picture.dtype == np.uint8


def test_cancelled_between_passes_it_leaves_nothing_running(empty: Stage) -> None:
    look = Appearance("body", (0.5, 0.5, 0.5))
    stage = replace(empty, wraps=(smooth_wrap(look, empty.middle, 0.5),))

    def cancel(done: int, _total: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    before = threading.active_count()
    with (
        pytest.raises(KeyboardInterrupt),
        PhotoScene(stage, (24, 16), samples=64, step=cancel) as scene,
    ):
        scene.picture()
    assert threading.active_count() == before


def test_without_the_extra_one_sentence_says_what_to_install(
    empty: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr(engine, "import_module", missing)
    monkeypatch.setattr(engine, "_selected", None)
    with pytest.raises(RequestProblem, match=r'pip install "turnlight\[photo\]"') as told:
        PhotoScene(empty, (24, 16))
    assert str(told.value).count(". ") == 0


def test_without_the_denoiser_the_picture_is_left_as_it_is(
    monkeypatch: pytest.MonkeyPatch, rng: np.random.Generator
) -> None:
    def missing(name: str) -> None:
        raise ImportError(name)

    noisy = rng.random((8, 8, 3), np.float32)
    monkeypatch.setattr(denoise, "import_module", missing)
    assert not denoise.available()
    assert denoise.denoised(noisy, noisy, noisy) is noisy


class _Far:
    """Stands for a device that cannot use the program's memory, as a graphics processor."""

    def __init__(self, device: Any) -> None:
        self._device = device

    def can_share(self, image: Floats) -> bool:
        return False

    def __getattr__(self, name: str) -> Any:
        return getattr(self._device, name)


def test_a_device_with_memory_of_its_own_gives_the_same(
    monkeypatch: pytest.MonkeyPatch, rng: np.random.Generator
) -> None:
    light, albedo = rng.random((2, 48, 64, 3), np.float32)
    normal = np.zeros_like(light)
    normal[10:20, :, 2] = 1  # where the guides are filtered too
    near = denoise.denoised(light, albedo, normal)
    # Here is no such device: the one that there is takes its place.
    np.testing.assert_array_equal(denoise.denoised(light, albedo, normal, on_gpu=True), near)
    device = denoise._device
    monkeypatch.setattr(denoise, "_device", lambda kind: _Far(device(kind)))
    np.testing.assert_array_equal(denoise.denoised(light, albedo, normal), near)


def test_denoiser_takes_noise_away(rng: np.random.Generator) -> None:
    assert denoise.available()
    flat = np.full((64, 64, 3), 0.5, np.float32)
    noisy = (flat + rng.normal(0, 0.1, flat.shape)).astype(np.float32)
    clean = denoise.denoised(noisy, flat, np.zeros_like(flat))
    assert clean.std() < 0.1 * noisy.std()
    assert clean.mean() == pytest.approx(0.5, abs=0.01)
