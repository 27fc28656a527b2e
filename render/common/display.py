"""Whether there is a screen to open a window on."""

import os
import sys
from collections.abc import Mapping

__all__ = ["has_display"]


def has_display(platform: str = sys.platform, environment: Mapping[str, str] = os.environ) -> bool:
    """Tell whether a window can be opened: always on Windows and macOS, elsewhere by its variables.

    Parameters
    ----------
    platform : str
        As `sys.platform`.
    environment : dict
        As `os.environ`.
    """
    if platform in ("win32", "darwin"):
        return True
    return bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))
