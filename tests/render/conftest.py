"""What several picture tests share: wraps and frames, each drawn once, and a browser."""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, expect, sync_playwright

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.progress import Progress
from render.output.film import Film
from render.output.turntable import save_turntable
from render.request.subject import Subject
from scenes.building.build import Wrap
from scenes.files import samples
from tests.kept import kept
from tests.waiting import WITHIN

# Playwright's own five seconds are not enough where several programs share two cores.
expect.set_options(timeout=1000 * WITHIN)

# What Chromium leaves out: drop-downs of its address bar, which take over a second of a core for
# each page although nobody sees them; and what playwright leaves out, whose list this replaces.
LEFT_OUT = (
    "WebUIOmniboxPopup",
    "WebUIOmniboxAimPopup",
    "AimEnabled",
    "AvoidCorsURLLoaderRestartOnRedirect",
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsFirstBalancedModeAutoEnable",
    "HttpsUpgrades",
    "LensOverlay",
    "MediaRouter",
    "NetworkTimeServiceQuerying",
    "OptimizationHints",
    "PaintHolding",
    "PreconnectToSearch",
    "ThirdPartyStoragePartitioning",
)

FEW_POINTS = 1_500
"""Points of a wrap's mesh where its outline is not looked at.

In pictures as small as tests take, triangles are no larger than pixels, and software OpenGL spends
most of a frame on them.
"""

FRAMES = 6
FRAME_SIZE = (160, 90)


@kept
def drafted(name: str) -> Wrap:
    return Subject(samples.load(name), Shelf.shipped()).build(Detail.DRAFT, Progress.none())


@pytest.fixture(scope="session")
def sample_wrap() -> Callable[[str], Wrap]:
    """Build a sample at draft detail, once."""
    return drafted


@pytest.fixture(scope="session")
def frames_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a turntable of the half-scale sample as a folder of pictures."""
    folder = tmp_path_factory.mktemp("turntable") / "turn"
    with coarsely_meshed():
        save_turntable(drafted("half-scale"), folder, Film(FRAME_SIZE, FRAMES, 3.0))
    return folder


@pytest.fixture(scope="session")
def frames(frames_folder: Path) -> list[NDArray[np.uint8]]:
    """Give the same frames as arrays."""
    return [np.asarray(Image.open(path)) for path in sorted(frames_folder.iterdir())]


@contextmanager
def coarsely_meshed() -> Iterator[None]:
    """Draw, and pack for browsers, wraps of few triangles."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("render.live.live.MESH_POINTS", FEW_POINTS)
        patch.setattr("render.browser.stage_json.MESH_POINTS", FEW_POINTS)
        yield


@pytest.fixture
def coarse_mesh() -> Iterator[None]:
    """Draw wraps of few triangles in a test that does not look at what is drawn."""
    with coarsely_meshed():
        yield


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Open Chromium."""
    path = os.environ.get("TURNLIGHT_CHROMIUM") or shutil.which("chromium")
    if path is None:
        pytest.skip("there is no Chromium: apt-get install chromium, or set TURNLIGHT_CHROMIUM")
    with sync_playwright() as play:
        left_out = f"--disable-features={','.join(LEFT_OUT)}"
        opened = play.chromium.launch(executable_path=path, args=["--no-sandbox", left_out])
        yield opened
        opened.close()


@pytest.fixture
def quick_reading(coarse_mesh: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Read trims off a small and coarse picture, where what is read is not what is tested."""
    monkeypatch.setattr("render.output.reading._MAX_WIDTH", 320)
    monkeypatch.setattr("render.output.reading._MIN_WIDTH", 320)


@pytest.fixture
def small_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw the picture of a bench sheet small, where it is not looked at."""
    monkeypatch.setattr("render.paper.sheet._PICTURE", (377, 56))
