"""Noise removed from a path-traced picture by Open Image Denoise, where it is installed.

It works on the graphics processor where that has traced the picture, if it can, and otherwise on
the processor.

The guides are filtered first and then declared noise-free. Unfiltered, their few rays a pixel
would show as jagged edges; declared noisy, their thread-fine detail would be smoothed away.
"""

from functools import lru_cache
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["available", "denoised"]

Floats = NDArray[np.float32]

_PACKAGE = "mitsuba_oidn"

_MARGIN = 16
"""Pixels around the rod in which the guides are filtered too."""


def available() -> bool:
    """Return whether Open Image Denoise can be used."""
    return _package() is not None


def denoised(radiance: Floats, albedo: Floats, normal: Floats, *, on_gpu: bool = False) -> Floats:
    """The picture without its noise, or as it was if the package is not installed.

    Parameters
    ----------
    radiance : (h, w, 3) float32
        Linear, 0 or more.
    albedo : (h, w, 3) float32
        0 to 1.
    normal : (h, w, 3) float32
        -1 to 1.
    on_gpu : bool
        Whether to try the graphics processor first.
    """
    package = _package()
    if package is None:
        return radiance
    if on_gpu:
        try:
            return _denoised_on(_device(package.DeviceType.CUDA), radiance, albedo, normal)
        except package.Error:
            pass  # the wheel has no part for it, or another program has its memory
    return _denoised_on(_device(package.DeviceType.CPU), radiance, albedo, normal)


@lru_cache(maxsize=2)
def _device(kind: Any) -> Any:
    """A device, which takes a while to begin."""
    package = _package()
    return package.Device(kind)


def _denoised_on(device: Any, radiance: Floats, albedo: Floats, normal: Floats) -> Floats:
    guides = {"albedo": albedo.copy(), "normal": normal.copy()}
    part = _guided_part(normal)
    if part is not None:
        for name, guide in guides.items():
            guide[part] = _filtered(device, {name: guide[part]})
    return _filtered(device, {"color": radiance, **guides}, hdr=True, clean_aux=True)


def _guided_part(normal: Floats) -> tuple[slice, slice] | None:
    """Rows and columns in which the guides are not empty, with a margin; None if there are none."""
    guided = np.any(normal != 0, axis=2)
    rows, columns = np.flatnonzero(guided.any(axis=1)), np.flatnonzero(guided.any(axis=0))
    if not rows.size:
        return None
    first_row, first_column = (max(int(indices[0]) - _MARGIN, 0) for indices in (rows, columns))
    return (
        slice(first_row, int(rows[-1]) + 1 + _MARGIN),
        slice(first_column, int(columns[-1]) + 1 + _MARGIN),
    )


def _filtered(device: Any, images: dict[str, Floats], **settings: bool) -> Floats:
    denoiser = device.new_filter("RT")
    # The filter reads these arrays in place: they must live until it has run.
    kept = {name: np.ascontiguousarray(image, np.float32) for name, image in images.items()}
    output = np.empty_like(next(iter(kept.values())))
    bound = {**kept, "output": output}
    held = {name: _bind(device, denoiser, name, image) for name, image in bound.items()}
    for name, value in settings.items():
        setattr(denoiser, name, value)
    denoiser.execute()
    if held["output"] is not output:
        held["output"].read(output)
    return output


def _bind(device: Any, denoiser: Any, name: str, image: Floats) -> Any:
    """Give a filter an image, in memory of the device where it cannot use that of the program."""
    if device.can_share(image):
        denoiser.set_image(name, image)
        return image
    package = _package()
    buffer = device.new_buffer(image.nbytes, package.Storage.Device)
    if name != "output":
        buffer.write(image)
    height, width = image.shape[:2]
    denoiser.set_image(name, buffer, format=package.Format.Float3, width=width, height=height)
    return buffer


def _package() -> Any:
    try:
        return import_module(_PACKAGE)
    except ImportError:
        return None
