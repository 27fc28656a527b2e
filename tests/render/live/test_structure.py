"""What stands where in a picture: trims along the strip's edges, facets at the mesh's spacing.

The camera's projection is worked out here from the pinhole model (Hartley & Zisserman 2004,
"Multiple View Geometry", section 6.1), not taken from the renderer.
"""

import numpy as np
import pytest
from matplotlib.colors import rgb_to_hsv
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.progress import Progress
from render.output.capture import scene_of
from render.request.subject import Subject
from scenes.building.build import Plan, Wrap
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.files import samples
from scenes.stage.stage import Stage, stage_for

pytestmark = pytest.mark.render

SIZE = (480, 270)
TRIM = "Tarn Teal A"
THREADS = 8


def drawn(design: Design, turn: float = 0.0) -> tuple[Wrap, Stage, NDArray[np.uint8]]:
    wrap = Subject(design, Shelf.shipped()).build(Detail.DRAFT, Progress.none())
    with scene_of(wrap, SIZE, Progress.none()) as scene:
        picture = scene.picture(turn)
    return wrap, stage_for(wrap, SIZE[0] / SIZE[1]), picture


def seen(
    stage: Stage,
    turn: float,
    theta: NDArray[np.float64],
    radius: NDArray[np.float64],
    z: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Find where points of the rod are in the picture, x, y in pixels, and which face us."""
    around = np.stack((np.cos(theta), np.sin(theta), 0 * theta), axis=-1)
    points = radius[:, None] * around + np.stack((0 * z, 0 * z, z), axis=-1)
    placing, camera = stage.transform(turn), stage.camera
    points = points @ placing[:3, :3].T + placing[:3, 3]
    facing = around @ placing[:3, :3].T
    eye = np.array(camera.position)
    forward = np.array(camera.target) - eye
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, camera.up)
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    away = points - eye
    scale = SIZE[1] / 2 / np.tan(camera.view_angle / 2) / (away @ forward)
    x = SIZE[0] / 2 + (away @ right) * scale - 0.5
    y = SIZE[1] / 2 - (away @ up) * scale - 0.5
    towards = -away / np.linalg.norm(away, axis=1, keepdims=True)
    return np.stack((x, y), axis=1), (facing * towards).sum(axis=1) > 0.35


def beside_edge(plan: Plan, outward: int, beside: float) -> tuple[NDArray[np.float64], ...]:
    """Follow a line `beside` mm from an edge of the strip: theta, radius, z."""
    assert plan.relief is not None
    winding = plan.relief.winding
    z = np.linspace(plan.start + 3, plan.end - 3, 600)
    across = outward * (plan.relief.width / 2 + beside)
    theta = winding.hand.sign * winding.phase_at(z - across / np.sin(winding.angle_at(z)))
    return theta, plan.blank.radius(z) + 0.25, z


def share_of_hue(picture: NDArray[np.uint8], at: NDArray[np.float64], hue: float) -> float:
    column, row = np.rint(at).astype(int).T
    hsv = rgb_to_hsv(picture[row, column] / 255)
    away = np.abs((hsv[:, 0] - hue + 0.5) % 1 - 0.5)
    return float(((away < 0.06) & (hsv[:, 1] > 0.2)).mean())


@pytest.mark.parametrize(("hand", "turn"), [("right", 0.0), ("left", 2.0)])
def test_trims_lie_where_the_winding_says(hand: str, turn: float) -> None:
    design = with_changes(
        samples.load("half-scale").without_variants(),
        {
            "trim.threads": [{"thread": TRIM, "count": THREADS}],
            "relief.hand": hand,
            "light.kind": "north window",
            "blank.fitted": [],
        },
    )
    wrap, stage, picture = drawn(design, turn)
    thread = wrap.plan.shelf.thread(TRIM)
    rgb = [int(thread.colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    hue = float(rgb_to_hsv(rgb)[0])
    half = THREADS * thread.diameter_mm / 2
    for outward in (-1, 1):
        shares = []
        for beside in (half, half + 7, half - 7):
            at, facing = seen(stage, turn, *beside_edge(wrap.plan, outward, beside))
            assert facing.sum() > 100
            shares.append(share_of_hue(picture, at[facing], hue))
        on_trim, on_flat, on_relief = shares
        # Where the finish shines the hue is lost; elsewhere it is the trim's, and nobody else's.
        assert on_trim > 0.7
        assert on_flat < 0.02
        assert on_relief < 0.02


def test_facets_stand_at_the_spacing_of_the_mesh() -> None:
    # Yarns at 45 degrees to the axis, one cell apart: along the blank they come every
    # cell / cos 45 degrees.
    base = samples.load("half-scale").without_variants()
    document = document_of(
        with_changes(
            base,
            {
                "relief.covered_share": 1,
                "relief.cell": 3.6,
                "blank.fitted": [],
                "finish.coats": 0,
            },
        )
    )
    document["layers"] = [one for one in document["layers"] if one["kind"] != "seam trim"]
    wrap, stage, picture = drawn(design_from(document))
    plan = wrap.plan
    luminance = picture.mean(axis=-1)
    z = np.linspace(plan.start + 8, plan.end - 8, 1024)
    power = np.zeros(4097)
    for theta in np.linspace(0.3, 2.3, 41):
        at, _ = seen(stage, 0.0, np.full(z.size, theta), plan.blank.radius(z) + 0.9, z)
        light = map_coordinates(luminance, at.T[::-1], order=1)
        light -= np.polyval(np.polyfit(z - plan.middle, light, 3), z - plan.middle)
        power += np.abs(np.fft.rfft(light * np.hanning(z.size), 8192)) ** 2
    frequency = np.fft.rfftfreq(8192, z[1] - z[0])
    fine = (frequency > 0.05) & (frequency < 1)
    period = 1 / frequency[fine][np.argmax(power[fine])]
    # The angle runs from 44.4 to 45.7 degrees up the taper.
    assert period == pytest.approx(3.6 / np.cos(np.pi / 4), rel=0.03)
