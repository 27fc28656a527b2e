"""Noise taken out of a path-traced picture by Open Image Denoise, where it is installed.

The guides are filtered first and then trusted: left as they are, their few rays a pixel would
show as jagged edges; not trusted, thread-fine detail that they hold would be smoothed away.
"""

from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["available", "denoised"]

Floats = NDArray[np.float32]

_PACKAGE = "mitsuba_oidn"

_ROUND = 16
"""Pixels round what the guides tell of that are filtered with it."""


def available() -> bool:
    """Tell whether Open Image Denoise can be used."""
    return _package() is not None


def denoised(radiance: Floats, albedo: Floats, normal: Floats) -> Floats:
    """The picture without its noise, or as it was if the package is not installed.

    Parameters
    ----------
    radiance : (h, w, 3) float32
        Linear, 0 or more.
    albedo : (h, w, 3) float32
        0 to 1.
    normal : (h, w, 3) float32
        -1 to 1.
    """
    package = _package()
    if package is None:
        return radiance
    device = package.Device(package.DeviceType.CPU)
    guides = {"albedo": albedo.copy(), "normal": normal.copy()}
    part = _told(normal)
    if part is not None:
        for name, guide in guides.items():
            guide[part] = _filtered(device, {name: guide[part]})
    return _filtered(device, {"color": radiance, **guides}, hdr=True, clean_aux=True)


def _told(normal: Floats) -> tuple[slice, slice] | None:
    """The part of the picture that the guides tell of, and a little more."""
    there = np.any(normal != 0, axis=2)
    rows, columns = np.flatnonzero(there.any(axis=1)), np.flatnonzero(there.any(axis=0))
    if not rows.size:
        return None
    first_row, first_column = (max(int(found[0]) - _ROUND, 0) for found in (rows, columns))
    return (
        slice(first_row, int(rows[-1]) + 1 + _ROUND),
        slice(first_column, int(columns[-1]) + 1 + _ROUND),
    )


def _filtered(device: Any, images: dict[str, Floats], **settings: bool) -> Floats:
    work = device.new_filter("RT")
    # The filter reads these where they are: they must live until it has run.
    kept = {name: np.ascontiguousarray(image, np.float32) for name, image in images.items()}
    for name, image in kept.items():
        work.set_image(name, image)
    out = np.empty_like(next(iter(kept.values())))
    work.set_image("output", out)
    for name, value in settings.items():
        setattr(work, name, value)
    work.execute()
    return out


def _package() -> Any:
    try:
        return import_module(_PACKAGE)
    except ImportError:
        return None
