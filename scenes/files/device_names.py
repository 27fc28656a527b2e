"""Names that Windows takes for devices, whatever their ending and whichever folder they are in."""

import re

__all__ = ["is_device_name"]

_DEVICE = re.compile(r"(?i)(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])")


def is_device_name(name: str) -> bool:
    """Tell whether Windows takes a file's name for a device's.

    What counts is what stands before the first dot or colon, without spaces at its end; the digits
    ¹, ² and ³ are digits there. See "Naming Files, Paths, and Namespaces" in Microsoft's
    documentation of Windows, and `os.path.isreserved` in Python 3.13.
    """
    return _DEVICE.fullmatch(re.split("[.:]", name, maxsplit=1)[0].rstrip(" ")) is not None
