"""The browser draws what VTK draws; it takes every shader, and survives the loss of its context."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser
from scipy.ndimage import map_coordinates
from scipy.spatial.transform import Rotation

from geometry.grid import Detail
from materials.finish import FINISH
from materials.shelf import Shelf
from render.browser.model import Model, model_of, text_of
from render.browser.scripts import drawing_script
from render.browser.shader_texts import BODIES, program_texts
from render.browser.stage_json import unpacking_json
from render.common.progress import Progress
from render.live.live import LiveScene
from render.measure.browser_agreement import ENLARGEMENT, MAX_FLIP, BrowserDrawing, compare_hosts
from render.measure.likeness import mean_flip
from render.output.compare import shared_camera
from render.request.subject import Subject
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.light.lights import LightKind, directions, radiance_map
from scenes.light.prefilter import IN_FINISH, prefiltered
from scenes.packing.images import pixmap, webp
from scenes.packing.light import CODES, packed_light
from scenes.stage.backdrop import backdrop, card_in_picture, surroundings
from scenes.stage.camera import Camera
from scenes.stage.outline import rod_outline
from scenes.stage.stage import Stage, lighting, stage_for
from tests.kept import kept
from tests.render.conftest import coarsely_meshed

SIZE = (320, 180)


def subject(name: str, **changes: object) -> Subject:
    design = samples.load(name).without_variants()
    changed = {path.replace("__", "."): value for path, value in changes.items()}
    return Subject(with_changes(design, changed), Shelf.shipped())


COMPILE = """(programs) => {
    const gl = document.createElement("canvas").getContext("webgl2");
    const complaints = {};
    for (const [name, texts] of Object.entries(programs)) {
        try { linked(gl, texts); } catch (error) { complaints[name] = error.message; }
    }
    return complaints;
}"""


@pytest.mark.browser
def test_every_program_links(browser: Browser) -> None:
    page = browser.new_page()
    page.set_content("<!doctype html><title>Shaders</title>")
    page.add_script_tag(content=f"{drawing_script()}\nwindow.linked = linked;")
    programs = program_texts()
    assert set(BODIES) < set(programs)
    assert page.evaluate(COMPILE, programs) == {}
    # Desktop OpenGL takes an integer there.
    vertex, fragment = programs["glow"]
    spoilt = fragment + "\nfloat two(float x) { return 2 * x; }\n"
    assert "wrong operand types" in page.evaluate(COMPILE, {"glow": (vertex, spoilt)})["glow"]
    page.close()


UNPACK = """async ([model, programs, map, rows]) => {
    const side = model.lightSide + 2;
    const gl = openContext(document.createElement("canvas"), side);
    const unpack_light = linked(gl, programs.unpack_light);
    const into = lightTarget(gl, side, side);
    await lightMaps(gl, { unpack_light }, model, bytesOf, [map], 0, into);
    const floats = new Float32Array(4 * side * rows);
    gl.bindFramebuffer(gl.FRAMEBUFFER, gl.createFramebuffer());
    gl.framebufferTexture2D(
        gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, into, 0);
    gl.readPixels(0, 0, side, rows, gl.RGBA, gl.FLOAT, floats);
    return [...floats];
}"""


@pytest.mark.browser
@pytest.mark.parametrize("level", [3, IN_FINISH])
def test_blurred_light_is_unpacked_as_it_was(browser: Browser, level: int) -> None:
    # A map in half floats, of which a step is 1 part in 1024 at most.
    (exact,) = prefiltered(radiance_map(LightKind.SOFT_BOXES, 256), FINISH.ior, levels=(level,))
    (packed,) = packed_light(exact[None], level)
    exact = exact[:64]
    page = browser.new_page()
    page.set_content("<!doctype html><title>Light</title>")
    names = ("openContext", "linked", "lightTarget", "lightMaps", "bytesOf")
    page.add_script_tag(
        content=f"{drawing_script()}\nObject.assign(window, {{{', '.join(names)}}});"
    )
    unpacked = []
    # As full detail comes, and as a draft does.
    for encode in (webp, pixmap):
        high, low = (text_of(encode(part)) for part in (packed.high, packed.low))
        sent = {"high": high, "low": low, "stops": (packed.darkest, packed.brightest)}
        given = [unpacking_json(), program_texts(), sent, len(exact)]
        unpacked.append(np.array(page.evaluate(UNPACK, given)))
    page.close()
    found, stored = unpacked
    assert np.array_equal(found, stored)
    off = found.reshape(*exact.shape[:2], 4)[..., :3] / np.maximum(exact, 2.0**packed.darkest) - 1
    step = np.log(2) * (packed.brightest - packed.darkest) / CODES
    # A quarter of a step on average, as of any rounding, and little between texels.
    assert np.abs(off).mean() < 0.25 * step + 0.5 / 1024 + 0.0015


ON_CARD = """async ([model, programs, blobs, light, turn]) => {
    const gl = openContext(document.createElement("canvas"), model.lightSide);
    const linkedOnes = {};
    for (const [name, texts] of Object.entries(programs)) linkedOnes[name] = linked(gl, texts);
    const bytes = async (name) => bytesOf(blobs[name]);
    const lit = await lightOf(gl, linkedOnes, model, bytes, light, 0);
    const { card } = lit.turned([turn, 0]);
    const { profile, columns, strips } = light.card;
    const size = [columns * (strips.length - 1) + 1, profile.length / 2];
    const floats = new Float32Array(4 * size[0] * size[1]);
    gl.bindFramebuffer(gl.FRAMEBUFFER, gl.createFramebuffer());
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, card, 0);
    gl.readPixels(0, 0, ...size, gl.RGBA, gl.FLOAT, floats);
    return [...floats];
}"""


def model_alone(name: str, *lights: LightKind) -> tuple[Subject, Camera, Model]:
    """A sample in its own light and others, with the camera that it is seen by."""
    one = subject(name)
    camera = shared_camera([one.plan()], SIZE[0] / SIZE[1])
    return one, camera, model_of([one], camera, SIZE, Detail.DRAFT, lights=lights)


@kept
def on_card() -> tuple[Subject, Camera, Model]:
    return model_alone("vine-band")


@pytest.mark.browser
@pytest.mark.parametrize("turn", [0.0, 0.7])
def test_the_card_is_lit_as_python_lights_it(browser: Browser, turn: float) -> None:
    one, camera, model = on_card()
    page = browser.new_page()
    page.set_content("<!doctype html><title>A card</title>")
    names = ("openContext", "linked", "lightOf", "bytesOf")
    page.add_script_tag(
        content=f"{drawing_script()}\nObject.assign(window, {{{', '.join(names)}}});"
    )
    (light,) = model.data["designs"][0]["lights"]
    sent = [unpacking_json(), program_texts(), model.data["blobs"], light, turn]
    found = page.evaluate(ON_CARD, sent)
    page.close()
    spec = one.design.light
    spec = spec.model_copy(update={"turn": spec.turn + turn})
    card = lighting(one.plan(), spec, camera, SIZE[0] / SIZE[1]).card
    lit = np.array(found).reshape(*card.radiance.shape[:2], 4)[..., :3]
    # Half floats, 64 samples round a texel of the light, and a light packed in 12 bits.
    np.testing.assert_allclose(lit, card.radiance, rtol=0.005, atol=3e-4)


@pytest.mark.browser
@pytest.mark.render
@pytest.mark.parametrize(
    ("name", "light", "enlarged", "changes"),
    [
        # Ground with a pattern.
        ("half-scale", LightKind.SOFT_BOXES, (1.0, ENLARGEMENT), {"light__ground": "workbench"}),
        # Translucent thread under finish, in the smallest lamp.
        ("cord-lattice", LightKind.LOW_SUN, (1.0, ENLARGEMENT), {}),
        # Guides, and a wrap on a foot; dry.
        ("ringed-guide", LightKind.NORTH_WINDOW, (1.0,), {"finish__coats": 0}),
        # Fibres and lacquer on the bare blank.
        ("open-diamonds", LightKind.SOFT_BOXES, (1.0, ENLARGEMENT), {}),
        # More looks than a byte has numbers.
        ("heron-plate", LightKind.WORKSHOP_LAMP, (1.0,), {}),
    ],
)
def test_both_hosts_draw_one_picture(
    browser: Browser,
    artefacts: Path,
    name: str,
    light: LightKind,
    enlarged: tuple[float, ...],
    changes: dict[str, object],
) -> None:
    one = subject(name, **changes)
    for found in compare_hosts(
        browser, one, Detail.DRAFT, size=SIZE, lights=(light,), enlarged=enlarged
    ):
        for host, picture in (("live", found.live), ("browser", found.browser)):
            Image.fromarray(picture).save(artefacts / f"{host}-{found.enlarged:g}.png")
        assert found.flip <= MAX_FLIP[found.enlarged]


def leant(stage: Stage, angle: float, plan: Plan) -> Stage:
    """A stage whose light is leant towards the tip of the rod, rad, its card lit and blurred anew.

    The direction half way between overhead and the viewer leans by the whole angle.
    """
    rows = stage.light.shape[0]
    axis = Rotation.from_euler("x", np.pi / 4).apply([0.0, 0.0, 1.0])
    back = Rotation.from_rotvec(angle * axis)
    x, y, z = back.apply(directions(rows).reshape(-1, 3)).T
    row = np.arccos(np.clip(y, -1, 1)) / np.pi * rows - 0.5
    column = np.arctan2(z, x) % (2 * np.pi) / np.pi * rows - 0.5
    # Columns go on round the poles' axis; rows end there.
    light = np.stack(
        [
            map_coordinates(
                np.pad(channel, ((1, 1), (2, 2)), mode="wrap")[1:-1],
                [np.clip(row, 0, rows - 1), column + 2],
                order=1,
            ).reshape(rows, 2 * rows)
            for channel in np.moveaxis(stage.light, -1, 0)
        ],
        axis=-1,
    ).astype(np.float32)
    card = backdrop(
        light,
        stage.backdrop.albedo,
        rod=rod_outline(plan),
        drop=1.9 * plan.middle_radius + 5,
        behind=16 * plan.middle_radius,
        reach=1500.0,
    )
    around = surroundings(light, card_in_picture(card, stage.camera, SIZE[0] / SIZE[1]))
    return replace(stage, light=light, surroundings=around, backdrop=card)


@kept
def coarse_half_scale() -> tuple[Subject, Camera, Model]:
    """Of few triangles: no outline is looked at."""
    with coarsely_meshed():
        return model_alone("half-scale", LightKind.LOW_SUN)


@pytest.mark.browser
@pytest.mark.render
@pytest.mark.usefixtures("coarse_mesh")
def test_a_moved_light_is_that_of_vtk(browser: Browser, artefacts: Path) -> None:
    """The light that the graphics processor turns, leans, blurs and puts on the card."""
    one, camera, model = coarse_half_scale()
    aspect = SIZE[0] / SIZE[1]
    wrap = one.build(Detail.DRAFT, Progress.none())
    drawn = BrowserDrawing(browser, model)
    for kind, turn, lean in (
        (LightKind.LOW_SUN, -1.2, 0.0),
        (LightKind.SOFT_BOXES, 0.0, 0.6),
    ):
        spec = wrap.design.light.model_copy(
            update={"kind": kind, "turn": wrap.design.light.turn + turn}
        )
        stage = stage_for(wrap, aspect, camera=camera, light=spec)
        if lean:
            stage = leant(stage, lean, wrap.plan)
        with LiveScene(stage, SIZE) as live:
            wanted = live.picture()
        light = model.lights.index(kind.value)
        moved = drawn.picture(light=light, turn=stage.turn, lightTurn=(turn, lean))
        unmoved = drawn.picture(light=light, turn=stage.turn)
        for host, picture in (("live", wanted), ("browser", moved)):
            Image.fromarray(picture).save(artefacts / f"{host}-{kind.value}-{turn:g}-{lean:g}.png")
        assert mean_flip(wanted, moved) <= MAX_FLIP[ENLARGEMENT]
        assert mean_flip(wanted, unmoved) > 3 * MAX_FLIP[ENLARGEMENT]
    drawn.close()


@pytest.mark.browser
def test_dry_and_finished_upright_and_after_a_loss(browser: Browser) -> None:
    _, _, model = coarse_half_scale()
    # Dry and finished have one set of maps.
    assert len(model.data["maps"]) == 1
    drawn = BrowserDrawing(browser, model)
    finished = drawn.picture(turn=0.3)
    dry = drawn.picture(turn=0.3, finished=False)
    assert np.abs(finished.astype(int) - dry).mean() > 0.5
    # A quarter turn of the picture; samples lie elsewhere in it, so edges may differ.
    upright = drawn.picture(
        turn=0.3, upright=True, width=SIZE[1], height=SIZE[0], middle=(SIZE[0] / 2, SIZE[1] / 2)
    )
    assert np.abs(np.rot90(finished).astype(int) - upright).mean() < 1.5
    drawn.lose_context()
    assert np.array_equal(drawn.picture(turn=0.3), finished)
    drawn.close()
