"""Whether a window can be opened."""

import os
import sys
from collections.abc import Mapping

__all__ = ["has_display"]


def has_display(platform: str = sys.platform, environment: Mapping[str, str] = os.environ) -> bool:
    """Whether a window can be opened: always on Windows and macOS, else if a display is named.

    Parameters
    ----------
    platform : str
        As `sys.platform`.
    environment : mapping of str to str
        As `os.environ`; ``DISPLAY`` or ``WAYLAND_DISPLAY`` names a display.
    """
    if platform in ("win32", "darwin"):
        return True
    return bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))
