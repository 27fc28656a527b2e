"""Stills: what is there when."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from render.output import still
from render.output.still import save_still
from render.request.capture_settings import CaptureSettings
from scenes.building.build import Wrap


class _Photographed:
    """Stands for a path-traced scene, in which no trims are measured."""

    can_measure = False

    def picture(self) -> np.ndarray:
        return np.full((9, 16, 3), 90, np.uint8)


def test_a_photo_is_there_before_its_trims_are_measured(
    sample_wrap: Callable[[str], Wrap], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "photo.png"
    seen: list[tuple[int, int]] = []

    @contextmanager
    def scene_of(*_: Any, **__: Any) -> Iterator[_Photographed]:
        yield _Photographed()

    def read_trims(*_: Any, **__: Any) -> tuple[()]:
        with Image.open(path) as image:
            seen.append(image.size)
        return ()

    monkeypatch.setattr(still, "scene_of", scene_of)
    monkeypatch.setattr(still, "read_trims", read_trims)
    capture = CaptureSettings(photo=True)
    save_still(sample_wrap("half-scale"), path, size=(16, 9), capture=capture, read=True)
    assert seen == [(16, 9)]
