"""Wraps and frames that several picture tests share: each is drawn once."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from geometry.grid import Detail
from materials.shelf import Shelf
from render.progress import Progress
from render.subject import Subject
from render.turntable import save_turntable
from scenes import samples
from scenes.build import Wrap

FRAMES = 6
FRAME_SIZE = (160, 90)


@cache
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
    save_turntable(drafted("half-scale"), folder, size=FRAME_SIZE, frames=FRAMES, seconds=3.0)
    return folder


@pytest.fixture(scope="session")
def frames(frames_folder: Path) -> list[NDArray[np.uint8]]:
    """Give the same frames as arrays."""
    return [np.asarray(Image.open(path)) for path in sorted(frames_folder.iterdir())]


@pytest.fixture
def quick_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """Read trims off a picture too small to judge them by, where it is not what is tested."""
    monkeypatch.setattr("render.reading._WIDEST", 320)
    monkeypatch.setattr("render.reading._NARROWEST", 320)
