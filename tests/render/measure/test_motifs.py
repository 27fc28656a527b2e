"""The pictures of the samples: as shipped, and as drawn anew."""

import io

import numpy as np
import pytest
from PIL import Image

from render.measure.motifs import MOTIFS, motif_png
from scenes.files.companion_files import SHIPPED


@pytest.mark.parametrize("name", MOTIFS)
def test_shipped_pictures_are_those_that_the_drawing_draws(name) -> None:
    with Image.open(io.BytesIO(SHIPPED.read(name, "x"))) as shipped:
        assert np.array_equal(np.asarray(shipped.convert("RGBA")), MOTIFS[name]())
    with Image.open(io.BytesIO(motif_png(name))) as again:
        assert np.array_equal(np.asarray(again.convert("RGBA")), MOTIFS[name]())
