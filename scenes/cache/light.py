"""The blurred light, kept in the user's cache folder: most designs are drawn in a few lights.

A file is named by what the light was blurred from and by the text of the modules that blur it. It
begins with a digest of its content, so a file that is damaged or half written counts as none.
Without a cache folder, or on a full disk, the light is blurred each time.
"""

import hashlib
import os
from contextlib import suppress
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from materials import metal
from scenes.cache.whole_files import write_whole
from scenes.files.state_folder import cache_folder
from scenes.light import lights, prefilter
from scenes.light.prefilter import LEVELS, SIDE, prefiltered

__all__ = ["MOST_BYTES", "kept_light"]

Floats = NDArray[np.float32]

MOST_BYTES = 100_000_000
"""Most bytes of all files: a dozen lights. The least recently used ones are removed."""

_SHAPE = (LEVELS + 2, SIDE + 2, SIDE + 2, 3)


def kept_light(radiance: Floats, ior: float) -> Floats:
    """Every map of `scenes.light.prefilter.prefiltered`, from the cache if it is there.

    Parameters
    ----------
    radiance : (h, 2h, 3) float32
    ior : float
        Index of the finish.

    Returns
    -------
    (LEVELS + 2, SIDE + 2, SIDE + 2, 3) float32
    """
    key = hashlib.sha256(_program())
    key.update(f"{radiance.shape} {ior!r} {np.__version__}".encode())
    key.update(np.ascontiguousarray(radiance).data)
    try:
        folder = cache_folder() / "light"
        folder.mkdir(exist_ok=True, mode=0o700)
    except (OSError, RuntimeError):  # no home, or a read-only one
        return prefiltered(radiance, ior)
    path = folder / key.hexdigest()
    found = _read(path)
    if found is None:
        found = prefiltered(radiance, ior)
        with suppress(OSError):
            content = found.tobytes()
            write_whole(path, hashlib.sha256(content).digest(), content)
            _sweep(folder)
    return found


@cache
def _program() -> bytes:
    """Text of the modules that the blurred light depends on."""
    files = [module.__file__ for module in (lights, metal, prefilter)]
    return b"\0".join(Path(file).read_bytes() for file in files if file is not None)


def _read(path: Path) -> Floats | None:
    try:
        data = path.read_bytes()
        os.utime(path)
    except OSError:
        return None
    size = hashlib.sha256().digest_size
    whole = len(data) == size + 4 * int(np.prod(_SHAPE))
    if not whole or hashlib.sha256(memoryview(data)[size:]).digest() != data[:size]:
        return None
    return np.frombuffer(data, np.float32, offset=size).reshape(_SHAPE)


def _sweep(folder: Path) -> None:
    """Remove the files used longest ago, unfinished ones among them, down to `MOST_BYTES`."""
    with os.scandir(folder) as entries:
        files = [(entry.stat().st_mtime, entry.stat().st_size, entry.path) for entry in entries]
    held = 0
    for _, size, path in sorted(files, reverse=True):
        held += size
        if held > MOST_BYTES:
            with suppress(OSError):
                os.unlink(path)
