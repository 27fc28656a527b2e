"""What stands on the rod beside the wrap, as a caliper and trimesh would find it."""

from itertools import pairwise

import numpy as np
import pytest
import trimesh

from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import design_from, document_of
from scenes.files.samples import load, names
from scenes.parts.blank import Grip
from scenes.parts.guides import GuideFoot
from scenes.stage.feet import wound_feet
from scenes.stage.fittings import fittings

SHELF = Shelf.shipped()


def plan_of(name, fitted=None, **changes):
    """A sample's plan, with other things fitted or other tables."""
    document = document_of(load(name)) | changes
    document.pop("variants", None)
    # A lacquered blank is no plain body (test_lacquered_blank.py).
    document["blank"].pop("finish", None)
    if fitted is not None:
        document["blank"]["fitted"] = fitted
    return Plan(design_from(document), SHELF)


@pytest.fixture(scope="module", params=names())
def sample(request):
    plan = plan_of(request.param)
    return plan, fittings(plan)


def z_span(body):
    return body.mesh.points[:, 2].min(), body.mesh.points[:, 2].max()


def named(bodies, *wanted):
    return [body for body in bodies if body.name in wanted]


def test_every_body_can_be_drawn(sample):
    _, bodies = sample
    for body in bodies:
        mesh, count = body.mesh, len(body.mesh.points)
        assert len(mesh.faces) < 60_000
        assert np.isfinite(mesh.points).all()
        assert mesh.faces.min() == 0
        assert mesh.faces.max() == count - 1
        np.testing.assert_allclose(np.linalg.norm(mesh.normals, axis=1), 1, atol=1e-5)
        assert body.tint.shape == (count, 3)
        assert body.tint.dtype == np.float32
        assert 0 < body.tint.min()
        assert (body.tint * body.appearance.base_colour).max() <= 1


def test_every_face_looks_outward(sample):
    for body in sample[1]:
        mesh = body.mesh
        corners = mesh.points[mesh.faces].astype(np.float64)
        faces = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        area = np.linalg.norm(faces, axis=1)
        agree = np.einsum("ij,ij->i", faces, mesh.normals[mesh.faces[:, 0]])
        # Single precision 500 mm from the butt blurs triangles thinner than a hundredth.
        assert (agree[area > 1e-4] > 0).all()


def test_bodies_are_closed():
    for body in fittings(plan_of("full-mesh")):
        mesh = trimesh.Trimesh(body.mesh.points.astype(np.float64), body.mesh.faces, process=True)
        assert mesh.is_watertight, body.name
        assert mesh.volume > 0


def test_the_blank_fills_all_that_nothing_else_shows(sample):
    plan, bodies = sample
    shown = [z_span(body) for body in named(bodies, "blank")]
    shown += [*plan.grid_spans, *(tuple(f.surface.z[[0, -1]]) for f in wound_feet(plan))]
    shown.sort()
    for (_, before), (after, _) in pairwise(shown):
        assert after == pytest.approx(before, abs=0.051)
    # 400 mm beyond the first wrap, and 30 mm past all else that stands on a whole rod.
    else_there = [fitting.span for fitting in plan.design.blank.fitted]
    else_there += [(other.start, other.end) for other in plan.others]
    first = min([plan.grid_span[0] - 400, *(start - 30 for start, _ in else_there)])
    last = max([plan.grid_span[1] + 400, *(end + 30 for _, end in else_there)])
    assert shown[0][0] == pytest.approx(max(0, first), abs=1e-3)
    assert shown[-1][1] == pytest.approx(last, abs=1e-3)


def test_the_blank_has_the_measured_taper(sample):
    plan, bodies = sample
    for body in named(bodies, "blank"):
        at, distance = body.mesh.points[:, 2], np.linalg.norm(body.mesh.points[:, :2], axis=1)
        side = distance > 0
        # Single precision at 800 mm is a ten-thousandth.
        np.testing.assert_allclose(distance[side], plan.blank.radius(at[side]), atol=1e-4)


def test_a_grip_measures_what_the_design_says(sample):
    plan, bodies = sample
    grips = [one for one in plan.design.blank.fitted if isinstance(one, Grip)]
    shown = named(bodies, "cork", "foam")
    assert [body.name for body in shown] == [grip.material.value for grip in grips]
    for grip, body in zip(grips, shown, strict=True):
        assert z_span(body) == pytest.approx((grip.start, grip.end), abs=1e-3)
        thickest = np.linalg.norm(body.mesh.points[:, :2], axis=1).max()
        assert 2 * thickest == pytest.approx(grip.diameter, abs=1e-4)


def test_cork_rings_are_glued_every_half_inch():
    plan = plan_of("half-scale")
    grip = plan.design.blank.fitted[0]
    body = named(fittings(plan), "cork")[0]
    along = body.mesh.points[:, 2] - grip.start
    brightness = body.tint.mean(axis=1)
    for ring in range(1, 11):
        joint = np.abs(along - 12.7 * ring) < 0.01
        beside = (np.abs(along - 12.7 * ring) > 0.3) & (np.abs(along - 12.7 * ring) < 3)
        assert brightness[joint].mean() < 0.75 * brightness[beside].mean()


def test_cork_is_warm_and_pitted_and_foam_is_grey():
    cork = named(fittings(plan_of("half-scale")), "cork")
    for body in cork:
        colour = body.tint * body.appearance.base_colour
        red, _, blue = np.median(colour, axis=0)
        assert red > 2 * blue
        dark = (colour.sum(axis=1) < 0.6 * np.median(colour.sum(axis=1))).mean()
        assert 0.005 < dark < 0.12
    assert np.abs(cork[0].tint[:5000] - cork[1].tint[:5000]).max() > 0.1
    for body in named(fittings(plan_of("cord-lattice")), "foam"):
        assert (body.tint[:, 0] == body.tint[:, 2]).all()
        assert 0.01 < body.tint.std() < 0.2


def test_the_same_design_is_shown_the_same():
    first, second = (fittings(plan_of("half-scale")) for _ in range(2))
    for one, other in zip(first, second, strict=True):
        assert (one.mesh.points == other.mesh.points).all()
        assert (one.tint == other.tint).all()


def test_the_grain_has_no_seam():
    body = named(fittings(plan_of("half-scale")), "cork")[0]
    first = np.flatnonzero(body.mesh.uv[:, 0] == 0)
    last = np.flatnonzero(body.mesh.uv[:, 0] == 1)
    assert first.size == last.size > 100
    assert (body.tint[first] == body.tint[last]).all()


# ---- Guides


@pytest.fixture(scope="module")
def bound():
    plan = plan_of("full-mesh")
    return plan, plan.design.blank.fitted[1], wound_feet(plan, Detail.DRAFT)[0]


def test_a_guide_is_bound_at_both_ends_and_bare_where_its_frame_stands(bound):
    plan, foot, shown = bound
    thread = [look.name for look in shown.palette].index(foot.thread)
    wound = (shown.surface.material == thread).all(axis=1)
    changes = np.flatnonzero(np.diff(wound.astype(int)))
    assert changes.size == 4
    start, middle, after, end = shown.surface.z[changes]
    assert start < foot.at - foot.length / 2
    assert end > foot.at + foot.length / 2
    frame = named(fittings(plan), "guide")[0].mesh
    radius = float(plan.blank.radius(foot.at))
    low = np.linalg.norm(frame.points[:, :2], axis=1) < radius + 0.5
    assert middle < frame.points[low, 2].min() + 0.3
    assert after > frame.points[low, 2].max() - 0.3
    assert (shown.surface.material[~wound] != thread).all()


def test_a_guide_stands_on_the_guide_line(bound):
    plan, _, shown = bound
    raised = shown.beneath.radius - plan.blank.radius(shown.beneath.z)[:, None]
    weight = raised.sum(axis=0)
    assert np.angle((weight * np.exp(1j * shown.beneath.theta)).sum()) == pytest.approx(0, abs=1e-6)
    frame = named(fittings(plan), "guide")[0].mesh.points
    assert frame[:, 0].min() > 0
    assert frame[:, 1].min() == pytest.approx(-frame[:, 1].max(), abs=1e-3)


def test_the_finish_is_nowhere_inside_the_thread(bound):
    _, _, shown = bound
    assert shown.outside is not None
    assert (shown.outside.radius >= shown.surface.radius).all()
    assert (shown.surface.radius >= shown.beneath.radius).all()
    # The bare middle stays bare.
    assert (shown.outside.radius == shown.surface.radius).all(axis=1).any()


def test_a_dry_design_has_dry_guides():
    (shown,) = wound_feet(plan_of("full-mesh", finish={"coats": 0}), Detail.DRAFT)
    assert shown.outside is None
    assert not any(look.wet for look in shown.palette)


def test_wraps_of_guides_keep_clear_of_the_wrap_and_of_one_another():
    end = plan_of("full-mesh").grid_span[1]
    fitted = [
        {"kind": "guide", "at": at, "length": 20, "thread": "Otter Brown A"}
        for at in (end + 35, end + 11)
    ]
    plan = plan_of("full-mesh", fitted)
    near, far = (one.surface for one in wound_feet(plan, Detail.DRAFT))
    assert near.z[0] == pytest.approx(end)
    assert far.z[0] == pytest.approx(near.z[-1])
    for surface, middle in ((near, end + 11), (far, end + 35)):
        assert surface.z[0] <= middle - 10
        assert surface.z[-1] >= middle + 10


@pytest.mark.parametrize(
    "fitted",
    [
        {"kind": "grip", "from": 0, "to": 1.2, "diameter": 60, "material": "foam"},
        {"kind": "grip", "from": 0, "to": 3000, "diameter": 30, "material": "cork"},
        {"kind": "grip", "from": 500, "to": 700, "diameter": 16, "material": "cork"},
        {"kind": "guide", "at": 900, "length": 2, "thread": "Otter Brown A"},
        {"kind": "guide", "at": 560, "length": 150, "thread": "Otter Brown A"},
        {"kind": "guide", "at": 5900, "length": 30, "thread": "Otter Brown A"},
        {"kind": "guide", "at": 1, "length": 30, "thread": "Otter Brown A"},
    ],
    ids=["disc", "mast", "over the wrap", "tiny guide", "in the wrap", "past the tip", "at butt"],
)
def test_odd_fittings_are_shown_all_the_same(fitted):
    plan = plan_of("full-mesh", [fitted])
    bodies, feet = fittings(plan), wound_feet(plan, Detail.DRAFT)
    assert len(feet) == sum(isinstance(one, GuideFoot) for one in plan.design.blank.fitted)
    for body in bodies:
        assert len(body.mesh.faces) < 60_000
        assert np.isfinite(body.mesh.points).all()
        assert np.isfinite(body.tint).all()
        for shown in [plan.grid_span, *(foot.surface.z[[0, -1]] for foot in feet)]:
            if body.name == "blank":
                low, high = z_span(body)
                assert high <= shown[0] + 1e-3 or low >= shown[1] - 1e-3
    for foot in feet:
        assert np.isfinite(foot.surface.radius).all()
        assert (foot.outside.radius >= foot.surface.radius).all()
