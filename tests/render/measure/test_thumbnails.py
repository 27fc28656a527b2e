"""Every sample has its small picture with the program; a new one is made by one command."""

import io

import numpy as np
import pytest
from PIL import Image

from render.measure.thumbnails import FOLDER
from scenes.files import samples


@pytest.mark.parametrize("name", samples.names())
def test_a_sample_has_its_picture(name):
    """Where it has none: ``python -m render.measure.thumbnails NAME``."""
    data = (FOLDER / f"{name}.jpg").read_bytes()
    assert len(data) < 60_000
    with Image.open(io.BytesIO(data)) as picture:
        assert (picture.format, picture.size) == ("JPEG", (480, 270))
        # A rod is on it, not an empty card.
        assert np.asarray(picture.convert("L")).std() > 10
