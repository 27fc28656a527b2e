"""Engines of the path tracer, and the library that one of them needs.

Mitsuba computes a picture on a graphics processor (through CUDA and OptiX), on all cores with code
that LLVM compiles for them, or on all cores with its own code, which runs everywhere.
"""

import ctypes
import os
import re
import sys
from collections.abc import Iterable
from enum import StrEnum
from pathlib import Path

__all__ = [
    "GPU_VARIABLE",
    "LLVM_VARIABLE",
    "Engine",
    "cuda_devices",
    "cuda_driver",
    "llvm_libraries",
]

LLVM_VARIABLE = "DRJIT_LIBLLVM_PATH"
"""Environment variable of Mitsuba that names LLVM's library."""

GPU_VARIABLE = "CUDA_VISIBLE_DEVICES"
"""Environment variable of the CUDA driver that names the graphics processors of a process."""

_OLDEST_LLVM = 15
"""Oldest version of LLVM that Mitsuba accepts. Versions 15 and 16 end the process, because they
cannot compile `fminimum`; 19 and 22 work."""

_LLVM_PLACES = {
    "linux": (
        "/usr/lib/*/libLLVM[.-]*",
        "/usr/lib/llvm-*/lib/libLLVM[.-]*",
        "/usr/lib64/libLLVM[.-]*",
        "/usr/lib64/llvm*/lib*/libLLVM[.-]*",
        "/usr/lib/libLLVM[.-]*",
    ),
    "darwin": (
        "/opt/homebrew/opt/llvm*/lib/libLLVM[.-]*",
        "/usr/local/opt/llvm*/lib/libLLVM[.-]*",
    ),
    "win32": ("/Program Files/LLVM*/bin/LLVM-C.dll",),
}

_CUDA_DRIVERS = {"linux": "libcuda.so.1", "win32": "nvcuda.dll"}

_CUDA_PLACES = {
    "linux": ("/usr/lib/*-linux-gnu*", "/usr/lib64", "/usr/lib", "/usr/lib/wsl/lib"),
    "win32": ("/Windows/System32",),
}


class Engine(StrEnum):
    """What computes the paths of a photo, the fastest first."""

    GPU = "gpu"
    LLVM = "llvm"
    SCALAR = "scalar"

    @property
    def variant(self) -> str:
        """Mitsuba's name for it."""
        return {"gpu": "cuda_ad_rgb", "llvm": "llvm_ad_rgb", "scalar": "scalar_rgb"}[self.value]

    @property
    def on_arrays(self) -> bool:
        """Whether it computes all paths of a pass together, as arrays."""
        return self is not Engine.SCALAR

    @property
    def words(self) -> str:
        """The engine as it is shown, such as ``2 cores, LLVM``."""
        if self is Engine.GPU:
            return "GPU"
        count = os.cpu_count() or 1
        cores = "1 core" if count == 1 else f"{count} cores"
        return f"{cores}, LLVM" if self is Engine.LLVM else cores


def llvm_libraries(root: Path = Path("/"), platform: str = sys.platform) -> list[Path]:
    """Libraries of LLVM that may work, the newest first.

    Parameters
    ----------
    root : Path
        Folder that the usual places are looked for in.
    platform : str
        As `sys.platform`.

    Returns
    -------
    list of Path
        If the user names a library in `LLVM_VARIABLE`, that one alone.
    """
    named = os.environ.get(LLVM_VARIABLE)
    if named:
        return [Path(named)]
    found: dict[Path, tuple[int, ...]] = {}
    for path in _matches(root, _LLVM_PLACES.get(platform, ())):
        if not re.search(r"\.(so|dylib|dll)\b", path.name):
            continue
        real = path.resolve()
        numbers = re.search(r"\d[\d.]*", real.name) or re.search(r"\d[\d.]*", str(path))
        version = tuple(int(number) for number in re.findall(r"\d+", numbers[0])) if numbers else ()
        # Without a number the version is not known, and it is tried after the others.
        if not version or version[0] >= _OLDEST_LLVM:
            found[real] = version
    return sorted(found, key=lambda path: found[path], reverse=True)


def cuda_driver(root: Path = Path("/"), platform: str = sys.platform) -> Path | None:
    """The library of NVIDIA's driver; None if there is none and so no GPU that can be used.

    Parameters
    ----------
    root : Path
        Folder that the usual places are looked for in.
    platform : str
        As `sys.platform`.
    """
    name = _CUDA_DRIVERS.get(platform)
    if name is None:
        return None
    folders = [Path(item) for item in os.environ.get("LD_LIBRARY_PATH", "").split(":") if item]
    folders += _matches(root, _CUDA_PLACES[platform])
    return next((folder / name for folder in folders if (folder / name).exists()), None)


def cuda_devices() -> tuple[str, ...]:
    """The graphics processors that this process may use, as `GPU_VARIABLE` names them.

    Counted by the driver itself (CUDA Driver API, ``cuInit`` and ``cuDeviceGetCount``).
    """
    path = cuda_driver()
    if path is None:
        return ()
    try:
        driver = ctypes.CDLL(str(path))
    except OSError:
        return ()
    count = ctypes.c_int()
    if driver.cuInit(0) or driver.cuDeviceGetCount(ctypes.byref(count)):
        return ()
    named = [name.strip() for name in os.environ.get(GPU_VARIABLE, "").split(",")]
    return tuple(named if any(named) else map(str, range(count.value)))[: count.value]


def _matches(root: Path, patterns: Iterable[str]) -> list[Path]:
    return [path for pattern in patterns for path in sorted(root.glob(pattern.lstrip("/")))]
