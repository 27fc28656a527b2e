"""The spinning window, driven as the mouse, the keys and the clock drive it."""

import numpy as np
import pytest
import pyvista as pv
from PIL import Image

from geometry.grid import Detail
from materials.shelf import Shelf
from render.quiet import quieten
from render.spin import LEGEND, SpinWindow
from scenes import samples
from scenes.lights import LightKind

pytestmark = pytest.mark.render

SIZE = (240, 136)


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    quieten()
    plotter = pv.Plotter(off_screen=True, window_size=list(SIZE), lighting="none")
    spin = SpinWindow(
        samples.load("half-scale"),
        Shelf.shipped(),
        tmp_path_factory.mktemp("pictures") / "half",
        size=SIZE,
        detail=Detail.DRAFT,
        plotter=plotter,
    )
    yield spin
    plotter.close()


@pytest.fixture
def window(opened):
    """The window as it was opened: one is enough for all, and opening it is slow."""
    while opened.shown or opened.light:
        opened.key("v" if opened.shown else "l")
    opened.turn_by(-opened.turn)
    opened.nearer(1000)
    opened.zoom = 1.0
    opened.nearer(0)
    opened.spinning = False
    return opened


def seen(spin):
    return np.asarray(spin.plotter.screenshot(None, return_img=True)).astype(int)


def changed(before, after):
    """Share of the pixels that are clearly different."""
    return (np.abs(after - before).max(axis=2) > 12).mean()


def test_arrow_keys_turn_the_rod_and_back(window):
    start = seen(window)
    window.key("Right")
    turned = seen(window)
    assert changed(start, turned) > 0.01
    window.key("Left")
    assert changed(start, seen(window)) < 0.001


def test_a_whole_turn_comes_back_to_the_same_picture(window):
    start = seen(window)
    for _ in range(72):
        window.key("Right")
    assert np.cos(window.turn) == pytest.approx(1)
    assert changed(start, seen(window)) < 0.001


def test_the_rod_turns_and_the_light_stays(window):
    # Turning the rod must not turn the camera or the backdrop with it: the corners stay as they
    # are.
    start = seen(window)
    window.turn_by(1.0)
    after = seen(window)
    assert changed(start[:30, 150:], after[:30, 150:]) == 0


def test_wheel_moves_nearer_and_no_further_than_it_may(window):
    start = seen(window)
    window.nearer(3)
    assert changed(start, seen(window)) > 0.05
    window.nearer(-1000)
    assert window.zoom == 3.0
    window.nearer(1000)
    assert window.zoom == pytest.approx(0.12)


def test_next_light_and_next_variant_change_the_picture(window):
    start = seen(window)
    window.key("l")
    other_light = seen(window)
    assert changed(start, other_light) > 0.1
    for _ in range(len(LightKind) - 1):
        window.key("L")
    assert changed(start, seen(window)) < 0.01
    window.key("v")
    assert window.shown == 1
    assert changed(start, seen(window)) > 0.01


def test_space_starts_and_stops_a_steady_spin(window, monkeypatch):
    now = [100.0]
    monkeypatch.setattr("render.spin.time.monotonic", lambda: now[0])
    turn = window.turn
    window.key("space")
    now[0] += 2.5
    window.tick()
    # A quarter of the ten seconds that one turn takes.
    assert (window.turn - turn) % (2 * np.pi) == pytest.approx(np.pi / 2)
    window.key("space")
    now[0] += 5
    stopped = window.turn
    window.tick()
    assert window.turn == stopped


def test_sharpens_once_it_rests(window, monkeypatch):
    now = [100.0]
    monkeypatch.setattr("render.spin.time.monotonic", lambda: now[0])
    window.turn_by(0.1)
    hasty = seen(window)
    window.tick()
    assert changed(hasty, seen(window)) == 0
    now[0] += 1
    window.tick()
    assert (seen(window) != hasty).mean() > 0.01


def test_saves_a_still_beside_the_design_and_keeps_the_one_before(window):
    first, second = window.save(), window.save()
    assert [first.name, second.name] == ["half-1.png", "half-2.png"]
    with Image.open(first) as picture:
        assert picture.size == SIZE
        assert picture.info["Title"] == "Ossery half-scale"


def test_legend_names_every_key(window):
    for word in ("drag", "wheel", "space", "light", "variant", "save", "close"):
        assert word in LEGEND
    window.key("h")
    assert not window._legend.GetVisibility()
    window.key("h")
    assert window._legend.GetVisibility()
