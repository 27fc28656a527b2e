"""A number for what a stage shows, the same on every machine."""

import hashlib
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from geometry.surface import Surface
from scenes.stage.bodies import PlainBody, WrapBody
from scenes.stage.stage import Stage

__all__ = ["fingerprint"]

_BLOCKS = 12
"""Blocks along and around a wrap, and in the light, of which means are taken."""

_DIGITS = 3
"""Decimals of a mean. Machines differ in the last bits of an array, of which a mean keeps none."""

_OFFSET = 0.000137
"""Added before rounding: a value with few decimals is not to lie where it may go either way."""


def fingerprint(stage: Stage) -> str:
    """Hash of the shape, the looks, the light and the camera of a stage, 16 hexadecimal digits.

    It is made of means over blocks, rounded to 0.001 mm, radians or units of light. A change that
    leaves all of them is too small to be seen.

    Parameters
    ----------
    stage : Stage
    """
    digest = hashlib.sha256()
    for part in _parts(stage):
        # Adding 0 makes a negative zero positive.
        rounded = np.round(np.asarray(part, np.float64) + _OFFSET, _DIGITS) + 0.0
        digest.update(rounded.tobytes())
    return digest.hexdigest()[:16]


def _parts(stage: Stage) -> Iterator[object]:
    for wrap in stage.wraps:
        yield from _of_wrap(wrap)
    for body in stage.bodies:
        yield from _of_body(body)
    yield _means(stage.light)
    yield stage.backdrop.albedo
    yield stage.backdrop.points.reshape(-1, 3)
    camera = stage.camera
    yield (*camera.position, *camera.target, *camera.up, camera.view_angle)
    yield stage.turn, stage.middle


def _of_wrap(wrap: WrapBody) -> Iterator[object]:
    yield (*wrap.surface.shape, wrap.row_width, wrap.finish_ior)
    for surface in (wrap.surface, wrap.beneath, wrap.outside):
        if surface is not None:
            yield surface.z[0], surface.z[-1]
            yield _means(surface.radius)
            yield _means((surface.radius - surface.radius.mean()) ** 2)
    yield from _of_thread(wrap.surface)
    for look in wrap.palette:
        yield (*look.base_colour, look.metallic, look.roughness_along, look.roughness_across)
        if look.mirror_colour is not None:
            yield look.mirror_colour


def _of_thread(surface: Surface) -> Iterator[object]:
    for material in np.unique(surface.material):
        yield material
        yield _means(surface.material == material)
    yield _means(np.abs(surface.lay))
    yield _means(surface.row)


def _of_body(body: PlainBody) -> Iterator[object]:
    points, look = body.mesh.points, body.appearance
    yield points.mean(axis=0), points.min(axis=0), points.max(axis=0)
    yield body.tint.mean(axis=0)
    yield (*look.base_colour, look.metallic, look.roughness_along)


def _means(image: NDArray[np.generic]) -> NDArray[np.float64]:
    """Means of an array over blocks of its first two axes."""
    rows = np.array_split(np.asarray(image, np.float64), _BLOCKS, axis=0)
    blocks = [np.array_split(row.mean(axis=0), _BLOCKS, axis=0) for row in rows if row.size]
    return np.array([[part.mean(axis=0) for part in row if part.size] for row in blocks])
