"""Shapes on a lattice against the shapes themselves."""

import zlib
from collections.abc import Callable

import numpy as np
import pytest

from materials.colour import from_bytes
from scenes.building.build import Wrap
from scenes.packing.images import STORED, deflated, pixmap, webp
from scenes.packing.meshes import packed_mesh, packed_tube
from scenes.stage.bodies import WrapBody
from scenes.stage.fittings import fittings
from scenes.stage.wrap_mesh import wrap_shape


def test_a_tube_is_kept_to_a_wavelength(wrapped: Callable[..., Wrap]) -> None:
    wrap = wrapped("half-scale")
    body = WrapBody(wrap.surface, wrap.beneath, wrap.outside, wrap.palette, 1.5, 0.2)
    shape = wrap_shape(body, 12_000)
    tube = packed_tube(shape)
    radius = tube.low + tube.radii * tube.step
    # mm: light's own wavelength is 0.0005, and a radius spans less than 65 mm.
    assert np.abs(radius - shape.surface.radius).max() < 0.0005
    assert (tube.start, tube.end) == (wrap.surface.z[0], wrap.surface.z[-1])


def test_bodies_are_kept_to_less_than_a_pixel(wrapped: Callable[..., Wrap]) -> None:
    for body in fittings(wrapped("full-mesh").plan):
        packed = packed_mesh(body)
        points = np.array(packed.low) + packed.points * np.array(packed.step)
        # mm: half a step of the longest side.
        extent = np.ptp(body.mesh.points, axis=0).max()
        assert np.abs(points - body.mesh.points).max() <= 0.5 * extent / 65535 + 1e-4
        assert np.abs(packed.normals / 127 - body.mesh.normals).max() <= 0.5 / 127 + 1e-6
        colour = np.clip(body.tint * np.array(body.appearance.base_colour), 0, 1)
        # Half a byte of sRGB where it is steepest.
        assert np.abs(from_bytes(packed.colours) - colour).max() <= 0.5 / 255 * 2.4


@pytest.mark.parametrize("dtype", [np.uint8, np.int8, np.uint16, np.int32])
def test_columns_of_differences_add_up_again(rng: np.random.Generator, dtype: type) -> None:
    info = np.iinfo(dtype)
    numbers = rng.integers(info.min, info.max, (50, 3), dtype=dtype, endpoint=True)
    for level in (STORED, 9):
        whole = zlib.decompress(deflated(numbers, level=level))
        steps = np.frombuffer(whole, dtype).reshape(3, 50)
        assert np.array_equal(np.cumsum(steps, axis=1, dtype=dtype).T, numbers)


def test_a_picture_keeps_every_byte(rng: np.random.Generator) -> None:
    import io

    from PIL import Image

    image = rng.integers(0, 256, (13, 17, 3), dtype=np.uint8)
    for data, file_format in ((webp(image), "WEBP"), (pixmap(image), "PPM")):
        with Image.open(io.BytesIO(data)) as opened:
            assert (opened.format, opened.mode) == (file_format, "RGB")
            assert np.array_equal(np.asarray(opened), image)
