"""Names that Windows reserves for devices, with any ending and in any folder."""

import re

__all__ = ["is_device_name"]

_DEVICE = re.compile(r"(?i)(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³])")


def is_device_name(name: str) -> bool:
    """Tell whether Windows takes the name of a file for a device.

    Only the part before the first dot or colon counts, without spaces at its end; ¹, ² and ³ count
    as digits. See "Naming Files, Paths, and Namespaces" in Microsoft's documentation of Windows,
    and `os.path.isreserved` in Python 3.13.

    Parameters
    ----------
    name : str
        Without a folder.
    """
    return _DEVICE.fullmatch(re.split("[.:]", name, maxsplit=1)[0].rstrip(" ")) is not None
