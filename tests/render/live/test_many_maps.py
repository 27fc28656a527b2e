"""A rod with more maps than the driver has units for: its first picture is as every later one."""

import numpy as np
import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from render.common.progress import Progress
from render.output.capture import scene_of
from render.request.subject import Subject
from scenes.files import samples


@pytest.mark.render
def test_the_first_picture_is_as_the_second() -> None:
    design = samples.load("fly-rod").without_variants()
    progress = Progress.none()
    wrap = Subject(design, Shelf.shipped()).build(Detail.DRAFT, progress)
    with scene_of(wrap, (320, 180), progress, sharp=False) as scene:
        first, second = scene.picture().astype(int), scene.picture().astype(int)
    assert np.abs(first - second).max() <= 2
    # Green thread fills the middle of it (the sample's view).
    red, green, blue = second[80:100, 150:170].mean(axis=(0, 1))
    assert green > max(red, blue)
